"""Working backwards from the timetable: the latest departure that still keeps every advertised arrival."""

from __future__ import annotations

from dataclasses import replace

from locosim.engine.performance import Performance
from locosim.journey.kernel.arrays import ARRIVE, ARRIVED, Course
from locosim.journey.run import expecting, run_prepared
from locosim.journey.setup.prepare import Prepared, prepare
from locosim.model import Excursion

EARLIEST = -2 * 3600.0  # from which on it is searched, before the advertised departure [s]
CLOSE = 5.0  # how near the answer is [s]


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
    if all(call.arrive is None for call in excursion.calls[1:]):
        return None

    prepared = prepare(excursion, performance, live_boiler=True)

    def keeps(shift: float) -> bool:
        start = prepared.start._replace(time=excursion.departure + shift)
        moved = expecting(replace(prepared, start=start))
        return _on_time(excursion, moved, run_prepared(moved))

    low = EARLIEST
    high = min(call.arrive for call in excursion.calls[1:] if call.arrive is not None) - excursion.departure
    if not keeps(low):
        return None
    while high - low > CLOSE:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if keeps(middle) else (low, middle)
    return excursion.departure + low


def _on_time(excursion: Excursion, prepared: Prepared, course: Course) -> bool:
    if course.status != ARRIVED:
        return False
    arrived = course.nodes[ARRIVE]
    pairs = list(zip(excursion.calls, prepared.calls, strict=True))[1:]
    return all(call.arrive is None or float(arrived[i]) <= call.arrive for call, i in pairs)
