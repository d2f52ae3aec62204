"""Mean pressure by integration of the diagram; speed factors, their power and range."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from locosim.physics.traction import mean_pressure as handbook


@given(cutoff=st.floats(0.05, 0.95), clearance=st.floats(0.0, 0.2))
def test_mean_pressure_is_the_area_of_the_diagram(cutoff: float, clearance: float) -> None:
    def pressure(stroke: float) -> float:
        return min(1.0, (cutoff + clearance) / (stroke + clearance))

    area = quad(pressure, 0, cutoff)[0] + quad(pressure, cutoff, 1)[0]
    found = handbook.mean_pressure_ratio(cutoff=cutoff, clearance=clearance)
    assert found == pytest.approx(area, rel=1e-9)
    assert cutoff < found < 1


def test_longer_cutoff_and_more_clearance_never_lower_the_mean_pressure() -> None:
    cutoffs = np.linspace(0.02, 1.0, 99)[:, None]
    clearances = np.linspace(0.0, 0.2, 21)[None, :]
    found = handbook.mean_pressure_ratio(cutoff=cutoffs, clearance=clearances)
    assert np.all(np.diff(found, axis=0) > 0)
    assert np.all(np.diff(found, axis=1) > -1e-12)
    assert found[-1] == pytest.approx(1.0)


def test_speed_factors_fall_from_one() -> None:
    speeds = np.linspace(0, handbook.MAX_PISTON_SPEED, 400)
    for factor in (handbook.speed_factor_saturated, handbook.speed_factor_superheated):
        found = factor(piston_speed=speeds)
        assert np.all(found[speeds <= handbook.FULL_EFFORT_PISTON_SPEED] == 1.0)
        assert np.all(np.diff(found) <= 1e-12)
    gain = handbook.speed_factor_superheated(piston_speed=speeds)
    assert np.all(gain >= handbook.speed_factor_saturated(piston_speed=speeds) - 1e-12)


def test_power_on_superheated_steam_rises_to_1000_ft_min_and_is_then_constant() -> None:
    """[Cole1914], from memory: maximum power at 1,000 ft/min and constant beyond, within 0.3 %."""
    foot = handbook.FOOT_PER_MINUTE
    speeds = np.arange(250, 1601, 50) * foot
    power = speeds * handbook.speed_factor_superheated(piston_speed=speeds)
    below = speeds <= 1000 * foot
    assert np.all(np.diff(power[below]) > 0)
    tabulated = np.arange(1000, 1601, 100) * foot
    held = tabulated * handbook.speed_factor_superheated(piston_speed=tabulated)
    assert held == pytest.approx(held[0], rel=0.003)


def test_the_table_is_constant_beyond_its_end() -> None:
    beyond = 1.2 * handbook.MAX_PISTON_SPEED
    at_end = handbook.speed_factor_saturated(piston_speed=handbook.MAX_PISTON_SPEED)
    assert handbook.speed_factor_saturated(piston_speed=beyond) == at_end == 0.241
    assert pytest.approx(1600 * 0.3048 / 60) == handbook.MAX_PISTON_SPEED


def test_maximum_power_follows_the_two_published_constants() -> None:
    """100 square inches at 200 psi: 424 and 458 hp."""
    bore = (400 / np.pi) ** 0.5 * 0.0254
    psi, hp = 6894.757293168361, 745.6998715822702
    saturated = handbook.max_power_saturated(gauge_pressure=200 * psi, bore=bore)
    superheated = handbook.max_power_superheated(gauge_pressure=200 * psi, bore=bore)
    assert (saturated / hp, superheated / hp) == pytest.approx((424, 458))


def test_steam_rate_in_metric_units() -> None:
    """27 and 20.8 lb of steam per hp h, by hand in kg per kWh."""
    per_kwh = 3.6e6
    assert handbook.STEAM_PER_WORK_SATURATED * per_kwh == pytest.approx(16.42, abs=0.01)
    assert handbook.STEAM_PER_WORK_SUPERHEATED * per_kwh == pytest.approx(12.65, abs=0.01)


def test_clarks_rule_is_below_the_ideal_diagram() -> None:
    """Indicator cards of real engines have losses: never above hyperbolic expansion without back pressure."""
    cutoffs = np.linspace(*handbook.CLARK_CUTOFFS, 66)
    card = handbook.mean_effective_pressure_clark(initial_pressure=1.0, cutoff=cutoffs)
    assert np.all(card < handbook.mean_pressure_ratio(cutoff=cutoffs, clearance=0.05))
    assert np.all(np.diff(card) > 0)
    printed = (Path(__file__).parents[2] / "published" / "mean_pressure_vose.csv").read_text(encoding="utf-8")
    percent = [int(row.split(",")[1]) for row in printed.splitlines() if row[0].isdigit()]
    assert (min(percent) / 100, max(percent) / 100) == handbook.CLARK_CUTOFFS
