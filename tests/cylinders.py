"""Cylinders with their boiler and exhaust nozzle, for tests of the cycle: an invented express engine, and any other."""

from __future__ import annotations

import math

from locosim.constants import ATMOSPHERE, HOUR, INCH, POUND, PSI, ZERO_CELSIUS
from locosim.physics.cylinder.cycle import CycleEngine, CyclePoints
from locosim.physics.cylinder.design_rules import FITTED_CONSTANTS, nozzle_steam_rate, piston_valve_cylinder
from locosim.physics.steam import properties as steam
from locosim.physics.steam.nozzle_flow import SUPERHEATED_EXPONENT, nozzle_flow

CRANKS = ((0.0, math.pi / 2),)


def surroundings(*, gauge_psi, full_steam_lb_h, temperature=None):
    """Boiler and exhaust nozzle of an engine; without a temperature, saturated steam with 1.5 % moisture.

    At full steam the pressure falls by 15 psi to the steam chest, and the back pressure is 15 psi.
    """
    pressure = gauge_psi * PSI + ATMOSPHERE
    if temperature is None:
        enthalpy = steam.wet_steam_enthalpy(pressure=pressure, quality=0.985)
    else:
        enthalpy = steam.enthalpy(pressure=pressure, temperature=temperature)
    design_steam_rate = full_steam_lb_h * POUND / HOUR
    density = steam.density_at_enthalpy(pressure=pressure, enthalpy=enthalpy)
    return {
        "boiler_pressure": pressure,
        "boiler_enthalpy": enthalpy,
        "passage_area": design_steam_rate
        / nozzle_flow(pressure, density, pressure - 15 * PSI, SUPERHEATED_EXPONENT),
        "nozzle_area": design_steam_rate / nozzle_steam_rate(area=1.0, back_pressure=15 * PSI),
    }


express = piston_valve_cylinder(number=2, bore=22 * INCH, stroke=28 * INCH)
SUPERHEATED = surroundings(gauge_psi=210, full_steam_lb_h=45000, temperature=ZERO_CELSIUS + 350.0)
SATURATED = surroundings(gauge_psi=210, full_steam_lb_h=45000)


def cycle_inputs(cylinders, around, *, speeds, cutoffs, cranks=CRANKS, constants=FITTED_CONSTANTS, **changes):
    """Engine and operating points for the cycle; changes replace entries of `around`."""
    around = around | changes
    engine = CycleEngine(
        cylinders=cylinders, cranks=cranks, nozzle_area=around["nozzle_area"], constants=constants
    )
    points = CyclePoints(
        speeds=speeds,
        cutoffs=cutoffs,
        passage_areas=around["passage_area"],
        boiler_pressures=around["boiler_pressure"],
        boiler_enthalpies=around["boiler_enthalpy"],
    )
    return engine, points
