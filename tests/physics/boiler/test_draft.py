"""Draft: Bourne's rule, and the limit by the blast."""

from __future__ import annotations

import numpy as np
import pytest
from boilers import EXPRESS

from locosim.constants import FOOT, POUND_PER_SQUARE_FOOT_HOUR, PSI
from locosim.physics.boiler import draft as draft
from locosim.physics.boiler.fuels import BITUMINOUS
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
