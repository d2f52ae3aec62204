"""Climbing speed: climbs of a run, and the steps in which the speed on them counts."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from locosim.frozen import frozen
from locosim.journey.kernel.arrays import STEAM, Codes
from locosim.journey.kernel.climb_speeds import ClimbLimits, slowest_climb_steps
from locosim.model.assumptions import Assumptions
from locosim.physics.types import Floats


class StepsRun(NamedTuple):
    """Steps of a run as the climbing speed needs them."""

    chainage: Floats  # of the nodes, shape (n + 1,) [m]
    energy: Floats  # v²/2 at the nodes, shape (n + 1,) [J/kg]
    grade: Floats  # mean under the train in each step, shape (n,) [1]
    limit: Codes  # what limits the effort in each step, shape (n,)


@frozen
class SlowestStep:
    """Step of a climb with the lowest speed that counts.

    Attributes:
        first: First step of the climb.
        last: Step after its last.
        step: The slowest step.
        speed: Its lowest speed [m/s].
    """

    first: int
    last: int
    step: int
    speed: float


def slowest_steps(run: StepsRun, assumptions: Assumptions) -> list[SlowestStep]:
    """Slowest step of each climb, away from where a stop or a speed limit keeps the speed low.

    A step counts where adhesion, cylinders or steam limit the train and its speed does not rise. Beyond the assumed
    acceleration distance from the last stop or speed limit, a step with less than the creep acceleration counts too:
    a train that starts on the grade and creeps up it gains a little all the way, as its tender gets lighter.

    Args:
        run: The steps run.
        assumptions: Grade and length of a climb, acceleration distance and creep acceleration.
    """
    limits = ClimbLimits(
        assumptions.min_climb_grade,
        assumptions.min_climb_length,
        assumptions.acceleration_distance,
        assumptions.creep_acceleration,
    )
    most = len(run.grade) // 2 + 1
    steps, speeds = np.empty((most, 3), dtype=np.int64), np.empty(most)
    found = slowest_climb_steps(run.chainage, run.energy, run.grade, run.limit, limits, steps, speeds)
    return [
        SlowestStep(first=first, last=last, step=step, speed=speed)
        for (first, last, step), speed in zip(steps[:found].tolist(), speeds[:found].tolist(), strict=True)
    ]


def climb_steps(chainage: Floats, grade: Floats, assumptions: Assumptions) -> list[tuple[int, int]]:
    """First step and step after the last of each climb: the assumed grade, or more, over the assumed length.

    Args:
        chainage: Of the nodes, shape (n + 1,) [m].
        grade: Mean under the train in each step, shape (n,) [1].
        assumptions: Grade and length of a climb.
    """
    # Every step of a train at constant speed that steam limits counts.
    limit = np.full(len(grade), STEAM, dtype=np.int8)
    run = StepsRun(chainage, np.full(len(chainage), 0.5), grade, limit)
    return [(climb.first, climb.last) for climb in slowest_steps(run, assumptions)]
