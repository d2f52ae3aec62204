"""The latest departure that still keeps every advertised arrival."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

from locosim.engine.performance import Performance
from locosim.journey.kernel.arrays import ARRIVE, RunArrays
from locosim.journey.result import Journey
from locosim.journey.run import run_full_effort, run_prepared, with_rehearsal
from locosim.journey.setup.prepare import prepare
from locosim.model import Excursion

EARLIEST_SHIFT = -2 * 3600.0  # start of the search, from the planned departure [s]
TIME_TOLERANCE = 5.0  # width at which the search ends [s]


class MissedArrival(NamedTuple):
    """An advertised arrival that is not kept.

    Attributes:
        station: Name.
        late: How late the train arrives [s]; None where it does not reach the station.
    """

    station: str
    late: float | None


def latest_departure(excursion: Excursion, performance: Performance) -> float | None:
    """Find the latest departure from the first stop that keeps every advertised arrival.

    Args:
        excursion: Engine, train, route, stops and conditions.
        performance: Performance of its engine.

    Returns:
        Clock time [s]; None where no arrival is advertised, or no departure up to two hours earlier keeps them.
    """
    return Departures(run_full_effort(excursion, performance)).latest()


class Departures:
    """Departures of an excursion run at full effort, up to two hours earlier than planned.

    Waiting for an advertised departure on the way uses up what an early start gains, so the run is repeated, and
    subtracting the lateness is only the guess at which the search begins. It ends at the first advertised arrival,
    because a train that departs then is late.
    """

    def __init__(self, full_effort: Journey) -> None:
        """Prepare the runs.

        Args:
            full_effort: The run at full effort with the departure as planned.
        """
        self._excursion, self._planned = full_effort.excursion, full_effort
        crew = replace(self._excursion.crew, habit="hold_speed_limit")
        self._prepared = prepare(
            replace(self._excursion, crew=crew), full_effort.performance, transient_boiler=True
        )
        self._booked = {
            number: stop.arrive
            for number, stop in enumerate(self._excursion.stops)
            if stop.arrive is not None and number > 0
        }
        self._missed: dict[float, tuple[MissedArrival, ...]] = {}

    def latest(self) -> float | None:
        """Latest departure on the clock [s]; None where no arrival is advertised, or none keeps them."""
        if not self._booked:
            return None
        width = min(self._booked.values()) - self._excursion.departure - EARLIEST_SHIFT
        count = 2 ** max(math.ceil(math.log2(max(width, TIME_TOLERANCE) / TIME_TOLERANCE)), 0)
        step = width / count

        def keeps(number: int) -> bool:
            return not self.missed(EARLIEST_SHIFT + number * step)

        guess = (self._spare_time() - EARLIEST_SHIFT) / step
        found = _last_kept(keeps, count, int(min(max(guess, 0.0), count - 1.0)))
        return None if found is None else self._excursion.departure + EARLIEST_SHIFT + found * step

    def never_kept(self) -> tuple[MissedArrival, ...]:
        """Advertised arrivals that the earliest departure does not keep, and so none."""
        return self.missed(EARLIEST_SHIFT) if self._booked else ()

    def missed(self, shift: float) -> tuple[MissedArrival, ...]:
        """Advertised arrivals that a departure shifted by a time [s] does not keep."""
        if shift not in self._missed:
            start = self._prepared.start._replace(time=self._excursion.departure + shift)
            arrays = run_prepared(with_rehearsal(replace(self._prepared, start=start)))
            nodes = self._prepared.stop_nodes
            self._missed[shift] = tuple(
                MissedArrival(self._excursion.stops[number].station, late)
                for number, arrive in self._booked.items()
                for late in (_lateness(arrays, nodes[number], arrive),)
                if late is None or late > 0.0
            )
        return self._missed[shift]

    def _spare_time(self) -> float:
        """How much later the planned run could arrive [s]; minus infinity where it does not reach every stop."""
        reached = self._planned.stops
        return min(
            arrive - reached[number].arrive if number < len(reached) else -math.inf
            for number, arrive in self._booked.items()
        )


def _lateness(arrays: RunArrays, node: int, advertised: float) -> float | None:
    """How late a run is at a stop [s], below 0 where it is early; None where it does not reach it."""
    return None if node > arrays.last_node else float(arrays.nodes[ARRIVE, node]) - advertised


def _last_kept(keeps: Callable[[int], bool], count: int, guess: int) -> int | None:
    """Largest number below a count that keeps, where all below it keep too; None where 0 does not.

    From the guess the search goes on in growing strides, and then halves what is left.
    """
    low, high, stride = guess, count, 1
    while not keeps(low):
        if low == 0:
            return None
        low, high, stride = max(low - stride, 0), low, 4 * stride
    stride = 1 if high == count else high
    while low + stride < high:
        if keeps(low + stride):
            low, stride = low + stride, 4 * stride
        else:
            high = low + stride
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if keeps(middle) else (low, middle)
    return low
