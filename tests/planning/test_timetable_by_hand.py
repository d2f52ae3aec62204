"""A timetable over made-up runs: least times in steps, shares of the recovery, and the limits of each departure."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.errors import NoSolution, OutOfRange
from locosim.model import Excursion, Stop
from locosim.planning import timetable_search
from locosim.planning.timetable import Timetable, TimetableRequest, TimetableSection
from locosim.planning.timetable_search import compute_timetable, without_times

LINE = trials.line([(9000.0, 0.0)], stops=(3000.0, 6000.0))
RUNNING = (410.0, 420.0, 433.0)  # at full effort [s]
WORK = (0.0, 130.0, 55.0, 0.0)  # at each stop [s]
START = 36000.0
PLAN = trials.excursion(LINE, departure=START)


def run(excursion: Excursion, performance: Any = None, *, reached: int = 4, slower: float = 1.0) -> Any:
    """A run with these times, which waits for booked departures and stands as long as the work takes."""
    clock, records = excursion.departure, []
    for number, stop in enumerate(excursion.stops[:reached]):
        clock += slower * RUNNING[number - 1] if number else 0.0
        arrive = clock
        clock += WORK[number]
        if number and stop.depart is not None:
            clock = max(clock, stop.depart)
        records.append(
            SimpleNamespace(
                station=stop.station, chainage=1000.0 + 3000.0 * number, arrive=arrive, depart=clock
            )
        )
    return SimpleNamespace(stops=records, outcome="stalled", excursion=excursion, slower=slower)


def made(
    monkeypatch: pytest.MonkeyPatch,
    request: TimetableRequest,
    *,
    saving: float = 0.1,
    latest: float | None = None,
) -> Any:
    """A timetable whose fuel goes with the recovery: 100 kg for the run, less so much for each step at B."""
    asked: dict[str, Any] = {"fuel": []}

    def fuel_by_recovery(excursion: Excursion, performance: Any, *, steps: int, step: float) -> Any:
        asked["table"] = (excursion, performance, steps, step)
        return 50.0 - np.outer([2.0, 9.0, 1.0], np.arange(steps + 1))

    def booked(excursion: Excursion, performance: Any) -> Any:
        assert performance == "known"
        asked["fuel"].append(excursion)
        return excursion

    def fuel_cost(journey: Any) -> float:
        second = journey.stops[2].arrive - journey.stops[1].depart
        return 100.0 - saving * second

    def check(excursion: Excursion, **wanted: Any) -> Any:
        assert wanted == {"contingencies": False, "remedies": False}
        return SimpleNamespace(
            excursion=excursion,
            journey=excursion,
            full_effort=run(excursion),
            latest_departure=latest,
            check=None,
        )

    for name, fake in (
        ("compute_excursion_performance", lambda excursion: "known"), ("run_full_effort", run),
        ("fuel_by_recovery", fuel_by_recovery), ("run_booked", booked), ("fuel_cost", fuel_cost),
        ("check_excursion", check),
    ):  # fmt: skip
        monkeypatch.setattr(timetable_search, name, fake)
    return compute_timetable(PLAN, request), asked


# In whole minutes from 10:00: A 10:00; B 10:06:50 -> 10:07, work 130 s -> 10:10 (10:09:10); C 10:17 (420 s),
# work 55 s -> 10:18; D 433 s -> 10:26.
LEAST = [(None, None), (420.0, 600.0), (1020.0, 1080.0), (1560.0, None)]


def times(excursion: Excursion) -> list[tuple[float | None, float | None]]:
    return [
        (None if s.arrive is None else s.arrive - START, None if s.depart is None else s.depart - START)
        for s in excursion.stops
    ]


def test_least_times_are_those_of_full_effort_in_whole_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    found, asked = made(monkeypatch, TimetableRequest(recovery=0.0))
    assert times(found.answer.excursion) == LEAST
    assert asked["table"][1:] == ("known", 0, 60.0)
    assert times(asked["table"][0]) == LEAST
    assert found.wanted == 0.0
    rows = [(s.start, s.end, s.distance, s.least, s.booked, s.late_if_tighter) for s in found.sections]
    assert rows == [
        ("A", "B", 3000.0, 410.0, 420.0, pytest.approx(50.0)),
        ("B", "C", 3000.0, 420.0, 420.0, pytest.approx(60.0)),
        ("C", "D", 3000.0, 433.0, 480.0, pytest.approx(13.0)),
    ]
    assert [s.fuel_saved for s in found.sections] == [0.0, 0.0, 0.0]
    assert found.recovery == pytest.approx(10.0 + 0.0 + 47.0)


def test_recovery_is_shared_and_saves_what_the_table_says(monkeypatch: pytest.MonkeyPatch) -> None:
    # 57 s are in the rounding; 220 s wanted: three steps more.
    found, asked = made(monkeypatch, TimetableRequest(recovery_time=220.0))
    assert (found.wanted, asked["table"][2]) == (220.0, 3)
    # By least fuel all three go to the second section, whose stop and all later times are then so much later.
    assert times(found.answer.excursion) == [
        (None, None), (420.0, 600.0), (1200.0, 1260.0), (1740.0, None)
    ]  # fmt: skip
    assert found.sharing == "least_fuel"
    assert [s.fuel_saved for s in found.sections] == [0.0, 27.0, 0.0]
    assert [s.recovery for s in found.sections] == pytest.approx([10.0, 180.0, 47.0])
    even, _ = made(monkeypatch, TimetableRequest(recovery_time=220.0, sharing="even"))
    assert even.sharing == "even"
    assert times(even.answer.excursion) == [
        (None, None), (480.0, 660.0), (1140.0, 1200.0), (1740.0, None)
    ]  # fmt: skip
    assert [s.fuel_saved for s in even.sections] == [2.0, 9.0, 1.0]
    assert (found.fuel, found.fuel_evenly, found.fuel_least_times) == pytest.approx((40.0, 52.0, 58.0))
    assert (even.fuel, even.fuel_evenly) == pytest.approx((52.0, 52.0))


@pytest.mark.parametrize(("saving", "sharing"), [(0.1, "least_fuel"), (0.0, "least_fuel"), (-0.1, "even")])
def test_the_run_with_the_boiler_decides_how_it_is_shared(
    monkeypatch: pytest.MonkeyPatch, saving: float, sharing: str
) -> None:
    found, _ = made(monkeypatch, TimetableRequest(recovery_time=220.0), saving=saving)
    assert found.sharing == sharing


@pytest.mark.parametrize(("recovery", "steps"), [(57.0, 0), (57.1, 1), (117.0, 1), (117.1, 2), (0.0, 0)])
def test_the_rounding_of_the_least_times_counts_as_recovery(
    monkeypatch: pytest.MonkeyPatch, recovery: float, steps: int
) -> None:
    _, asked = made(monkeypatch, TimetableRequest(recovery_time=recovery))
    assert asked["table"][2] == steps
    found, asked = made(monkeypatch, TimetableRequest(recovery=0.1))
    assert found.wanted == pytest.approx(126.3)
    assert asked["table"][2] == 2
    finer, asked = made(monkeypatch, TimetableRequest(recovery=0.1, step=30.0))
    assert asked["table"][3] == 30.0
    assert times(asked["table"][0]) == [(None, None), (420.0, 570.0), (990.0, 1050.0), (1500.0, None)]
    assert finer.request.step == 30.0


@pytest.mark.parametrize("latest", [None, START + 7.0])
def test_how_early_and_how_late_the_train_may_leave_each_stop(
    monkeypatch: pytest.MonkeyPatch, latest: float | None
) -> None:
    found, _ = made(monkeypatch, TimetableRequest(recovery_time=220.0), latest=latest)
    a, b, c, d = found.stops
    # Backward from D at 1,740: C by 1,307, where it arrives by 1,252 or its booked 1,200; B by 780.
    assert (d.latest, d.earliest, d.depart, d.arrive) == (None, None, None, START + 1740.0)
    assert c.latest == pytest.approx(START + 1307.0)
    assert b.latest == pytest.approx(START + 780.0)
    assert a.latest == pytest.approx(START + 10.0 if latest is None else latest)
    # Without waiting: B at 410 + 130, C 420 and 55 later.
    assert [stop.earliest for stop in (a, b, c)] == pytest.approx([START, START + 540.0, START + 1015.0])
    assert [stop.work for stop in found.stops] == pytest.approx([0.0, 130.0, 55.0, 0.0])
    assert [stop.depart for stop in (a, b, c)] == pytest.approx([START, START + 600.0, START + 1260.0])
    assert [stop.station for stop in found.stops] == ["A", "B", "C", "D"]


def test_a_train_that_does_not_get_there_has_no_times(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(timetable_search, "compute_excursion_performance", lambda excursion: None)
    monkeypatch.setattr(timetable_search, "run_full_effort", lambda asked, known: run(asked, reached=2))
    with pytest.raises(NoSolution, match=r"full effort does not reach C \(stalled\)"):
        compute_timetable(PLAN)


def test_times_are_taken_away_and_the_first_departure_stays() -> None:
    given = (
        Stop(station="A"),
        Stop(station="B", arrive=37000.0, depart=37100.0, dwell=70.0),
        Stop(station="D", arrive=4e4),
    )
    freed = without_times(replace(PLAN, stops=given))
    assert freed.stops == (Stop(station="A"), Stop(station="B", dwell=70.0), Stop(station="D"))
    assert freed.departure == START


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"recovery_time": -1.0}, "must be 0 to 86400 s"),
        ({"recovery_time": 86401.0}, "must be 0 to 86400 s"),
        ({"recovery": -0.01}, "0 to 50 %"),
        ({"recovery": 0.51}, "0 to 50 %"),
        ({"step": 29.0}, "step must be"),
        ({"step": 3601.0}, "step must be"),
        ({"sharing": "fair"}, "must be one of least_fuel, even, found 'fair'"),
    ],
)
def test_a_request_out_of_range_is_refused(wrong: dict[str, Any], words: str) -> None:
    with pytest.raises(OutOfRange, match=words):
        TimetableRequest(**wrong)
    TimetableRequest(recovery_time=86400.0, recovery=0.5, step=3600.0, sharing="even")
    TimetableRequest(recovery_time=0.0, recovery=0.0, step=30.0)
    usual = TimetableRequest()
    assert (usual.recovery, usual.recovery_time, usual.step, usual.sharing) == (
        0.05,
        None,
        60.0,
        "least_fuel",
    )


def test_the_latest_arrival_is_the_worst_at_a_booked_one() -> None:
    stops = (
        Stop(station="A"),
        Stop(station="B", arrive=100.0),
        Stop(station="C"),
        Stop(station="D", arrive=300.0),
    )
    records = [SimpleNamespace(arrive=at) for at in (0.0, 90.0, 500.0, 295.0)]
    full = SimpleNamespace(stops=records)
    check = SimpleNamespace(
        journey=SimpleNamespace(excursion=SimpleNamespace(stops=stops), performance="known"),
        runs=SimpleNamespace(full_effort=full),
    )
    found = Timetable(
        request=TimetableRequest(), answer=SimpleNamespace(check=check), sections=(), stops=(), wanted=0.0,
        sharing="even", fuel=0.0, fuel_evenly=0.0, fuel_least_times=0.0,
    )  # type: ignore[arg-type]  # fmt: skip
    assert found.latest_arrival == -5.0
    assert (found.excursion.stops, found.performance, found.recovery) == (stops, "known", 0.0)
    section = TimetableSection(
        start="A", end="B", distance=1.0, least=100.0, booked=130.0, fuel_saved=0.0, late_if_tighter=0.0
    )
    assert replace(found, sections=(section, section)).recovery == 60.0
    assert math.isclose(section.recovery, 30.0)
