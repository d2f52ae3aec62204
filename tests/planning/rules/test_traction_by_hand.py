"""Starts, climbs and couplers from made-up forces: which one limits, what is short, and what is advised."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.journey.climbing import SlowestStep
from locosim.journey.kernel.arrays import ADHESION, CYLINDERS
from locosim.physics.traction.rail_conditions import rail_adhesion_coefficient
from locosim.planning.finding import CLEAR, STOP, TIGHT
from locosim.planning.rules import traction

LINE = trials.line([(8000.0, 0.0)], stops=(4000.0,))
PLAN = replace(trials.excursion(LINE), rail="wet")
WET = rail_adhesion_coefficient(condition="wet")
ACCELERATION = PLAN.criteria.min_starting_acceleration


class Start:
    """A start from the second stop that takes 50 kN to hold and 10 kN to gain speed; 90 kN at hand."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.cylinders, self.rail, self.worst, self.with_slack = 100e3, 90e3, 70e3, 40e3
        self.demand = SimpleNamespace(
            total=50e3, inertia=10e3 / ACCELERATION, starting=30e3, gravity=15e3, curve=5e3, helper_effort=0.0,
            helper_adhesive_weight=0.0,
        )  # fmt: skip
        self.short: list[float] = []
        self.performance = SimpleNamespace()

        def excess(journey: Any, number: int, demand: Any, shortage: float) -> float:
            assert (number, demand) == (1, self.demand)
            self.short.append(shortage)
            return 77e3

        patch.setattr(traction, "starting_capacity", lambda journey, chainage: (self.cylinders, self.rail))
        patch.setattr(traction, "_worst_starting_effort", lambda performance: self.worst)
        patch.setattr(traction, "_demand_with_slack", lambda journey, demand: self.with_slack)
        patch.setattr(traction, "_excess_mass", excess)

    def found(self, excursion: Any = PLAN) -> Any:
        journey: Any = SimpleNamespace(
            excursion=excursion, performance=self.performance, starting_demands=("other", self.demand)
        )
        return traction._start_finding(journey, 1, self.demand)  # type: ignore[arg-type]


@pytest.fixture
def start(monkeypatch: pytest.MonkeyPatch) -> Start:
    return Start(monkeypatch)


def test_a_start_has_what_is_at_hand_against_what_holds_and_moves_the_train(start: Start) -> None:
    found = start.found()
    assert (found.rule, found.place, found.chainage, found.kind) == ("start", "B", 5000.0, "force")
    assert (found.value, found.limit, found.verdict) == (90e3, pytest.approx(60e3), CLEAR)
    assert found.facts == {
        "worst": (70e3, "force"), "at_rest": (50e3, "force"), "with_slack": (40e3, "force"), "own": (90e3, "force"),
        "helpers": (0.0, "force"), "acceleration": (ACCELERATION, "acceleration"), "excess": (0.0, "mass"),
        "starting": (30e3, "force"), "gravity": (15e3, "force"), "curve": (5e3, "force"),
    }  # fmt: skip
    assert found.because == (
        "rim tractive effort {own}, limited by the wet rail; starting resistance {starting}, gravity {gravity}, curves "
        "{curve}, and {acceleration} of acceleration; at rest at the worst crank angle it is {worst}, enough to move "
        "the train"
    )
    assert start.short == []


@pytest.mark.parametrize(
    ("cylinders", "limit"), [(89e3, "the cylinders"), (90e3, "the wet rail"), (91e3, "the wet rail")]
)
def test_the_lesser_of_rail_and_cylinders_limits_a_start(start: Start, cylinders: float, limit: str) -> None:
    start.cylinders = cylinders
    found = start.found()
    assert f"limited by {limit};" in found.because
    assert found.value == min(cylinders, 90e3)


@pytest.mark.parametrize(
    ("rail", "verdict", "short"),
    [(67e3, CLEAR, None), (65e3, TIGHT, None), (60e3, TIGHT, None), (58e3, STOP, 2e3)],
)
def test_what_is_short_is_given_in_cars(start: Start, rail: float, verdict: str, short: float | None) -> None:
    start.rail = rail
    found = start.found()
    assert found.verdict == verdict
    assert start.short == ([] if short is None else [pytest.approx(short)])
    assert found.facts["excess"] == (0.0 if short is None else 77e3, "mass")
    advice = "take {excess} off the train, move the stop, sand the rail or add a helper engine"
    assert found.advice == (advice if verdict == STOP else "keep sand dry and start with the slack in")


@pytest.mark.parametrize(("weight", "effort"), [(1e9, 20e3), (10e3 / WET, 10e3)])
def test_helpers_help_as_far_as_their_rail_allows(start: Start, weight: float, effort: float) -> None:
    start.demand.helper_effort, start.demand.helper_adhesive_weight = 20e3, weight
    found = start.found()
    assert found.value == pytest.approx(90e3 + effort)
    assert found.facts["own"] == (pytest.approx(90e3), "force")
    assert found.facts["helpers"] == (pytest.approx(effort), "force")
    assert found.facts["worst"] == (pytest.approx(70e3 + effort), "force")
    assert "limited by the wet rail, plus {helpers} from the helpers; starting" in found.because


