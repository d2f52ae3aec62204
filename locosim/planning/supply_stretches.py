"""Stretches in which a stop for water or fuel must lie, where the places of a line are too far apart.

Between two fillings, as many stops are needed as the tank is used up, reserve apart. The latest places for them are
found from the front: each where the tank has just the reserve. The earliest are found from the back: each from where a
full tank just lasts to the next. One stop must lie between the two of each number. The places are moved in steps until
the run with a stop there keeps the reserve, and the run with a stop one step beyond breaks it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from locosim.engine.performance import Performance
from locosim.frozen import frozen
from locosim.journey.result import Journey
from locosim.journey.run import run_with_endless_supplies
from locosim.model import Excursion, Station
from locosim.model.route import MIN_STATION_DISTANCE
from locosim.planning.station_times import line_chainage
from locosim.planning.supply_plans import (
    SUPPLIES,
    SupplyPlace,
    full_tank,
    left_on_arrival,
    left_on_departure,
    reserve,
    with_supplies,
)

STEP = 100.0  # to which the ends of a stretch are found [m]
MAX_STEPS = 100  # that an end is moved from its first guess
MAX_STOPS = 20  # in one gap
FAST = {
    "water": 1.0,
    "fuel": 100.0,
}  # rate of an invented place, where the time does not matter [m³/s], [kg/s]


@frozen
class StopStretch:
    """Where one stop must lie.

    Attributes:
        earliest: First milepost in the direction of travel [m].
        latest: Last milepost [m].
        beyond: Over the reserve, below zero, on arrival one step beyond the latest place [kg].
    """

    earliest: float
    latest: float
    beyond: float


@frozen
class Gap:
    """A part of the line over which a full tank does not last.

    Attributes:
        supply: `water` or `fuel`.
        start: Where the tank is filled last, a station.
        end: Where it is filled next, or the last stop.
        short: By how much the reserve is broken at the end, at least [kg].
        stretches: One for each stop that is needed, in order of travel; empty where more than 20 are needed, or so many
            that they would follow on each other.
    """

    supply: str
    start: str
    end: str
    short: float
    stretches: tuple[StopStretch, ...]


def find_gaps(
    excursion: Excursion, performance: Performance, places: Sequence[SupplyPlace]
) -> tuple[Gap, ...]:
    """Find where the places of a line are too far apart, for each supply with a stop at every place that has it.

    What stops for the other supply use is not counted, so that a gap is one whatever the train does for it.
    """
    return tuple(gap for supply in SUPPLIES for gap in _gaps_of(excursion, performance, places, supply))


def _gaps_of(
    excursion: Excursion, performance: Performance, places: Sequence[SupplyPlace], supply: str
) -> Iterator[Gap]:
    filled = [place.station for place in places if supply in place.offers]
    everywhere = with_supplies(excursion, dict.fromkeys(filled, (supply,)))
    journey = run_with_endless_supplies(everywhere, performance)
    line = _Line(everywhere, performance, supply, journey)
    records = [journey.stops[0], *(r for r in journey.stops[1:-1] if r.station in filled), journey.stops[-1]]
    for a, b in pairwise(records):
        spare = left_on_arrival(b, supply) - reserve(excursion, supply)
        if spare < 0.0:
            yield Gap(
                supply=supply,
                start=a.station,
                end=b.station,
                short=-spare,
                stretches=line.stretches(a.chainage, b.chainage, b.station),
            )


@frozen(kw_only=False)
class _Before:
    """Over the reserve on arrival at a place, with stops at others before it [kg]."""

    line: _Line
    before: tuple[float, ...]

    def __call__(self, place: float) -> float:
        return self.line.spare((*self.before, place), None)


@frozen(kw_only=False)
class _After:
    """Over the reserve on arrival at the next place, or else at a station, with a stop at a place [kg]."""

    line: _Line
    before: tuple[float, ...]
    after: tuple[float, ...]
    station: str

    def __call__(self, place: float) -> float:
        earlier = [other for other in self.before if other < place]
        return self.line.spare((*earlier, place, *self.after[:1]), None if self.after else self.station)


class _Line:
    """A line with invented places for one supply."""

    def __init__(self, excursion: Excursion, performance: Performance, supply: str, journey: Journey) -> None:
        self._excursion, self._performance, self._supply = excursion, performance, supply
        self._reserve = reserve(excursion, supply)
        self._usable = full_tank(excursion, supply) - self._reserve
        self._chainage = journey.chainage
        level = journey.tender_water if supply == "water" else journey.tender_fuel
        start = left_on_departure(journey.stops[0], supply)
        self._left = np.asarray(level) - self._reserve
        self._first = start - self._reserve

    def stretches(self, start: float, end: float, station: str) -> tuple[StopStretch, ...]:
        """The stretches between two chainages, the second a station [m]."""
        inside = (self._chainage >= start) & (self._chainage <= end)
        x, left = self._chainage[inside], np.minimum.accumulate(self._left[inside])
        used = left[0] - left
        first = self._usable if start > self._chainage[0] else self._first
        latest: list[float] = []
        beyond: list[float] = []
        while len(latest) < MAX_STOPS:
            guess = float(np.interp(first + self._usable * len(latest), used, x))
            moved = self._last_that_keeps(_Before(self, tuple(latest)), guess, (start, end), STEP)
            if moved is None:
                return ()
            latest.append(moved[0])
            beyond.append(moved[1])
            if self.spare(tuple(latest), station) >= 0.0:
                break
        else:
            return ()
        earliest: list[float] = []
        for k in range(len(latest)):
            guess = float(np.interp(used[-1] - self._usable * (k + 1), used, x))
            after = _After(self, tuple(latest[: len(latest) - 1 - k]), tuple(earliest), station)
            moved = self._last_that_keeps(after, guess, (start, end), -STEP)
            if moved is None:
                return ()
            earliest.insert(0, moved[0])
        line = self._excursion
        return tuple(
            StopStretch(earliest=line_chainage(line, a), latest=line_chainage(line, b), beyond=c)
            for a, b, c in zip(earliest, latest, beyond, strict=True)
        )

    def _last_that_keeps(
        self, spare: Callable[[float], float], guess: float, ends: tuple[float, float], step: float
    ) -> tuple[float, float] | None:
        """The farthest place in the sense of the step at which a stop keeps the reserve, and the spare one step on."""
        start, end = ends[0] + MIN_STATION_DISTANCE, ends[1] - MIN_STATION_DISTANCE
        place = float(np.clip(STEP * round(guess / STEP), ends[0] + STEP, ends[1] - STEP))
        known = spare(place)
        for _ in range(MAX_STEPS):
            other = place + (step if known >= 0.0 else -step)
            if not start <= other <= end:
                return (place, -np.inf) if known >= 0.0 else None
            found = spare(other)
            if known >= 0.0 > found:
                return place, found
            if found >= 0.0 > known:
                return other, known
            place, known = other, found
        return None

    def spare(self, places: Sequence[float], station: str | None) -> float:
        """Over the reserve on arrival at a station, or at the last of some invented places if none is given [kg]."""
        route = self._excursion.route
        names = [f"invented place {k + 1}" for k in range(len(places))]
        rate = {f"{self._supply}_rate": FAST[self._supply]}
        stations = [*route.stations]
        for name, chainage in zip(names, places, strict=True):
            at = line_chainage(self._excursion, chainage)
            kept = self._kept | set(names)
            stations = [s for s in stations if abs(s.chainage - at) >= MIN_STATION_DISTANCE or s.name in kept]
            while close := [s.chainage for s in stations if abs(s.chainage - at) < MIN_STATION_DISTANCE]:
                at = max(close) + MIN_STATION_DISTANCE
            stations.append(Station(name=name, chainage=at, **rate))
        stations.sort(key=lambda s: s.chainage)
        changed = replace(self._excursion, route=replace(route, stations=tuple(stations)))
        filled = {
            stop.station: tuple(s for s in SUPPLIES if getattr(stop, f"take_{s}") == "fill")
            for stop in self._excursion.stops[1:-1]
        }
        planned = with_supplies(changed, filled | dict.fromkeys(names, (self._supply,)))
        journey = run_with_endless_supplies(planned, self._performance)
        target = station or names[-1]
        record = next((record for record in journey.stops if record.station == target), None)
        return -np.inf if record is None else left_on_arrival(record, self._supply) - self._reserve

    @property
    def _kept(self) -> set[str]:
        return {stop.station for stop in self._excursion.stops}
