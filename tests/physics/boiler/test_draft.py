"""Draft: Bourne's rule, and the limit by the blast."""

from __future__ import annotations

import math

import numpy as np
import pytest
from boilers import EXPRESS

from locosim.constants import ATMOSPHERE, FOOT, INCH, POUND_PER_SQUARE_FOOT_HOUR, PSI
from locosim.physics.boiler import draft as draft
from locosim.physics.boiler.fuels import BITUMINOUS
from locosim.physics.boiler.heat_balance import heat_balance
from locosim.physics.steam.nozzle_flow import solve_upstream_pressure


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


def test_a_smaller_nozzle_raises_the_draft_limit():
    balance, needed = express()

    def limit(diameter):
        area, flow_work = 0.25 * math.pi * (diameter * INCH) ** 2, ATMOSPHERE / 0.55
        back = (
            np.array([solve_upstream_pressure(ATMOSPHERE, flow_work, area, s) for s in balance.steam_rate])
            - ATMOSPHERE
        )
        return draft.draft_limit(
            firing_rate=balance.firing_rate, needed=needed, raised=draft.available_draft(back_pressure=back)
        )

    assert limit(6.0) >= limit(7.0) >= limit(9.0)
    assert limit(6.0) > limit(9.0)


def test_draft_limit_is_where_available_equals_required_draft():
    balance, needed = express()
    raised = np.full_like(needed, draft.available_draft(back_pressure=12.0 * PSI))
    limit = draft.draft_limit(firing_rate=balance.firing_rate, needed=needed, raised=raised)
    at_limit = np.interp(limit, balance.firing_rate, needed)
    assert at_limit == pytest.approx(float(raised[0]), rel=1e-9)
    firing_rate_per_grate_area = limit / EXPRESS["grate_area"] / POUND_PER_SQUARE_FOOT_HOUR
    assert 110 < firing_rate_per_grate_area < 200  # such engines were forced to about 150, from memory
    everywhere = draft.draft_limit(firing_rate=balance.firing_rate, needed=needed, raised=10 * needed)
    assert everywhere == balance.firing_rate[-1]
    nowhere = draft.draft_limit(firing_rate=balance.firing_rate, needed=needed, raised=0 * needed)
    assert nowhere == balance.firing_rate[0]
