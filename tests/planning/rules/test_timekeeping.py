"""Timekeeping: lateness against advertised times."""

from __future__ import annotations

import pytest
from judged import hills, one, run

from locosim.journey.result import Journey
from locosim.model import Stop
from locosim.planning.finding import CLEAR, STOP, TIGHT
from locosim.planning.rules import timekeeping as timekeeping_rules


def times(arrive: float, depart: float | None = None) -> Journey:
    stops = (Stop(station="A"), Stop(station="B", arrive=arrive, depart=depart), Stop(station="C"))
    return run(hills(stops=stops))


def test_lateness_is_arrival_less_the_advertised_time() -> None:
    free = run(hills()).stops[1].arrive
    for late, verdict in ((-120.0, CLEAR), (100.0, CLEAR), (290.0, TIGHT), (301.0, STOP)):
        finding = one(timekeeping_rules.timekeeping, times(free - late))
        assert finding.place == "B"
        assert finding.value == pytest.approx(late, abs=1.0)
        assert finding.margin == pytest.approx((300.0 - late) / 300.0, abs=0.01)
        assert finding.verdict == verdict
        assert ("after" if late > 0 else "before") in finding.because


def test_a_late_arrival_makes_a_late_departure() -> None:
    free = run(hills()).stops[1].arrive
    # A stop of two minutes: due out thirty seconds after arrival, the train leaves ninety late.
    journey = times(free, free + 30.0)
    found = timekeeping_rules.timekeeping(journey)
    assert [f.because.split()[0] for f in found] == ["arrival", "departure"]
    assert found[1].value == pytest.approx(90.0, abs=1.0)


def test_no_time_advertised_is_no_finding() -> None:
    assert timekeeping_rules.timekeeping(run(hills())) == []


def test_a_departure_at_the_advertised_time_is_on_time() -> None:
    free = run(hills()).stops[1].arrive
    found = timekeeping_rules.timekeeping(times(free + 5.0, free + 300.0))
    assert [f.because for f in found][1:] == ["departure on time"]
