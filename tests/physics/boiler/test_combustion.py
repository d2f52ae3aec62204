"""Combustion against textbook flame temperatures and gas tables."""

from __future__ import annotations

import numpy as np
import pytest

from locosim.constants import POUND_PER_SQUARE_FOOT_HOUR
from locosim.physics.boiler import combustion, fuels

METHANE = {"carbon": 0.7487, "hydrogen": 0.2513, "oxygen": 0.0, "sulfur": 0.0}


def test_theoretical_air_of_carbon_and_methane():
    # molar masses: C + O2, CH4 + 2 O2, air 23.14 % oxygen by mass; the handbook's factors are rounded
    carbon = combustion.theoretical_air(carbon=1.0, hydrogen=0.0, oxygen=0.0, sulfur=0.0)
    assert carbon == pytest.approx(31.998 / 12.011 / 0.2314, rel=0.002)
    assert combustion.theoretical_air(**METHANE) == pytest.approx(2 * 31.998 / 16.043 / 0.2314, rel=0.005)


def test_oxygen_in_the_fuel_reduces_theoretical_air():
    without = combustion.theoretical_air(carbon=0.5, hydrogen=0.06, oxygen=0.0, sulfur=0.0)
    within = combustion.theoretical_air(carbon=0.5, hydrogen=0.06, oxygen=0.4, sulfur=0.0)
    assert without - within == pytest.approx(0.4 / combustion.OXYGEN_IN_AIR, rel=0.01)


def test_mass_of_flue_gas_is_mass_of_fuel_and_air():
    gas = combustion.flue_gas(**METHANE, moisture=0.0, excess_air=np.array([0.0, 0.5]))
    supplied = 1.0 + combustion.theoretical_air(**METHANE) * np.array([1.0, 1.5])
    assert gas.mass == pytest.approx(supplied, rel=0.003)  # the handbook's rounded factors


@pytest.mark.parametrize(
    ("species", "molar_mass", "kilojoule_per_mole"),
    [  # JANAF tables, enthalpy at 2,000 K above 298.15 K; from memory
        ("nitrogen", 28.013, 56.137),
        ("oxygen", 31.998, 59.175),
        ("carbon_dioxide", 44.010, 91.439),
        ("water", 18.015, 72.788),
    ],
)
def test_gas_enthalpy_is_near_the_janaf_tables(species, molar_mass, kilojoule_per_mole):
    no_gas = dict.fromkeys(("carbon_dioxide", "water", "nitrogen", "oxygen"), np.array(0.0))
    a, b = combustion.FlueGas(**{**no_gas, species: np.array(1.0)}).heat_capacity_coefficients
    found = combustion.gas_enthalpy(temperature=np.array(2000.0), a=a, b=b)
    assert float(found) == pytest.approx(kilojoule_per_mole / molar_mass * 1e6, rel=0.012)


def flame_temperature(*, excess_air, lost=0.0):
    """Flame temperature of methane, with a share of the heat lost."""
    gas = combustion.flue_gas(**METHANE, moisture=0.0, excess_air=excess_air)
    a, b = gas.heat_capacity_coefficients
    heat = 55.5e6 * (1.0 - lost) - gas.water * combustion.LATENT_HEAT_AT_REFERENCE
    return combustion.gas_temperature(enthalpy=heat, a=a, b=b)


def test_flame_temperature_of_methane():
    # methane in dry air without excess, no dissociation: 2,328 K (Cengel and Boles, example; from memory)
    # the handbook's rounded factors give 1.1 % more air, the heat of gas is fitted to 0.9 %
    assert float(flame_temperature(excess_air=np.array(0.0))) == pytest.approx(2328.0, rel=0.02)


def test_flame_temperature_falls_with_excess_air_and_with_losses():
    air = np.linspace(0.0, 1.0, 11)
    assert np.all(np.diff(flame_temperature(excess_air=air)) < 0)
    assert np.all(flame_temperature(excess_air=air, lost=0.2) < flame_temperature(excess_air=air))


def test_temperature_inverts_enthalpy():
    temperature = np.linspace(260.0, 2400.0, 50)
    heat = combustion.gas_enthalpy(temperature=temperature, a=np.array(1.1e4), b=np.array(2.5))
    back = combustion.gas_temperature(enthalpy=heat, a=np.array(1.1e4), b=np.array(2.5))
    assert back == pytest.approx(temperature, rel=1e-13)


def dry_oxygen(rate: float) -> float:
    """Oxygen in the dry flue gas by volume, at a firing rate of bituminous coal in lb/ft2 h."""
    gas = fuels.combustion_gas(
        firing_rate_per_grate_area=np.array([rate * POUND_PER_SQUARE_FOOT_HOUR]), fuel=fuels.BITUMINOUS
    )
    moles = {
        "carbon": gas.carbon_dioxide / 44.0,
        "oxygen": gas.oxygen / 32.0,
        "nitrogen": gas.nitrogen / 28.15,
    }
    return float(moles["oxygen"][0] / sum(amount[0] for amount in moles.values()))


def test_flue_gas_of_a_hard_fire_has_the_oxygen_of_two_trips_of_1894():
    """[DinglerJacket1897]: 4.15 and 1.97 % of oxygen; the firing rate is not printed."""
    assert 0.0197 <= dry_oxygen(200.0) <= 0.0415
    assert dry_oxygen(20.0) > 0.05  # a thin fire lets more air through


# Excess air at the lowest and the highest firing rate, and the greatest firing rate [lb/ft2 h]. Of bituminous coal 50 %
# is from [Babcock1919], 120 from [Cole1914] (from memory); the others common practice, no source, written down here a
# second time so that none changes unseen.
STATED = {
    "bituminous": (0.5, 0.2, 120.0),
    "subbituminous": (0.5, 0.2, 150.0),
    "anthracite": (0.6, 0.3, 65.0),
    "wood": (0.6, 0.3, 150.0),
    "oil": (0.25, 0.15, 80.0),
}


@pytest.mark.parametrize("name", sorted(STATED))
def test_excess_air_and_greatest_rate_of_each_fuel(name):
    fuel = fuels.FUELS[name]
    low, high, rate = STATED[name]
    assert (fuel.excess_air_low_rate, fuel.excess_air_high_rate) == (low, high)
    assert fuel.grate_limit / POUND_PER_SQUARE_FOOT_HOUR == pytest.approx(rate)
    assert set(STATED) == set(fuels.FUELS)
