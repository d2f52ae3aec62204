"""Draft: Bourne's rule, and the limit by the blast."""

from __future__ import annotations

import numpy as np
import pytest
from boilers import EXPRESS

from locosim.constants import FOOT, POUND_PER_SQUARE_FOOT_HOUR, PSI
from locosim.physics.boiler import draft as draft
from locosim.physics.boiler.fuels import BITUMINOUS, combustion_gas
from locosim.physics.boiler.heat_balance import heat_balance


def test_six_inches_of_water_require_about_three_psi():
    # [Bourne1865]: an inch of mercury for an inch of water, "about 3 lbs." for six
    raised = draft.available_draft(back_pressure=3.0 * PSI)
    assert raised / draft.INCH_OF_WATER == pytest.approx(6.0, rel=0.03)


def express():
    rates = np.linspace(20, 200, 40) * POUND_PER_SQUARE_FOOT_HOUR * EXPRESS["grate_area"]
    balance = heat_balance(firing_rate=rates, **EXPRESS, fuel=BITUMINOUS)
    drop = draft.tube_pressure_drop(
        gas_rate=balance.gas_rate,
        free_gas_area=EXPRESS["barrel"].free_gas_area,
        tube_length=19 * FOOT,
        tube_diameter=0.05,
        gas_temperature=np.full_like(balance.gas_rate, 1000.0),
        roughness_factor=1.3,
    )
    return balance, draft.required_draft(tube_drop=drop)


def test_the_pressure_drop_of_a_tube_by_the_textbook():
    """Blasius in smooth tubes, half a head lost at entry and one at exit, the gas constant from the flue gas."""
    gas = combustion_gas(firing_rate_per_grate_area=np.array([0.14]), fuel=BITUMINOUS)
    moles = gas.carbon_dioxide / 44.0 + gas.water / 18.0 + gas.nitrogen / 28.15 + gas.oxygen / 32.0
    constant = float(8314.5 * moles[0] / gas.mass[0])
    flux, length, diameter, temperature, viscosity = 6.0, 5.0, 0.05, 900.0, 3.9e-5  # viscosity from memory
    density = 101325.0 / (constant * temperature)
    friction = 0.316 * (flux * diameter / viscosity) ** -0.25
    expected = (friction * length / diameter + 0.5 + 1.0) * flux**2 / (2.0 * density)
    found = draft.tube_pressure_drop(
        gas_rate=flux * 0.5,
        free_gas_area=0.5,
        tube_length=length,
        tube_diameter=diameter,
        gas_temperature=temperature,
        roughness_factor=1.0,
    )
    assert found == pytest.approx(expected, rel=0.03)


def test_draft_and_back_pressure_of_the_handbook():
    # [Bourne1865]: 12 in of water in the smokebox, 4 in the firebox: the tubes take two thirds
    tubes = 8.0 * 249.089
    open_smokebox = draft.required_draft(
        tube_drop=tubes, tube_share_of_draft=draft.TUBE_SHARE_OF_DRAFT_OPEN_SMOKEBOX
    )
    assert open_smokebox == pytest.approx(12.0 * 249.089)
    assert draft.required_draft(tube_drop=100.0) == pytest.approx(
        300.0
    )  # a third each: tubes, front end, fire
    # an inch of water of 249.089 Pa for an inch of mercury of 3,386.39 Pa, conventional
    assert draft.available_draft(back_pressure=10e3) == pytest.approx(10e3 * 249.089 / 3386.389)
    assert draft.available_draft(back_pressure=10e3, ratio=0.2) == pytest.approx(2000.0)
