"""General constants of the cylinder cycle, and rules for dimensions that a drawing would give.

One set of constants serves every engine. They were fitted together, once, by least squares on the logarithm of power or
steam rate, with a prior on each: to the rated power of six German classes at 57 kg/m2h of steam; to the steam rates of
the testing plant from 120 to 240 lb/in2, saturated [Goss1907] and superheated [Goss1910]; and, at low weight, to the
speed factors of [Cole1914] at constant steam. `python -m docs.build.fit` repeats the fit. docs/validation.md shows the
agreement with each, and with the rows that were not fitted. Fixed, not fitted: the wall area ratio (head, piston and
port passage, measured on drawings; common practice, no source).
"""

from __future__ import annotations

import math

from locosim.compiled import in_python
from locosim.constants import ATMOSPHERE
from locosim.physics.cylinder.revolution import CycleConstants, Cylinder
from locosim.physics.steam.nozzle_flow import SUPERHEATED_EXPONENT, nozzle_flow

# Leakage with a valve of long lap; `leakage_area_ratio` gives that of a shorter one.
FITTED_CONSTANTS = CycleConstants(
    admission_discharge_coefficient=0.70,
    exhaust_discharge_coefficient=0.64,
    leakage_area_ratio=1.08e-4,
    wet_wall_heat_transfer=4280.0,
    dry_wall_heat_transfer=535.0,
    wall_area_ratio=2.0,
    quench_energy=86.0e3,
)
# Leakage of valves of short lap over that of long lap, and the laps over the stroke between which it changes: slide
# valves of about 1900 had laps up to 0.04 of the stroke, long-travel piston valves 0.058. The ratio is fitted.
SHORT_LAP_LEAKAGE = 2.65
SHORT_LAP, LONG_LAP = 0.040, 0.058
# Effective nozzle area over the gas area through tubes and flues; fitted, from 0.030.
NOZZLE_TO_GAS_AREA = 0.0289
# Flow area from boiler to chest, discharge included, over the area of the pistons that take boiler steam; fitted.
PASSAGE_TO_PISTON_AREA = 0.0124

_EXHAUST_FLOW_WORK = 1.75e5  # p/rho of nearly dry steam slightly above atmospheric pressure [J/kg]


def leakage_area_ratio(*, lap: float, stroke: float) -> float:
    """Leakage area over piston area by the lap of the valve: a short lap is a short seal.

    Args:
        lap: Steam lap [m].
        stroke: Travel of the piston [m].

    Returns:
        Leakage area over piston area; between the two laps its logarithm changes in a straight line [1].
    """
    part = min(max((LONG_LAP - lap / stroke) / (LONG_LAP - SHORT_LAP), 0.0), 1.0)
    return float(FITTED_CONSTANTS.leakage_area_ratio * SHORT_LAP_LEAKAGE**part)


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


def nozzle_steam_rate(*, area: float, back_pressure: float) -> float:
    """Steam that an exhaust nozzle passes.

    Args:
        area: Effective area of the nozzle [m2].
        back_pressure: Gauge pressure in the exhaust passage [Pa].

    Returns:
        Steam rate [kg/s].
    """
    upstream = ATMOSPHERE + back_pressure
    density = upstream / _EXHAUST_FLOW_WORK
    return area * in_python(nozzle_flow)(upstream, density, ATMOSPHERE, SUPERHEATED_EXPONENT)


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
