"""Changes of a day: which are tried, in which amounts and order, and which of those run is given."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from types import SimpleNamespace
from typing import Any

import pytest
import trials
from made_findings import found

from locosim.errors import OutOfRange
from locosim.model import CrewHours, Excursion, Layover, Leg, Stop
from locosim.planning import day_remedies
from locosim.planning.day_findings import layover_time
from locosim.planning.day_remedies import shifted, with_day_remedies
from locosim.planning.duty import Duty
from locosim.planning.finding import (
    CLEAR,
    NOTE,
    STOP,
    TIGHT,
    Finding,
)
from locosim.planning.layover import LayoverRecord, Task

LINE = trials.line([(4000.0, 0.0)], stops=(2000.0,))
OUT = trials.excursion(LINE, departure=30000.0)
HOME = replace(OUT, direction="reverse", stops=tuple(reversed(OUT.stops)), departure=50000.0)
BOOKED = replace(
    HOME,
    stops=(
        HOME.stops[0],
        Stop(station="B", arrive=50400.0, depart=50500.0),
        Stop(station="A", arrive=51000.0),
    ),
)
HOUR = 3600.0


@dataclass(frozen=True)
class Plan:
    """A day without the checks of one."""

    legs: tuple[Leg, ...]
    crew_hours: CrewHours = CrewHours()


@dataclass(frozen=True)
class Checked:
    """An answer without runs."""

    day: Plan
    legs: tuple[Any, ...]
    findings: tuple[Finding, ...] = ()
    duties: tuple[Duty, ...] = ()
    verdict: str = CLEAR
    not_clear: tuple[str, ...] = ()
    remedies: Any = ()
    changes_tried: Any = None


def record(at_hand: float = 2000.0, work: float = 1000.0, station: str = "C") -> LayoverRecord:
    return LayoverRecord(
        station=station, arrive=50000.0 - at_hand, booked=50000.0, tasks=(Task("inspection", work),),
        cars_left=Counter(), cars_taken=Counter(),
    )  # fmt: skip


def answer(*legs: Leg, records: dict[int, LayoverRecord] | None = None, **changes: Any) -> Any:
    hours = changes.pop("hours", CrewHours())
    numbered = tuple(
        SimpleNamespace(leg=leg, number=number, layover=(records or {}).get(number), answer=1)
        for number, leg in enumerate(legs, start=1)
    )
    return Checked(day=Plan(legs=legs, crew_hours=hours), legs=numbered, **changes)


def changes(asked: Any, finding: Finding) -> dict[str, list[Any]]:
    made: dict[str, list[Any]] = {}
    for each in day_remedies._changes(asked, finding):
        for trial in each:
            made.setdefault(trial.kind, []).append(trial)
    return made


# Which changes


@pytest.mark.parametrize("by", [600.0, -600.0])
def test_a_shifted_excursion_has_all_its_times_later(by: float) -> None:
    moved = shifted(BOOKED, by)
    assert moved.departure == 50000.0 + by
    assert [(s.arrive, s.depart) for s in moved.stops] == [
        (None, None), (50400.0 + by, 50500.0 + by), (51000.0 + by, None)
    ]  # fmt: skip
    assert shifted(moved, -by) == BOOKED


@pytest.mark.parametrize(
    ("at_hand", "minutes"),
    [(950.0, [1, 3]), (1000.0, [2]), (1050.0, [1]), (400.0, [10, 12]), (-2600.0, [60]), (-2601.0, [])],
)
def test_a_leg_departs_later_by_the_fewest_minutes_for_each_better_verdict(
    at_hand: float, minutes: list[int]
) -> None:
    """1,000 s of work; tight from 1,000 s on, clear from 1,100 s on."""
    given = record(at_hand)
    asked = answer(Leg(excursion=OUT), Leg(excursion=BOOKED), Leg(excursion=OUT), records={2: given})
    made = changes(asked, layover_time(asked.day, 2, given))
    assert set(made) == ({"later leg"} if minutes else set())
    trials_ = made.get("later leg", [])
    assert [each.amount for each in trials_] == [60.0 * m for m in minutes]
    for each in trials_:
        assert each.change == "leg 2 and its booked times {shift} later"
        assert each.facts == {"shift": (each.amount, "time")}
        moved = replace(asked.day.legs[1], excursion=shifted(BOOKED, each.amount))
        assert each.legs == (asked.day.legs[0], moved, asked.day.legs[2])


def test_of_two_layovers_at_one_place_that_of_the_finding_is_changed() -> None:
    records = {2: record(900.0), 3: record(950.0)}
    asked = answer(Leg(excursion=OUT), Leg(excursion=HOME), Leg(excursion=HOME), records=records)
    made = changes(asked, layover_time(asked.day, 3, records[3]))
    assert [each.change for each in made["later leg"]] == ["leg 3 and its booked times {shift} later"] * 2
    assert changes(asked, replace(layover_time(asked.day, 3, records[3]), place="A")) == {}


def dry(*, water: float = 0.0, fuel: float = 0.0) -> Excursion:
    stations = tuple(replace(s, water_rate=water, fuel_rate=fuel) for s in LINE.stations)
    return replace(HOME, route=replace(LINE, stations=stations))


@pytest.mark.parametrize("what", ["water", "fuel"])
@pytest.mark.parametrize(
    ("at_station", "in_layover", "tried"), [(1.0, None, True), (0.0, 0.5, True), (0.0, None, False)]
)
def test_water_or_fuel_is_filled_where_there_is_some(
    what: str, at_station: float, in_layover: float | None, tried: bool
) -> None:
    work = Layover(**{f"{what}_rate": in_layover, what: 1.0})
    leg = Leg(excursion=dry(**{what: at_station}), layover=work)
    asked = answer(Leg(excursion=OUT), leg, records={2: record()})
    made = changes(asked, found(f"{what} at start", place="C"))
    assert set(made) == ({f"{what} taken"} if tried else set())
    if tried:
        (each,) = made[f"{what} taken"]
        name = "tank" if what == "water" else "fuel space"
        assert (each.change, each.amount, each.facts) == (f"{name} filled before leg 2", 1.0, {})
        filled = replace(work, **{f"take_{what}": "fill", what: None})
        assert each.legs == (asked.day.legs[0], replace(leg, layover=filled))
    full = replace(leg, layover=Layover(**{f"take_{what}": "fill"}))
    assert (
        changes(answer(Leg(excursion=OUT), full, records={2: record()}), found(f"{what} at start", place="C"))
        == {}
    )


@pytest.mark.parametrize(("turn", "other"), [("turntable", "wye"), ("wye", "turntable")])
def test_an_engine_is_turned_otherwise_or_not_and_then_faces_the_other_way_from_there_on(
    turn: str, other: str
) -> None:
    other_engine = replace(OUT, locomotive=trials.locomotive(name="other"))
    legs = (
        Leg(excursion=OUT),
        Leg(excursion=HOME, layover=Layover(turn=turn)),
        Leg(excursion=other_engine),
        Leg(excursion=replace(HOME, engine_facing="tender_first")),
    )
    asked = answer(*legs, records={2: record(), 4: record(station="C")})
    made = changes(asked, found("turning", place="C"))
    assert list(made) == ["other turning", "not turned"]
    (turned,), (not_turned,) = made["other turning"], made["not turned"]
    assert turned.change == f"engine turned on the {other}"
    assert turned.legs == (legs[0], replace(legs[1], layover=Layover(turn=other)), *legs[2:])
    assert not_turned.change == "leg 2 tender first, the engine not turned"
    assert [leg.excursion.engine_facing for leg in not_turned.legs] == [
        "stack_first", "tender_first", "stack_first", "stack_first",
    ]  # fmt: skip
    assert not_turned.legs[1].layover == Layover(turn="no")
    assert (turned.amount, not_turned.amount) == (1.0, 1.0)
    with_train = replace(legs[1], layover=Layover(turn="wye_with_train"))
    assert changes(answer(legs[0], with_train, records={2: record()}), found("turning", place="C")) == {}
    assert changes(asked, found("tender first", place="C")) == {}
    unturned = replace(legs[1], layover=Layover())
    assert changes(answer(legs[0], unturned, records={2: record()}), found("turning", place="C")) == {}


CREWS = ("one", "two", "one", "two", "one")


def crewed(**changes_: Any) -> Any:
    legs = tuple(
        Leg(
            excursion=OUT if k % 2 == 0 else HOME,
            crew=crew,
            layover=Layover(break_time=300.0 * k, inspection_time=60.0 * k),
        )
        for k, crew in enumerate(CREWS)
    )
    return answer(*legs, **changes_)


def test_another_crew_takes_the_last_legs_as_few_as_help() -> None:
    asked = crewed()
    made = changes(asked, found("crew hours", place="one"))
    assert list(made) == ["another crew"]
    assert [(each.amount, each.change) for each in made["another crew"]] == [
        (1.0, "another crew from leg 5 on"), (2.0, "another crew from leg 3 on")
    ]  # fmt: skip
    crews = [[leg.crew for leg in each.legs] for each in made["another crew"]]
    assert crews == [
        ["one", "two", "one", "two", "another crew"],
        ["one", "two", "another crew", "two", "another crew"],
    ]
    assert changes(asked, found("crew hours", place="crew of helper pusher")) == {}
    assert changes(asked, found("crew of something", place="one")) == {}


def test_a_break_is_given_in_each_layover_of_the_crew_that_has_no_such_break() -> None:
    asked = crewed(hours=CrewHours(min_break=900.0))
    made = changes(asked, found("time without break", place="one"))
    assert list(made) == ["another crew", "break"]
    (each,) = made["break"]  # leg 3 has 600 s, leg 5 has 1,200 s
    assert (each.amount, each.facts) == (900.0, {"break": (900.0, "time")})
    assert each.change == "a break of {break} in the layover before leg 3"
    assert [leg.layover.break_time for leg in each.legs] == [0.0, 300.0, 900.0, 900.0, 1200.0]
    assert [leg.layover.inspection_time for leg in each.legs] == [0.0, 60.0, 120.0, 180.0, 240.0]
    just = crewed(hours=CrewHours(min_break=600.0))
    assert list(changes(just, found("time without break", place="one"))) == ["another crew"]


def duty(hours: float, crew: str = "one") -> Duty:
    return Duty(crew=crew, first_leg=1, last_leg=5, start=0.0, end=HOUR * hours, breaks=())


@pytest.mark.parametrize(
    ("hours", "spare", "minutes"),
    [
        (9.0, 7200.0, []),
        (9.2, 7200.0, [12]),  # 9 h are clear
        (10.5, 9000.0, [90, 30]),
        (10.5, 5399.0, [30]),
        (10.5, 5400.0, [90, 30]),
        (10.5, 1799.0, []),
        (10.01, 9000.0, [61, 1]),
    ],
)
def test_the_last_leg_departs_earlier_by_what_its_layover_can_spare(
    hours: float, spare: float, minutes: list[int]
) -> None:
    """Ten hours are allowed, and nine are clear."""
    given = record(1000.0 + spare)
    asked = crewed(
        hours=CrewHours(max_time=10 * HOUR), duties=(duty(99.0, "two"), duty(hours)), records={5: given}
    )
    made = changes(asked, found("crew hours", place="one")).get("earlier leg", [])
    assert [each.amount for each in made] == [60.0 * m for m in minutes]
    for each in made:
        assert each.change == "leg 5 and its booked times {shift} earlier"
        assert each.facts == {"shift": (each.amount, "time")}
        assert each.legs[:4] == asked.day.legs[:4]
        assert each.legs[4].excursion == shifted(OUT, -each.amount)


def test_legs_behind_the_last_of_a_crew_depart_earlier_with_it() -> None:
    asked = crewed(
        hours=CrewHours(max_time=10 * HOUR), duties=(duty(10.5, "two"),), records={4: record(9000.0)}
    )
    for each in changes(asked, found("crew hours", place="two"))["earlier leg"]:
        moved = [
            a.excursion == shifted(b.excursion, -each.amount)
            for a, b in zip(each.legs, asked.day.legs, strict=True)
        ]
        assert moved == [False, False, False, True, True]


def test_a_crew_without_a_layover_a_limit_or_a_duty_departs_no_earlier() -> None:
    limited = CrewHours(max_time=10 * HOUR)
    for asked in (
        crewed(hours=limited, duties=(duty(10.5),)),
        crewed(duties=(duty(10.5),), records={5: record(9000.0)}),
        crewed(hours=limited, duties=(duty(10.5, "two"),), records={5: record(9000.0)}),
    ):
        assert list(changes(asked, found("crew hours", place="one"))) == ["another crew"]


# Which of those run


def trial(name: str) -> Any:
    return day_remedies._Trial(
        "a kind", float(len(name)), name, {"x": (1.0, "time")}, (Leg(excursion=OUT, crew=name),)
    )


def run_as(patch: pytest.MonkeyPatch, verdicts: dict[str, str | None]) -> list[str]:
    """Let each changed day, named by the crew of its leg, have this verdict of the finding; None is refused."""
    ran = []

    def check_day(day: Any, *, like: Any) -> Any:
        name = day.legs[0].crew
        ran.append(name)
        verdict = verdicts[name]
        if verdict is None:
            raise OutOfRange("does not fit the day")
        findings = (
            ()
            if verdict == "not run"
            else (found("turning", verdict, place="C"), found("turning", STOP, place="A"))
        )
        return Checked(
            day=day, legs=(SimpleNamespace(answer=None if verdict == "not run" else 1),), findings=findings,
            verdict=STOP, not_clear=("leg 1",),
        )  # fmt: skip

    patch.setattr(day_remedies, "check_day", check_day)
    return ran


@pytest.mark.parametrize(
    ("verdicts", "before", "helps", "ran"),
    [
        ([CLEAR, CLEAR], STOP, 0, 1),
        ([STOP, CLEAR], STOP, 1, 2),
        ([TIGHT, CLEAR], STOP, 1, 2),
        ([TIGHT, TIGHT, STOP], STOP, 0, 3),
        ([STOP, TIGHT], STOP, 1, 2),
        ([TIGHT, TIGHT], TIGHT, None, 2),
        ([None, CLEAR], TIGHT, 1, 2),
        (["not run", STOP], STOP, None, 2),
        ([NOTE], STOP, 0, 1),  # a note informs
        ([None, None], STOP, None, 2),
    ],
)
def test_the_first_that_makes_it_clear_or_else_the_first_that_is_no_stop(
    monkeypatch: pytest.MonkeyPatch, verdicts: list[Any], before: str, helps: int | None, ran: int
) -> None:
    names = [f"change {'i' * (k + 1)}" for k in range(len(verdicts))]
    tried = run_as(monkeypatch, dict(zip(names, verdicts, strict=True)))
    asked = answer(Leg(excursion=OUT))
    remedy = day_remedies._first_that_helps(
        asked, found("turning", before, place="C"), list(map(trial, names))
    )
    assert tried == names[:ran]
    if helps is None:
        assert remedy is None
        return
    assert remedy is not None
    assert (remedy.change, remedy.amount) == (names[helps], float(len(names[helps])))
    assert remedy.verdict == (CLEAR if verdicts[helps] == NOTE else verdicts[helps])
    assert (remedy.rule, remedy.place, remedy.kind, remedy.leg) == ("turning", "C", "a kind", 0)
    assert (remedy.whole_verdict, remedy.remaining, remedy.facts) == (STOP, ("leg 1",), {"x": (1.0, "time")})


@pytest.mark.parametrize(
    ("rule", "verdict"), [("turning", CLEAR), ("crew hours", STOP), ("time without break", STOP)]
)
def test_hours_taken_from_one_crew_are_those_of_another(rule: str, verdict: str) -> None:
    changed: Any = SimpleNamespace(
        legs=(), findings=(found(rule, STOP, place="elsewhere"), found("layover", STOP, place="here"))
    )
    assert day_remedies._verdict(changed, found(rule, place="here")) == verdict
    not_run: Any = SimpleNamespace(legs=(SimpleNamespace(answer=None),), findings=())
    assert day_remedies._verdict(not_run, found(rule, place="here")) == STOP


def test_each_finding_that_is_not_clear_has_its_remedies_the_best_first(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    findings = (
        found("turning", place="C"), found("layover", NOTE, place="C"), found("crew hours", TIGHT, place="one"),
        found("layover", CLEAR, place="C"),
    )  # fmt: skip
    asked = answer(Leg(excursion=OUT), findings=findings)
    kinds = {
        "turning": [
            ("worse", TIGHT, CLEAR),
            ("none", None, None),
            ("better", CLEAR, STOP),
            ("best", CLEAR, TIGHT),
        ]
    }

    def made(_: Any, finding: Finding) -> list[list[Any]]:
        names = kinds.get(finding.rule, [])
        return [[], *([trial(name)._replace(kind=name)] for name, _, _ in names)]

    def first(_: Any, finding: Finding, tried: Any) -> Any:
        (name, verdict, whole) = next(each for each in kinds[finding.rule] if each[0] == tried[0].kind)
        return verdict and SimpleNamespace(kind=name, verdict=verdict, whole_verdict=whole)

    def of_leg(whole: Any, leg: Any) -> Any:
        assert (whole, leg) == (asked, asked.legs[0])
        return [SimpleNamespace(kind="of the leg")], {"climb": ("cars off",)}

    monkeypatch.setattr(day_remedies, "_changes", made)
    monkeypatch.setattr(day_remedies, "_first_that_helps", first)
    monkeypatch.setattr(day_remedies, "remedies_of_leg", of_leg)
    after = with_day_remedies(asked)
    assert [each.kind for each in after.remedies] == ["best", "better", "worse", "of the leg"]
    assert after.changes_tried == {
        ("turning", "C"): ("worse", "none", "better", "best"),
        ("crew hours", "one"): (),
        ("climb", "leg 1"): ("cars off",),
    }
