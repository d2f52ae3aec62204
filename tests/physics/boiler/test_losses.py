"""Heat lost by the outside of the boiler."""

from __future__ import annotations

import math

import pytest

from locosim.physics.boiler import losses as boiler_losses


def test_radiation_loss_grows_with_temperature_difference_and_wind():
    still = {"outer_surface": 60.0, "water_temperature": 470.0, "air_temperature": 290.0}
    calm = boiler_losses.radiation_loss(**still, wind=0.0)
    assert 2e4 < calm < 1e5  # some tens of kilowatts, common practice, no source
    assert boiler_losses.radiation_loss(**still, wind=-20.0) > calm
    assert boiler_losses.radiation_loss(**(still | {"air_temperature": 250.0}), wind=0.0) > calm
    cold = boiler_losses.radiation_loss(**(still | {"water_temperature": 290.0}), wind=10.0)
    assert cold == 0.0


def test_a_lagged_boiler_loses_5_watts_per_square_meter_and_kelvin_standing_and_twice_that_at_60_mph():
    """Common practice, no source."""
    unit = {"outer_surface": 1.0, "water_temperature": 401.0, "air_temperature": 400.0}
    assert boiler_losses.radiation_loss(**unit, wind=0.0) == pytest.approx(5.0, rel=0.1)
    assert boiler_losses.radiation_loss(**unit, wind=26.8) == pytest.approx(10.0, rel=0.1)


def test_outer_surface_of_a_cylinder():
    assert boiler_losses.boiler_outer_surface(diameter=2.0, length=9.0) == pytest.approx(19.0 * math.pi)


def test_wind_adds_1_watt_for_the_root_of_its_speed():
    unit = {"outer_surface": 10.0, "water_temperature": 450.0, "air_temperature": 300.0}
    assert boiler_losses.radiation_loss(**unit, wind=0.0) == pytest.approx(5.0 * 1500.0)
    assert boiler_losses.radiation_loss(**unit, wind=-9.0) == pytest.approx(8.0 * 1500.0)
    # 6 psi from first opening to full lift; 49 CFR 230.48, from memory
    assert pytest.approx(6.0 * 6894.757) == boiler_losses.SAFETY_VALVE_LIFT_RANGE
