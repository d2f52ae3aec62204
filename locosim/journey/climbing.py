"""Climbing speed: climbs of a run, and the steps in which the speed on them counts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from locosim.journey.kernel import arrays as records
from locosim.model.assumptions import Assumptions
from locosim.physics.types import Floats


class StepsRun(NamedTuple):
    """Steps of a run as the climbing speed needs them."""

    chainage: Floats  # of the nodes, shape (n + 1,) [m]
    speed: Floats  # at the nodes, shape (n + 1,) [m/s]
    grade: Floats  # mean under the train in each step, shape (n,) [1]
    limit: records.Codes  # what limits the effort in each step, shape (n,)


@dataclass(frozen=True, slots=True, kw_only=True)
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
    climbs = climb_steps(run.chainage, run.grade, assumptions)
    if not climbs:
        return []
    limit = run.limit
    limited = (limit == records.ADHESION) | (limit == records.CYLINDERS) | (limit == records.STEAM)
    acceleration = 0.5 * np.diff(run.speed**2) / np.diff(run.chainage)
    slowing = run.speed[1:] <= run.speed[:-1] + 1e-9
    creeping = (acceleration < assumptions.creep_acceleration) & (
        _distance_since_unrestricted(run, limited) > assumptions.acceleration_distance
    )
    speeds = np.where(slowing, run.speed[1:], run.speed[:-1])
    counted = limited & (slowing | creeping)
    found = []
    for first, last in climbs:
        steps = first + np.flatnonzero(counted[first:last])
        if len(steps) > 0:
            worst = int(steps[np.argmin(speeds[steps])])
            found.append(SlowestStep(first=first, last=last, step=worst, speed=float(speeds[worst])))
    return found


def climb_steps(chainage: Floats, grade: Floats, assumptions: Assumptions) -> list[tuple[int, int]]:
    """First step and step after the last of each climb: the assumed grade, or more, over the assumed length."""
    steep = np.concatenate([[0], (grade >= assumptions.min_climb_grade).astype(np.int8), [0]])
    edges = np.flatnonzero(np.diff(steep))
    spans = zip(edges[::2], edges[1::2], strict=True)
    return [(int(a), int(b)) for a, b in spans if chainage[b] - chainage[a] >= assumptions.min_climb_length]


def _distance_since_unrestricted(run: StepsRun, limited: npt.NDArray[np.bool_]) -> Floats:
    """Distance of each step from the last stop or the last step with effort to spare, shape (n,) [m]."""
    free = np.concatenate([[True], ~limited])[:-1] | (run.speed[:-1] == 0.0)
    last = np.maximum.accumulate(np.where(free, np.arange(len(free)), 0))
    return np.asarray(run.chainage[:-1] - run.chainage[last])
