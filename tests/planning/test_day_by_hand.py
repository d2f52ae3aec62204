"""A day put together from made-up legs: which are run, what the day is called, and its ledgers of supplies."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials
from made_findings import found

from locosim.model import CrewHours, Leg
from locosim.planning import answer as answer_module
from locosim.planning import day as day_module
from locosim.planning.contingencies import Contingency
from locosim.planning.day import DayAnswer, DayRemedy, LegAnswer, check_day
from locosim.planning.finding import (
    CLEAR,
    NOTE,
    STOP,
    TIGHT,
    Finding,
)
from locosim.planning.layover import Carried

PLAN = trials.excursion(trials.line([(4000.0, 0.0)]))
LEGS = tuple(
    Leg(excursion=replace(PLAN, departure=30000.0 + 5000.0 * k, locomotive=trials.locomotive(name=name)))
    for k, name in enumerate(("one", "two", "one"))
)


def leg_answer(excursion: Any, *, verdict: str = CLEAR, arrived: bool = True) -> Any:
    journey = SimpleNamespace(
        excursion=excursion, arrived=arrived, stops=[SimpleNamespace(water_on_arrival=20e3, fuel_on_arrival=6e3)],
        tender_water=np.array([20e3, 19e3, 15e3]), tender_fuel=np.array([6e3, 6e3, 5e3]),
        water_used=7e3, fuel_fired=1500.0, taken_en_route=lambda what: 2e3 if what == "water" else 500.0,
    )  # fmt: skip
    return SimpleNamespace(excursion=excursion, journey=journey, verdict=verdict, findings=())


class World:
    """Made-up checks of legs, layovers and findings of the day."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.verdicts = [CLEAR, CLEAR, CLEAR]
        self.arrived = [True, True, True]
        self.checked: list[float] = []
        self.layovers: list[Any] = []
        self.empty: dict[int, str] = {}
        world = self

        def check_excursion(excursion: Any, **wanted: Any) -> Any:
            assert wanted == {"contingencies": False, "remedies": False}
            number = round((excursion.departure - 30000.0) / 5000.0)
            world.checked.append(excursion.departure_delay)
            return leg_answer(excursion, verdict=world.verdicts[number], arrived=world.arrived[number])

        def lay_over(day: Any, number: int, before: Any, ended: Any) -> Any:
            world.layovers.append(
                (number, before.excursion.locomotive.name, ended and ended.excursion.locomotive.name)
            )
            water = (
                None
                if ended is None
                else Carried(end=15e3, left=2e3, brought=3e3, taken=4.5e3, used=500.0, start=20e3)
            )
            fuel = (
                None
                if ended is None
                else Carried(end=5e3, left=0.0, brought=0.0, taken=1.2e3, used=200.0, start=6e3)
            )
            return SimpleNamespace(number=number, water=water, fuel=fuel)

        def none_left(leg: Any, number: int, record: Any) -> Any:
            return [found("water at start", STOP)] if number in world.empty else []

        fakes = {
            "check_excursion": check_excursion,
            "lay_over": lay_over,
            "no_supplies_left": none_left,
            "carry_over": lambda leg, record: replace(leg.excursion, departure_delay=60.0 * record.number),
            "layover_time": lambda day, number, record: found(f"layover {number}", CLEAR),
            "turning": lambda day, number: [found(f"turning {number}", NOTE)],
            "tender_first": lambda leg, answer: [found(f"tender first {leg.engine}", CLEAR)],
            "start_supplies": lambda leg, number, record, answer: [found(f"start {number}", TIGHT)],
            "find_helps": lambda runs: ((SimpleNamespace(runs=len(runs)),),),
            "duties": lambda day, runs, layovers: (
                ("duty", len(runs), [each and each.number for each in layovers]),
            ),
            "helper_duties": lambda day, helps: ("helper duty",),
            "crew_hours": lambda day, duty: [found(f"hours {duty[0]}", CLEAR)],
            "helper_supplies": lambda help_: [found("helper water", CLEAR)],
        }
        for name, fake in fakes.items():
            patch.setattr(day_module, name, fake)


@pytest.fixture
def world(monkeypatch: pytest.MonkeyPatch) -> World:
    return World(monkeypatch)


