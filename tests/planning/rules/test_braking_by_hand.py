"""Stopping and holding on made-up runs: each figure against its definition, and each boundary from both sides."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.physics.operation.braking import galton_shoe_friction, stopping_distance_with_shoes
from locosim.planning.finding import CLEAR, STOP, TIGHT
from locosim.planning.rules import braking

MPH, G = 0.44704, 9.80665
LINE = trials.line([(9000.0, 0.0)])
PLAN = trials.excursion(LINE, made_of=trials.train(trials.coaches(4)))
CAR = trials.coaches(4)


def journey(speed: list[float], grade: list[float], *, step: float = 100.0, **changes: Any) -> Any:
    """A run of like steps from the first station on, with a tender that loses 10 t on the way."""
    n = len(grade)
    made = {
        "excursion": PLAN, "speed": np.array(speed), "grade": np.array(grade),
        "chainage": 1000.0 + step * np.arange(n + 1),
        "tender_water": np.linspace(21e3, 11e3, n + 1), "tender_fuel": np.full(n + 1, 7e3), "helpers": (),
        "helper_active": np.zeros((0, n), dtype=bool),
    }  # fmt: skip
    return SimpleNamespace(**{**made, **changes})


def plan(**changes: Any) -> Any:
    return replace(PLAN, **changes)


ENGINE = PLAN.locomotive
WEIGHT = ENGINE.mass + ENGINE.tender.empty_mass + 4 * CAR.mass + 28e3
RATIO = CAR.braking_ratio * 4 * CAR.empty_mass / WEIGHT


def test_the_ratio_is_that_of_all_shoes_to_all_weight_with_the_fullest_tender() -> None:
    assert braking.braking_ratio(journey([5.0] * 3, [0.0] * 2)) == pytest.approx([RATIO, RATIO])
    own = replace(ENGINE, braking_ratio=0.5, tender=replace(ENGINE.tender, braking_ratio=0.7))
    tank = trials.coaches(
        1, name="tank", kind="water_car", people=0, water=10.0, empty_mass=20e3, braking_ratio=0.4
    )
    asked = plan(locomotive=own, train=trials.train(CAR, tank))
    force = CAR.braking_ratio * 4 * CAR.empty_mass + 0.4 * 20e3 + 0.5 * own.mass_on_drivers + 0.7 * 23e3
    # The water of the car is in that of the tender.
    found = braking.braking_ratio(journey([5.0] * 2, [0.0], excursion=asked))
    assert found == pytest.approx([force / (WEIGHT + 20e3)])
    helpers = tuple(SimpleNamespace(mass=mass) for mass in (80e3, 50e3))
    active = np.array([[True, True, False], [False, True, False]])
    found = braking.braking_ratio(journey([5.0] * 4, [0.0] * 3, helpers=helpers, helper_active=active))
    expected = [RATIO * WEIGHT / (WEIGHT + more) for more in (80e3, 130e3, 0.0)]
    assert found == pytest.approx(expected)


@pytest.mark.parametrize(
    ("brake", "cars", "delay"),
    [("air", 30, 6.0), ("vacuum", 8, 6.0), ("vacuum", 9, 6.3), ("vacuum", 20, 14.0)],
)
def test_a_vacuum_brake_of_more_than_eight_cars_takes_longer_than_the_criterion(
    brake: str, cars: int, delay: float
) -> None:
    """1.4 s for each car to full application, of which half counts [Dingler1877]; 6 s by the criterion."""
    made = replace(trials.train(trials.coaches(cars - 3), trials.coaches(3)), brake=brake)
    assert plan().criteria.brake_reaction_time == 6.0
    assert braking.brake_delay(journey([5.0] * 2, [0.0], excursion=plan(train=made))) == pytest.approx(delay)


def by_shoes(speed: float, grade: float, ratio: float = RATIO) -> float:
    return float(
        stopping_distance_with_shoes(speed=speed, braking_ratio=ratio, grade=grade, reaction_time=6.0)
    )


def test_the_longest_stop_is_from_the_mean_speed_of_a_step_and_on_no_rising_grade() -> None:
    assert braking.stopping(journey([5.0], [])) == []
    made = journey([10.0, 16.0, 14.0, 0.0], [0.004, 0.004, -0.002])
    (found,) = braking.stopping(made)
    assert found.value == pytest.approx(by_shoes(15.0, 0.0))
    assert found.facts == {
        "speed": (15.0, "speed"),
        "grade": (0.004, "grade"),
        "ratio": (pytest.approx(RATIO), "ratio"),
    }
    assert (found.chainage, found.limit, found.rule) == (
        1100.0,
        PLAN.criteria.max_stopping_distance,
        "stopping distance",
    )
    assert (found.kind, found.value_text) == ("length", "")
    assert "takes this distance" in found.because
    falling = journey([10.0, 16.0, 14.0, 0.0], [0.004, -0.002, -0.002])
    assert braking.stopping(falling)[0].value == pytest.approx(by_shoes(15.0, -0.002))
    for limit, verdict in ((0.999, STOP), (1.001, TIGHT), (1.05, TIGHT), (1.12, CLEAR)):
        criteria = replace(PLAN.criteria, max_stopping_distance=limit * found.value)
        assert criteria.tight_margin == 0.1
        (judged,) = braking.stopping(
            journey(list(made.speed), list(made.grade), excursion=plan(criteria=criteria))
        )
        assert judged.verdict == verdict
        assert judged.advice == "run slower there, or prove the brakes by test"


def test_shoes_that_do_not_stop_the_train_are_told_apart_from_none() -> None:
    weak = plan(train=trials.train(trials.coaches(4, braking_ratio=0.05)))
    (found,) = braking.stopping(journey([20.0, 20.0], [-0.03], excursion=weak))
    assert (found.value, found.value_text, found.verdict) == (math.inf, "does not stop", STOP)
    assert "does not stop the train" in found.because
    assert found.remedy.startswith("run slower there, or prove")
    bare = plan(train=trials.train(trials.coaches(4, braking_ratio=0.0)))
    (found,) = braking.stopping(journey([20.0, 20.0], [0.0], excursion=bare))
    assert found.remedy.startswith("give the vehicles brakes: every braking_ratio is 0, or prove")


@pytest.mark.parametrize(
    ("engine", "tender", "words"),
    [
        (0.0, 0.0, "the brakes of the engines are not counted, since locomotive.braking_ratio is 0"),
        (0.6, 0.0, "the brakes of engine are counted, those of helpers are not"),
        (0.0, 0.6, "the brakes of tender are counted, those of helpers are not"),
        (0.6, 0.6, "the brakes of engine and tender are counted, those of helpers are not"),
    ],
)
def test_the_brakes_that_count_are_named(engine: float, tender: float, words: str) -> None:
    own = replace(ENGINE, braking_ratio=engine, tender=replace(ENGINE.tender, braking_ratio=tender))
    (found,) = braking.stopping(journey([10.0, 10.0], [0.0], excursion=plan(locomotive=own)))
    assert found.because.endswith(words)


@pytest.mark.parametrize("seed", range(30))
def test_no_step_left_out_is_as_fast_and_as_steep_as_one_that_is_kept(seed: int) -> None:
    draw = random.Random(seed)
    count = draw.choice((1, 2, 5, 40))
    values = (0.0, 0.0, 5.0, 10.0, 10.0, draw.uniform(0.0, 25.0))
    speed = np.array([draw.choice(values) for _ in range(count)])
    grade = np.array([draw.choice((0.0, 0.0, -0.004, -0.01, -draw.uniform(0.0, 0.02))) for _ in range(count)])
    if seed % 5 == 0:
        grade[:] = 0.0
    ratio = np.array([draw.choice((0.1, 0.3)) for _ in range(count)])
    kept = braking._hardest_to_stop(speed, grade, ratio)
    assert len(set(kept)) == len(kept)
    for step in range(count):
        like = [k for k in kept if ratio[k] == ratio[step]]
        assert any(speed[k] >= speed[step] and grade[k] <= grade[step] for k in like)
        assert (step in kept) <= all(
            speed[k] < speed[step] or grade[k] > grade[step] or (speed[k], grade[k]) == (speed[step], grade[step])
            for k in like
        )  # fmt: skip
    for a in kept:
        for b in kept:
            if a != b and ratio[a] == ratio[b]:
                assert not (speed[a] >= speed[b] and grade[a] <= grade[b])


# Descents


def holds(grade: float, ratio: float) -> float:
    """Speed at which half of the friction and 0.02 N/kg carry the grade, by halving."""
    low, high = 10.0 * MPH, 60.0 * MPH
    for _ in range(60):
        middle = 0.5 * (low + high)
        enough = 0.5 * ratio * float(galton_shoe_friction(speed=middle)) >= -grade - 0.02 / G
        low, high = (middle, high) if enough else (low, middle)
    return low


def descending(
    speed: list[float], grade: list[float], cars: float = CAR.braking_ratio, **changes: Any
) -> Any:
    asked = plan(train=trials.train(trials.coaches(4, braking_ratio=cars)))
    return braking.descending(journey(speed, grade, excursion=asked, **changes))


def test_a_descent_is_held_at_the_steepest_grade_and_the_highest_speed_of_its_steps() -> None:
    speed = [25.0] * 2 + [12.0, 13.0, 12.0, 11.0, 12.0, 12.0, 14.0] + [25.0] * 2
    grade = [0.0, 0.0, -0.012, -0.016, -0.011, -0.012, -0.012, -0.012, 0.0, 0.0]
    cars = 0.35
    (found,) = descending(speed, grade, cars)
    ratio = RATIO * cars / CAR.braking_ratio
    assert found.value == 14.0  # where the last step ends
    assert found.limit == pytest.approx(holds(-0.016, ratio), rel=1e-6)
    assert 12.0 < found.limit < 25.0
    assert found.margin == pytest.approx((found.limit - 14.0) / found.limit)
    assert found.facts == {
        "grade": (-0.016, "grade"), "length": (600.0, "distance"), "holds": (found.limit, "speed"),
    }  # fmt: skip
    assert (found.chainage, found.kind, found.rule) == (1200.0, "speed", "descending grade")
    assert "holds the train up to {holds}" in found.because
    assert found.advice == "run slower, set retainers by local rule, or add braked weight"
    (first,) = descending([14.0, *speed[1:2], 15.0, *[12.0] * 8], grade, cars)
    assert first.value == 15.0  # where the first step begins


def test_a_descent_without_brakes_is_held_at_no_speed() -> None:
    (found,) = descending([5.0] * 7, [-0.012] * 6, 0.0)
    assert (found.limit, found.verdict, found.margin) == (0.0, STOP, -1.0)
    assert "holds the train at no speed" in found.because
    assert found.advice == "add braked weight"


def test_two_descents_are_two_findings_and_a_helper_divides_one() -> None:
    grade = [-0.012] * 5 + [0.0] * 2 + [-0.014] * 6
    assert [f.chainage for f in descending([10.0] * 14, grade)] == [1000.0, 1700.0]
    helper = SimpleNamespace(mass=150e3)
    active = np.array([[False] * 10 + [True] * 3])
    speed = [10.0] * 10 + [10.0] * 4
    two = descending(speed, grade, 0.3, helpers=(helper,), helper_active=active)
    alone = descending(speed, grade, 0.3)
    ratio = 0.3 / CAR.braking_ratio * RATIO
    assert two[0] == alone[0]
    assert alone[1].limit == pytest.approx(holds(-0.014, ratio), rel=1e-6)
    assert two[1].limit == pytest.approx(holds(-0.014, ratio * WEIGHT / (WEIGHT + 150e3)), rel=1e-6)
    assert two[1].limit < alone[1].limit


END = 60.0 * MPH


@pytest.mark.parametrize(
    ("speed", "margin"),
    [
        (20.0, 1.0),  # the shoes hold every speed of the table
        (END, 1.0),
        (END * 1.000001, -1e-6),
        (END * 1.2, -0.2),
    ],
)
def test_shoes_that_hold_at_the_end_of_the_table_hold_every_speed_within(speed: float, margin: float) -> None:
    (found,) = descending([speed] * 7, [-0.008] * 6, 0.9)
    assert found.limit == pytest.approx(END)
    assert found.margin == pytest.approx(margin, abs=1e-9)


@pytest.mark.parametrize(("over", "held"), [(0.9991, True), (0.9989, False)])
def test_a_thousandth_below_the_end_of_the_table_counts_as_its_end(
    over: float, held: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(braking, "max_holding_speed", lambda **asked: over * END)
    (found,) = descending([20.0] * 7, [-0.008] * 6)
    assert found.margin == pytest.approx(1.0 if held else 1.0 - 20.0 / (over * END))
