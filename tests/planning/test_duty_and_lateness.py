"""Hours of a crew between its breaks, and lateness where only a departure is booked, by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from judged import hills, run

from locosim.model import Stop
from locosim.planning.duty import Duty
from locosim.planning.station_times import station_times

HOUR = 3600.0


@pytest.mark.parametrize(
    ("breaks", "hours"),
    [
        ((), 10.0),
        (((9.0, 9.5), (13.0, 14.0)), 3.5),  # 3 h, 3.5 h, 2 h
        (((7.0, 7.5),), 8.5),  # the longest comes last
        (((12.0, 13.0),), 6.0),  # and first
    ],
)
def test_the_longest_time_without_a_break(breaks, hours):
    duty = Duty(
        crew="first", first_leg=1, last_leg=2, start=6.0 * HOUR, end=16.0 * HOUR,
        breaks=tuple((start * HOUR, end * HOUR) for start, end in breaks),
    )  # fmt: skip
    assert duty.time == 10.0 * HOUR
    assert duty.time_without_break == pytest.approx(hours * HOUR)


def test_a_stop_with_only_a_departure_booked_is_late_by_it():
    asked = hills(departure=36000.0, departure_delay=90.0)
    a, b, c = station_times(run(asked))
    assert a.late == 90.0
    assert a.depart == pytest.approx(36090.0)
    assert (b.late, c.late) == (None, None)
    booked = (
        asked.stops[0],
        replace(asked.stops[1], depart=b.depart - 60.0),
        Stop(station="C", arrive=c.arrive + 30.0),
    )
    _, later, end = station_times(run(replace(asked, stops=booked)))
    assert later.late == pytest.approx(60.0, abs=1.0)
    assert later.booked_arrive is None
    assert end.late == pytest.approx(-30.0, abs=1.0)
    on_time = station_times(run(hills(departure=36000.0)))[0]
    assert on_time.late is None
