"""What takes heat and steam from the boiler beside the cylinders: the air, safety valves, auxiliaries."""

from __future__ import annotations

import math
from typing import NamedTuple

from locosim.constants import HOUR, INCH, POUND, PSI
from locosim.physics.real import Real

# Lagged boiler in still air, all bare parts counted in; and its growth with the wind past it. Common
# practice, no source: some 5 W/(m2 K) standing, twice that at 60 mph.
_STILL_LOSS = 5.0  # [W/(m2 K)]
_WIND_LOSS = 1.0  # [W/(m2 K)] per root of a metre per second
# Outside of boiler and firebox over evaporating surface, where no dimensions are known; common practice, no
# source.
OUTSIDE_OVER_EVAPORATING_SURFACE = 0.2

VALVE_LIFT_RANGE = 6.0 * PSI  # [Pa] from first opening to full lift; 49 CFR 230.48, from memory


def standing_loss(*, outer_surface: Real, water_temperature: Real, air_temperature: Real, wind: Real) -> Real:
    """Heat lost by the outside of a lagged boiler.

    Args:
        outer_surface: Outside of boiler and firebox [m2].
        water_temperature: Temperature of the water [K].
        air_temperature: Temperature of the air [K].
        wind: Speed of the air past the boiler: that of the engine, with the wind [m/s].

    Returns:
        Heat lost [W].
    """
    coefficient = _STILL_LOSS + _WIND_LOSS * abs(wind) ** 0.5
    return coefficient * outer_surface * (water_temperature - air_temperature)


def boiler_outside(*, diameter: float, length: float) -> float:
    """Outside surface of a boiler taken as one cylinder with its backhead.

    Args:
        diameter: Outside diameter [m].
        length: Length [m].

    Returns:
        Surface [m2].
    """
    return math.pi * diameter * length + 0.25 * math.pi * diameter**2


def napier_flow(*, pressure: Real, area: Real) -> Real:
    """Flow of dry steam through an opening into the open air.

    Good while the absolute pressure is more than about 1.7 times that of the air.

    Args:
        pressure: Absolute pressure before the opening [Pa].
        area: Area of the opening [m2].

    Returns:
        Steam [kg/s].

    References:
        [Babcock1919], formula (49), Napier: p a / 70 lb/s, p in psi absolute, a in square inches.
    """
    return (pressure / PSI) * (area / INCH**2) / 70.0 * POUND


def valve_opening(*, diameter: Real, lift: Real) -> Real:
    """Area a safety valve with a seat at 45 degrees opens.

    Args:
        diameter: Diameter of the valve [m].
        lift: Lift [m].

    Returns:
        Area [m2]: the lift counts by the sine of the seat's angle.
    """
    return math.pi * diameter * lift * math.sin(math.pi / 4.0)


def safety_valve_flow(*, pressure: float, set_pressure: float, area: float) -> float:
    """Steam through safety valves: shut up to the set pressure, fully lifted 6 psi above it.

    Between them the opening grows in proportion, and closes on the same line: the drop of 2 to 4 psi by
    which a real valve closes below its opening is left out.

    Args:
        pressure: Absolute pressure in the boiler [Pa].
        set_pressure: Absolute pressure at which the first valve opens [Pa].
        area: Area of all valves fully lifted [m2].

    Returns:
        Steam [kg/s].

    References:
        49 CFR 230.48: accumulation of 6 psi, from memory; [Babcock1919], Napier.
    """
    opened = min(max((pressure - set_pressure) / VALVE_LIFT_RANGE, 0.0), 1.0)
    return float(napier_flow(pressure=pressure, area=opened * area))


def valve_diameters(*, heating_surface: Real, lift: Real, pressure: Real) -> Real:
    """Sum of the diameters of the safety valves a boiler needs.

    Args:
        heating_surface: Whole heating surface [m2].
        lift: Lift of the valves [m].
        pressure: Absolute set pressure [Pa].

    Returns:
        Sum of diameters [m].

    References:
        [MasterMechanics], from memory: D = 0.036 H / (L P), inches, square feet, psi absolute.
    """
    square_feet = heating_surface / (12.0 * INCH) ** 2
    return 0.036 * square_feet / ((lift / INCH) * (pressure / PSI)) * INCH


class SteamUse(NamedTuple):
    """Steam one auxiliary takes.

    Attributes:
        least: Light duty [kg/s].
        usual: Mean duty [kg/s].
        greatest: Hard duty [kg/s].
        source: Where the figures are from.
    """

    least: float
    usual: float
    greatest: float
    source: str


def _pounds_an_hour(least: float, usual: float, greatest: float, source: str) -> SteamUse:
    rate = POUND / HOUR
    return SteamUse(least * rate, usual * rate, greatest * rate, source)


_PRACTICE = "common practice, no source"
AUXILIARY_STEAM = {
    "single-stage air compressor": _pounds_an_hour(100, 500, 1800, _PRACTICE),
    "cross-compound air compressor": _pounds_an_hour(60, 250, 900, _PRACTICE),
    "turbo-generator": _pounds_an_hour(60, 100, 300, _PRACTICE),
    "blower": _pounds_an_hour(200, 500, 1500, _PRACTICE),
    "stoker engine": _pounds_an_hour(100, 300, 700, _PRACTICE),
    "train heat, each coach": _pounds_an_hour(50, 100, 200, _PRACTICE),
}
