"""Braking: stopping, and holding a train on a falling grade."""

from __future__ import annotations

import numpy as np

from locosim.constants import GRAVITY, MPH, SHORT_TON
from locosim.physics.data_tables import read_table
from locosim.physics.types import Floats, Real

_GALTON = read_table("galton_1878.csv")
GALTON_SPEEDS = (_GALTON["speed_mph"][0] * MPH, _GALTON["speed_mph"][-1] * MPH)  # [m/s], ends of the table

MIN_BRAKING_RATIO = 1e-9  # shoe force over weight below which there is none [1]

# Rules of one railroad for a 2.2 % falling grade: [NTSB1990] pp. 44-53.
MASS_PER_BRAKE_LIMIT = 80 * SHORT_TON  # [kg] per working brake, above which the next speed applies
HEAVY_TRAIN_SPEED = 45 * MPH  # [m/s]; 25 or 20 mile/h on grades listed in the rules


def galton_shoe_friction(*, speed: Real) -> Real:
    """Friction of cast iron shoes on steel tires, falling with speed.

    Linear between the tabulated speeds. Below 10 mile/h the value at 10, which errs to the low side; above 60 mile/h
    (`GALTON_SPEEDS`) the value at 60, which errs to the high side: callers report it. Shoes also lose friction as
    they heat; that is neglected.

    Args:
        speed: Speed at the tread [m/s].

    Returns:
        Coefficient of friction [1].

    References:
        [Galton1878], from memory.
    """
    return np.interp(speed, _GALTON["speed_mph"] * MPH, _GALTON["coefficient"])


def braking_deceleration(
    *, braking_ratio: Real, shoe_friction: Real, grade: Real | float = 0.0, resistance: float = 0.0
) -> Real:
    """Deceleration of a train by brake shoes, running resistance and grade.

    Args:
        braking_ratio: Force of all shoes over the weight of the train [1].
        shoe_friction: Coefficient of friction between shoe and tire [1].
        grade: Rise over run in the direction of travel, below zero when falling [1].
        resistance: Running resistance per mass [N/kg].

    Returns:
        Deceleration; below zero the train gains speed [m/s²].

    References:
        Balance of forces; the inertia of the wheels is neglected, which errs to the high side by 3 to 9 %.
    """
    return GRAVITY * (braking_ratio * shoe_friction + grade) + resistance


def stopping_distance_with_shoes(
    *,
    speed: Floats | float,
    braking_ratio: Floats | float,
    grade: Floats | float = 0.0,
    reaction_time: float = 0.0,
) -> Floats:
    """Stopping distance with cast iron shoes, whose friction rises as the speed falls.

    Running resistance is neglected, which errs to the long side.

    Args:
        speed: Initial speed, at most the upper end of `GALTON_SPEEDS`, shape () or (k,) as all [m/s].
        braking_ratio: Force of all shoes over the weight of the train [1].
        grade: Rise over run in the direction of travel, below zero when falling [1].
        reaction_time: Time before the brakes apply, at constant speed [s].

    Returns:
        Distance; infinite when the shoes cannot stop the train on this grade [m].

    References:
        [Galton1878], from memory, for the shoes; v dv / deceleration summed in 1,000 equal parts of v².
    """
    energies = np.linspace(0.0, np.square(speed) / 2, 1001)
    deceleration = braking_deceleration(
        braking_ratio=np.asarray(braking_ratio),
        shoe_friction=galton_shoe_friction(speed=np.sqrt(2 * energies)),
        grade=grade,
    )
    stops = np.all(deceleration > 0, axis=0)
    distance = speed * reaction_time + np.trapezoid(1 / np.where(stops, deceleration, 1.0), energies, axis=0)
    return np.asarray(np.where(stops, distance, np.inf))


def max_holding_speed(*, grade: Real, braking_ratio: float, resistance: float = 0.0) -> Real:
    """Maximum speed at which cast iron shoes hold a train on a falling grade; above it the train runs away.

    Args:
        grade: Rise over run in the direction of travel, below zero [1].
        braking_ratio: Force of all shoes, at the brake application in use, over the weight of the train [1].
        resistance: Running resistance per mass [N/kg].

    Returns:
        Speed: zero where the shoes cannot hold the train, the end of the table (60 mile/h) where they hold it
        at that speed [m/s].

    References:
        [Galton1878], from memory.
    """
    # Without brakes a train on a falling grade is held at no speed.
    needed = (-np.asarray(grade) - resistance / GRAVITY) / np.maximum(braking_ratio, MIN_BRAKING_RATIO)
    friction, speed = _GALTON["coefficient"][::-1], _GALTON["speed_mph"][::-1] * MPH
    holding: Real = np.interp(needed, friction, speed, right=0.0)[()]
    return holding


def max_speed_by_brakes(*, mass_per_brake: float) -> float:
    """Maximum speed by the mass per working brake.

    Args:
        mass_per_brake: Trailing mass per car with a working brake [kg].

    Returns:
        Speed; infinite where the rule sets no limit [m/s].

    References:
        [NTSB1990] pp. 44-53: above 80 short tons 45 mile/h, by the rules of one railroad.
    """
    return HEAVY_TRAIN_SPEED if mass_per_brake > MASS_PER_BRAKE_LIMIT else np.inf
