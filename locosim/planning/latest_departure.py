"""The latest departure that still keeps every advertised arrival."""

from __future__ import annotations

from dataclasses import replace

from locosim.engine.performance import Performance
from locosim.journey.kernel.arrays import ARRIVE, ARRIVED, RunArrays
from locosim.journey.run import run_prepared, with_firing_forecast
from locosim.journey.setup.prepare import PreparedRun, prepare
from locosim.model import Excursion

EARLIEST_SHIFT = -2 * 3600.0  # start of the search, from the planned departure [s]
TIME_TOLERANCE = 5.0  # width at which the search ends [s]


def latest_departure(excursion: Excursion, performance: Performance) -> float | None:
    """Find the latest departure from the first stop that keeps every advertised arrival.

    Waiting for an advertised departure on the way uses up what an early start gains, so the run is repeated by
    bisection; subtracting the lateness would be wrong. The search ends at the first advertised arrival, because a
    train that departs then is late.

    Args:
        excursion: Engine, train, route, stops and conditions.
        performance: Performance of its engine.

    Returns:
        Clock time [s]; None where no arrival is advertised, or no departure up to two hours earlier keeps them.
    """
    advertised = [stop.arrive for stop in excursion.stops[1:] if stop.arrive is not None]
    if not advertised:
        return None
    prepared = prepare(excursion, performance, transient_boiler=True)

    def keeps_arrivals(shift: float) -> bool:
        start = prepared.start._replace(time=excursion.departure + shift)
        shifted = with_firing_forecast(replace(prepared, start=start))
        return _on_time(excursion, shifted, run_prepared(shifted))

    low, high = EARLIEST_SHIFT, min(advertised) - excursion.departure
    if not keeps_arrivals(low):
        return None
    while high - low > TIME_TOLERANCE:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if keeps_arrivals(middle) else (low, middle)
    return excursion.departure + low


def _on_time(excursion: Excursion, prepared: PreparedRun, arrays: RunArrays) -> bool:
    if arrays.status != ARRIVED:
        return False
    arrived = arrays.nodes[ARRIVE]
    pairs = list(zip(excursion.stops, prepared.stop_nodes, strict=True))[1:]
    return all(stop.arrive is None or float(arrived[i]) <= stop.arrive for stop, i in pairs)
