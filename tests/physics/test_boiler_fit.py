"""What the boiler's one set of constants gives for published boilers: fitted lines first, then lines not
fitted.

The three fitted constants are the two of the unburnt line in `fuels` and SUPERHEATER_FACTOR in
`gas_passages`. The coal is the 13,500 Btu/lb bituminous of `fuels`, the feed 60 degF: neither is stated
with the published lines.
"""

from __future__ import annotations

import numpy as np
import pytest
from boilers import LMS_CORONATION, NYC_J3A, PRR_K4S, PURDUE, PURDUE_FREE_GAS_AREA

from locosim.constants import FOOT, HOUR, POUND, POUND_PER_SQUARE_FOOT_HOUR, ZERO_CELSIUS
from locosim.physics.boiler_heat import heat_balance
from locosim.physics.fuels import BITUMINOUS

PURDUE_SURFACE = 1322.0 * FOOT**2


def at(boiler, *pounds_per_square_foot_hour, **more):
    rate = np.array(pounds_per_square_foot_hour) * POUND_PER_SQUARE_FOOT_HOUR * boiler["grate_area"]
    return heat_balance(firing_rate=rate, **boiler, fuel=BITUMINOUS, **more)


def fahrenheit(kelvin):
    return (kelvin - ZERO_CELSIUS) * 1.8 + 32.0


@pytest.mark.parametrize("boiler", [NYC_J3A, PRR_K4S], ids=["J-3a", "K4s"])
@pytest.mark.parametrize(("rate", "pounds"), [(50, 7.5), (200, 5.0)])
def test_fitted_evaporation_of_american_boilers(boiler, rate, pounds):
    # [Bruce1952], chart 16, "general": any boiler of the kind; 10 % is what the project promises
    assert float(at(boiler, rate).evaporation[0]) == pytest.approx(pounds, rel=0.10)


def test_fitted_evaporation_of_the_lms_rating():
    # [LMSRating]: 130 lb/ft2 h and 6.15 lb/lb, 800 lb of steam a square foot of grate
    found = at(LMS_CORONATION, 130)
    assert float(found.evaporation[0]) == pytest.approx(6.15, rel=0.05)
    steam = float(found.steam_rate[0]) / LMS_CORONATION["grate_area"] / POUND_PER_SQUARE_FOOT_HOUR
    assert steam == pytest.approx(800.0, rel=0.05)


@pytest.mark.parametrize("evaporated", [4.0, 6.0, 8.0, 10.0, 12.0, 14.0])
def test_fitted_evaporation_of_the_purdue_boiler(evaporated):
    # [Goss1907], from memory: E = 11.305 - 0.221 H, from and at 212 degF per lb of dry coal, H per square
    # foot of heating surface an hour; its coal is not stated
    found = at(PURDUE, *np.linspace(15, 145, 60), free_gas_area=PURDUE_FREE_GAS_AREA)
    per_dry_coal = found.equivalent_evaporation / (1.0 - BITUMINOUS.moisture)
    per_surface = found.equivalent_evaporation * found.firing_rate / PURDUE_SURFACE / (POUND / FOOT**2 / HOUR)
    wanted = 11.305 - 0.221 * evaporated
    assert np.interp(evaporated, per_surface, per_dry_coal) == pytest.approx(wanted, rel=0.06)


@pytest.mark.parametrize(
    ("rate", "efficiency", "within"), [(30, 0.80, 0.08), (70, 0.70, 0.05), (110, 0.60, 0.05)]
)
def test_weakly_fitted_efficiency(rate, efficiency, within):
    # from memory, low confidence; its fourth point, 0.50 at 150 lb/ft2 h, is missed: 0.56 is found, as the
    # published evaporations above ask for
    assert float(at(PRR_K4S, rate).efficiency[0]) == pytest.approx(efficiency, rel=within)


def test_fitted_superheat():
    # Type A superheater, from memory, low confidence: 560 degF at a low, 660 at a high rate
    low, high = fahrenheit(at(PRR_K4S, 30, 120).steam_temperature)
    assert low == pytest.approx(560.0, abs=20.0)
    assert high == pytest.approx(660.0, abs=30.0)


@pytest.mark.parametrize("evaporated", [4.0, 8.0, 12.0])
def test_smokebox_of_the_purdue_boiler_not_fitted(evaporated):
    # Goss, smokebox temperature 488.5 + 25.66 H degF, from memory: checks the textbook coefficient in the
    # tubes
    found = at(PURDUE, *np.linspace(15, 145, 60), free_gas_area=PURDUE_FREE_GAS_AREA)
    per_surface = found.equivalent_evaporation * found.firing_rate / PURDUE_SURFACE / (POUND / FOOT**2 / HOUR)
    temperature = np.interp(evaporated, per_surface, fahrenheit(found.smokebox_temperature))
    assert temperature == pytest.approx(488.5 + 25.66 * evaporated, abs=30.0)


@pytest.mark.parametrize("boiler", [NYC_J3A, PRR_K4S, LMS_CORONATION], ids=["J-3a", "K4s", "Coronation"])
def test_trends_of_the_trade(boiler):
    found = at(boiler, *np.linspace(20, 220, 41))
    assert found.efficiency[0] == pytest.approx(0.775, abs=0.025)  # 75 to 80 % at light rates
    assert found.efficiency[-1] == pytest.approx(0.50, abs=0.05)  # 45 to 55 % at forced rates
    assert np.all(np.diff(found.efficiency) < 0)
    assert np.all(np.diff(found.evaporation) < 0)
    assert np.all(np.diff(found.steam_temperature) > 0)
    assert np.all(np.diff(found.smokebox_temperature) > 0)


@pytest.mark.parametrize("boiler", [NYC_J3A, PRR_K4S, LMS_CORONATION], ids=["J-3a", "K4s", "Coronation"])
def test_firebox_share_near_hudson_and_orrok_not_fitted(boiler):
    # share of the heat released that a furnace absorbs: 1 / (1 + A sqrt(C) / 27), A lb of air per lb of fuel,
    # C lb of fuel per square foot of radiant surface an hour (Hudson, Orrok; from memory). It is for
    # stationary water-wall furnaces: a third either way is agreement between two rules of so different
    # birth
    found = at(boiler, 40, 80, 120)
    surface = boiler["firebox_surface"] / FOOT**2
    burnt = 1.0 - found.unburnt / found.fired
    air = found.gas_rate / (found.firing_rate * burnt) - 1.0
    fuel = found.firing_rate * burnt / POUND * HOUR / surface
    share = 1.0 / (1.0 + air * np.sqrt(fuel) / 27.0)
    assert found.firebox / (found.fired - found.unburnt) == pytest.approx(share, rel=0.33)
