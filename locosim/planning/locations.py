"""Locations by the stations around them, and the descents of a run."""

from __future__ import annotations

import numpy as np

from locosim.frozen import frozen
from locosim.journey.result import Journey
from locosim.planning.finding import Location

STATION_LENGTH = 30.0  # a place closer than this to a station's chainage is at the station [m]


@frozen
class StepRange:
    """Consecutive steps of a journey, from `first` up to but not including `last`."""

    first: int
    last: int


def location_at(journey: Journey, chainage: float) -> Location:
    """Location at a chainage, named by the station there or by the stations on both sides."""
    return Location(_location_name(journey, chainage), chainage)


def _location_name(journey: Journey, chainage: float) -> str:
    stations = journey.excursion.route_as_run.stations
    for station in stations:
        if abs(station.chainage - chainage) < STATION_LENGTH:
            return station.name
    before = [s for s in stations if s.chainage < chainage]
    beyond = [s for s in stations if s.chainage > chainage]
    if not before:
        return f"before {beyond[0].name}"
    if not beyond:
        return f"beyond {before[-1].name}"
    return f"{before[-1].name} to {beyond[0].name}"


def step_ranges(mask: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> list[StepRange]:
    """Ranges of consecutive steps in which a mask is true."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(np.int8), [0]])))
    return [StepRange(first=int(a), last=int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def range_length(journey: Journey, steps: StepRange) -> float:
    """Length of a range of steps [m]."""
    return float(journey.chainage[steps.last] - journey.chainage[steps.first])


def descents(journey: Journey) -> list[StepRange]:
    """Descents of a journey: the mean grade under the train falls as steeply and as long as assumed, or more."""
    assumed = journey.excursion.assumptions
    return [
        steps
        for steps in step_ranges(journey.grade <= -assumed.min_descent_grade)
        if range_length(journey, steps) >= assumed.min_descent_length
    ]
