"""Working backwards from the timetable: the latest departure that still keeps every advertised arrival."""

from __future__ import annotations

from dataclasses import replace

from locosim.engine.performance import Performance
from locosim.journey.kernel.arrays import ARRIVE, ARRIVED, RunArrays
from locosim.journey.run import run_prepared, with_firing_forecast
from locosim.journey.setup.prepare import PreparedRun, prepare
from locosim.model import Excursion

EARLIEST_SHIFT = -2 * 3600.0  # from which on it is searched, before the advertised departure [s]
TIME_TOLERANCE = 5.0  # how near the answer is [s]


def latest_departure(excursion: Excursion, performance: Performance) -> float | None:
    """Find the latest departure from the first call that keeps every advertised arrival.

    Waiting for an advertised departure on the way takes up what an early start gains, so the run is repeated,
    by halving, instead of subtracting the lateness. A train that leaves when it should arrive is late.

    Args:
        excursion: What is run.
        performance: What its engine can do.

    Returns:
        Clock time [s], or None where no arrival is advertised or no departure within two hours before keeps them.
    """
    if all(stop.arrive is None for stop in excursion.stops[1:]):
        return None

    prepared = prepare(excursion, performance, transient_boiler=True)

    def keeps_arrivals(shift: float) -> bool:
        start = prepared.start._replace(time=excursion.departure + shift)
        shifted = with_firing_forecast(replace(prepared, start=start))
        return _on_time(excursion, shifted, run_prepared(shifted))

    low = EARLIEST_SHIFT
    high = min(stop.arrive for stop in excursion.stops[1:] if stop.arrive is not None) - excursion.departure
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
