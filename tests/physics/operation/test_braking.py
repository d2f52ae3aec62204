"""Stopping distance against an independent integration, and holding speed."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from locosim.physics.operation import braking

MPH = 0.44704


@pytest.mark.parametrize(("speed_mph", "grade"), [(60, 0.0), (45, -0.02), (30, 0.015)])
def test_stop_with_shoes_agrees_with_integration_in_time(speed_mph: float, grade: float) -> None:
    def motion(_: float, state: np.ndarray) -> list[float]:
        speed = max(state[1], 0.0)
        friction = braking.galton_shoe_friction(speed=speed)
        return [speed, -9.80665 * (0.7 * float(friction) + grade)]

    def stopped(_: float, state: np.ndarray) -> float:
        return state[1]

    stopped.terminal = True  # type: ignore[attr-defined]
    run = solve_ivp(motion, (0, 600), [0.0, speed_mph * MPH], events=stopped, rtol=1e-8, max_step=0.05)
    found = braking.stopping_distance_with_shoes(speed=speed_mph * MPH, braking_ratio=0.7, grade=grade)
    assert found == pytest.approx(run.y[0, -1], rel=1e-3)


def test_distance_is_infinite_where_shoes_cannot_stop_the_train() -> None:
    found = braking.stopping_distance_with_shoes(speed=20.0, braking_ratio=0.1, grade=-0.03)
    assert math.isinf(found)


def test_at_the_holding_speed_shoes_just_balance_the_grade() -> None:
    for ratio in (0.12, 0.15, 0.2):
        speed = braking.max_holding_speed(grade=-0.022, braking_ratio=ratio)
        friction = braking.galton_shoe_friction(speed=speed)
        left = braking.braking_deceleration(braking_ratio=ratio, shoe_friction=friction, grade=-0.022)
        assert left == pytest.approx(0.0, abs=1e-12)


def test_ends_of_holding_speed() -> None:
    assert braking.max_holding_speed(grade=-0.03, braking_ratio=0.1) == 0.0
    assert braking.max_holding_speed(grade=-0.001, braking_ratio=0.5) == pytest.approx(60 * MPH)
    # Without shoes: no speed on a fall, any speed on a rise.
    assert list(braking.max_holding_speed(grade=np.array([-0.01, 0.01]), braking_ratio=0.0)) == [
        0.0,
        pytest.approx(60 * MPH),
    ]
    steeper = braking.max_holding_speed(grade=np.array([-0.01, -0.015, -0.02]), braking_ratio=0.12)
    assert np.all(np.diff(steeper) < 0)


def test_friction_falls_with_speed_within_the_table() -> None:
    speeds = np.linspace(0, 80, 161) * MPH
    found = braking.galton_shoe_friction(speed=speeds)
    assert np.all(np.diff(found) <= 0)
    assert (found[0], found[-1]) == (0.242, 0.074)


def test_speed_by_tons_per_working_brake() -> None:
    """[NTSB1990]: above 80 short tons 45 mile/h."""
    ton = 907.18474
    assert braking.max_speed_by_brakes(mass_per_brake=81 * ton) == pytest.approx(45 * MPH)
    assert math.isinf(braking.max_speed_by_brakes(mass_per_brake=79 * ton))


def test_the_rule_for_heavy_trains_begins_above_80_tons_for_each_brake() -> None:
    limit = 80 * 907.18474
    assert braking.max_speed_by_brakes(mass_per_brake=limit) == np.inf
    assert braking.max_speed_by_brakes(mass_per_brake=limit * 1.0001) == pytest.approx(45 * 0.44704)


def test_the_table_of_shoes_runs_from_10_to_60_miles_an_hour() -> None:
    """[Galton1878], from memory."""
    assert pytest.approx((10 * MPH, 60 * MPH)) == braking.GALTON_SPEEDS
    assert braking.galton_shoe_friction(speed=10 * MPH) == pytest.approx(0.242)
    assert braking.galton_shoe_friction(speed=60 * MPH) == pytest.approx(0.074)


def test_shoes_grade_and_resistance_slow_a_train_together() -> None:
    found = braking.braking_deceleration(braking_ratio=0.5, shoe_friction=0.2, grade=-0.03, resistance=0.04)
    assert found == pytest.approx(9.80665 * (0.1 - 0.03) + 0.04)
    alone = braking.braking_deceleration(braking_ratio=0.5, shoe_friction=0.2)
    assert alone == pytest.approx(9.80665 * 0.1)  # on the level, without resistance


def test_a_stop_begins_with_the_time_of_reaction() -> None:
    plain = braking.stopping_distance_with_shoes(speed=20.0, braking_ratio=0.7)
    assert plain == pytest.approx(
        float(braking.stopping_distance_with_shoes(speed=20.0, braking_ratio=0.7, grade=0.0))
    )
    later = braking.stopping_distance_with_shoes(speed=20.0, braking_ratio=0.7, reaction_time=3.0)
    assert later - plain == pytest.approx(60.0)


def test_shoes_that_hold_only_a_slow_train_do_not_stop_a_fast_one() -> None:
    # 12 % on a fall of 2 %: 0.029 of the weight at 10 mile/h, 0.009 at 60
    fast_and_slow = braking.stopping_distance_with_shoes(
        speed=np.array([26.0, 4.0]), braking_ratio=np.array([0.12, 0.12]), grade=-0.02
    )
    assert math.isinf(fast_and_slow[0])
    # below 10 mile/h the friction is constant
    assert fast_and_slow[1] == pytest.approx(8.0 / (9.80665 * (0.12 * 0.242 - 0.02)))
    # what just balances the grade does not stop it
    assert math.isinf(braking.stopping_distance_with_shoes(speed=3.0, braking_ratio=1.0, grade=-0.242))


def test_resistance_helps_shoes_to_hold_a_train() -> None:
    speed = braking.max_holding_speed(grade=-0.022, braking_ratio=0.15, resistance=0.03)
    left = braking.braking_deceleration(
        braking_ratio=0.15, shoe_friction=braking.galton_shoe_friction(speed=speed), grade=-0.022, resistance=0.03
    )  # fmt: skip
    assert left == pytest.approx(0.0, abs=1e-12)
    assert speed > braking.max_holding_speed(grade=-0.022, braking_ratio=0.15)
