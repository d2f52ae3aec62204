"""Errors stated for the steam table, measured on random states against the formulation itself."""

from __future__ import annotations

import math

import numpy as np
import pytest

from locosim.physics.steam import properties as steam
from locosim.physics.steam.property_table import steam_state, steam_table


def compare(pressure, enthalpy):
    """Relative error of pressure and of temperature [K] at one state."""
    density = steam.density_at_enthalpy(pressure=pressure, enthalpy=enthalpy)
    flow_work, temperature, _ = steam_state(density, enthalpy - pressure / density, steam_table())
    exact = steam.temperature_at_enthalpy(pressure=pressure, enthalpy=enthalpy)
    return abs(density * flow_work / pressure - 1), abs(temperature - exact)


@pytest.fixture(scope="module")
def random_pressures():
    generator = np.random.default_rng(7)
    return np.exp(generator.uniform(math.log(0.3e5), math.log(30e5), 4000)), generator


def test_wet_states(random_pressures):
    pressures, generator = random_pressures
    errors = np.array(
        [
            compare(p, steam.wet_steam_enthalpy(pressure=p, quality=x))
            for p, x in zip(pressures, generator.uniform(0.6, 1.0, pressures.size), strict=True)
        ]
    )
    assert errors[:, 0].max() < 1e-4
    assert errors[:, 1].max() < 0.05


def test_superheated_states(random_pressures):
    pressures, generator = random_pressures
    errors = []
    for p, share in zip(pressures, generator.uniform(0.0, 1.0, pressures.size), strict=True):
        boiling = steam.saturation_temperature(pressure=p)
        t = boiling + 0.1 + share * (480.0 + 273.15 - boiling - 0.1)
        density = steam.density(pressure=p, temperature=t)
        energy = steam.internal_energy(pressure=p, temperature=t)
        flow_work, temperature, superheat_energy = steam_state(density, energy, steam_table())
        errors.append((abs(density * flow_work / p - 1), abs(temperature - t)))
        assert superheat_energy > -1.0
    assert np.max([e[0] for e in errors]) < 1e-4
    assert np.max([e[1] for e in errors]) < 0.05


def test_sign_of_the_energy_separates_wet_from_superheated():
    table = steam_table()
    for pressure in (0.5e5, 5e5, 15e5):
        density = steam.vapor_density(pressure=pressure)
        energy = steam.vapor_energy(pressure=pressure)
        assert steam_state(density, energy, table)[2] == pytest.approx(0.0, abs=20.0)
        assert steam_state(density, energy - 2e4, table)[2] < 0
        assert steam_state(density, energy + 2e4, table)[2] > 0
