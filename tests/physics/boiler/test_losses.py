"""Safety valves against the gas dynamics of a nozzle; the rest by its laws."""

from __future__ import annotations

import math

import numpy as np
import pytest
from iapws import IAPWS97

from locosim.constants import PSI
from locosim.physics.boiler import losses as boiler_losses


@pytest.mark.parametrize("psi", [115.0, 200.0, 300.0])
def test_napier_is_the_choked_nozzle(psi):
    # greatest mass flux of a loss-free expansion from dry steam, by an unrelated library
    start = IAPWS97(P=psi * PSI / 1e6, x=1)
    flux = []
    for ratio in np.linspace(0.45, 0.75, 61):
        state = IAPWS97(P=psi * PSI / 1e6 * ratio, s=start.s)
        flux.append(math.sqrt(2e3 * (start.h - state.h)) / state.v)
    found = boiler_losses.napier_flow(pressure=psi * PSI, area=1e-4)
    assert found == pytest.approx(max(flux) * 1e-4, rel=0.03)  # Napier's rule is an approximation


def test_standing_loss_grows_with_heat_and_wind():
    still = {"outer_surface": 60.0, "water_temperature": 470.0, "air_temperature": 290.0}
    calm = boiler_losses.radiation_loss(**still, wind=0.0)
    assert 2e4 < calm < 1e5  # some tens of kilowatts, common practice, no source
    assert boiler_losses.radiation_loss(**still, wind=-20.0) > calm
    assert boiler_losses.radiation_loss(**(still | {"air_temperature": 250.0}), wind=0.0) > calm
    cold = boiler_losses.radiation_loss(**(still | {"water_temperature": 290.0}), wind=10.0)
    assert cold == 0.0


def test_outside_of_a_cylinder():
    assert boiler_losses.boiler_outer_surface(diameter=2.0, length=9.0) == pytest.approx(19.0 * math.pi)
