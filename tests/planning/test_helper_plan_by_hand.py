"""Help for a train over made-up runs: the least pull and its stretch, pairs of stations, doubling, and what is used."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.errors import OutOfRange
from locosim.journey.setup.prepare import prepare
from locosim.model import Diesel, Excursion, Helper, Stop
from locosim.planning import doubling, help_needed, helper_plan, light_diesel, light_engine
from locosim.planning.doubling import divided, stopping
from locosim.planning.finding import (
    Comparison,
    Explanation,
    Finding,
    Location,
    VerdictScale,
    judge,
)
from locosim.planning.help_needed import HelpNeeded, HelpStretch, find_help_needed
from locosim.planning.light_engine import Used

LINE = trials.line([(20000.0, 0.0)], stops=(3000.0, 7000.0, 12000.0))  # A 1, B 4, C 8, D 13 and E 21 km
PLAN = trials.excursion(LINE)
DIESEL = Diesel(name="D1", mass=90e3, length=17.0, rail_power=0.9e6, starting_tractive_effort=150e3)


def found(
    rule: str, margin: float = -0.5, *, place: str = "x", value: float = 0.0, limit: float = 1.0
) -> Finding:
    compared = Comparison(value, limit, "force", margin)
    return judge(rule, compared, Location(place, 1.0), VerdictScale(0.1), Explanation(because="", remedy=""))


# The least pull, and where


def needs(
    patch: pytest.MonkeyPatch, least: float, start: float, end: float, *, spread: float = 0.0
) -> list[Any]:
    """Let a pull suffice that is at least so large, begins no later and ends no earlier; larger ones over less."""
    tried = []

    def failures(excursion: Any, performance: Any, pull: Any) -> tuple[Finding, ...]:
        tried.append(pull)
        shorter = spread * (pull.force / least - 1.0)
        wrong = []
        if pull.force < least:
            wrong.append(found("climb"))
        if pull.start > start + shorter:
            wrong.append(found("stall"))
        if pull.end < end - shorter:
            wrong.append(found("time"))
        return tuple(wrong)

    patch.setattr(help_needed, "pull_failures", failures)
    return tried


@pytest.mark.parametrize("least", [50.0, 9e3, 10e3, 10001.0, 77e3, 2.5e6])
def test_the_least_pull_is_found_to_half_a_percent_and_its_stretch_to_a_step(
    monkeypatch: pytest.MonkeyPatch, least: float
) -> None:
    needs(monkeypatch, least, 6042.0, 9120.0, spread=900.0)
    starts = [
        found("start", place="B", value=70.0, limit=100.0),
        found("start", place="C", value=10.0, limit=15.0),
    ]
    alone = (found("stall"), starts[0], found("water"), starts[1])
    need = find_help_needed(PLAN, None, alone)  # type: ignore[arg-type]
    assert [f.rule for f in need.alone] == ["stall", "start", "start"]
    assert need.starts == (("B", 30.0), ("C", 5.0))
    force = need.stretches[0].force
    assert least <= force <= least * 1.00503
    assert [f.rule for f in need.with_less] == ["climb"]
    assert [each.force / force for each in need.stretches] == pytest.approx([1.0, 1.25, 1.5, 2.0])
    for each in need.stretches:
        shorter = 900.0 * (each.force / least - 1.0)
        # From the first stop at 1 km and the last at 21 km, in steps of 100 m
        assert each.start == 1000.0 + 100.0 * int((5042.0 + shorter) / 100.0)
        assert each.end == 21000.0 - 100.0 * int((11880.0 + shorter) / 100.0)
        assert [f.rule for f in each.later_start] == ["stall"]
        assert [f.rule for f in each.earlier_end] == ["time"]


def test_no_help_is_looked_for_where_only_starts_lack_or_none_suffices(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    tried = needs(monkeypatch, 5e6, 6000.0, 9000.0)
    start = found("start", place="B", value=70.0, limit=100.0)
    need = find_help_needed(PLAN, None, (start,))  # type: ignore[arg-type]
    assert need == HelpNeeded(alone=(start,), stretches=(), with_less=(), starts=(("B", 30.0),))
    assert not tried
    beyond = find_help_needed(PLAN, None, (found("climb"), start))  # type: ignore[arg-type]
    assert (beyond.stretches, beyond.with_less, beyond.starts) == ((), (), (("B", 30.0),))
    assert max(pull.force for pull in tried) <= 4e6
    assert {(pull.start, pull.end) for pull in tried} == {(1000.0, 21000.0)}


def test_an_end_is_moved_on_where_a_shorter_stretch_suffices(monkeypatch: pytest.MonkeyPatch) -> None:
    """A fireman who expects more help fires less: over 5 km and more 10 steps further in are needed."""

    def over(pull: Any) -> tuple[Finding, ...]:
        long = 300.0 if pull.end - pull.start > 5000.0 else 0.0
        wrong = [found("stall")] if pull.start > 6042.0 - long else []
        return (*wrong, *([found("time")] if pull.end < 9120.0 else []))

    stretch = help_needed._stretch(over, 1.0, 1000.0, 21000.0)
    assert (stretch.start, stretch.end) == (6000.0, 9200.0)
    assert [f.rule for f in stretch.later_start] == ["stall"]
    assert [f.rule for f in stretch.earlier_end] == ["time"]


def test_the_ends_of_a_stretch_are_moved_on_fifty_steps_at_most() -> None:
    """Over the whole run no later start suffices; with an end 500 m earlier any does, as the fireman expects less."""

    def over(pull: Any) -> tuple[Any, ...]:
        start, end = round((pull.start - 1000.0) / 100.0), round((21000.0 - pull.end) / 100.0)
        return (found("stall"),) if end > 5 or (end < 5 and start > 0) else ()

    stretch = help_needed._stretch(over, 1.0, 1000.0, 21000.0)
    assert (stretch.start, stretch.end) == (1000.0 + 50 * 100.0, 20500.0)
    assert stretch.later_start == ()


@pytest.mark.parametrize("most", [0, 1, 2, 7, 64])
def test_most_steps_that_suffice(most: int) -> None:
    assert help_needed._most(lambda k: True, most) == most
    for last in range(most + 1):
        assert help_needed._most(lambda k, last=last: k <= last, most) == last  # type: ignore[misc]


# Pairs of stations


def need_over(start: float, end: float, *lacking: str) -> HelpNeeded:
    wide = HelpStretch(force=1.0, start=0.0, end=1e6, later_start=(), earlier_end=())
    return HelpNeeded(
        alone=(), stretches=(wide, replace(wide, start=start, end=end)), with_less=(),
        starts=tuple((name, 1.0) for name in lacking),
    )  # fmt: skip


def pairs(need: HelpNeeded, stops: str = "ABCDE") -> list[str]:
    asked = replace(PLAN, stops=tuple(Stop(station=name) for name in stops))
    return ["".join(pair) for pair in helper_plan._pairs(asked, need)]


def test_pairs_lie_around_the_shortest_stretch_the_shortest_first() -> None:
    assert pairs(need_over(9000.0, 9500.0)) == ["CD", "BD", "AD", "CE", "BE", "AE"]
    # Beginning where it ends, or ending where it begins, does not help: B is at 4 km, and C at 8.
    assert pairs(need_over(4000.0, 8000.0)) == ["BC", "AC", "BD", "AD", "BE", "AE"]
    assert pairs(need_over(9000.0, 9500.0), "BD") == [
        "CD",
        "BD",
    ]  # none before the first stop or beyond the last
    assert pairs(replace(need_over(0.0, 0.0, "D"), stretches=())) == ["DE"]
    assert pairs(replace(need_over(0.0, 0.0), stretches=())) == []
    assert pairs(need_over(1500.0, 2000.0, "D")) == ["AB", "AC", "DE", "AD", "AE"]


def test_of_pairs_as_far_apart_that_with_fewer_new_stops_comes_first() -> None:
    even = trials.line([(8000.0, 0.0)], stops=(2000.0, 4000.0, 6000.0))
    asked = replace(PLAN, route=even, stops=tuple(Stop(station=name) for name in "ACDE"))
    whole = need_over(0.0, 1e6)
    assert ["".join(pair) for pair in helper_plan._pairs(asked, whole)][:4] == ["CD", "DE", "AB", "BC"]


def test_at_most_150_pairs_are_tried() -> None:
    many = trials.line([(40000.0, 0.0)], stops=tuple(1000.0 * k for k in range(1, 20)))
    asked = replace(PLAN, route=many, stops=(Stop(station="A"), Stop(station=many.stations[-1].name)))
    found_pairs = list(helper_plan._pairs(asked, need_over(0.0, 1e6)))
    assert len(found_pairs) == 150
    assert len(set(found_pairs)) == 150


def test_a_helper_between_two_stations_makes_both_a_stop() -> None:
    asked = replace(PLAN, stops=(Stop(station="A"), Stop(station="C", dwell=60.0), Stop(station="E")))
    helper = Helper(locomotive=trials.locomotive(), place="rear")
    made = helper_plan.with_helper(asked, helper, "B", "C")
    assert [stop.station for stop in made.stops] == ["A", "B", "C", "E"]
    assert made.stops[2] == asked.stops[1]
    assert made.helpers == (replace(helper, from_station="B", to_station="C"),)
    assert helper_plan._new_stops(made, made.helpers[0]) == ("B",)
    ends = helper_plan.with_helper(asked, helper, "A", "D")
    assert helper_plan._new_stops(ends, ends.helpers[0]) == ("D",)
    assert helper_plan._new_stops(PLAN, replace(helper, from_station="A", to_station="C")) == ("C",)


@pytest.mark.parametrize(
    ("outcomes", "suits", "refused"),
    [
        (["climb", "steam", ""], 2, ["CD climb", "BD steam"]),
        ([""], 0, []),
        (["refused", "stall", ""], 2, ["BD stall"]),
        (["climb"] * 6, None, ["CD climb", "BD climb", "AD climb", "CE climb", "BE climb", "AE climb"]),
        (["water", ""], 0, []),  # no helper cures it
    ],
)
def test_the_helper_serves_the_shortest_stretch_that_suffices(
    monkeypatch: pytest.MonkeyPatch, outcomes: list[str], suits: int | None, refused: list[str]
) -> None:
    """Full effort shows the first of these rules, and the whole check the others."""
    at = iter(outcomes)
    now = {"rule": ""}

    def run_full_effort(changed: Excursion, performance: Any) -> Any:
        now["rule"] = next(at)
        if now["rule"] == "refused":
            raise OutOfRange("no helper at such a speed")
        return None

    class Checks:
        def __init__(self, base: Any) -> None:
            pass

        def check(self, changed: Excursion) -> Any:
            return SimpleNamespace(
                findings=[found("start", 0.5), *([found(now["rule"])] if now["rule"] else [])]
            )

    monkeypatch.setattr(helper_plan, "run_full_effort", run_full_effort)
    monkeypatch.setattr(
        helper_plan, "stalling", lambda run: [found("stall")] if now["rule"] == "stall" else []
    )
    monkeypatch.setattr(
        helper_plan,
        "judge_full_effort",
        lambda run: [found("time", 0.2), *([found("climb")] * (now["rule"] == "climb"))],
    )
    monkeypatch.setattr(helper_plan, "Checker", Checks)
    monkeypatch.setattr(helper_plan, "_service", lambda changed, before: (changed, list(before)))
    alone: Any = SimpleNamespace(journey=SimpleNamespace(excursion=PLAN, performance=None))
    helper = Helper(locomotive=trials.locomotive())
    service, shorter = helper_plan._best_service(alone, need_over(9000.0, 9500.0), helper)
    assert [f"{r.coupled}{r.cut_off} {r.finding.rule}" for r in reversed(shorter)] == refused
    if suits is None:
        assert service is None
    else:
        assert service is not None
        coupled, cut_off = ["CD", "BD", "AD"][suits]
        assert service[0] == helper_plan.with_helper(PLAN, helper, coupled, cut_off)  # type: ignore[index]


# Doubling


@pytest.mark.parametrize(
    ("works", "tried", "chosen"),
    [([0, 1, 1], 2, 1), ([1], 1, 0), ([0] * 9, 6, 0), ([None], 1, None), ([0, None], 2, None)],
)
def test_the_hill_is_doubled_over_the_shortest_stretch_that_works_or_else_the_first(
    monkeypatch: pytest.MonkeyPatch, works: list[int | None], tried: int, chosen: int | None
) -> None:
    made = iter(
        [None if each is None else SimpleNamespace(works=bool(each), k=k) for k, each in enumerate(works)]
    )
    asked = []

    def double_hill(excursion: Any, performance: Any, foot: str, top: str) -> Any:
        asked.append((excursion, performance, foot, top))
        return next(made)

    monkeypatch.setattr(helper_plan, "double_hill", double_hill)
    monkeypatch.setattr(helper_plan, "_with_through_time", lambda found, service: (found, service))
    alone: Any = SimpleNamespace(journey=SimpleNamespace(excursion=PLAN, performance="known"))
    result: Any = helper_plan._doubling(alone, need_over(0.0, 1e6), "service")  # type: ignore[arg-type]
    assert len(asked) == tried
    assert asked[0] == (PLAN, "known", "A", "B")
    assert (result is None) == (chosen is None)
    if result is not None:
        assert (result[0].k, result[1]) == (chosen, "service")


def test_without_a_pair_there_is_nothing_to_double() -> None:
    alone: Any = SimpleNamespace(journey=SimpleNamespace(excursion=PLAN, performance=None))
    assert helper_plan._doubling(alone, replace(need_over(0.0, 0.0), stretches=()), None) is None


def test_the_time_of_the_whole_train_is_from_leaving_the_foot_to_reaching_the_top() -> None:
    made = doubling.Doubling(
        foot="B", top="D", parts=None, trips=None, back=None, rest=(), switching=0.0, used=None
    )  # type: ignore[arg-type]
    journey = SimpleNamespace(
        excursion=PLAN, chainage=np.array([1000.0, 3900.0, 4010.0, 8000.0, 13000.0, 21000.0]),
        time=np.array([0.0, 300.0, 310.0, 900.0, 1500.0, 2500.0]),
        departure_time=np.array([5.0, 301.0, 430.0, 1000.0, 1600.0, 2600.0]),
    )  # fmt: skip
    service: Any = SimpleNamespace(answer=SimpleNamespace(journey=journey))
    assert helper_plan._with_through_time(made, service).through == 1500.0 - 430.0
    assert helper_plan._with_through_time(made, None) is made


def test_rules_that_stop_a_trip_are_those_of_traction_each_once() -> None:
    check: Any = SimpleNamespace(
        findings=[found("climb"), found("stall"), found("climb"), found("time"), found("start", 0.05), found("water"),
                  found("adhesion", 0.5)]
    )  # fmt: skip
    assert stopping(check) == ("climb", "stall")


@pytest.mark.parametrize("wrong", [None, "first trip", "second trip", "rest", "back"])
def test_doubling_works_where_nothing_stops(wrong: str | None) -> None:
    def check(name: str) -> Any:
        return SimpleNamespace(findings=[found("climb", -0.1 if wrong == name else 0.5), found("time")])

    made = doubling.Doubling(
        foot="B", top="D", parts=None, trips=(check("first trip"), check("second trip")),
        back=SimpleNamespace(arrived=wrong != "back"), rest=(check("x"), check("rest")), switching=0.0, used=None,
    )  # type: ignore[arg-type]  # fmt: skip
    assert made.works == (wrong is None)


def test_a_train_is_divided_where_its_parts_are_most_alike() -> None:
    draw = random.Random(7)
    for _ in range(30):
        rows = [
            trials.coaches(draw.randint(1, 3), name=f"car {k}", people=0, load=draw.choice((0.0, 9e3, 31e3)))
            for k in range(draw.randint(1, 4))
        ]
        whole = trials.train(*rows)
        singles = [replace(row, count=1) for row in rows for _ in range(row.count)]
        parts = divided(whole)
        if len(singles) == 1:
            assert parts is None
            continue
        assert parts is not None
        front, rear = parts
        again = [replace(v, count=1) for part in parts for v in part.vehicles for _ in range(v.count)]
        assert again == singles
        by_hand = min(
            abs(sum(v.mass for v in singles[:k]) - sum(v.mass for v in singles[k:]))
            for k in range(1, len(singles))
        )
        assert abs(front.mass - rear.mass) == pytest.approx(by_hand)
        assert (front.name, rear.name) == ("trial train, front part", "trial train, rear part")
        for part in parts:
            names = [v.name for v in part.vehicles]
            assert all(a != b for a, b in pairwise(names))


def test_the_rest_of_the_run_is_before_the_foot_and_beyond_the_top_without_times() -> None:
    stops = (
        Stop(station="A"), Stop(station="B", arrive=36500.0, depart=36600.0, take_water="fill", dwell=60.0),
        Stop(station="C"), Stop(station="D", take_fuel="fill"), Stop(station="E", arrive=40000.0),
    )  # fmt: skip
    asked = replace(PLAN, stops=stops, initial_water=0.5, initial_fuel=0.4)
    before, beyond = doubling._rest(asked, "C", "D")
    assert before.stops == (
        Stop(station="A"),
        Stop(station="B", take_water="fill", dwell=60.0),
        Stop(station="C"),
    )
    assert (before.initial_water, before.initial_fuel) == (0.5, 0.4)
    assert beyond.stops == (Stop(station="D"), Stop(station="E"))
    assert (beyond.initial_water, beyond.initial_fuel) == (1.0, 1.0)
    assert doubling._rest(asked, "A", "E") == []
    assert [len(each.stops) for each in doubling._rest(asked, "B", "E")] == [2]


def test_doubling_adds_two_trips_the_run_back_and_the_switching(monkeypatch: pytest.MonkeyPatch) -> None:
    ran: list[Any] = []

    def run_and_check(asked: Excursion, performance: Any) -> Any:
        ran.append(asked)
        return SimpleNamespace(
            journey=Used(time=100.0 * len(ran), water=10.0 * len(ran), fuel=float(len(ran)))
        )

    def run_light(asked: Any, engine: Any, performance: Any, stations: Any) -> Any:
        assert (asked, engine, performance, stations) == (PLAN, PLAN.locomotive, "known", ("D", "B"))
        return Used(time=5.0, water=0.5, fuel=0.25)

    monkeypatch.setattr(doubling, "run_and_check", run_and_check)
    monkeypatch.setattr(doubling, "run_light", run_light)
    monkeypatch.setattr(doubling, "used_on", lambda journey: journey)
    made = doubling.double_hill(PLAN, "known", "B", "D")  # type: ignore[arg-type]
    assert made is not None
    assert made.switching == 4 * 600.0
    assert made.used == Used(time=100.0 + 5.0 + 200.0 + 2400.0, water=30.5, fuel=3.25)
    assert [[s.station for s in each.stops] for each in ran] == [["B", "D"]] * 2 + [["A", "B"], ["D", "E"]]
    assert [each.train.mass for each in ran[:2]] == [part.mass for part in made.parts]
    assert {(each.initial_water, each.initial_fuel) for each in ran[:2]} == {(1.0, 1.0)}
    single = replace(PLAN, train=trials.train(trials.coaches(1)))
    assert doubling.double_hill(single, "known", "B", "D") is None  # type: ignore[arg-type]


# What an engine alone and a helper use


def test_an_engine_runs_back_light_not_turned_and_full(monkeypatch: pytest.MonkeyPatch) -> None:
    ran = []
    monkeypatch.setattr(light_engine, "run_to_timetable", lambda asked, known: ran.append((asked, known)))
    for facing, direction in (("stack_first", "forward"), ("tender_first", "reverse")):
        stops = PLAN.stops if direction == "forward" else PLAN.stops[::-1]
        asked = replace(
            PLAN, engine_facing=facing, direction=direction, stops=stops, initial_water=0.3, initial_fuel=0.3,
            helpers=(Helper(locomotive=trials.locomotive()),),
        )  # fmt: skip
        ends = ("D", "B") if direction == "forward" else ("B", "D")
        light_engine.run_light(asked, trials.locomotive(name="pusher"), "known", ends)  # type: ignore[arg-type]
    for (made, known), facing, direction in zip(
        ran, ("tender_first", "stack_first"), ("reverse", "forward"), strict=True
    ):
        assert known == "known"
        assert (made.engine_facing, made.direction, made.name) == (facing, direction, "pusher light")
        assert (made.initial_water, made.initial_fuel, made.helpers) == (1.0, 1.0, ())
        assert (made.train.vehicles, made.locomotive.name) == ((), "pusher")
    assert [stop.station for stop in ran[0][0].stops] == ["D", "B"]


class Map:
    """Steam in proportion to effort and speed; most effort 1,000 N, which friction takes a fifth of."""

    max_speed = 12.0
    friction_share = 0.2

    def max_effort(self, *, speed: float, pressure: float) -> tuple[float, str]:
        assert pressure == 14e5
        return 1000.0, "cylinders"

    def setting_for(self, *, effort: float, speed: float, pressure: float) -> Any:
        assert pressure == 14e5
        return SimpleNamespace(steam=1e-4 * effort * speed)


def test_a_helper_uses_steam_for_its_share_of_the_effort_and_its_auxiliaries(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    engine = SimpleNamespace(
        boiler=SimpleNamespace(absolute_pressure=14e5), auxiliaries=SimpleNamespace(continuous_demand=0.05)
    )
    performance: Any = SimpleNamespace(
        map=Map(),
        supply=SimpleNamespace(firing_rate_for=lambda steam: 0.1 * steam),
        locomotive=engine,
        assumptions="a",
    )
    monkeypatch.setattr(light_engine, "drifting_steam", lambda locomotive, assumptions: 0.02)
    # Steps: not on; 400 N alone; none; 1,200 N shared with another of three times its effort; beyond its most; not on
    active = np.array([[0, 1, 1, 1, 1, 0], [0, 0, 0, 1, 0, 1]], dtype=bool)
    time = np.array([0.0, 100.0, 200.0, 300.0, 400.0, 500.0, 600.0])
    stood = np.array([0.0, 40.0, 0.0, 30.0, 0.0, 9.0, 0.0])
    helpers = [
        SimpleNamespace(effort_at=lambda speed: 100.0 + speed),
        SimpleNamespace(effort_at=lambda speed: 330.0),
    ]
    journey: Any = SimpleNamespace(
        helper_active=active, helpers=helpers, time=time, departure_time=time + stood,
        speed=np.array([0.0, 4.0, 8.0, 8.0, 12.0, 16.0, 0.0]),
        helper_effort=np.array([9.0, 400.0, 0.0, 1200.0, 5000.0, 7.0]),
    )  # fmt: skip
    used = light_engine.used_by_helper(journey, performance, 0)
    steam = [
        1e-4 * 400.0 / 0.8 * 6.0 + 0.05,
        0.02 + 0.05,
        1e-4 * (1200.0 * 110.0 / 440.0) / 0.8 * 10.0 + 0.05,
        1e-4 * 1000.0 * 12.0 + 0.05,
    ]
    times = [60.0, 100.0, 70.0, 100.0]
    standing = 30.0  # where it was coupled on it stood before its help
    water = sum(s * t for s, t in zip(steam, times, strict=True)) + 0.05 * standing
    assert used.water == pytest.approx(water)
    assert used.fuel == pytest.approx(0.1 * water)
    assert used.time == 500.0 - 140.0
    journey.helper_active = np.zeros((2, 6), dtype=bool)
    assert light_engine.used_by_helper(journey, performance, 0) == Used(time=0.0, water=0.0, fuel=0.0)


@pytest.mark.parametrize(
    ("own", "train", "alike"),
    [("hand", "stoker", 1), ("oil", "oil", 1), ("oil", "hand", 0), ("hand", "oil", 0)],
)
def test_a_helper_burns_the_fuel_of_the_train_engine_unless_one_burns_oil(
    monkeypatch: pytest.MonkeyPatch, own: str, train: str, alike: int
) -> None:
    def firing(kind: str) -> Any:
        return SimpleNamespace(boiler=SimpleNamespace(firing=kind))

    asked: Any = SimpleNamespace(locomotive=firing(train), method="handbook", fuel="coal", assumptions="a")
    made: list[Any] = []
    monkeypatch.setattr(
        light_engine, "compute_performance", lambda engine, **known: made.append((engine, known))
    )
    engine: Any = firing(own)
    light_engine.compute_helper_performance(asked, engine)
    assert made == [(engine, {"method": "handbook", "fuel": "coal" if alike else None, "assumptions": "a"})]


def test_a_round_trip_is_helping_and_the_run_back(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(helper_plan, "used_on", lambda journey: Used(time=1.0, water=2.0, fuel=3.0))
    made = helper_plan.HelperService(
        helper=Helper(locomotive=trials.locomotive(), from_station="B", to_station="C"), new_stops=(), answer=None,
        refused=(), helping=Used(time=10.0, water=20.0, fuel=30.0), back="a run", tender_water=0.0,
    )  # type: ignore[arg-type]  # fmt: skip
    assert made.round_trip == Used(time=11.0, water=22.0, fuel=33.0)
    assert (made.coupled, made.cut_off) == ("B", "C")
    assert replace(made, back=None).round_trip is None
    assert replace(made, helping=None).round_trip is None


@pytest.mark.parametrize(
    ("own", "file", "place", "expected"),
    [
        (None, (), None, ("trial engine", "front")),
        ("second", (), "rear", ("second", "rear")),
        (None, ("D1", "rear"), None, ("D1", "rear")),
        (None, ("D1", "rear"), "front", ("D1", "front")),
        ("second", ("D1", "rear"), None, ("second", "rear")),
    ],
)
def test_the_helper_tried_is_that_given_or_that_of_the_file_or_like_the_train_engine(
    monkeypatch: pytest.MonkeyPatch, own: str | None, file: tuple[str, ...], place: str | None, expected: Any
) -> None:
    named = Helper(diesel=DIESEL, place=file[1], from_station="B", to_station="C") if file else None
    asked = replace(PLAN, helpers=(named, Helper(locomotive=trials.locomotive(name="last"))) if named else ())
    findings = (found("climb"), found("time", 0.05), found("stall"))
    alone = SimpleNamespace(findings=findings, journey=SimpleNamespace(excursion="alone", performance=SimpleNamespace(
        locomotive=SimpleNamespace(name="trial engine"))))  # fmt: skip
    known: dict[str, Any] = {}

    def run_and_check(light: Excursion, performance: Any) -> Any:
        known["light"] = light
        return alone

    def find(light: Any, performance: Any, stops: Any) -> HelpNeeded:
        assert (light, [f.rule for f in stops]) == (known["light"], ["climb", "stall"])
        return known["need"]  # type: ignore[no-any-return]

    monkeypatch.setattr(helper_plan, "compute_excursion_performance", lambda light: "known")
    monkeypatch.setattr(helper_plan, "run_and_check", run_and_check)
    monkeypatch.setattr(helper_plan, "find_help_needed", find)
    served = SimpleNamespace(
        answer=SimpleNamespace(excursion="with it", check=SimpleNamespace(findings=findings))
    )
    monkeypatch.setattr(helper_plan, "_best_service", lambda *asked: (known["service"], ("refused",)))
    monkeypatch.setattr(helper_plan, "_doubling", lambda *asked: ("doubled", *asked))
    engine = None if own is None else trials.locomotive(name=own)
    known["need"], known["service"] = need_over(0.0, 1.0), None
    none = helper_plan.plan_helper(asked, locomotive=engine, place=place)
    assert known["light"] == replace(asked, helpers=())
    assert (none.needed, none.service, none.refused, none.doubling) == (False, None, (), None)
    assert (none.excursion, none.performance) == ("alone", alone.journey.performance)
    assert ((none.helper.locomotive or none.helper.diesel).name, none.helper.place) == expected  # type: ignore[union-attr]
    assert (none.helper.from_station, none.helper.to_station) == (None, None)
    assert none.helper_name == none.helper.name_beside("trial engine")
    known["need"], known["service"] = replace(known["need"], alone=findings[:1]), served
    helped = helper_plan.plan_helper(asked, locomotive=engine, place=place)
    assert (helped.needed, helped.service, helped.refused) == (True, served, ("refused",))
    assert helped.doubling == ("doubled", alone, known["need"], served)
    assert helped.excursion == "with it"


@pytest.mark.parametrize(("margin", "suffices"), [(-0.1, False), (0.05, True)])
def test_a_service_suffices_where_nothing_stops_that_help_can_cure(margin: float, suffices: bool) -> None:
    check = SimpleNamespace(findings=(found("water"), found("climb", margin)))
    made = helper_plan.HelperService(
        helper=Helper(locomotive=trials.locomotive()), new_stops=(), answer=SimpleNamespace(check=check), refused=(),
        helping=None, back=None, tender_water=0.0,
    )  # type: ignore[arg-type]  # fmt: skip
    assert made.suffices == suffices


@pytest.mark.parametrize("steam", [True, False])
def test_a_steam_helper_is_counted_with_its_run_back_and_a_diesel_is_not(
    monkeypatch: pytest.MonkeyPatch, steam: bool
) -> None:
    helper = Helper(locomotive=trials.locomotive(name="pusher")) if steam else Helper(diesel=DIESEL)
    changed = helper_plan.with_helper(replace(PLAN, stops=(PLAN.stops[0], PLAN.stops[-1])), helper, "B", "D")
    answer = SimpleNamespace(journey="run", check=SimpleNamespace(findings=()))

    def check_excursion(asked: Any, **wanted: Any) -> Any:
        assert (asked, wanted) == (changed, {"contingencies": False, "remedies": False})
        return answer

    monkeypatch.setattr(helper_plan, "check_excursion", check_excursion)
    monkeypatch.setattr(helper_plan, "compute_helper_performance", lambda asked, engine: f"of {engine.name}")
    monkeypatch.setattr(helper_plan, "used_by_helper", lambda *asked: asked)
    monkeypatch.setattr(helper_plan, "run_light", lambda *asked: asked)
    refused = [SimpleNamespace(k=k) for k in range(3)]
    made = helper_plan._service(changed, refused)  # type: ignore[arg-type]
    assert made.refused == tuple(reversed(refused))
    assert (made.helper, made.new_stops, made.answer) == (changed.helpers[0], ("B", "D"), answer)
    if steam:
        assert made.helping == ("run", "of pusher", 0)
        assert made.back == (changed, changed.helpers[0].locomotive, "of pusher", ("D", "B"))
        assert made.tender_water == 21e3
    else:
        assert (made.helping, made.back, made.tender_water) == (None, None, 0.0)


# A diesel alone


def prepared_diesel(grades: list[tuple[float, float]]) -> Any:
    back = trials.excursion(
        trials.line(grades),
        made_of=trials.train(trials.coaches(1)),
        helpers=(Helper(diesel=DIESEL, place="rear"),),
    )
    back = replace(back, train=replace(back.train, vehicles=()))
    return prepare(back, trials.performance(back))


def test_the_work_against_gravity_of_a_light_diesel_is_its_weight_times_the_rise() -> None:
    prepared = prepared_diesel([(2000.0, 0.0), (1500.0, 0.02), (1500.0, -0.01)])
    work = float(np.sum(light_diesel._slope_force(prepared) * np.diff(prepared.chainage)))
    # Its middle rises by 2 % of 1,500 m, and falls by 1 % of all but half its length of the rest.
    rise = 0.02 * 1500.0 - 0.01 * (1500.0 - 8.5)
    assert work == pytest.approx(90e3 * 9.80665 * rise, rel=0.02)


def test_a_diesel_too_weak_for_the_grade_has_no_time_back() -> None:
    steep = trials.excursion(trials.line([(2000.0, 0.0), (2000.0, 0.03)]), direction="forward")
    known = trials.performance(steep)
    weak = replace(DIESEL, starting_tractive_effort=20e3, rail_power=0.2e6)
    down = light_diesel.light_diesel_time(steep, known, weak, ("B", "A"))
    assert 4000.0 / 20.0 < down < 600.0
    falling = trials.excursion(trials.line([(2000.0, 0.0), (2000.0, -0.03)]))
    assert light_diesel.light_diesel_time(falling, known, weak, ("B", "A")) == float("inf")
    assert light_diesel.light_diesel_time(falling, known, DIESEL, ("B", "A")) < 600.0