@pytest.mark.parametrize(
    ("worst", "rail", "verdict", "words"),
    [
        (50e3, 90e3, CLEAR, "{worst}, enough to move the train"),
        (
            49e3,
            90e3,
            CLEAR,
            "less than the {at_rest} that moves all cars at once, but enough with the slack in",
        ),
        (40e3, 90e3, CLEAR, "but enough with the slack in ({with_slack})"),
        (39e3, 90e3, TIGHT, "the engineer may have to reverse and set back"),
        (200e3, 62e3, TIGHT, "{worst}, enough to move the train"),  # no more than the rail carries
    ],
)
def test_an_engine_at_its_worst_crank_angle_makes_a_start_tight_where_slack_does_not_help(
    start: Start, worst: float, rail: float, verdict: str, words: str
) -> None:
    start.worst, start.rail = worst, rail
    found = start.found()
    assert found.verdict == verdict
    assert words in found.because
    assert found.facts["worst"] == (min(worst, rail), "force")
    moves = min(worst, rail) >= 40e3
    assert (
        found.advice
        == f"keep sand dry and {'' if moves else 'set back if the engine does not move, and '}start with the slack in"
    )


def test_sand_is_no_advice_where_the_cylinders_limit_or_the_rail_is_the_best(start: Start) -> None:
    advise = traction._start_remedy
    broken = {"broken": True, "moves": True}
    assert advise(rail_limited=False, rail="wet", **broken) == (
        "take {excess} off the train, move the stop or add a helper engine"
    )
    assert "sand" not in advise(rail_limited=True, rail="dry sanded", **broken)
    assert advise(broken=False, rail_limited=False, rail="wet", moves=True) == "start with the slack in"
    assert advise(broken=False, rail_limited=False, rail="wet", moves=False) == (
        "set back if the engine does not move, and start with the slack in"
    )


def test_there_is_one_start_for_each_stop_but_the_last(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(traction, "_start_finding", lambda journey, number, demand: (number, demand))
    journey: Any = SimpleNamespace(excursion=PLAN, starting_demands=("at A", "at B"))
    assert traction.starting(journey) == [(0, "at A"), (1, "at B")]


def test_the_worst_effort_at_rest_is_less_friction_and_not_below_nothing() -> None:
    for worst, expected in ((5e4, 4.8e4), (1e3, 0.0)):
        asked = []
        made: Any = SimpleNamespace(
            locomotive=PLAN.locomotive,
            map=SimpleNamespace(
                starting_efforts=lambda pressure, asked=asked, worst=worst: (
                    asked.append(pressure) or (9e9, worst, 9e9)
                ),
                rim_effort=lambda effort: effort - 2e3,
            ),
        )
        assert traction._worst_starting_effort(made) == pytest.approx(expected)
        assert asked == [PLAN.locomotive.boiler.absolute_pressure]


# Climbs


@pytest.mark.parametrize(
    ("after", "words"), [(4.0, "speed falls to"), (3.9, "speed falls to"), (4.1, "speed creeps at")]
)
def test_the_lowest_speed_of_a_climb_is_told_with_its_length_grade_and_limit(
    after: float, words: str
) -> None:
    journey: Any = SimpleNamespace(
        excursion=PLAN, chainage=1000.0 + 500.0 * np.arange(8),
        speed=np.array([9.0, 8.0, 7.0, 5.0, after, 6.0, 7.0, 8.0]),
        grade=np.array([0.0, 0.01, 0.011, 0.012, 0.013, 0.01, 0.0]), limit=np.array([CYLINDERS] * 3 + [ADHESION] * 4),
    )  # fmt: skip
    found = traction._climb_finding(journey, SlowestStep(first=1, last=6, step=3, speed=4.0))
    assert (found.rule, found.value, found.limit) == ("climb", 4.0, PLAN.min_climbing_speed)
    assert (found.chainage, found.place, found.kind) == (3000.0, "A to B", "speed")
    assert found.facts == {"speed": (4.0, "speed"), "length": (2500.0, "distance"), "grade": (0.012, "grade")}
    assert (
        found.because
        == f"{words} {{speed}} on a climb of {{length}}, on {{grade}} under the train, limited by adhesion"
    )
    assert found.advice == "take cars off, add a helper engine or sand the rail"


def test_climbs_are_sought_by_half_the_square_of_the_speed(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []

    def slowest(run: Any, assumptions: Any) -> list[str]:
        asked.append((run, assumptions))
        return ["one", "two"]

    monkeypatch.setattr(traction, "slowest_steps", slowest)
    monkeypatch.setattr(traction, "_climb_finding", lambda journey, each: each)
    journey: Any = SimpleNamespace(
        excursion=PLAN,
        chainage=np.array([0.0, 9.0]),
        speed=np.array([2.0, 4.0]),
        grade="grade",
        limit="limit",
    )
    assert traction.climbing(journey) == ["one", "two"]
    ((run, assumptions),) = asked
    assert (list(run[0]), list(run[1]), run[2], run[3]) == ([0.0, 9.0], [2.0, 8.0], "grade", "limit")
    assert assumptions == PLAN.assumptions


# Couplers


@pytest.mark.parametrize(("share", "verdict"), [(0.89, CLEAR), (0.91, TIGHT), (1.01, STOP)])
def test_the_highest_pull_is_judged_where_it_is(
    share: float, verdict: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    strength = PLAN.train.max_coupler_pull
    monkeypatch.setattr(traction, "highest_pull", lambda journey: (2, share * strength))
    journey: Any = SimpleNamespace(
        excursion=PLAN,
        brake=np.zeros(1),
        speed=np.array([1.0, 2.0, 3.0]),
        chainage=np.array([1000.0, 3000.0, 5000.0]),
    )
    (found,) = traction.couplers(journey)
    assert (found.rule, found.place, found.chainage, found.kind) == ("coupler", "B", 5000.0, "force")
    assert (found.value, found.limit, found.verdict) == (share * strength, strength, verdict)
    assert found.facts == {"speed": (3.0, "speed")}
    journey.brake = np.zeros(0)
    assert traction.couplers(journey) == []
