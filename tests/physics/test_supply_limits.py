"""Limits of the steam supply, by name."""

from __future__ import annotations

import numpy as np
import pytest
from boilers import LMS_CORONATION, PRR_K4S

from locosim.constants import FOOT, HOUR, POUND, POUND_PER_SQUARE_FOOT_HOUR
from locosim.errors import OutOfRange
from locosim.physics import fuels, supply_limits
from locosim.physics.boiler_heat import heat_balance


def balance_of(boiler, high=260.0):
    rates = np.linspace(20, high, 121) * POUND_PER_SQUARE_FOOT_HOUR * boiler["grate_area"]
    return heat_balance(firing_rate=rates, **boiler, fuel=fuels.BITUMINOUS)


def test_fireman_of_a_large_british_engine():
    # 22,000 to 24,000 lb/h of steam at 3,000 lb/h of coal: a forum, of large British engines, at second hand
    balance = balance_of(LMS_CORONATION)
    steam = supply_limits.steam_of_firing(firing_rate=supply_limits.HAND_FIRING, balance=balance)
    assert 0.95 * 22_000 < steam / POUND * HOUR < 1.05 * 24_000


def test_grate_limit_is_the_handbooks():
    found = supply_limits.grate_limit(grate_area=PRR_K4S["grate_area"], fuel=fuels.BITUMINOUS)
    assert found / POUND * HOUR == pytest.approx(70 * 120)


def test_forced_steam_of_a_grate():
    # 1,000 lb of steam a square foot an hour from good coal and good draught, [Trainorders4728623]; met
    # at the 200 lb of coal where the published evaporation ends
    balance = balance_of(PRR_K4S)
    rate = 200 * POUND_PER_SQUARE_FOOT_HOUR * PRR_K4S["grate_area"]
    steam = supply_limits.steam_of_firing(firing_rate=rate, balance=balance) / PRR_K4S["grate_area"]
    assert steam == pytest.approx(1000 * POUND / FOOT**2 / HOUR, rel=0.05)


def test_fire_ends_where_steam_no_longer_rises():
    balance = balance_of(PRR_K4S, high=500.0)
    top = supply_limits.fire_limit(balance=balance)
    assert balance.firing_rate[0] < top < balance.firing_rate[-1]
    most = supply_limits.steam_of_firing(firing_rate=2 * top, balance=balance)
    assert most == balance.steam_rate.max()
    with pytest.raises(OutOfRange, match="below the"):
        supply_limits.steam_of_firing(firing_rate=0.5 * balance.firing_rate[0], balance=balance)


def test_feed_with_one_device_out():
    assert supply_limits.feed_limit(rates=[2.0, 3.0]) == 5.0
    assert supply_limits.feed_limit_one_out(rates=[2.0, 3.0]) == 2.0
    assert supply_limits.feed_limit_one_out(rates=[2.0]) == 0.0
    assert supply_limits.feed_limit_one_out(rates=[]) == 0.0


@pytest.mark.parametrize("share", [0.6, 0.9, 1.03])
def test_leaner_fuel_keeps_its_sum_and_air(share):
    base = fuels.BITUMINOUS
    found = fuels.with_heating_value(fuel=base, heating_value=share * base.heating_value)
    parts = (found.carbon, found.hydrogen, found.oxygen, found.sulphur, found.moisture, found.ash)
    assert sum(parts) <= 1.0 + 1e-9
    assert found.air_demand / found.heating_value == pytest.approx(base.air_demand / base.heating_value)
    assert found.ash >= 0.0
    assert (found.ash > base.ash) == (share < 1.0)
