"""Heights: smoothing against a general library and laws, bounds on grades, broken lines, rounding found."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter1d

from locosim.constants import FOOT
from locosim.scenario import load_route
from locosim.survey.heights import Heights, bounded, broken_line, heights_of, rounding_step, smoothed
from locosim.survey.roughness import height_noise, smoothing_change, suited_length, total_rise

CHANCE = np.random.default_rng(3)


def walk(count: int, spacing: float, seed: int) -> Heights:
    """A random profile with grades of a few percent and jumps."""
    chance = np.random.default_rng(seed)
    rises = 0.02 * spacing * chance.standard_normal(count - 1) + 3.0 * (chance.random(count - 1) < 0.02)
    return Heights(spacing * np.arange(count), np.concatenate([[100.0], 100.0 + np.cumsum(rises)]))


def test_smoothing_agrees_with_a_general_library_away_from_the_ends() -> None:
    heights = walk(2001, 10.0, 1)
    ours = smoothed(heights, 200.0).height
    theirs = gaussian_filter1d(heights.height, 20.0, mode="nearest", truncate=4.0)
    assert np.max(np.abs(ours - theirs)[100:-100]) < 1e-9


def test_a_long_weight_gives_the_same_by_fourier_transform() -> None:
    heights = walk(3001, 10.0, 2)
    ours = smoothed(heights, 400.0).height  # 321 weights
    theirs = gaussian_filter1d(heights.height, 40.0, mode="nearest", truncate=4.0)
    assert np.max(np.abs(ours - theirs)[200:-200]) < 1e-8


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.integers(3, 400), st.floats(1.0, 300.0), st.floats(10.0, 2000.0), st.integers(0, 10**6))
def test_smoothing_keeps_both_ends_and_a_constant_grade(
    count: int, spacing: float, length: float, seed: int
) -> None:
    heights = walk(count, spacing, seed)
    after = smoothed(heights, length)
    change = smoothing_change(heights, after, length)
    assert change.end_change < 1e-9
    straight = Heights(heights.chainage, 0.013 * heights.chainage + 50.0)
    assert np.max(np.abs(smoothed(straight, length).grades - 0.013)) < 1e-9


def test_smoothing_over_nothing_changes_nothing() -> None:
    heights = walk(50, 20.0, 4)
    assert smoothed(heights, 0.0) is heights


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.integers(2, 300), st.floats(0.002, 0.1), st.integers(0, 10**6))
def test_bounded_heights_keep_the_bound_and_the_change_that_is_stated(
    count: int, bound: float, seed: int
) -> None:
    heights = walk(count, 25.0, seed)
    held = bounded(heights, bound)
    assert np.max(np.abs(held.grades)) <= bound * (1 + 1e-9)
    change = smoothing_change(heights, held, 0.0)
    assert np.max(np.abs(held.height - heights.height)) == pytest.approx(change.max_change, abs=1e-12)
    assert change.end_change <= change.max_change


def test_a_spike_is_brought_down_to_the_bound() -> None:
    chainage = np.arange(0.0, 1001.0, 10.0)
    height = np.zeros(101)
    height[50] = 5.0
    held = bounded(Heights(chainage, height), 0.05)
    # Half way between 5 m and the 0.5 m that 5 % rises over the 10 m from its neighbors.
    assert held.height[50] == pytest.approx(2.75)
    assert np.max(held.height) == held.height[50]


@settings(derandomize=True, max_examples=40, deadline=None)
@given(st.integers(3, 300), st.floats(0.01, 5.0), st.integers(0, 10**6))
def test_a_broken_line_is_within_its_tolerance_and_no_steeper(
    count: int, tolerance: float, seed: int
) -> None:
    heights = walk(count, 15.0, seed)
    kept = broken_line(*heights, tolerance)
    reduced = Heights(heights.chainage[kept], heights.height[kept])
    assert np.max(np.abs(reduced.at(heights.chainage) - heights.height)) <= tolerance + 1e-9
    assert np.max(np.abs(reduced.grades)) <= np.max(np.abs(heights.grades)) + 1e-12


@pytest.mark.parametrize("step", [10 * FOOT, 20 * FOOT, 1.0, 0.5, 5.0, 0.01])
def test_the_step_of_rounded_heights_is_found(step: float) -> None:
    height = 300.0 + 40.0 * np.sin(np.linspace(0.0, 9.0, 200)) + CHANCE.random(200)
    assert rounding_step(step * np.round(height / step)) == pytest.approx(step)


def test_heights_that_are_not_rounded_have_no_step() -> None:
    assert rounding_step(300.0 + 40.0 * CHANCE.random(100)) is None
    assert rounding_step(np.array([3.0, 6.0])) is None


def test_rounding_to_ten_feet_asks_for_smoothing_that_halves_the_error_of_the_grade() -> None:
    line = heights_of(load_route("scenarios/routes/quernby_line.toml"))
    exact = Heights(np.arange(0.0, 64000.0, 100.0), line.at(np.arange(0.0, 64000.0, 100.0)))
    step = 10 * FOOT
    rounded = Heights(exact.chainage, step * np.round(exact.height / step))
    length = suited_length(rounded, rounding_step(rounded.height))
    assert length >= 200.0
    even = smoothed(rounded, length)
    before = np.sqrt(np.mean((rounded.grades - exact.grades) ** 2))
    after = np.sqrt(np.mean((np.diff(even.at(exact.chainage)) / 100.0 - exact.grades) ** 2))
    assert after < before / 2
    assert total_rise(even.height) == pytest.approx(total_rise(exact.height), rel=0.05)


def test_the_error_of_heights_is_estimated_within_a_tenth() -> None:
    chainage = np.arange(0.0, 30000.0, 10.0)
    height = 0.01 * chainage + 2.0 * CHANCE.standard_normal(len(chainage))
    assert height_noise(Heights(chainage, height), None) == pytest.approx(2.0, rel=0.1)
    assert height_noise(Heights(chainage, 0.01 * chainage), 3.0) == pytest.approx(3.0 / 12**0.5)


def test_surveyed_heights_need_no_smoothing() -> None:
    line = heights_of(load_route("scenarios/routes/quernby_line.toml"))
    assert suited_length(line, rounding_step(line.height)) == 0.0
