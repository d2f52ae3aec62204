"""Runs that end short, on made-up runs: what limits them, the words, and what helps."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.journey.kernel import arrays
from locosim.journey.kernel.arrays import ADHESION, CYLINDERS, STEAM
from locosim.model import Crew, RailConditionZone
from locosim.physics.traction.rail_conditions import rail_adhesion_coefficient
from locosim.planning.finding import STOP
from locosim.planning.rules import stall

PLAN = trials.excursion(trials.line([(8000.0, 0.0)], stops=(4000.0,)))
OTHER = next(code for code in (arrays.BRAKING, arrays.COASTING) if code not in stall.TRACTION_LIMITS)
DEMAND = PLAN.locomotive.auxiliaries.continuous_demand


class Cylinders:
    """Cylinders that give an effort for the steam asked; 1 kN of friction."""

    def __init__(self, effort: float = 50e3, by: str = "steam") -> None:
        self.effort, self.by = effort, by
        self.asked: list[dict[str, float]] = []

    def max_effort(self, **asked: float) -> tuple[float, str]:
        self.asked.append(asked)
        return self.effort, self.by

    def rim_effort(self, effort: float) -> float:
        return effort - 1e3


def journey(*, steps: int = 4, speed: float = 3.0, limit: int = ADHESION, **changes: Any) -> Any:
    performance = SimpleNamespace(
        supply=SimpleNamespace(binding=SimpleNamespace(name="grate"), sustained=2.5), locomotive=PLAN.locomotive,
        map=Cylinders(), mass_on_drivers=51e3,
    )  # fmt: skip
    made = {
        "excursion": PLAN, "arrived": False, "outcome": "stalled", "distance": 1500.0, "end_chainage": 2500.0,
        "chainage": 1000.0 + 375.0 * np.arange(steps + 1), "grade": np.array([0.0, 0.001, 0.002, 0.013][:steps]),
        "speed": np.array([0.0] * steps + [speed]), "limit": np.array([CYLINDERS] * (steps - 1) + [limit]),
        "performance": performance, "pressure": np.array([13e5, 12e5]), "stops": [SimpleNamespace(station="A")],
        "starting_demands": [
            SimpleNamespace(total=60e3, helper_effort=5e3), SimpleNamespace(total=1.0, helper_effort=0.0),
        ],
    }  # fmt: skip
    return SimpleNamespace(**{**made, **changes})


@pytest.fixture
def capacity(monkeypatch: pytest.MonkeyPatch) -> dict[str, float]:
    """What cylinders and rail give at rest [N]."""
    found = {"cylinders": 80e3, "rail": 90e3}

    def starting_capacity(made: Any, chainage: float) -> tuple[float, float]:
        assert chainage == 2500.0
        return found["cylinders"], found["rail"]

    monkeypatch.setattr(stall, "starting_capacity", starting_capacity)
    return found


@pytest.mark.parametrize(
    ("limit", "words"),
    [(ADHESION, "adhesion"), (CYLINDERS, "the cylinders"), (STEAM, r"the boiler (grate)")],
)
def test_a_stall_on_the_way_is_limited_by_the_last_step_made(limit: int, words: str) -> None:
    (found,) = stall.stalling(journey(limit=limit))
    assert (found.rule, found.verdict, found.place, found.chainage) == ("stall", STOP, "A to B", 2500.0)
    assert (found.value, found.limit, found.kind) == (1500.0, 8000.0, "distance")
    assert found.because == f"the train stalls on {{grade}}, limited by {words}, {{here}} after the start"
    assert found.facts == {
        "grade": (0.013, "grade"), "here": (1500.0, "distance"), "allowed": (2.5, "steam_rate"),
        "auxiliary": (DEMAND, "steam_rate"),
    }  # fmt: skip
    assert stall.stalling(journey(limit=limit, speed=0.5))[0].because == found.because
    assert stall.stalling(journey(arrived=True)) == []


@pytest.mark.parametrize(("cylinders", "code"), [(80e3, CYLINDERS), (95e3, ADHESION)])
def test_what_gives_less_at_rest_limits_a_train_that_does_not_start(
    cylinders: float, code: int, capacity: dict[str, float]
) -> None:
    capacity["cylinders"] = cylinders
    for made in (journey(speed=0.0), journey(limit=OTHER)):
        made.performance.map = Cylinders(by="cylinders")
        assert stall._limiting_code(made) == code
    (found,) = stall.stalling(journey(steps=0, speed=0.0, limit=ADHESION, performance=made.performance))
    limit = "the cylinders" if code == CYLINDERS else "adhesion"
    assert found.because == f"the train does not start, limited by {limit}"
    assert found.facts["grade"] == (0.0, "grade")


@pytest.mark.parametrize(
    ("effort", "by", "rail", "total", "limits"),
    [
        (50e3, "steam", 90e3, 60e3, True),  # 49 kN at the rim and 5 of a helper, of 60
        (50e3, "cylinders", 90e3, 60e3, False),
        (50e3, "steam", 49e3, 60e3, False),  # the rail gives no more
        (50e3, "steam", 49.001e3, 60e3, True),
        (50e3, "steam", 90e3, 54e3, False),  # it is enough to start
        (50e3, "steam", 90e3, 54.001e3, True),
    ],
)
def test_steam_limits_a_start_where_it_gives_less_than_rail_and_cylinders_and_too_little(
    effort: float, by: str, rail: float, total: float, limits: bool, capacity: dict[str, float]
) -> None:
    capacity["rail"] = rail
    asked = replace(PLAN, crew=Crew(steam_allowance=0.4))
    made = journey(speed=0.0, excursion=asked)
    made.performance.map = Cylinders(effort, by)
    made.starting_demands = [
        SimpleNamespace(total=total, helper_effort=5e3),
        SimpleNamespace(total=1e9, helper_effort=0.0),
    ]
    assert (stall._limiting_code(made) == STEAM) == limits
    (question,) = made.performance.map.asked
    assert question == {
        "speed": PLAN.assumptions.creep_speed, "pressure": 12e5, "steam": pytest.approx(0.4 * 2.5 - DEMAND),
    }  # fmt: skip
    (found,) = stall.stalling(made)
    assert ("the crew uses at most {allowed} of steam" in found.because) == limits
    assert found.facts["allowed"] == (1.0, "steam_rate")


@pytest.mark.usefixtures("capacity")
def test_a_crew_that_may_overdraw_is_allowed_no_more_than_what_is_sustained_and_auxiliaries_leave_none() -> (
    None
):
    made = journey(speed=0.0, excursion=replace(PLAN, crew=Crew(steam_allowance=1.5)))
    stall._limiting_code(made)
    assert made.performance.map.asked[0]["steam"] == pytest.approx(2.5 - DEMAND)
    made = journey(speed=0.0)
    made.performance.supply.sustained = 0.5 * DEMAND
    stall._limiting_code(made)
    assert made.performance.map.asked[0]["steam"] == 0.0


@pytest.mark.parametrize(
    ("outcome", "behind"), [("out of water", True), ("out of water", False), ("pressure too low", True)]
)
def test_a_run_that_ends_for_another_reason_names_it(outcome: str, behind: bool) -> None:
    tender = PLAN.locomotive.tender
    tanks = replace(tender, axles=0, empty_mass=0.0, length=0.0)
    engine = replace(PLAN.locomotive, tender=tender if behind else tanks)
    (found,) = stall.stalling(journey(outcome=outcome, excursion=replace(PLAN, locomotive=engine)))
    because, remedy = stall.END_MESSAGES[outcome]
    assert (found.rule, found.remedy) == ("end of run", remedy)
    assert ("the tender" in found.because) == (outcome == "out of water" and behind)
    assert (
        found.because
        == because.replace("the tender", f"the {engine.coupled_behind}") + ", {here} after the start"
    )


def test_at_rest_the_rail_carries_its_share_of_the_weight_and_the_cylinders_give_working_pressure() -> None:
    zone = RailConditionZone(start=3000.0, end=4000.0, rail="wet")
    made = journey(excursion=replace(PLAN, route=replace(PLAN.route, rail_condition_zones=(zone,))))
    assert PLAN.rail == "dry"
    for chainage, rail in ((2000.0, "dry"), (3500.0, "wet")):
        by_cylinders, by_rail = stall.starting_capacity(made, chainage)
        assert by_cylinders == 49e3
        assert by_rail == pytest.approx(51e3 * 9.80665 * rail_adhesion_coefficient(condition=rail))
    (question,) = made.performance.map.asked  # the same at every stop
    assert question == {"speed": 0.0, "pressure": PLAN.locomotive.boiler.absolute_pressure}


@pytest.mark.parametrize(
    ("code", "crew", "rail", "advice"),
    [
        (ADHESION, Crew(), "wet", "take cars off, add a helper engine or sand the rail"),
        (ADHESION, Crew(max_cutoff=0.4), "dry sanded", "take cars off or add a helper engine"),
        (CYLINDERS, Crew(), "wet", "take cars off or add a helper engine"),
        (CYLINDERS, Crew(max_cutoff=0.4), "wet",
         "take cars off, add a helper engine or allow a longer cutoff (crew.max_cutoff)"),
        (STEAM, Crew(max_cutoff=0.4), "wet", "take cars off or add a helper engine"),
        (STEAM, Crew(steam_allowance=0.9), "wet",
         "take cars off, add a helper engine or use more steam (crew.steam_allowance)"),
        (STEAM, Crew(habit="steady_steam", steam_allowance=0.9), "wet",
         "take cars off, add a helper engine or use more steam (crew.habit, crew.steam_allowance)"),
        (CYLINDERS, Crew(habit="steady_steam", steam_allowance=0.9), "wet", "take cars off or add a helper engine"),
        (OTHER, Crew(steam_allowance=0.9, max_cutoff=0.4), "wet", "take cars off or add a helper engine"),
    ],
)  # fmt: skip
def test_the_remedy_is_by_what_limits_the_train(code: int, crew: Crew, rail: str, advice: str) -> None:
    made = journey(excursion=replace(PLAN, crew=crew, rail=rail))
    assert stall.remedy_for(made, code, 2500.0) == advice


def test_a_limit_that_is_none_of_traction_is_the_speed_of_the_line() -> None:
    assert stall.limiting_factor(journey(), OTHER) == "line speed alone"