def day() -> Any:
    last = {1: None, 2: None, 3: 1}
    return SimpleNamespace(
        legs=LEGS, crew_hours=CrewHours(), last_leg_of_engine=last.__getitem__, provenance="from here"
    )


def test_every_leg_is_checked_with_what_those_before_it_leave(world: World) -> None:
    made = check_day(day())
    assert world.checked == [0.0, 120.0, 180.0]
    # The second engine begins its day with leg 2; leg 3 is run by that of leg 1.
    assert world.layovers == [(2, "one", None), (3, "two", "one")]
    assert [leg.number for leg in made.legs] == [1, 2, 3]
    assert [leg.layover and leg.layover.number for leg in made.legs] == [None, 2, 3]
    rules = {f.rule for f in made.findings}
    assert rules == {
        "tender first one", "layover 2", "turning 2", "start 2", "tender first two", "layover 3", "turning 3",
        "start 3", "hours duty", "hours h", "helper water",
    }  # fmt: skip
    assert [f.verdict for f in made.findings][:4] == [TIGHT, TIGHT, NOTE, NOTE]
    assert made.verdict == TIGHT
    assert made.duties == (("duty", 3, [None, 2, 3]), "helper duty")
    assert made.helps[0][0].runs == 3
    assert made.not_clear == ("start 2", "start 3")
    assert made.provenance == "from here"
    assert len(made.answers) == 3


def test_supplies_of_an_engine_close_over_its_legs_and_the_layovers_between(world: World) -> None:
    one, two = check_day(day()).supplies
    assert (one.engine, two.engine) == ("one", "two")
    entries = dict(one.water.entries)
    assert entries == {
        "taken on the way": 4e3, "taken in layovers": 4.5e3, "in cars taken": 3e3, "in cars left": -2e3,
        "used on the way": -14e3, "used standing": -500.0,
    }  # fmt: skip
    assert one.water.stored == -5e3
    assert dict(one.fuel.entries)["taken in layovers"] == 1.2e3
    assert dict(two.fuel.entries)["used on the way"] == -1500.0
    assert two.fuel.stored == -1e3


