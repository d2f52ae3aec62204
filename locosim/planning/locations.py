"""Naming a place on the line by the stations round it, and the stretches a run consists of."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from locosim.journey.result import Journey

MIN_CLIMB_GRADE = 0.003  # mean grade under the train from which a stretch counts as a climb [1]
MIN_CLIMB_LENGTH = 400.0  # shortest stretch that is called a climb [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class StepRange:
    """Steps i to j (j not among them) of a journey that belong together."""

    first: int
    last: int


def location_name(journey: Journey, chainage: float) -> str:
    """Name a chainage: the station there, or between which stations it lies."""
    stations = journey.excursion.route_as_run.stations
    for station in stations:
        if abs(station.chainage - chainage) < 30.0:
            return station.name
    before = [s for s in stations if s.chainage < chainage]
    beyond = [s for s in stations if s.chainage > chainage]
    if not before:
        return f"before {beyond[0].name}"
    if not beyond:
        return f"beyond {before[-1].name}"
    return f"{before[-1].name} to {beyond[0].name}"


def step_ranges(mask: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> list[StepRange]:
    """Runs of consecutive steps in which a mask holds."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(np.int8), [0]])))
    return [StepRange(first=int(a), last=int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def climbs(journey: Journey) -> list[StepRange]:
    """Climbs of a journey: the mean grade under the train stays above 0.3 % for 400 m or more."""
    return [
        s
        for s in step_ranges(journey.grade >= MIN_CLIMB_GRADE)
        if journey.chainage[s.last] - journey.chainage[s.first] >= MIN_CLIMB_LENGTH
    ]


def descents(journey: Journey, steepness: float) -> list[StepRange]:
    """Stretches on which the mean grade under the train falls more steeply than given [1]."""
    return step_ranges(journey.grade <= -steepness)
