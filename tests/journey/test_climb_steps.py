"""Which steps of a climb count, and the slowest of them, by hand."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from plain_python import in_plain_python

from locosim.journey.kernel import climb_speeds
from locosim.journey.kernel.arrays import ADHESION, AT_ALLOWED_SPEED, CYLINDERS, STEAM
from locosim.journey.kernel.climb_speeds import ClimbLimits

LIMITS = ClimbLimits(min_grade=0.005, min_length=200.0, acceleration_distance=150.0, creep_acceleration=0.01)
CLIMB = 0.01


@pytest.fixture(autouse=True)
def _plain(monkeypatch: pytest.MonkeyPatch) -> None:
    in_plain_python(monkeypatch, climb_speeds)


def slowest(
    speeds: Sequence[float], grade: Sequence[float], limit: int | Sequence[int] = STEAM
) -> list[tuple[int, int, int, float]]:
    """First step, step after the last, slowest step and lowest speed of each climb; steps of 100 m."""
    n = len(grade)
    steps, lowest = np.zeros((n // 2 + 1, 3), dtype=np.int64), np.zeros(n // 2 + 1)
    count = climb_speeds.slowest_climb_steps(
        100.0 * np.arange(n + 1), 0.5 * np.array(speeds) ** 2, np.array(grade),
        np.broadcast_to(np.array(limit, dtype=np.int8), n), LIMITS, steps, lowest,
    )  # fmt: skip
    return [(*map(int, steps[k]), round(float(lowest[k]), 9)) for k in range(count)]  # type: ignore[misc]


def test_the_slowest_step_is_that_which_ends_slowest() -> None:
    assert slowest([10, 9, 8, 7, 9], [CLIMB, CLIMB, CLIMB, 0.0]) == [(0, 3, 2, 7.0)]
    # the first step of all may be the slowest: behind it the train gains speed fast
    assert slowest([10, 9, 12, 15, 18], [CLIMB] * 4) == [(0, 4, 0, 9.0)]
    assert slowest([10, 9, 8, 8, 8], [CLIMB] * 4) == [(0, 4, 1, 8.0)]


@pytest.mark.parametrize("limit", [ADHESION, CYLINDERS, STEAM])
def test_a_step_counts_where_the_engine_is_at_its_limit(limit: int) -> None:
    assert slowest([10, 9, 8, 7], [CLIMB] * 3, limit) == [(0, 3, 2, 7.0)]
    assert slowest([10, 9, 8, 7], [CLIMB] * 3, AT_ALLOWED_SPEED) == []
    assert slowest([10, 9, 8, 7], [CLIMB] * 3, [limit, limit, AT_ALLOWED_SPEED]) == [(0, 3, 1, 8.0)]


def test_a_climb_is_so_steep_and_so_long() -> None:
    assert slowest([10, 9, 8, 7], [0.005, 0.005, 0.0]) == [(0, 2, 1, 8.0)]
    assert slowest([10, 9, 8, 7], [0.0049, 0.0049, 0.0]) == []
    assert slowest([10, 9, 8, 7], [CLIMB, 0.0, 0.0]) == []
    assert slowest([10, 9, 8, 7, 6, 5, 4], [CLIMB, CLIMB, 0.0, 0.0, CLIMB, CLIMB]) == [
        (0, 2, 1, 8.0),
        (4, 6, 5, 4.0),
    ]


def test_a_train_that_gains_hardly_any_speed_creeps_once_it_is_well_on_its_way() -> None:
    # 0.005 m/s2: over 100 m v²/2 gains 0.5
    speeds = [np.sqrt(64.0 + k) for k in range(6)]
    # within 150 m of where it had effort to spare it is still working up speed
    assert slowest(speeds, [CLIMB] * 5, [AT_ALLOWED_SPEED, STEAM, STEAM, STEAM, STEAM]) == [
        (0, 5, 3, round(float(np.sqrt(67.0)), 9))
    ]
    # from rest at the start likewise
    assert slowest([0.0, *speeds], [CLIMB] * 6) == [(0, 6, 2, round(float(np.sqrt(65.0)), 9))]
    for gained, creeps in ((1.01, False), (0.99, True)):  # on 100 m, at 0.01 m/s2
        found = slowest([np.sqrt(64.0 + 2.0 * gained * k) for k in range(6)], [CLIMB] * 5)
        assert bool(found) == creeps


def test_a_climb_is_as_long_as_from_its_own_foot() -> None:
    # 100 m of it, 300 m from the start: too short by half
    assert slowest([10, 10, 10, 10, 9, 9], [0.0, 0.0, 0.0, CLIMB, 0.0]) == []
    assert slowest([10, 10, 10, 10, 9, 8], [0.0, 0.0, 0.0, CLIMB, CLIMB]) == [(3, 5, 4, 8.0)]


def test_the_way_from_a_stop_is_measured_from_that_stop() -> None:
    # 0.005 m/s2 from 8 m/s; it stood at node 2, and is 150 m on its way in the second step after
    speeds = [9.0, 5.0, 0.0, 8.0, np.sqrt(65.0), np.sqrt(66.0)]
    assert slowest(speeds, [0.0, 0.0, 0.0, CLIMB, CLIMB]) == [(3, 5, 4, round(float(np.sqrt(65.0)), 9))]


def test_a_train_that_keeps_its_speed_does_not_gain_any() -> None:
    assert slowest([8, 8, 8], [CLIMB, CLIMB]) == [(0, 2, 0, 8.0)]


def test_the_first_step_of_all_is_not_forgotten() -> None:
    assert slowest([6, 5, 12, 11, 10], [CLIMB] * 4) == [(0, 4, 0, 5.0)]
    assert slowest([9, 8, 12, 11, 5], [CLIMB] * 4) == [(0, 4, 3, 5.0)]


def test_creeping_counts_from_more_than_150_meters_on() -> None:
    # 0.005 m/s2 from the first node, through which the train runs at 8 m/s: 100 m on it may still gain speed
    speeds = [np.sqrt(64.0 + k) for k in range(4)]
    assert slowest(speeds, [CLIMB] * 3) == [(0, 3, 2, round(float(np.sqrt(66.0)), 9))]
    exact = LIMITS._replace(acceleration_distance=200.0)
    steps, lowest = np.zeros((2, 3), dtype=np.int64), np.zeros(2)
    found = climb_speeds.slowest_climb_steps(
        100.0 * np.arange(4), 0.5 * np.array(speeds) ** 2, np.full(3, CLIMB), np.full(3, STEAM, dtype=np.int8), exact,
        steps, lowest,
    )  # fmt: skip
    assert found == 0  # at 200 m it is not beyond them
