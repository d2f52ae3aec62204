"""Grade, curve, starting and cold."""

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


def test_the_rule_is_too_great_by_as_much_as_it_says() -> None:
    for grade, excess in ((0.025, 0.0003), (0.05, 0.00125)):
        rule = line.grade_resistance_by_rule(grade=grade)
        assert rule / line.grade_resistance(grade=grade) - 1 == pytest.approx(excess, abs=0.00005)


@pytest.mark.parametrize("name", sorted(line.CURVE_LAWS))
def test_curves_resist_more_the_tighter_they_are_and_straight_track_not_at_all(name: str) -> None:
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


def test_roeckl_metre_gauge_and_both_branches() -> None:
    """[Roeckl1880], from memory, worked by hand: kg per tonne."""
    kg = 1000 / 9.80665
    assert line.roeckl(radius=305.0) * kg == pytest.approx(2.6)
    assert line.roeckl(radius=130.0) * kg == pytest.approx(5.0)
    # The second branch starts below the first; between them the value at 300 m is kept.
    assert line.roeckl(radius=280.0) * kg == pytest.approx(650 / 245)
    assert line.roeckl_meter_gauge(radius=120.0) * kg == pytest.approx(4.0)


def test_per_degree_by_radius_and_by_degree_are_one() -> None:
    for degree in (0.5, 4.0, 16.0):
        angle = math.radians(degree)
        by_radius = line.per_degree(radius=radius_of_curve(degree_of_curve=angle))
        assert by_radius == pytest.approx(0.8 * degree * POUND_PER_SHORT_TON)


def test_starting_falls_in_a_line_and_ends() -> None:
    mph = 0.44704
    found = line.starting_resistance(speed=np.array([0, 3 * mph, 6 * mph, 6.01 * mph, 40.0]))
    assert found / POUND_PER_SHORT_TON == pytest.approx([16, 10.5, 5, 0, 0])
    bearings = [
        line.STARTING_ROLLER_BEARINGS,
        line.STARTING_PLAIN_BEARINGS,
        line.STARTING_PLAIN_BEARINGS_COLD,
    ]
    at_rest = [line.starting_resistance(speed=0.0, at_rest=value) for value in bearings]
    assert np.array(at_rest) / POUND_PER_SHORT_TON == pytest.approx([5, 16, 35])


def test_starting_never_rises_with_speed() -> None:
    speeds = np.linspace(0, 5, 101)
    for at_rest in (
        line.STARTING_ROLLER_BEARINGS,
        line.STARTING_PLAIN_BEARINGS,
        line.STARTING_PLAIN_BEARINGS_COLD,
        0.001,
    ):
        assert np.all(np.diff(line.starting_resistance(speed=speeds, at_rest=at_rest)) <= 1e-15)


def test_cold_takes_nothing_in_mild_weather_and_more_the_colder() -> None:
    kelvin = np.array([300.0, 270.0, 260.0, 250.0, 245.0, 200.0])
    found = line.cold_weather_factor(temperature=kelvin)
    assert found[0] == 1.0
    assert np.all(np.diff(found) <= 0)
    assert line.cold_weather_factor(temperature=line.COLDEST_PUBLISHED_TEMPERATURE) == 0.80
    assert pytest.approx(244.26, abs=0.01) == line.COLDEST_PUBLISHED_TEMPERATURE  # -20 °F
