"""Tonnage ratings against one another."""

from __future__ import annotations

import pytest

from locosim.physics.operation import tonnage

POUND_PER_SHORT_TON = 9.80665 / 2000


def test_the_rated_load_uses_the_whole_effort_on_the_ruling_grade() -> None:
    rolling_resistance, grade, effort = 6 * POUND_PER_SHORT_TON, 0.0125, 150e3
    grade_resistance = 9.80665 * grade
    load = tonnage.gross_trailing_load(
        drawbar_pull=effort,
        weather_factor=1.0,
        rolling_resistance=rolling_resistance,
        grade_resistance=grade_resistance,
        curve_resistance=0.0,
    )
    assert tonnage.ruling_grade(
        effort=effort, mass=load, rolling_resistance=rolling_resistance
    ) == pytest.approx(grade)


def test_adhesion_required_is_effort_over_weight_on_drivers() -> None:
    mass, grade, rolling_resistance, mass_on_drivers = 900e3, 0.015, 0.03, 80e3
    effort = mass * (9.80665 * grade + rolling_resistance)
    share = tonnage.adhesion_required_on_grade(
        mass=mass, grade=grade, rolling_resistance=rolling_resistance, mass_on_drivers=mass_on_drivers
    )
    assert share == pytest.approx(effort / (mass_on_drivers * 9.80665))


def test_army_rule_deducts_one_per_cent_of_the_weight() -> None:
    """20 lb per short ton is 1 % of the weight."""
    found = tonnage.army_drawbar_pull(tractive_effort=160e3, locomotive_mass=100e3)
    assert found == pytest.approx(160e3 - 0.01 * 100e3 * 9.80665)


def test_cold_and_curves_reduce_the_load() -> None:
    base = {
        "drawbar_pull": 150e3,
        "weather_factor": 1.0,
        "rolling_resistance": 0.03,
        "grade_resistance": 0.1,
        "curve_resistance": 0.0,
    }
    full = tonnage.gross_trailing_load(**base)
    assert tonnage.gross_trailing_load(**base | {"weather_factor": 0.85}) == pytest.approx(0.85 * full)
    assert tonnage.gross_trailing_load(**base | {"curve_resistance": 0.01}) < full
    assert tonnage.net_train_load(gross_load=full) == pytest.approx(full / 2)
