"""Range of train speeds over which cylinders are computed."""

from __future__ import annotations

import math

from locosim.model import Locomotive
from locosim.physics.traction.mean_pressure import FOOT_PER_MINUTE, MAX_PISTON_SPEED
from locosim.physics.traction.tractive_effort import speed_from_piston_speed

# Revolutions per second of the driving wheels at which the cycle computes starting. At lower speed leakage and
# condensation take all the steam, and the receiver of a compound does not fill.
MIN_WHEEL_SPEED, MIN_WHEEL_SPEED_COMPOUND = 0.1, 0.5
MAP_SPEED_MARGIN = 1.05  # end of the map over the permitted speed of the engine, where that is higher
# End of the map by the cycle where the engine file permits no speed: above the fastest steam engines ever ran
# (common practice, no source). How fast pistons and drivers may turn is for the check to judge.
OPEN_PISTON_SPEED = 2400.0 * FOOT_PER_MINUTE


def min_cycle_speed(locomotive: Locomotive) -> float:
    """Lowest train speed the cycle computes [m/s]; below it the map repeats the effort of that speed."""
    turns = MIN_WHEEL_SPEED_COMPOUND if locomotive.compound else MIN_WHEEL_SPEED
    return turns * math.pi * max(unit.driver_diameter for unit in locomotive.engine_units)


def max_cycle_speed(locomotive: Locomotive) -> float:
    """Highest train speed the cycle computes [m/s].

    A little above the permitted speed, and not below the handbook's; at `OPEN_PISTON_SPEED` where none is permitted.
    """
    if locomotive.max_speed is None:
        return _speed_at(locomotive, OPEN_PISTON_SPEED)
    return max(max_factor_speed(locomotive), MAP_SPEED_MARGIN * locomotive.max_speed)


def max_factor_speed(locomotive: Locomotive) -> float:
    """Train speed at the end of the table of speed factors, by the fastest pistons of the engine [m/s]."""
    return _speed_at(locomotive, MAX_PISTON_SPEED)


def _speed_at(locomotive: Locomotive, pistons: float) -> float:
    """Train speed [m/s] at a mean speed of the fastest pistons of the engine [m/s]."""
    return min(
        float(
            speed_from_piston_speed(
                piston_speed=pistons, stroke=unit.stroke, driver_diameter=unit.driver_diameter
            )
        )
        for unit in locomotive.engine_units
    )
