"""The fast boiling line against the industrial formulation, and the storage of steam against the handbook."""

from __future__ import annotations

import numpy as np
import pytest
from iapws import IAPWS97

from locosim.constants import ATMOSPHERE, POUND, PSI
from locosim.physics import boiler_water, steam

PRESSURES = np.exp(
    np.linspace(np.log(boiler_water.LEAST_PRESSURE), np.log(boiler_water.GREATEST_PRESSURE), 61)
)


@pytest.mark.parametrize(
    ("fast", "exact", "error"),
    [
        (boiler_water.boiling_temperature, steam.saturation_temperature, 1.2e-7),
        (boiler_water.water_enthalpy, steam.liquid_enthalpy, 7e-6),
        (boiler_water.latent_heat, steam.latent_heat, 6e-6),
        (boiler_water.water_density, steam.liquid_density, 3e-6),
        (boiler_water.steam_density, steam.vapour_density, 9e-6),
    ],
)
def test_errors_are_as_stated(fast, exact, error):
    found = np.array([fast(p) for p in PRESSURES])
    wanted = np.array([exact(pressure=p) for p in PRESSURES])
    assert np.max(np.abs(found / wanted - 1.0)) < error


@pytest.mark.parametrize("bar", [0.6, 1.0, 5.0, 15.0, 24.0])
def test_slopes_are_those_of_an_unrelated_library(bar):
    step = 1e-3 * bar
    low, high = IAPWS97(P=(bar - step) / 10, x=0), IAPWS97(P=(bar + step) / 10, x=0)
    heat = (high.h - low.h) * 1e3 / (2 * step * 1e5)
    assert boiler_water.water_enthalpy_slope(bar * 1e5) == pytest.approx(heat, rel=6e-4)
    warmth = (high.T - low.T) / (2 * step * 1e5)
    assert boiler_water.boiling_temperature_slope(bar * 1e5) == pytest.approx(warmth, rel=1e-4)


def test_water_supplies_one_boiler_horsepower_for_a_minute():
    # [Babcock1919], storage capacity: about half a cubic foot of water falling from 180 to 150 psi gives one
    # boiler horsepower (30 lb of steam an hour) for a minute; the book rounds its volume to the half foot
    pressure, end = 180 * PSI + ATMOSPHERE, 150 * PSI + ATMOSPHERE
    water = 0.5 * 0.3048**3 * boiler_water.water_density(pressure)
    made = 0.0
    step = 0.01
    while pressure > end:
        made += step
        water -= step * 0.001
        rate = boiler_water.pressure_rate(pressure, water, 0.0, 0.0, 0.0, 0.0, 0.001)
        pressure += rate * step
    steam_made = made * 0.001
    assert steam_made / POUND == pytest.approx(30.0 / 60.0, rel=0.1)


def test_steady_boiler_keeps_its_pressure():
    pressure, feed = 1.4e6, 3.0
    cold = steam.enthalpy(pressure=pressure, temperature=300.0)
    heat = feed * (steam.vapour_enthalpy(pressure=pressure) - cold)
    rate = boiler_water.pressure_rate(pressure, 8000.0, 5e6, heat, feed, cold, feed)
    held = 8000.0 * boiler_water.water_enthalpy_slope(pressure)
    assert rate * held == pytest.approx(0.0, abs=3e-5 * heat)


def test_plain_text_gives_the_same():
    plain = getattr(boiler_water.pressure_rate, "py_func", boiler_water.pressure_rate)
    given = (1.2e6, 7000.0, 4e6, 6e6, 2.0, 3e5, 2.5)
    assert plain(*given) == pytest.approx(boiler_water.pressure_rate(*given), rel=1e-13)
