"""Steam supplies by both methods worked by hand: their tables, their limits and what is shown beside them."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import iapws
import numpy as np
import pytest
import trials

from locosim.engine.boiler.boiler_table import PLOT_STEP, boiler_table
from locosim.engine.boiler.by_handbook import handbook_supply
from locosim.engine.boiler.by_heat_balance import (
    boiler_radiation_loss,
    heat_balance_supply,
    make_fuel,
    required_smokebox_draft,
)
from locosim.engine.boiler.steam_supply import SteamSupply, SupplyLimit
from locosim.engine.boiler.stored_heat import metal_mass, short_efforts
from locosim.errors import OutOfRange
from locosim.model import Assumptions, Crew, FeedDevice, Fuel, Locomotive
from locosim.physics.boiler import draft

POUND, HOUR, SQUARE_FOOT = 0.45359237, 3600.0, 0.3048**2
RATE = POUND / (SQUARE_FOOT * HOUR)  # lb/ft2 h
BTU_PER_POUND = 1055.05585 / POUND
ENGINE = trials.locomotive()
GRATE = ENGINE.boiler.grate_area


def fired(how: str, **boiler: Any) -> Locomotive:
    return replace(ENGINE, boiler=replace(ENGINE.boiler, firing=how, **boiler))


def limits(supply: SteamSupply) -> dict[str, SupplyLimit]:
    return {limit.name: limit for limit in supply.limits}


def bruce(rate: np.ndarray) -> np.ndarray:
    """Steam of the handbook for coal of 12,000 Btu/lb [kg/s], 7.5 at 50 and 5.0 at 200 lb/ft2 h for 13,500."""
    return np.asarray(GRATE * rate * RATE * (7.5 - 2.5 * (rate - 50.0) / 150.0) * 12.0 / 13.5)


def by_handbook(engine: Locomotive = ENGINE, **crew: Any) -> SteamSupply:
    coal = Fuel(heating_value=12_000 * BTU_PER_POUND)
    return handbook_supply(engine, coal, Crew(**crew), Assumptions(tender_water_temperature=290.0))


def test_the_table_of_the_handbook() -> None:
    found = by_handbook()
    rates = np.linspace(0.0, 220.0, 111)
    assert found.firing_rates == pytest.approx(rates * RATE * GRATE)
    assert found.steam == pytest.approx(bruce(rates))
    pressure = ENGINE.boiler.absolute_pressure / 1e6
    dry = 1e3 * iapws.IAPWS97(P=pressure, x=1.0).h
    feed = 1e3 * iapws.IAPWS97(P=pressure, T=290.0).h
    assert found.feed_enthalpy == pytest.approx(feed, rel=1e-3)
    assert found.evaporation_heat == pytest.approx(dry - feed, rel=1e-4)
    assert found.heat == pytest.approx(bruce(rates) * (dry - feed), rel=1e-4)
    assert (found.radiation_loss, found.tender_water_ratio) == (0.0, 1.0)
    assert found.steam_temperature is None  # no rule for superheat
    wet = by_handbook(trials.locomotive(superheater=False))
    assert wet.steam_temperature is not None
    assert wet.steam_temperature == pytest.approx(np.full(111, wet.saturation_temperature))
    assert wet.saturation_temperature == pytest.approx(iapws.IAPWS97(P=pressure, x=1.0).T, abs=0.01)


def test_the_limits_of_the_handbook() -> None:
    found = limits(by_handbook(max_firing=100.0 * RATE * GRATE))
    assert found["grate"].steam == pytest.approx(float(bruce(np.array(120.0))), rel=1e-3)
    assert found["crew firing rate"].steam == pytest.approx(float(bruce(np.array(100.0))))
    assert found["crew firing rate"].reached
    devices = sum(device.max_rate for device in ENGINE.feed_devices)
    assert found["feed devices"].steam == devices
    surface = next(limit for name, limit in found.items() if "surface" in name)
    assert surface.steam == pytest.approx(57.0 / HOUR * ENGINE.boiler.evaporative_heating_surface)
    assert "feed devices" not in limits(by_handbook(replace(ENGINE, feed_devices=())))
    # a rate at the end of the table and beyond is not reached
    for share, reached in ((0.999, True), (1.0, False), (1.5, False)):
        crew = limits(by_handbook(max_firing=share * 220.0 * RATE * GRATE))["crew firing rate"]
        assert crew.reached == reached
    own = limits(by_handbook(fired("hand", max_firing_rate=90.0 * RATE)))
    assert own["grate"].steam == pytest.approx(float(bruce(np.array(90.0))), rel=1e-3)
    assert own["fireman"].steam == pytest.approx(
        float(bruce(np.array(3000.0 * POUND / HOUR / RATE / GRATE))), rel=1e-3
    )
    assert "stoker" in limits(by_handbook(fired("stoker")))


def test_the_grate_of_an_engine_may_have_its_own_rate() -> None:
    supply = heat_balance_supply(fired("hand", max_firing_rate=90.0 * RATE), Fuel(), Crew())
    by_grate = limits(supply)["grate"].steam
    assert supply.firing_rate_for(by_grate) == pytest.approx(90.0 * RATE * GRATE, rel=1e-6)


def test_the_fire_limits_where_more_fuel_makes_no_more_steam() -> None:
    supply = heat_balance_supply(ENGINE, Fuel(), Crew(max_firing=40.0))
    top = int(np.argmax(supply.steam))
    found = limits(supply)
    inside = top < len(supply.steam) - 1
    assert ("fire" in found) == inside
    if inside:
        assert found["fire"].steam == pytest.approx(float(supply.steam[top]))
        assert found["fire"].reached
    assert not found["crew firing rate"].reached
    assert found["crew firing rate"].steam == pytest.approx(float(supply.steam.max()))
    assert found["grate"].reached


def test_the_rating_with_the_largest_device_out() -> None:
    one, two = FeedDevice(name="a", max_rate=2.0), FeedDevice(name="b", max_rate=3.0)
    for devices, expected in (((one, two), [2.0]), ((two,), []), ((), [])):
        supply = heat_balance_supply(replace(ENGINE, feed_devices=devices), Fuel(), Crew())
        found = [rating.steam for rating in supply.ratings if rating.name == "feed devices, largest one out"]
        assert found == expected


def test_radiation_of_a_boiler_by_hand() -> None:
    """5 W/(m2 K) in still air and 1 for the root of the wind, against 15 degC; a fifth of the heating surface."""
    boiler, assumed = ENGINE.boiler, Assumptions(boiler_wind_speed=9.0)
    boiling = iapws.IAPWS97(P=boiler.absolute_pressure / 1e6, x=1.0).T
    by_rule = 8.0 * 0.2 * boiler.evaporative_heating_surface * (boiling - 288.15)
    assert boiler_radiation_loss(boiler, assumed) == pytest.approx(by_rule, rel=1e-4)
    # one dimension of two is not enough to know its outside
    for half in ({"shell_inside_diameter": 1.6}, {"water_space_length": 6.0}):
        try:
            known = replace(boiler, **half)
        except OutOfRange:
            continue
        assert boiler_radiation_loss(known, assumed) == pytest.approx(by_rule, rel=1e-4)


def test_the_draft_of_a_fire_is_that_of_its_gas_at_its_mean_temperature() -> None:
    supply = heat_balance_supply(ENGINE, Fuel(), Crew())
    balance = supply.balance
    assert balance is not None
    found = required_smokebox_draft(ENGINE.boiler, balance, Assumptions(draft_roughness_factor=1.4))
    area = ENGINE.boiler.tube_surface
    assert area is not None
    mean = 0.5 * (balance.firebox_exit_temperature + balance.smokebox_temperature)
    # through a four hundredth of the tube surface, 5 cm wide and 5 m long; a third of the draft is that of the tubes
    drop = draft.tube_pressure_drop(
        gas_rate=balance.gas_rate, free_gas_area=area / 400.0, tube_length=5.0, tube_diameter=0.05,
        gas_temperature=mean, roughness_factor=1.4,
    )  # fmt: skip
    assert found == pytest.approx(3.0 * drop, rel=1e-6)


def test_a_fuel_by_its_kind_and_value() -> None:
    assert make_fuel(ENGINE, kind="wood", heating_value=12e6) == Fuel(kind="wood", heating_value=12e6)
    assert make_fuel(ENGINE, kind=None, heating_value=28e6) == Fuel(kind="bituminous", heating_value=28e6)
    assert make_fuel(fired("oil"), kind=None, heating_value=None) == Fuel(kind="oil")


def test_a_table_of_a_boiler_by_hand() -> None:
    table = boiler_table(ENGINE, drafts=(200.0,), firing_rates=(0.1,))
    supply, balance = table.supply, table.supply.balance
    assert balance is not None
    assert table.points[0].firing_rate_per_grate_area == pytest.approx(20.0 * RATE)
    assert pytest.approx(2.0 * RATE) == PLOT_STEP
    by_rate, by_draft = table.forced
    assert (by_rate.asked, by_draft.asked) == ("firing rate", "draft")
    assert by_rate.point.fuel == pytest.approx(0.1 * GRATE)
    assert by_draft.point.draft == pytest.approx(200.0, rel=1e-6)
    assert by_draft.point.fuel == pytest.approx(supply.firing_rate_at_draft(200.0))
    assert by_draft.point.firing_rate_per_grate_area == pytest.approx(by_draft.point.fuel / GRATE)
    for limit in table.limits:
        if limit.steam is not None:
            expected = supply.firing_rate_for(limit.steam) / GRATE
            assert limit.firing_rate_per_grate_area == pytest.approx(expected)
    for point in table.points:
        lost = np.interp(point.fuel, balance.firing_rate, balance.unburned / balance.heat_fired)
        assert point.unburned == pytest.approx(float(lost))
    # a boiler forced to a limit does not exceed it, a hundredth above it does
    least = supply.binding
    at = supply.firing_rate_for(least.steam) / GRATE
    for share, exceeds in ((0.99, False), (1.01, True)):
        (forced,) = boiler_table(ENGINE, firing_rates=(share * at,)).forced
        assert (least.name in forced.exceeded) == exceeds


def test_limits_of_draft_duration_and_metal() -> None:
    supply = heat_balance_supply(ENGINE, Fuel(), Crew())
    assert supply.draft is not None
    assert supply.firing_rate_at_draft(0.5) > 0.0
    most = float(np.max(supply.draft))
    with pytest.raises(OutOfRange, match=r"draft must be above 0 .* and at most .* for this boiler, found"):
        supply.firing_rate_at_draft(1.01 * most)
    with pytest.raises(OutOfRange, match=r"duration must be 60 s to 3600 s for a short effort, found"):
        short_efforts(ENGINE, supply, duration=30.0)
    light = replace(ENGINE, boiler=replace(ENGINE.boiler, metal_mass=None))
    assert metal_mass(light, Assumptions(boiler_metal_share=0.21)) == pytest.approx(0.21 * ENGINE.mass)
    assert SupplyLimit(name="grate", steam=1.0).reached
    assert math.isfinite(most)