def test_a_ledger_that_does_not_close_is_a_fault_of_the_program(
    world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    lay_over = day_module.lay_over

    def leaky(*asked: Any) -> Any:
        record = lay_over(*asked)
        if record.water is not None:
            record.water = replace(record.water, used=501.0)
        return record

    monkeypatch.setattr(day_module, "lay_over", leaky)
    with pytest.raises(ArithmeticError, match=r"ledger of water carried \[kg\] over the day does not close"):
        check_day(day())


def test_a_leg_behind_one_that_does_not_arrive_or_has_nothing_left_is_not_run(world: World) -> None:
    world.arrived[0], world.verdicts[0] = False, STOP
    made = check_day(day())
    assert [leg.not_run for leg in made.legs] == ["", "leg 1 does not arrive", "leg 1 does not arrive"]
    assert [leg.verdict for leg in made.legs] == [STOP, "", ""]
    assert {f.rule for f in made.findings} >= {"turning 2", "turning 3"}
    assert not {f.rule for f in made.findings} & {"layover 2", "start 2"}
    assert (made.verdict, made.not_clear) == (STOP, ("leg 1", "leg 2", "leg 3"))
    assert made.duties[0] == ("duty", 1, [None])
    world.arrived[0], world.verdicts[0], world.empty = True, CLEAR, {2: "water"}
    empty = check_day(day())
    assert [leg.not_run for leg in empty.legs] == ["", "because of water at start", "leg 2 was not run"]
    assert empty.legs[1].layover is not None
    assert {f.rule for f in empty.findings} >= {"water at start", "layover 2", "turning 2", "turning 3"}
    assert empty.not_clear == ("water at start", "leg 2", "leg 3")


def test_checks_of_like_legs_are_not_repeated(world: World) -> None:
    made = check_day(day())
    world.checked.clear()
    again = check_day(day(), like=made)
    assert world.checked == []
    assert [leg.answer for leg in again.legs] == [leg.answer for leg in made.legs]


def whole(verdict: str, *findings: Finding, legs: tuple[str, ...] = ()) -> DayAnswer:
    answers = tuple(
        LegAnswer(
            leg=LEGS[0],
            number=k,
            answer=leg_answer(None, verdict=each) if each else None,
            not_run="" if each else "x",
        )
        for k, each in enumerate(legs, start=1)
    )
    return DayAnswer(
        day=day(), legs=answers, verdict=verdict, findings=findings, duties=(), supplies=(), remedies=()
    )  # fmt: skip


def test_what_gives_a_day_its_verdict_is_named() -> None:
    findings = (
        found("layover", STOP),
        found("turning", TIGHT),
        found("layover", STOP),
        found("crew hours", CLEAR),
    )
    assert whole(STOP, *findings, legs=(CLEAR, STOP, "", TIGHT)).not_clear == ("layover", "leg 2", "leg 3")
    assert whole(TIGHT, *findings[1:2], legs=(TIGHT, CLEAR)).not_clear == ("turning", "leg 1")
    assert whole(CLEAR, findings[3], legs=(CLEAR,)).not_clear == ()
    assert whole(CLEAR, findings[3], legs=(CLEAR,)).worst_rules == ()


def test_remedies_are_told_apart_by_finding_and_by_leg() -> None:
    def remedy(rule: str, place: str, leg: int) -> DayRemedy:
        return DayRemedy(
            rule=rule, place=place, kind=f"{rule} {place} {leg}", change="", amount=1.0, facts={}, verdict=CLEAR,
            whole_verdict=CLEAR, leg=leg,
        )  # fmt: skip

    remedies = (
        remedy("layover", "C", 0),
        remedy("layover", "A", 0),
        remedy("climb", "", 2),
        remedy("climb", "", 1),
    )
    made = replace(whole(STOP), remedies=remedies)
    assert made.remedies_for(found("layover", STOP)) == remedies[:1]
    assert made.leg_remedies(2, "climb") == remedies[2:3]
    assert made.leg_remedies(1, "layover") == ()
    assert remedy("layover", "C", 0).remaining == ()


# The answer to one excursion


def test_an_answer_is_put_together_from_what_is_wanted(monkeypatch: pytest.MonkeyPatch) -> None:
    plain, banded = SimpleNamespace(name="plain"), SimpleNamespace(name="banded")
    full = SimpleNamespace(name="full effort")
    for check in (plain, banded):
        check.runs = SimpleNamespace(full_effort=full)
    asked: list[Any] = []
    helped = [SimpleNamespace(rule="climb"), SimpleNamespace(rule="water"), SimpleNamespace(rule="climb")]

    class Latest:
        kept: float | None = 35000.0

        def __init__(self, journey: Any) -> None:
            assert journey is full

        def latest(self) -> float | None:
            return self.kept

        def never_kept(self) -> tuple[str, ...]:
            return ("B",)

    fakes = {
        "run_and_check": lambda excursion: plain,
        "with_bands": lambda check: banded,
        "remedy_searches": lambda check: [lambda: asked.append(check) or helped[:2], lambda: helped[2:]],  # type: ignore[func-returns-value]
        "contingency_runs": lambda check: [lambda: asked.append(check) or "wet", lambda: "slow"],  # type: ignore[func-returns-value]
        "answer_each": lambda questions: [each() for each in questions],
        "sort_remedies": lambda check, found: tuple(found),
        "changes_tried": lambda check: {"climb": ("cars off",)},
        "Departures": Latest,
    }
    for name, fake in fakes.items():
        monkeypatch.setattr(answer_module, name, fake)
    made = answer_module.check_excursion(PLAN)
    assert (made.check, asked) == (banded, [banded, banded])
    assert (made.contingencies, made.remedies) == (("wet", "slow"), tuple(helped))
    assert made.remedies_for("climb") == (helped[0], helped[2])
    assert made.changes_tried == {"climb": ("cars off",)}
    assert (made.latest_departure, made.arrivals_never_kept) == (35000.0, ())
    Latest.kept = None
    alone = answer_module.check_excursion(PLAN, contingencies=False, remedies=False, bands=False)
    assert (alone.check, alone.contingencies, alone.remedies, alone.changes_tried) == (plain, (), (), {})
    assert (alone.latest_departure, alone.arrivals_never_kept) == (None, ("B",))
    assert alone.full_effort is full
    some = replace(alone, contingencies=(Contingency(name="a"), Contingency(name="b", not_run="has none")))
    assert some.not_run == some.contingencies[1:]
