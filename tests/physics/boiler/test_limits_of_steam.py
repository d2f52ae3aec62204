"""Limits of the steam supply, by name."""

from __future__ import annotations

import numpy as np
import pytest
from boilers import EXPRESS

from locosim.constants import HOUR, POUND
from locosim.errors import OutOfRange
from locosim.physics.boiler import fuels
from locosim.physics.boiler import limits as supply_limits
from locosim.physics.boiler.heat_balance import heat_balance


def test_grate_limit_is_that_of_the_handbook():
    found = supply_limits.grate_limit(grate_area=EXPRESS["grate_area"], fuel=fuels.BITUMINOUS)
    assert found / POUND * HOUR == pytest.approx(63 * 120)


def test_fire_limit_is_where_steam_no_longer_rises():
    rates = np.linspace(20, 500, 121) * fuels.POUND_PER_SQUARE_FOOT_HOUR * EXPRESS["grate_area"]
    balance = heat_balance(firing_rate=rates, **EXPRESS, fuel=fuels.BITUMINOUS)
    top = supply_limits.fire_limit(balance=balance)
    assert balance.firing_rate[0] < top < balance.firing_rate[-1]
    most = supply_limits.steam_from_firing_rate(firing_rate=2 * top, balance=balance)
    assert most == balance.steam_rate.max()
    with pytest.raises(OutOfRange, match="below the"):
        supply_limits.steam_from_firing_rate(firing_rate=0.5 * balance.firing_rate[0], balance=balance)


def test_feed_with_the_largest_device_failed():
    assert supply_limits.feed_limit(rates=[2.0, 3.0]) == 5.0
    assert supply_limits.feed_limit_largest_out(rates=[2.0, 3.0]) == 2.0
    assert supply_limits.feed_limit_largest_out(rates=[2.0]) == 0.0
    assert supply_limits.feed_limit_largest_out(rates=[]) == 0.0


@pytest.mark.parametrize("share", [0.6, 0.9, 1.03])
def test_leaner_fuel_keeps_its_sum_and_air(share):
    base = fuels.BITUMINOUS
    found = fuels.scaled_to_heating_value(fuel=base, heating_value=share * base.heating_value)
    parts = (found.carbon, found.hydrogen, found.oxygen, found.sulfur, found.moisture, found.ash)
    assert sum(parts) <= 1.0 + 1e-9
    assert found.theoretical_air / found.heating_value == pytest.approx(
        base.theoretical_air / base.heating_value
    )
    assert found.ash >= 0.0
    assert (found.ash > base.ash) == (share < 1.0)
