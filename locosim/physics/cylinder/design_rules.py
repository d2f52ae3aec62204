"""General constants of the cylinder cycle, and rules for dimensions that a drawing would give.

One set of constants serves every engine. `FITTED_CONSTANTS` was fitted once, by least squares on the logarithm of the
steam rate, to: two American superheated express engines at their maximum power; six German classes at their rated power
on 57 kg/m2h; the speed factors of [Cole1914], saturated and superheated, at constant steam; and testing-plant results
from 120 to 240 lb/in2, saturated [Goss1907] and superheated [Goss1910]. docs/validation.md shows the agreement with
each. Two figures were fixed, not fitted: the wall area ratio (head, piston and port passage, measured on drawings;
common practice, no source) and the pressure drop to the steam chest.
"""

from __future__ import annotations

import math

from locosim.constants import ATMOSPHERE, PSI
from locosim.physics.cylinder.revolution import CycleConstants, Cylinder
from locosim.physics.steam import properties as steam
from locosim.physics.steam.nozzle_flow import SUPERHEATED_EXPONENT, nozzle_flow

FITTED_CONSTANTS = CycleConstants(
    admission_discharge_coefficient=0.65,
    exhaust_discharge_coefficient=0.60,
    leakage_area_ratio=1.0e-4,
    wet_wall_heat_transfer=10.0e3,
    dry_wall_heat_transfer=430.0,
    wall_area_ratio=2.0,
)
# From boiler to chest at full steam, throttle wide open [Pa]; fixed in the fit, common practice, no source.
PRESSURE_DROP_TO_STEAM_CHEST = 15.0 * PSI
BACK_PRESSURE = 15.0 * PSI  # above the atmosphere at full steam [Pa]; fitted, starting from 12 psi

_EXHAUST_FLOW_WORK = 1.75e5  # p/rho of nearly dry steam slightly above atmospheric pressure [J/kg]


def steam_passage_area(
    *,
    design_steam_rate: float,
    boiler_pressure: float,
    boiler_enthalpy: float,
    pressure_drop_to_steam_chest: float = PRESSURE_DROP_TO_STEAM_CHEST,
) -> float:
    """Flow area from boiler to steam chest, by the usual pressure drop at full steam.

    Args:
        design_steam_rate: Maximum steam rate of the boiler for the cylinders [kg/s].
        boiler_pressure: Absolute working pressure [Pa].
        boiler_enthalpy: Specific enthalpy of the steam at full steam [J/kg].
        pressure_drop_to_steam_chest: Pressure drop to the chest at full steam [Pa].

    Returns:
        Area, discharge coefficient included [m2].
    """
    density = steam.density_at_enthalpy(pressure=boiler_pressure, enthalpy=boiler_enthalpy)
    chest = boiler_pressure - pressure_drop_to_steam_chest
    return design_steam_rate / nozzle_flow(boiler_pressure, density, chest, SUPERHEATED_EXPONENT)


def throttled_passage_area(*, passage: float, throttle: float, throttle_area_ratio: float) -> float:
    """Flow area from boiler to chest with the throttle partly open.

    The throttle and the rest of the steam passage are two resistances in series.

    Args:
        passage: Area with the throttle wide open [m2].
        throttle: Opening, above 0 to 1 [1].
        throttle_area_ratio: Area of the wide-open throttle over that of the rest of the passage [1].

    Returns:
        Area, discharge coefficient included [m2].
    """
    wide = math.sqrt(1.0 + throttle_area_ratio**2) * passage
    rest = passage * wide / math.sqrt(wide**2 - passage**2)
    valve = wide * throttle
    return valve * rest / math.hypot(valve, rest)


def exhaust_nozzle_area(*, design_steam_rate: float, back_pressure: float = BACK_PRESSURE) -> float:
    """Area of the exhaust nozzle, by the usual back pressure at full steam.

    Args:
        design_steam_rate: Maximum steam rate through the cylinders [kg/s].
        back_pressure: Gauge pressure in the exhaust passage at full steam [Pa].

    Returns:
        Area, discharge coefficient included [m2].
    """
    upstream = ATMOSPHERE + back_pressure
    return design_steam_rate / nozzle_flow(
        upstream, upstream / _EXHAUST_FLOW_WORK, ATMOSPHERE, SUPERHEATED_EXPONENT
    )


def piston_valve_cylinder(
    *, number: int, bore: float, stroke: float, rod_ratio: float = 7.0, clearance: float = 0.09
) -> Cylinder:
    """A cylinder with a long-travel piston valve, as built from the 1920s on; common practice, no source.

    Args:
        number: Like cylinders that share the steam chest [1].
        bore: Diameter of the bore [m].
        stroke: Travel of the piston [m].
        rod_ratio: Length of the connecting rod over the crank radius [1].
        clearance: Clearance volume of one end over its swept volume [1].

    Returns:
        The cylinder: valve diameter 0.54 of the bore, a quarter of the port edge lost to bars; lap 0.058, lead 0.0095
        and port width 0.07 of the stroke; line-and-line exhaust; piston rod 0.17 of the bore.
    """
    return Cylinder(
        number=float(number),
        bore=bore,
        stroke=stroke,
        rod_ratio=rod_ratio,
        clearance=clearance,
        rod_diameter=0.17 * bore,
        lap=0.058 * stroke,
        lead=0.0095 * stroke,
        exhaust_lap=0.0,
        port_length=math.pi * 0.54 * bore * 0.75,
        port_width=0.07 * stroke,
    )


def slide_valve_cylinder(
    *, number: int, bore: float, stroke: float, rod_ratio: float = 7.5, clearance: float = 0.09
) -> Cylinder:
    """A cylinder with a short-travel slide valve, as built up to about 1914.

    Args:
        number: Like cylinders that share the steam chest [1].
        bore: Diameter of the bore [m].
        stroke: Travel of the piston [m].
        rod_ratio: Length of the connecting rod over the crank radius [1].
        clearance: Clearance volume of one end over its swept volume [1].

    Returns:
        The cylinder: port 0.95 of the bore long and 0.055 of the stroke wide, lap 0.04 and lead (hooked up) 0.008 of
        the stroke, slightly above the mean of nine engines in the reference (0.86, 0.051, 0.031; lead 0.003 in full
        gear, 0.013 in mid gear); piston rod 0.15 of the bore.

    References:
        [Sinclair1888], table of valve dimensions.
    """
    return Cylinder(
        number=float(number),
        bore=bore,
        stroke=stroke,
        rod_ratio=rod_ratio,
        clearance=clearance,
        rod_diameter=0.15 * bore,
        lap=0.04 * stroke,
        lead=0.008 * stroke,
        exhaust_lap=0.0,
        port_length=0.95 * bore,
        port_width=0.055 * stroke,
    )
