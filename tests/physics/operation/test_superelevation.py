"""Degree and radius of curves, superelevation and speed."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from locosim.errors import OutOfRange
from locosim.physics.operation import superelevation as track


@given(st.floats(0.01, 60))
def test_degree_and_radius_are_inverse(degree: float) -> None:
    angle = math.radians(degree)
    radius = track.radius_of_curve(degree_of_curve=angle)
    assert track.degree_of_curve(radius=radius) == pytest.approx(angle)


def test_straight_track_has_no_degree() -> None:
    assert track.degree_of_curve(radius=math.inf) == 0.0
    assert math.isinf(track.radius_of_curve(degree_of_curve=0.0))


def test_radius_by_the_rule_of_5730_feet() -> None:
    """Common practice, no source: radius in feet about 5,730 over the degree, within 0.1 % up to 8 degrees."""
    for degree in (1, 2, 4, 8):
        radius_ft = track.radius_of_curve(degree_of_curve=math.radians(degree)) / 0.3048
        assert radius_ft == pytest.approx(5730 / degree, rel=1e-3)


def test_speed_and_equilibrium_elevation_are_inverse() -> None:
    angle = np.radians([1.0, 3.0, 9.0])
    speed = track.curve_speed(degree_of_curve=angle, superelevation=0.1, unbalanced_superelevation=0.0)
    found = track.equilibrium_superelevation(degree_of_curve=angle, speed=speed)
    assert found == pytest.approx([0.1] * 3)


def test_the_american_constant_is_the_mechanics_of_standard_gauge() -> None:
    """v²/(g R) over a rail spacing of 1.5 m; the constant 0.0007 is rounded, so within 3 %."""
    speed, radius = 25.0, 600.0
    mechanics = 1.5 * speed**2 / (9.80665 * radius)
    angle = track.degree_of_curve(radius=radius)
    assert track.equilibrium_superelevation(degree_of_curve=angle, speed=speed) == pytest.approx(
        mechanics, rel=0.03
    )


def test_unknown_class_of_track_is_refused() -> None:
    with pytest.raises(OutOfRange, match="track class 12 is not known; write a class from 1 to 9"):
        track.track_class_speeds(track_class=12)


def test_speeds_by_class_of_track_are_those_of_the_rule() -> None:
    # 49 CFR 213.9 and 213.307 [mile/h], freight and passenger; from 6 up one limit for all trains
    rule = [(10, 15), (25, 30), (40, 60), (60, 80), (80, 90), (110, 110), (125, 125), (160, 160), (220, 220)]
    for number, (freight, passenger) in enumerate(rule, start=1):
        found = track.track_class_speeds(track_class=number)
        assert (found.freight / 0.44704, found.passenger / 0.44704) == pytest.approx((freight, passenger))


def test_unbalanced_superelevation_counts_like_the_superelevation() -> None:
    """[CFR213] § 213.57: 4 in and 3 in allowed on a curve of 2 degrees, sqrt(7/(0.0007 x 2)) = 70.7 mile/h."""
    angle, inch = math.radians(2.0), 0.0254
    found = track.curve_speed(
        degree_of_curve=angle, superelevation=4 * inch, unbalanced_superelevation=3 * inch
    )
    assert found / 0.44704 == pytest.approx(70.71, abs=0.01)
    assert track.equilibrium_superelevation(degree_of_curve=angle, speed=70.71 * 0.44704) == pytest.approx(
        7 * inch, rel=1e-3
    )
