"""Safety valves against the gas dynamics of a nozzle; the rest by its laws."""

from __future__ import annotations

import math

import numpy as np
import pytest
from iapws import IAPWS97

from locosim.constants import FOOT, HOUR, INCH, POUND, PSI
from locosim.physics import boiler_losses


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


def test_safety_valves_open_over_six_psi():
    pressure, area = 200.0 * PSI, 10.0 * INCH**2
    full = boiler_losses.napier_flow(pressure=pressure + 6 * PSI, area=area)

    def flow(above_psi):
        return boiler_losses.safety_valve_flow(
            pressure=pressure + above_psi * PSI, set_pressure=pressure, area=area
        )

    assert flow(-5.0) == 0.0
    assert flow(0.0) == 0.0
    assert flow(6.0) == pytest.approx(full)
    assert flow(3.0) == pytest.approx(0.5 * full, rel=0.02)
    assert flow(9.0) == pytest.approx(full * 209.0 / 206.0)


def test_valves_of_the_rule_blow_what_the_boiler_makes():
    # the rule of [MasterMechanics] against Napier: valves by it pass about the boiler's full steam
    surface, lift, pressure = 3000.0 * FOOT**2, 0.1 * INCH, 215.0 * PSI
    diameters = boiler_losses.valve_diameters(heating_surface=surface, lift=lift, pressure=pressure)
    area = boiler_losses.valve_opening(diameter=diameters, lift=lift)
    a_square_foot = boiler_losses.napier_flow(pressure=pressure, area=area) / 3000.0 / POUND * HOUR
    assert 3.0 < a_square_foot < 12.0  # a hard-worked boiler makes 10 to 12 lb a square foot an hour


def test_standing_loss_grows_with_heat_and_wind():
    still = {"outer_surface": 60.0, "water_temperature": 470.0, "air_temperature": 290.0}
    calm = boiler_losses.standing_loss(**still, wind=0.0)
    assert 2e4 < calm < 1e5  # some tens of kilowatts, common practice, no source
    assert boiler_losses.standing_loss(**still, wind=-20.0) > calm
    assert boiler_losses.standing_loss(**(still | {"air_temperature": 250.0}), wind=0.0) > calm
    cold = boiler_losses.standing_loss(**(still | {"water_temperature": 290.0}), wind=10.0)
    assert cold == 0.0


def test_outside_of_a_cylinder():
    assert boiler_losses.boiler_outside(diameter=2.0, length=9.0) == pytest.approx(19.0 * math.pi)


def test_auxiliaries_are_in_order_and_sourced():
    for name, use in boiler_losses.AUXILIARY_STEAM.items():
        assert 0.0 < use.least < use.usual < use.greatest < 0.3, name
        assert use.source
