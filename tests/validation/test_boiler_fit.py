"""The boiler with its one set of constants against published boilers: fitted lines first, then lines not fitted.

The three fitted constants are the two of the unburned line in `fuels` and ELEMENT_FACTOR in `barrel`. The
coal is the 13,500 Btu/lb bituminous of `fuels`, the feed 60 degF: neither is stated with the published lines.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares

from docs.build.fit import boiler_residuals
from docs.build.validation.boiler import PURDUE_GAS_AREA, PURDUE_SURFACE, balance_at
from docs.build.validation.engines import engine
from docs.build.validation.purdue import purdue
from locosim.constants import FOOT, HOUR, POUND, POUND_PER_SQUARE_FOOT_HOUR, ZERO_CELSIUS
from locosim.physics.boiler import barrel
from locosim.physics.boiler import limits as supply_limits
from locosim.physics.boiler.fuels import BITUMINOUS
from locosim.physics.boiler.heat_balance import HeatBalance

PUBLISHED = ["nyc_j3a", "prr_k4s", "lms_coronation"]


def at(name: str, *pounds_per_square_foot_hour: float) -> HeatBalance:
    """Heat balance as it was fitted."""
    boiler = engine(name).locomotive.boiler
    return balance_at(boiler, np.array(pounds_per_square_foot_hour))


def grate_area(name: str) -> float:
    return engine(name).locomotive.boiler.grate_area


def at_purdue() -> tuple[HeatBalance, np.ndarray]:
    """The saturated boiler over its firing rates, and its evaporation per heating surface [lb/(ft2 h)]."""
    boiler = purdue(pressure_psi=160, superheated=False).boiler
    found = balance_at(boiler, np.linspace(15, 145, 60), gas_area=PURDUE_GAS_AREA)
    made = found.equivalent_evaporation * found.firing_rate
    return found, made / PURDUE_SURFACE / POUND_PER_SQUARE_FOOT_HOUR


def test_the_constants_of_the_boiler_are_their_own_fit():
    # `python -m docs.build.fit` rounded; the rows are those of docs/build/validation/fit_rows.py
    start = [BITUMINOUS.unburned_low_rate, BITUMINOUS.unburned_slope, barrel.ELEMENT_FACTOR]
    factor = barrel.ELEMENT_FACTOR
    try:
        found = least_squares(boiler_residuals, start, diff_step=1e-3).x
    finally:
        barrel.ELEMENT_FACTOR = factor
    assert found == pytest.approx(start, rel=0.02)


def fahrenheit(kelvin):
    return (kelvin - ZERO_CELSIUS) * 1.8 + 32.0


@pytest.mark.parametrize("name", ["nyc_j3a", "prr_k4s"])
@pytest.mark.parametrize(("rate", "pounds"), [(50, 7.5), (200, 5.0)])
def test_fitted_evaporation_of_american_boilers(name, rate, pounds):
    # [Bruce1952], chart 16, "general": any boiler of the kind; 10 % is the target of the project
    assert float(at(name, rate).evaporation[0]) == pytest.approx(pounds, rel=0.10)


def test_fitted_evaporation_of_the_lms_rating():
    # [LMSRating]: 130 lb/ft2 h and 6.15 lb/lb, 800 lb of steam a square foot of grate
    found = at("lms_coronation", 130)
    assert float(found.evaporation[0]) == pytest.approx(6.15, rel=0.05)
    steam = float(found.steam_rate[0]) / grate_area("lms_coronation") / POUND_PER_SQUARE_FOOT_HOUR
    assert steam == pytest.approx(800.0, rel=0.05)


@pytest.mark.parametrize("evaporated", [4.0, 6.0, 8.0, 10.0, 12.0, 14.0])
def test_fitted_evaporation_of_the_purdue_boiler(evaporated):
    # [Goss1907], from memory: E = 11.305 - 0.221 H, from and at 212 degF per lb of dry coal, H per square
    # foot of heating surface an hour; its coal is not stated
    found, per_surface = at_purdue()
    per_dry_coal = found.equivalent_evaporation / (1.0 - BITUMINOUS.moisture)
    published = 11.305 - 0.221 * evaporated
    assert np.interp(evaporated, per_surface, per_dry_coal) == pytest.approx(published, rel=0.06)


@pytest.mark.parametrize(
    ("rate", "efficiency", "within"), [(30, 0.80, 0.08), (70, 0.70, 0.05), (110, 0.60, 0.05)]
)
def test_weakly_fitted_efficiency(rate, efficiency, within):
    # from memory, low confidence; its fourth point, 0.50 at 150 lb/ft2 h, is missed: 0.56 is computed, in
    # agreement with the published evaporations above
    assert float(at("prr_k4s", rate).efficiency[0]) == pytest.approx(efficiency, rel=within)


def test_fitted_superheat():
    # Type A superheater, from memory, low confidence: 560 degF at a low, 660 at a high rate
    low, high = fahrenheit(at("prr_k4s", 30, 120).steam_temperature)
    assert low == pytest.approx(560.0, abs=20.0)
    assert high == pytest.approx(660.0, abs=30.0)


def test_forced_steam_of_a_grate():
    # 1,000 lb of steam per square foot per hour from good coal and good draft, [Trainorders4728623]; met at
    # 200 lb of coal, where the published evaporation ends
    balance = at("prr_k4s", *np.linspace(20, 260, 121))
    rate = 200 * POUND_PER_SQUARE_FOOT_HOUR * grate_area("prr_k4s")
    steam = supply_limits.steam_from_firing_rate(firing_rate=rate, balance=balance) / grate_area("prr_k4s")
    assert steam == pytest.approx(1000 * POUND / FOOT**2 / HOUR, rel=0.05)


def test_fireman_of_a_large_british_engine():
    # 22,000 to 24,000 lb/h of steam at 3,000 lb/h of coal: a forum on large British engines, at second hand
    balance = at("lms_coronation", *np.linspace(20, 260, 121))
    steam = supply_limits.steam_from_firing_rate(firing_rate=supply_limits.MAX_HAND_FIRING, balance=balance)
    assert 0.95 * 22_000 < steam / POUND * HOUR < 1.05 * 24_000


@pytest.mark.parametrize("evaporated", [4.0, 8.0, 12.0])
def test_smokebox_of_the_purdue_boiler_not_fitted(evaporated):
    # Goss, smokebox temperature 488.5 + 25.66 H degF, from memory: checks the textbook heat
    # transfer coefficient in the tubes
    found, per_surface = at_purdue()
    temperature = np.interp(evaporated, per_surface, fahrenheit(found.smokebox_temperature))
    assert temperature == pytest.approx(488.5 + 25.66 * evaporated, abs=30.0)


@pytest.mark.parametrize("name", PUBLISHED)
def test_trends_the_trade_expects(name):
    found = at(name, *np.linspace(20, 220, 41))
    assert found.efficiency[0] == pytest.approx(0.775, abs=0.025)  # 75 to 80 % at light rates
    assert found.efficiency[-1] == pytest.approx(0.50, abs=0.05)  # 45 to 55 % at forced rates
    assert np.all(np.diff(found.efficiency) < 0)
    assert np.all(np.diff(found.evaporation) < 0)
    assert np.all(np.diff(found.steam_temperature) > 0)
    assert np.all(np.diff(found.smokebox_temperature) > 0)


@pytest.mark.parametrize("name", PUBLISHED)
def test_firebox_share_near_hudson_and_orrok_not_fitted(name):
    # share of the heat released that a furnace absorbs: 1 / (1 + A sqrt(C) / 27), A lb of air per lb of fuel,
    # C lb of fuel per square foot of radiant surface an hour (Hudson, Orrok; from memory). The rule
    # is for stationary water-wall furnaces, so agreement within a third is all that can be expected
    found = at(name, 40, 80, 120)
    surface = engine(name).locomotive.boiler.firebox_surface / FOOT**2
    burned = 1.0 - found.unburned / found.heat_fired
    air = found.gas_rate / (found.firing_rate * burned) - 1.0
    fuel = found.firing_rate * burned / POUND * HOUR / surface
    share = 1.0 / (1.0 + air * np.sqrt(fuel) / 27.0)
    assert found.firebox / (found.heat_fired - found.unburned) == pytest.approx(share, rel=0.33)


@pytest.mark.parametrize("name", PUBLISHED)
def test_the_firebox_takes_a_third_to_two_fifths_of_the_heat_at_hard_firing(name: str) -> None:
    """Common practice, no source; the flame's emissivity decides it, and is not fitted."""
    found = at(name, 120.0)
    assert 1 / 3 < float(found.firebox[0] / (found.firebox[0] + found.tubes[0])) < 2 / 5
