"""Grade, curve and cold."""

from __future__ import annotations

import math

import numpy as np
import pytest

from locosim.physics.operation.superelevation import radius_of_curve
from locosim.physics.resistance import grade_and_curve as line

POUND_PER_SHORT_TON = 9.80665 / 2000  # [N/kg]


def test_grade_is_the_sine() -> None:
    for grade in (-0.05, 0.0, 0.01, 0.3):
        angle = math.atan(grade)
        assert line.grade_resistance(grade=grade) == pytest.approx(9.80665 * math.sin(angle), abs=1e-15)


@pytest.mark.parametrize("name", sorted(line.CURVE_LAWS))
def test_curve_resistance_falls_with_radius_to_zero_on_straight_track(name: str) -> None:
    law = line.CURVE_LAWS[name]
    radii = np.array([110.0, 150, 200, 280, 300, 500, 1000, 5000])
    found = law(radius=radii, rigid_wheelbase=4.0)
    assert np.all(np.diff(found) <= 0)
    assert np.all(found > 0)
    assert law(radius=math.inf, rigid_wheelbase=4.0) == 0.0


@pytest.mark.parametrize("name", sorted(line.CURVE_LAWS))
def test_curve_arrays_give_what_their_elements_give(name: str) -> None:
    law = line.CURVE_LAWS[name]
    radii = np.array([150.0, 299.0, 300.0, 800.0, np.inf])
    one_by_one = [law(radius=float(radius), rigid_wheelbase=3.0) for radius in radii]
    assert law(radius=radii, rigid_wheelbase=3.0) == pytest.approx(one_by_one)


def test_curve_laws_of_standard_gauge_agree_on_a_common_curve() -> None:
    """Four countries measured alike cars: on 400 m their figures lie within a factor of 2.2."""
    names = ("per_degree", "roeckl", "launhardt_1888", "protopapadakis_summer")
    found = [line.CURVE_LAWS[name](radius=400.0, rigid_wheelbase=3.0) for name in names]
    assert max(found) / min(found) < 2.2


def test_roeckl_meter_gauge_and_both_branches() -> None:
    """[Roeckl1880], from memory, worked by hand: kg per tonne."""
    kg = 1000 / 9.80665
    assert line.roeckl(radius=305.0) * kg == pytest.approx(2.6)
    assert line.roeckl(radius=130.0) * kg == pytest.approx(5.0)
    # The second branch starts below the first; between them the value at 300 m applies.
    assert line.roeckl(radius=280.0) * kg == pytest.approx(650 / 245)
    assert line.roeckl_meter_gauge(radius=120.0) * kg == pytest.approx(4.0)


def test_per_degree_by_radius_and_by_degree_agree() -> None:
    for degree in (0.5, 4.0, 16.0):
        angle = math.radians(degree)
        by_radius = line.per_degree(radius=radius_of_curve(degree_of_curve=angle))
        assert by_radius == pytest.approx(0.8 * degree * POUND_PER_SHORT_TON)
