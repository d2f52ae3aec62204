"""Lowest speeds on the climbs of a run, in one pass over its steps: a search asks for them at every trial."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from locosim.compiled import compiled
from locosim.journey.kernel.arrays import ADHESION, CYLINDERS, STEAM, Codes
from locosim.physics.types import Floats


class ClimbLimits(NamedTuple):
    """What counts as a climb, and which steps count on it."""

    min_grade: float  # of a climb [1]
    min_length: float  # of a climb [m]
    acceleration_distance: float  # from a stop or speed limit, within which gaining speed is no creeping [m]
    creep_acceleration: float  # below which the train creeps [m/s²]


@compiled
def slowest_climb_steps(
    chainage: Floats,
    energy: Floats,
    grade: Floats,
    limit: Codes,
    limits: ClimbLimits,
    steps: npt.NDArray[np.int64],
    lowest: Floats,
) -> int:
    """Slowest step that counts on each climb.

    A step counts where adhesion, cylinders or steam limit the train and its speed does not rise, or where it creeps.

    Args:
        chainage: Of the nodes, shape (n + 1,) [m].
        energy: v²/2 at the nodes, shape (n + 1,) [J/kg].
        grade: Mean under the train in each step, shape (n,) [1].
        limit: What limits the effort in each step, shape (n,).
        limits: What counts.
        steps: Written: first step, step after the last, and slowest step of each climb with one that counts, shape
            (n // 2 + 1, 3). A kernel that made an array would load half the compiler of numba with its machine code.
        lowest: Written: the lowest speed in that step, shape (n // 2 + 1,) [m/s].

    Returns:
        Number of climbs with a step that counts.
    """
    n = len(grade)
    found = 0
    free_at = 0  # last node at which the train stood, or before which it had effort to spare
    first = -1  # of the climb at hand; -1 off a climb
    slowest = -1
    slowest_speed = 0.0
    for i in range(n + 1):
        if first >= 0 and (i == n or grade[i] < limits.min_grade):
            if slowest >= 0 and chainage[i] - chainage[first] >= limits.min_length:
                steps[found, 0], steps[found, 1], steps[found, 2] = first, i, slowest
                lowest[found] = slowest_speed
                found += 1
            first = -1
        if i == n:
            break
        if grade[i] >= limits.min_grade and first < 0:
            first, slowest = i, -1
        limited = limit[i] == ADHESION or limit[i] == CYLINDERS or limit[i] == STEAM
        if energy[i] == 0.0:
            free_at = i
        if first >= 0 and limited:
            here, ahead = math.sqrt(2.0 * energy[i]), math.sqrt(2.0 * energy[i + 1])
            slowing = ahead <= here + 1e-9
            acceleration = (energy[i + 1] - energy[i]) / (chainage[i + 1] - chainage[i])
            creeping = acceleration < limits.creep_acceleration and (
                chainage[i] - chainage[free_at] > limits.acceleration_distance
            )
            low = ahead if slowing else here
            if (slowing or creeping) and (slowest < 0 or low < slowest_speed):
                slowest, slowest_speed = i, low
        if not limited:
            free_at = i + 1
    return found
