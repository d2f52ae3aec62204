"""Radiation loss of the boiler, and the range of its safety valves."""

from __future__ import annotations

import math

from locosim.constants import PSI

# Heat transfer coefficient of a lagged boiler, bare parts included, in still air and its increase with the wind;
# common practice, no source: some 5 W/(m2 K) standing, twice that at 60 mph.
_STILL_AIR_COEFFICIENT = 5.0  # [W/(m2 K)]
_WIND_COEFFICIENT = 1.0  # [W/(m2 K)] per square root of 1 m/s
# Outer surface of boiler and firebox over evaporative surface, where no dimensions are given; common practice, no
# source.
OUTER_TO_HEATING_SURFACE_RATIO = 0.2

SAFETY_VALVE_LIFT_RANGE = 6.0 * PSI  # [Pa] from first opening to full lift; 49 CFR 230.48, from memory


def radiation_loss(
    *, outer_surface: float, water_temperature: float, air_temperature: float, wind: float
) -> float:
    """Heat lost by the outer surface of a lagged boiler, by radiation and convection.

    Args:
        outer_surface: Outer surface of boiler and firebox [m2].
        water_temperature: Temperature of the water [K].
        air_temperature: Temperature of the air [K].
        wind: Speed of the air past the boiler, from the speed of the engine and the wind [m/s].

    Returns:
        Heat lost [W].
    """
    coefficient = _STILL_AIR_COEFFICIENT + _WIND_COEFFICIENT * math.sqrt(abs(wind))
    return coefficient * outer_surface * (water_temperature - air_temperature)


def boiler_outer_surface(*, diameter: float, length: float) -> float:
    """Outer surface of a boiler, as one cylinder with its backhead.

    Args:
        diameter: Outside diameter [m].
        length: Length [m].

    Returns:
        Surface [m2].
    """
    return math.pi * diameter * length + 0.25 * math.pi * diameter**2
