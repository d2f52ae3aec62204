"""Curve laws, ranges and air by hand, with the figures of their sources."""

from __future__ import annotations

import math

import pytest
from scipy.integrate import solve_ivp

from locosim.physics.resistance import grade_and_curve as curves
from locosim.physics.resistance.air import standard_pressure_ratio
from locosim.physics.resistance.laws import (
    LAWS,
    PUBLISHED_RANGES,
    SIDE_WIND_ALLOWANCE,
    PublishedRange,
)
from locosim.physics.resistance.starting import cold_factor

TON, MPH = 907.18474, 0.44704
KILOGRAM_PER_TONNE = 9.80665e-3


def test_curve_laws_by_hand() -> None:
    # [Roeckl1880], from memory: 650/(R - 55) from 300 m, 500/(R - 30) where that is more
    for radius, expected in (
        (500.0, 650 / 445), (300.0, 650 / 245), (299.0, 650 / 245),
        (230.0, 650 / 245), (200.0, 500 / 170), (100.0, 500 / 70),
    ):  # fmt: skip
        assert curves.roeckl(radius=radius) == pytest.approx(expected * KILOGRAM_PER_TONNE)
    assert curves.roeckl_meter_gauge(radius=120.0) == pytest.approx(4.0 * KILOGRAM_PER_TONNE)
    # [Railcars1938] p. 35, for a rigid wheelbase of 4.5 m and a curve of 200 m
    given = {"radius": 200.0, "rigid_wheelbase": 4.5}
    assert curves.protopapadakis_summer(**given) == pytest.approx((233.2 + 465.3) / 200 * KILOGRAM_PER_TONNE)
    assert curves.protopapadakis_winter(**given) == pytest.approx((174.9 + 349.2) / 200 * KILOGRAM_PER_TONNE)
    assert curves.protopapadakis_meter_gauge(**given) == pytest.approx(
        (159.7 + 468.45) / 200 * KILOGRAM_PER_TONNE
    )


def test_curves_tighter_than_a_law_is_for() -> None:
    # our own bounds
    assert curves.MIN_RADIUS == {"roeckl": 100.0, "roeckl_meter_gauge": 60.0, "launhardt_1888": 100.0}


def test_ranges_are_those_the_laws_were_published_for() -> None:
    assert PublishedRange() == (0.0, 0.0, math.inf, math.inf)
    assert set(PUBLISHED_RANGES) < set(LAWS)
    for name in ("davis_1926_locomotive", "davis_1926_freight", "davis_1926_passenger"):
        assert PUBLISHED_RANGES[name] == pytest.approx((5 * TON, 0.0, math.inf, math.inf))
    # [Schmidt1910], from memory: cars of 15 to 75 short tons, up to 40 mile/h
    assert PUBLISHED_RANGES["schmidt_1910"] == pytest.approx((0.0, 15 * TON, 75 * TON, 40 * MPH))
    # [Railcars1938] p. 28: 12 km/h for an average side wind
    assert pytest.approx(12.0 / 3.6) == SIDE_WIND_ALLOWANCE


def test_bearings_stiffen_below_15_degrees() -> None:
    assert cold_factor(temperature=273.15 + 15.0) == cold_factor(temperature=300.0) == 1.0
    assert cold_factor(temperature=273.15 + 14.0) == pytest.approx(math.exp(1.0 / 77.0))
    assert cold_factor(temperature=273.15 - 10.0) == pytest.approx(math.exp(25.0 / 77.0))
    assert cold_factor(temperature=273.15 - 10.0, exponent=1.8) == pytest.approx(math.exp(45.0 / 77.0))


def test_pressure_of_the_air_is_that_of_its_weight() -> None:
    # dp/dz = -p g/(R T), 6.5 K colder in each kilometer from 288.15 K: integrated by another method
    def slope(z: float, p: list[float]) -> list[float]:
        return [-p[0] * 9.80665 / (287.053 * (288.15 - 0.0065 * z))]

    found = solve_ivp(slope, (0.0, 3000.0), [1.0], rtol=1e-10, atol=1e-12, t_eval=[1000.0, 3000.0]).y[0]
    for altitude, expected in zip((1000.0, 3000.0), found, strict=True):
        assert standard_pressure_ratio(altitude=altitude) == pytest.approx(expected, rel=1e-7)
    assert standard_pressure_ratio(altitude=0.0) == 1.0
