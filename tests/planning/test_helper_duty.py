"""What helpers do in a day, by hand: when they run back light, what they use, and the hours of crews and helpers."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.model import CrewHours, Diesel, Helper, Leg
from locosim.planning import helper_duty
from locosim.planning.duty import LightRun, duties
from locosim.planning.helper_duty import Help, find_helps, helper_duties
from locosim.planning.layover import Task
from locosim.planning.light_engine import Used

LINE = trials.line([(9000.0, 0.0)], stops=(3000.0, 6000.0))
PLAN = trials.excursion(LINE)
PUSHER = Helper(locomotive=trials.locomotive(name="pusher"), from_station="B", to_station="C")
DIESEL = Helper(
    diesel=Diesel(name="D1", mass=90e3, length=17.0, rail_power=1e6, starting_tractive_effort=15e4)
)


def run(*helpers: Helper, active: Any, start: float = 1000.0) -> Any:
    """Six steps of 100 s each, with a minute at each node before it leaves; helpers on in some of them."""
    arrive = start + 100.0 * np.arange(7)
    return SimpleNamespace(
        excursion=replace(PLAN, helpers=helpers), performance="of the train engine", time=arrive,
        departure_time=arrive + 60.0, helper_active=np.array(active, dtype=bool),
    )  # fmt: skip


MIDDLE = (0, 0, 1, 1, 1, 0)  # from 1,260 s to 1,500 s


@pytest.fixture
def light(monkeypatch: pytest.MonkeyPatch) -> list[tuple[Any, ...]]:
    """Runs back light that take 50 s and use 7 kg of water and 3 of fuel; each is listed."""
    made: list[tuple[Any, ...]] = []

    def run_light(excursion: Any, locomotive: Any, performance: Any, stations: Any) -> Any:
        made.append((locomotive.name, performance, stations))
        arrived = locomotive.name != "lame"
        return SimpleNamespace(
            duration=50.0, arrived=arrived, outcome="arrived" if arrived else "out of water"
        )

    monkeypatch.setattr(helper_duty, "run_light", run_light)
    monkeypatch.setattr(
        helper_duty, "used_on", lambda journey: Used(time=journey.duration, water=7.0, fuel=3.0)
    )
    monkeypatch.setattr(helper_duty, "compute_helper_performance", lambda asked, engine: f"of {engine.name}")
    monkeypatch.setattr(
        helper_duty,
        "used_by_helper",
        lambda journey, known, number: Used(time=140.0, water=100.0 + number, fuel=20.0),
    )

    def diesel_time(asked: Any, known: Any, diesel: Any, stations: Any) -> float:
        made.append((diesel.name, known, stations))
        return 80.0 if diesel.rail_power > 1e5 else math.inf

    monkeypatch.setattr(helper_duty, "light_diesel_time", diesel_time)
    return made


def test_a_helper_that_is_cut_off_on_the_way_runs_back_at_once(light: list[Any]) -> None:
    ((help_,),) = find_helps([run(PUSHER, active=[MIDDLE])])
    assert (help_.engine, help_.leg, help_.coupled, help_.cut_off) == ("pusher", 1, "B", "C")
    assert (help_.start, help_.end) == (1260.0, 1500.0)
    assert help_.helping == Used(time=140.0, water=100.0, fuel=20.0)
    assert help_.back == LightRun(
        station="B", start=1500.0, end=1550.0, used=Used(time=50.0, water=7.0, fuel=3.0)
    )
    assert help_.used == Used(time=190.0, water=107.0, fuel=23.0)
    assert help_.no_return == ""
    assert help_.tender == (21e3, 7e3)
    assert light == [("pusher", "of pusher", ("C", "B"))]


@pytest.mark.parametrize(
    ("first", "beyond", "back"),
    [
        (("B", "C"), None, True),
        (("B", "D"), None, False),  # it goes to the end of the leg
        ((None, None), None, False),
        (("B", "C"), ("C", "D"), False),  # it helps next from where it is
        (("B", "C"), ("B", "C"), True),
        (("B", "D"), ("C", "D"), True),
        (("A", "C"), (None, "B"), True),
    ],
)
def test_a_helper_stays_only_where_it_helps_next_or_at_the_end(
    light: list[Any], first: Any, beyond: Any, back: bool
) -> None:
    helpers = [
        replace(PUSHER, from_station=each[0], to_station=each[1])
        for each in (first, beyond)
        if each is not None
    ]
    runs = [run(helper, active=[MIDDLE], start=1000.0 + 9000.0 * k) for k, helper in enumerate(helpers)]
    (helps,) = find_helps(runs)
    assert [each.leg for each in helps] == list(range(1, len(runs) + 1))
    assert (helps[0].back is not None) == back
    assert (helps[0].coupled, helps[0].cut_off) == (first[0] or "A", first[1] or "D")
    if back:
        assert light[0] == ("pusher", "of pusher", (first[1] or "D", first[0] or "A"))
    else:
        assert helps[0].used is helps[0].helping


def test_two_helpers_of_one_name_are_told_apart_and_one_not_yet_on_is_none(light: list[Any]) -> None:
    second = replace(PUSHER, from_station="A", to_station="B")
    never = Helper(locomotive=trials.locomotive(name="spare"), from_station="C", to_station="D")
    early = (1, 1, 0, 0, 0, 0)
    helps = find_helps(
        [run(PUSHER, never, second, active=[MIDDLE, (0,) * 6, early]), run(second, active=[early])]
    )
    assert [[(each.engine, each.leg) for each in one] for one in helps] == [
        [("pusher", 1), ("pusher", 2)],
        [("pusher, number 2", 1)],
    ]
    assert helps[1][0].helping == Used(time=140.0, water=102.0, fuel=20.0)
    assert (helps[1][0].start, helps[1][0].end) == (1060.0, 1200.0)


def test_a_diesel_runs_back_by_its_own_time_and_uses_nothing_that_is_counted(light: list[Any]) -> None:
    on_the_way = replace(DIESEL, from_station="B", to_station="C")
    ((help_,),) = find_helps([run(on_the_way, active=[MIDDLE])])
    assert (help_.helping, help_.used, help_.tender) == (None, None, (0.0, 0.0))
    assert help_.back == LightRun(station="B", start=1500.0, end=1580.0)
    assert light == [("D1", "of the train engine", ("C", "B"))]
    assert DIESEL.diesel is not None
    weak = replace(on_the_way, diesel=replace(DIESEL.diesel, rail_power=9e4))
    ((stalled,),) = find_helps([run(weak, active=[MIDDLE])])
    assert (stalled.back, stalled.no_return) == (None, "stalled")


def test_what_ends_the_run_back_is_said(light: list[Any]) -> None:
    lame = replace(PUSHER, locomotive=trials.locomotive(name="lame"))
    ((help_,),) = find_helps([run(lame, active=[MIDDLE])])
    assert (help_.back, help_.no_return) == (None, "out of water")
    assert help_.used == help_.helping


def help_of(start: float, end: float, *, leg: int = 1, back: float | None = None) -> Help:
    light_run = None if back is None else LightRun(station="B", start=end, end=back)
    return Help(
        engine="pusher",
        leg=leg,
        journey=None,
        helper=PUSHER,
        start=start,
        end=end,
        helping=None,
        back=light_run,
    )  # type: ignore[arg-type]


def test_the_crew_of_a_helper_is_on_duty_from_before_it_is_coupled_on_until_it_is_back() -> None:
    hours = CrewHours(preparing_time=500.0, putting_away_time=300.0, min_break=1000.0)
    day: Any = SimpleNamespace(crew_hours=hours)
    helps = (
        help_of(10000.0, 12000.0, leg=2, back=12500.0),
        help_of(13500.0, 14000.0, leg=3),  # 1,000 s after it was back
        help_of(14999.0, 16000.0, leg=5, back=17000.0),  # 999 s
    )
    (duty,) = helper_duties(day, [helps])
    assert (duty.crew, duty.first_leg, duty.last_leg) == ("crew of helper pusher", 2, 5)
    assert (duty.start, duty.end, duty.is_helper) == (9500.0, 17300.0, True)
    assert duty.breaks == ((12500.0, 13500.0),)
    assert duty.light_runs == (helps[0].back, helps[2].back)
    (stays,) = helper_duties(day, [helps[:2]])
    assert (stays.end, stays.last_leg) == (14300.0, 3)


# Crews of the legs


def layover(at_hand: float, work: float, given: float = 0.0, departure: float = 0.0) -> Any:
    tasks = (Task("inspection", work - given), Task("break", given))
    return SimpleNamespace(at_hand=at_hand, work=work, tasks=tasks, departure=departure)


@pytest.mark.parametrize(
    ("at_hand", "work", "given", "free"),
    [
        (5000.0, 3800.0, 0.0, 1200.0),
        (5000.0, 3801.0, 0.0, None),
        (5000.0, 3801.0, 1.0, 1200.0),
        (3000.0, 5000.0, 1300.0, 1300.0),  # late, but the break is given
        (3000.0, 5000.0, 1100.0, None),
    ],
)
def test_a_break_is_the_time_beyond_the_work_with_that_which_is_given(
    at_hand: float, work: float, given: float, free: float | None
) -> None:
    crews = ("two", "one", "one", "two", "one")
    legs = tuple(Leg(excursion=PLAN, crew=crew) for crew in crews)
    day: Any = SimpleNamespace(legs=legs, crew_hours=CrewHours(preparing_time=700.0, putting_away_time=400.0))
    runs: Any = [
        SimpleNamespace(
            stops=[SimpleNamespace(depart=1e4 * k), SimpleNamespace(depart=-1.0)],
            departure_time=np.array([0.0, 1.0, 1e4 * k + 50.0]),
        )
        for k in range(5)
    ]
    stood = layover(at_hand, work, given, departure=20000.0)
    two, one = duties(day, runs, [None, layover(9e3, 0.0), stood, layover(0.0, 9.0), None])
    assert (one.crew, one.first_leg, one.last_leg) == ("one", 2, 5)
    assert (one.start, one.end) == (10000.0 - 700.0, 40050.0 + 400.0)
    assert one.breaks == (() if free is None else ((20000.0 - free, 20000.0),))
    assert (two.crew, two.first_leg, two.last_leg) == ("two", 1, 4)
    # The layover before its first leg is no break of a crew, but those of legs of other crews between its own are.
    assert [end for _, end in two.breaks] == [0.0, *([] if free is None else [20000.0])]
    (alone,) = duties(day, runs[:1], [None])
    assert (alone.crew, alone.first_leg, alone.last_leg, alone.breaks) == ("two", 1, 1, ())
