"""Range of train speeds over which cylinders are computed."""

from __future__ import annotations

import math

from locosim.model import Locomotive
from locosim.physics.traction.mean_pressure import MAX_PISTON_SPEED
from locosim.physics.traction.tractive_effort import speed_from_piston_speed

# Revolutions per second of the driving wheels at which the cycle computes starting. At lower speed leakage and
# condensation take all the steam, and the receiver of a compound does not fill.
MIN_WHEEL_SPEED, MIN_WHEEL_SPEED_COMPOUND = 0.1, 0.5
MAP_SPEED_MARGIN = 1.05  # end of the map over the permitted speed of the engine, where that is higher


def min_cycle_speed(locomotive: Locomotive) -> float:
    """Lowest train speed the cycle computes [m/s]; below it the map repeats the effort of that speed."""
    turns = MIN_WHEEL_SPEED_COMPOUND if locomotive.compound else MIN_WHEEL_SPEED
    return turns * math.pi * max(unit.driver_diameter for unit in locomotive.engine_units)


def max_cycle_speed(locomotive: Locomotive) -> float:
    """Highest train speed the cycle computes [m/s]: the handbook's, or a little above the permitted speed."""
    permitted = locomotive.max_speed
    end = max_factor_speed(locomotive)
    return end if permitted is None else max(end, MAP_SPEED_MARGIN * permitted)


def max_factor_speed(locomotive: Locomotive) -> float:
    """Train speed at the end of the table of speed factors, by the fastest pistons of the engine [m/s]."""
    return min(
        float(
            speed_from_piston_speed(
                piston_speed=MAX_PISTON_SPEED, stroke=unit.stroke, driver_diameter=unit.driver_diameter
            )
        )
        for unit in locomotive.engine_units
    )
