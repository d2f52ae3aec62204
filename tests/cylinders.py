"""Cylinders, with the boiler and blast about them, for tests of the cycle: an invented express, and any other."""

from __future__ import annotations

import math

from locosim.constants import ATMOSPHERE, HOUR, INCH, POUND, PSI, ZERO_CELSIUS
from locosim.physics.cylinder.design_rules import (
    exhaust_nozzle_area,
    piston_valve_cylinder,
    steam_passage_area,
)
from locosim.physics.steam import properties as steam

CRANKS = ((0.0, math.pi / 2),)


def surroundings(*, gauge_psi, full_steam_lb_h, temperature=None):
    """Boiler and blast of an engine; without a temperature its steam is saturated, with 1.5 % of moisture."""
    pressure = gauge_psi * PSI + ATMOSPHERE
    if temperature is None:
        enthalpy = steam.wet_steam_enthalpy(pressure=pressure, quality=0.985)
    else:
        enthalpy = steam.enthalpy(pressure=pressure, temperature=temperature)
    design_steam_rate = full_steam_lb_h * POUND / HOUR
    return {
        "boiler_pressure": pressure,
        "boiler_enthalpy": enthalpy,
        "passage_area": steam_passage_area(
            design_steam_rate=design_steam_rate, boiler_pressure=pressure, boiler_enthalpy=enthalpy
        ),
        "nozzle_area": exhaust_nozzle_area(design_steam_rate=design_steam_rate),
    }


express = piston_valve_cylinder(number=2, bore=22 * INCH, stroke=28 * INCH)
SUPERHEATED = surroundings(gauge_psi=210, full_steam_lb_h=45000, temperature=ZERO_CELSIUS + 350.0)
SATURATED = surroundings(gauge_psi=210, full_steam_lb_h=45000)


def many(around, **changes):
    """The same surroundings, named as `cycle_grid` wants them."""
    around = around | changes
    return {
        "passage_areas": around["passage_area"],
        "boiler_pressures": around["boiler_pressure"],
        "boiler_enthalpies": around["boiler_enthalpy"],
        "nozzle_area": around["nozzle_area"],
    }
