"""The tilted water surface against numerical geometry, and which end of the crown sheet is uncovered."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from locosim.physics.boiler import water_level as wl

LENGTH, DIAMETER = 9.0, 2.0
BACK, FRONT = -4.5, -1.5  # a crown sheet 3 m long, from the backhead
CROWN = 1.35
FULL = 0.25 * math.pi * DIAMETER**2 * LENGTH


def level(volume: float) -> float:
    """Height of the surface in the level boiler."""
    return float(wl.level_and_angle(volume, LENGTH, DIAMETER, math.pi)[0])


def at_midlength(volume: float, tilt: float) -> float:
    """Height of the tilted surface at midlength."""
    return float(wl.levels_at_midlength(np.array([volume]), np.array([tilt]), LENGTH, DIAMETER)[0])


def test_the_level_does_not_depend_on_the_one_before() -> None:
    shares = np.random.default_rng(1).uniform(-0.05, 1.05, 200)
    together = wl.levels_at_midlength(shares * FULL, np.zeros(200), LENGTH, DIAMETER)
    assert together == pytest.approx([level(share * FULL) for share in shares], abs=1e-12)


def exact_volume(midlength, tilt):
    """Volume under a tilted plane, summed over thin layers of each slice without the segment formula."""
    heights = (np.arange(4000) + 0.5) / 4000 * DIAMETER
    widths = 2.0 * np.sqrt(heights * (DIAMETER - heights))
    stations = (np.arange(400) + 0.5) / 400 * LENGTH - LENGTH / 2
    under = heights[:, None] < (midlength - tilt * stations)[None, :]
    return float((widths[:, None] * under).sum() * DIAMETER / 4000 * LENGTH / 400)


@settings(deadline=None)  # the first call compiles
@given(share=st.floats(1e-4, 1.0 - 1e-4))
def test_level_inverts_volume(share):
    height = level(share * FULL)
    assert wl.volume_below(height, LENGTH, DIAMETER) == pytest.approx(share * FULL, rel=1e-9)


@pytest.mark.parametrize("height", [0.1, 0.7, 1.0, 1.5, 1.9])
def test_segment_area_is_the_integral_of_the_width(height):
    exact = quad(lambda h: 2.0 * math.sqrt(h * (DIAMETER - h)), 0.0, height, limit=200)[0]
    assert wl.segment_area(height, DIAMETER) == pytest.approx(exact, rel=1e-8)
    half = wl.segment_area(0.5 * DIAMETER, DIAMETER)
    assert half == pytest.approx(math.pi * DIAMETER**2 / 8, rel=1e-14)


def test_empty_and_full():
    assert level(0.0) == 0.0
    assert level(1.01 * FULL) == DIAMETER
    assert wl.segment_area(-1.0, DIAMETER) == 0.0
    assert wl.segment_area(3.0, DIAMETER) == pytest.approx(math.pi)


@pytest.mark.parametrize("height", [0.8, 1.4, 1.6])
@pytest.mark.parametrize("tilt", [-0.06, -0.03, 0.02, 0.05])
def test_a_tilted_surface_has_the_same_volume_below_it(height, tilt):
    volume = wl.volume_below(height, LENGTH, DIAMETER)
    midlength = at_midlength(volume, tilt)
    assert exact_volume(midlength, tilt) == pytest.approx(volume, rel=1.5e-3)
    exact = brentq(lambda h: exact_volume(h, tilt) - volume, 0.3, 1.95, xtol=1e-5)
    assert midlength == pytest.approx(exact, abs=1e-3)  # a millimeter; the sum is accurate to half of it


def test_the_neglected_term_is_of_fourth_order():
    def missed(tilt):
        volume = wl.volume_below(1.5, LENGTH, DIAMETER)

        def held(h):
            return quad(lambda x: wl.segment_area(h - tilt * x, DIAMETER), -LENGTH / 2, LENGTH / 2)[0]

        exact = brentq(lambda h: held(h) - volume, 1.0, 1.9, xtol=1e-14)
        return at_midlength(volume, tilt) - exact

    assert missed(0.04) / missed(0.02) == pytest.approx(16.0, rel=0.15)
    assert abs(missed(0.03)) < 5e-4


def test_surface_is_perpendicular_to_gravity_and_acceleration():
    # the surface is perpendicular to a plumb line in the cab
    grade, acceleration = 0.02, 0.15
    angle = math.atan(grade)
    along = 9.80665 * math.sin(angle) + acceleration
    across = 9.80665 * math.cos(angle)
    assert wl.surface_tilt(grade=grade, acceleration=acceleration, leading=wl.STACK_LEADING) == pytest.approx(
        along / across, rel=1e-3
    )


def cover(height, grade, acceleration, leading):
    volume = wl.volume_below(height, LENGTH, DIAMETER)
    tilt = wl.surface_tilt(grade=grade, acceleration=acceleration, leading=leading)
    ends = [at_midlength(volume, tilt) - tilt * x - CROWN for x in (BACK, FRONT)]
    glass = at_midlength(volume, tilt) + tilt * LENGTH / 2 - (CROWN + 0.0762)
    return ends, min(ends), glass


def test_summit_with_the_stack_leading_uncovers_the_back():
    climbing, least_climbing, glass_climbing = cover(1.5, 0.02, 0.0, wl.STACK_LEADING)
    falling, least_falling, glass_falling = cover(1.5, -0.02, 0.0, wl.STACK_LEADING)
    assert climbing[0] > climbing[1]  # water runs to the back on the climb
    assert falling[0] < falling[1]  # and away from it beyond the summit
    assert least_falling == falling[0]
    assert least_falling < least_climbing
    # the level at the glass falls by 4 % of half the length of the boiler
    assert glass_climbing - glass_falling == pytest.approx(0.04 * LENGTH / 2, abs=2e-3)
    assert glass_climbing > 0.1
    assert glass_falling < 0.0


def test_summit_with_the_stack_trailing_is_the_other_way_round():
    climbing, _, _ = cover(1.5, 0.02, 0.0, wl.STACK_TRAILING)
    assert climbing[0] < climbing[1]
    assert cover(1.5, 0.02, 0.0, wl.STACK_TRAILING) == cover(1.5, -0.02, 0.0, wl.STACK_LEADING)


def test_braking_on_the_falling_grade_lowers_the_level_further():
    drifting = cover(1.5, -0.02, 0.0, wl.STACK_LEADING)[1]
    braking = cover(1.5, -0.02, -0.5, wl.STACK_LEADING)[1]
    # tilt from braking, 0.5 / g = 5.1 %, over the 4.5 m from the middle to the backhead
    assert drifting - braking == pytest.approx(0.5 / 9.80665 * 4.5, abs=0.02)


def test_level_boiler_has_one_cover():
    ends, least, _ = cover(1.5, 0.0, 0.0, wl.STACK_LEADING)
    assert ends == pytest.approx([0.15, 0.15], abs=1e-12)
    assert least == pytest.approx(0.15, abs=1e-12)


def test_a_nearly_empty_boiler_converges_and_nan_is_refused():
    for share in (1e-6, 1e-9, 1e-14, 1e-20):
        height = level(share * FULL)
        assert wl.volume_below(height, LENGTH, DIAMETER) == pytest.approx(
            share * FULL, rel=1e-2, abs=1e-15 * FULL
        )
    with pytest.raises(ArithmeticError, match="the water level did not converge"):
        level(math.nan)
