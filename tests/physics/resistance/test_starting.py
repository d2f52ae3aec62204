"""Starting resistance by the function that the run calls."""

from __future__ import annotations

import numpy as np
import pytest

from locosim.constants import MPH, POUND_PER_SHORT_TON
from locosim.physics.resistance import starting


def test_resistance_at_rest_goes_by_bearing_and_frost() -> None:
    found = [
        starting.resistance_at_rest(bearing=bearing, temperature=temperature) / POUND_PER_SHORT_TON
        for bearing, temperature in (
            ("roller", 293.15),
            ("roller", 263.15),
            ("plain", 293.15),
            ("plain", 263.15),
        )
    ]
    assert found == pytest.approx([5, 5, 16, 35])


def test_starting_resistance_falls_in_a_line_to_the_running_resistance() -> None:
    speeds = np.array([0.0, 1.5, 3.0, 4.5, 6.0, 6.01, 40.0]) * MPH
    found = starting.starting_resistances(speeds, np.zeros(7), starting.PLAIN_BEARINGS, starting.BROKEN_AWAY)
    assert found / POUND_PER_SHORT_TON == pytest.approx([16, 13.25, 10.5, 7.75, 5, 0, 0])


def test_the_running_resistance_counts_where_it_is_larger() -> None:
    assert starting.starting_resistance(0.0, 20.0, 16.0, 5.0) == 20.0
    assert starting.starting_resistance(0.0, 4.0, 16.0, 5.0) == 16.0
    assert starting.starting_resistance(7 * MPH, 4.0, 16.0, 5.0) == 4.0


@pytest.mark.parametrize(
    "at_rest",
    [starting.ROLLER_BEARINGS, starting.PLAIN_BEARINGS, starting.PLAIN_BEARINGS_COLD, 0.001],
)
def test_starting_resistance_never_rises_with_speed(at_rest: float) -> None:
    speeds = np.linspace(0, 5, 101)
    found = starting.starting_resistances(speeds, np.zeros(101), at_rest, starting.BROKEN_AWAY)
    assert np.all(np.diff(found) <= 1e-15)
