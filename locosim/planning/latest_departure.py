"""The latest departure that still keeps every advertised arrival."""

from __future__ import annotations

from dataclasses import replace

from locosim.engine.performance import Performance
from locosim.journey.kernel.arrays import ARRIVE, RunArrays
from locosim.journey.run import run_prepared, with_rehearsal
from locosim.journey.setup.prepare import prepare
from locosim.model import Excursion

EARLIEST_SHIFT = -2 * 3600.0  # start of the search, from the planned departure [s]
TIME_TOLERANCE = 5.0  # width at which the search ends [s]


def latest_departure(excursion: Excursion, performance: Performance) -> float | None:
    """Find the latest departure from the first stop that keeps every advertised arrival.

    The train runs at full effort. Waiting for an advertised departure on the way uses up what an early start gains,
    so the run is repeated by bisection; subtracting the lateness would be wrong. The search ends at the first
    advertised arrival, because a train that departs then is late.

    Args:
        excursion: Engine, train, route, stops and conditions.
        performance: Performance of its engine.

    Returns:
        Clock time [s]; None where no arrival is advertised, or no departure up to two hours earlier keeps them.
    """
    advertised = [stop.arrive for stop in excursion.stops[1:] if stop.arrive is not None]
    if not advertised:
        return None
    departures = _Departures(excursion, performance)
    low, high = EARLIEST_SHIFT, min(advertised) - excursion.departure
    if departures.missed(low):
        return None
    while high - low > TIME_TOLERANCE:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if departures.missed(middle) else (middle, high)
    return excursion.departure + low


def arrivals_never_kept(excursion: Excursion, performance: Performance) -> tuple[str, ...]:
    """Stations whose advertised arrival no departure keeps, up to two hours earlier than planned.

    Args:
        excursion: Engine, train, route, stops and conditions.
        performance: Performance of its engine.
    """
    if all(stop.arrive is None for stop in excursion.stops[1:]):
        return ()
    return _Departures(excursion, performance).missed(EARLIEST_SHIFT)


class _Departures:
    """Runs at full effort with the departure shifted."""

    def __init__(self, excursion: Excursion, performance: Performance) -> None:
        self.excursion = excursion
        crew = replace(excursion.crew, habit="hold_speed_limit")
        self.prepared = prepare(replace(excursion, crew=crew), performance, transient_boiler=True)

    def missed(self, shift: float) -> tuple[str, ...]:
        """Stations whose advertised arrival a departure shifted by a time [s] does not keep."""
        start = self.prepared.start._replace(time=self.excursion.departure + shift)
        prepared = with_rehearsal(replace(self.prepared, start=start))
        arrays = run_prepared(prepared)
        pairs = list(zip(self.excursion.stops, prepared.stop_nodes, strict=True))[1:]
        return tuple(
            stop.station
            for stop, i in pairs
            if stop.arrive is not None and (i > arrays.last_node or not _kept(arrays, i, stop.arrive))
        )


def _kept(arrays: RunArrays, node: int, arrive: float) -> bool:
    return float(arrays.nodes[ARRIVE, node]) <= arrive
