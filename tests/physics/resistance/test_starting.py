"""Starting resistance by the function that the run calls."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from locosim.constants import MPH, POUND_PER_SHORT_TON
from locosim.physics.resistance import starting


def at_rest(bearing: str, celsius: float) -> float:
    """Resistance at rest in lb per short ton."""
    found = starting.resistance_at_rest(bearing=bearing, temperature=celsius + 273.15, roller_share=0.5)
    return found / POUND_PER_SHORT_TON


def test_resistance_at_rest_in_mild_air_and_in_frost() -> None:
    assert at_rest("plain", 20.0) == pytest.approx(16.0)  # [Henderson1907]
    assert at_rest("roller", 20.0) == pytest.approx(5.0)  # [Hay1982], from memory
    assert at_rest("plain", -17.8) == pytest.approx(35.0, rel=0.03)  # [Hay1982], from memory, at 0 degF
    assert 5.0 < at_rest("roller", -17.8) < 5.0 * at_rest("plain", -17.8) / 16.0


@given(st.floats(-50.0, 45.0), st.sampled_from(["plain", "roller"]))
def test_cold_never_lowers_resistance_and_nothing_jumps(celsius: float, bearing: str) -> None:
    warmer, colder = at_rest(bearing, celsius + 1.0), at_rest(bearing, celsius)
    assert warmer <= colder <= 1.05 * warmer
    near = at_rest(bearing, celsius - 0.01)
    assert colder <= near <= 1.0005 * colder
    running = [starting.cold_factor(temperature=celsius + 273.15 + step) for step in (0.0, 1.0)]
    assert 1.0 <= running[1] <= running[0] <= 1.05 * running[1]


@settings(deadline=None)  # the first call compiles
@given(st.floats(0.0, 1e5), st.floats(0.0, 1e5))
def test_bearings_cool_from_warm_to_the_air_while_the_train_stands(first: float, more: float) -> None:
    soon, later = (starting.resistance_after_standing(16.0, 35.0, t, 3600.0) for t in (first, first + more))
    assert 16.0 - 1e-9 <= soon <= later + 1e-9 <= 35.0 + 2e-9
    assert later - soon <= (35.0 - 16.0) * more / 3600.0 + 1e-9
    assert starting.resistance_after_standing(16.0, 35.0, 0.0, 3600.0) == pytest.approx(16.0)
    assert starting.resistance_after_standing(16.0, 35.0, np.inf, 3600.0) == 35.0


def test_starting_resistance_falls_in_a_line_to_the_running_resistance() -> None:
    speeds = np.array([0.0, 1.5, 3.0, 4.5, 6.0, 6.01, 40.0]) * MPH
    found = starting.starting_resistances(
        speeds, np.zeros(7), np.full(7, starting.PLAIN_BEARINGS), starting.BROKEN_AWAY
    )
    assert found / POUND_PER_SHORT_TON == pytest.approx([16, 13.25, 10.5, 7.75, 5, 0, 0])


def test_the_running_resistance_counts_where_it_is_larger() -> None:
    assert starting.starting_resistance(0.0, 20.0, 16.0, 5.0) == 20.0
    assert starting.starting_resistance(0.0, 4.0, 16.0, 5.0) == 16.0
    assert starting.starting_resistance(7 * MPH, 4.0, 16.0, 5.0) == 4.0


@pytest.mark.parametrize(
    "rest",
    [starting.ROLLER_BEARINGS, starting.PLAIN_BEARINGS, 35 * POUND_PER_SHORT_TON, 0.001],
)
def test_starting_resistance_never_rises_with_speed(rest: float) -> None:
    speeds = np.linspace(0, 5, 101)
    found = starting.starting_resistances(speeds, np.zeros(101), np.full(101, rest), starting.BROKEN_AWAY)
    assert np.all(np.diff(found) <= 1e-15)


def test_the_train_has_broken_away_at_six_miles_an_hour() -> None:
    # [Henderson1907]: from 16 lb at the instant of starting to some 5 lb near 6 mile/h.
    speeds = np.array([2.5, 2.6, 2.7])  # m/s: 5.6, 5.8 and 6.04 mile/h
    found = starting.starting_resistances(speeds, np.full(3, 1e-3), np.full(3, 16.0), 5.0)
    assert found[0] > found[1] > 5.0
    assert found[2] == 1e-3
