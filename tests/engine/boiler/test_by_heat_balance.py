"""The steam supply by the heat balance, and a boiler on the road that settles at it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import iapws
import numpy as np
import pytest
import trials

from locosim import load_engine
from locosim.engine.boiler.boiler_table import boiler_table
from locosim.engine.boiler.by_heat_balance import (
    boiler_radiation_loss,
    design_supply,
    fuel_or_default,
    heat_balance_supply,
    make_fuel,
)
from locosim.engine.boiler.feed_devices import feed_water
from locosim.engine.boiler.front_end import front_end
from locosim.engine.performance import compute_performance
from locosim.engine.speed_curve import curve_point
from locosim.errors import OutOfRange
from locosim.journey.run import run_journey
from locosim.model import Assumptions, Crew, FeedDevice, Fuel, Locomotive, SteamPassages
from locosim.physics.boiler.fuels import FUELS

SCENARIOS = Path(__file__).parents[3] / "scenarios" / "engines"
POUND, HOUR, FOOT, PSI = 0.45359237, 3600.0, 0.3048, 6894.757
ENGINES = {
    "superheated": trials.locomotive(),
    "saturated": trials.locomotive(superheater=False),
    "articulated": trials.locomotive(units=2),
}


def fired_by(how: str) -> Locomotive:
    made = trials.locomotive()
    return replace(made, boiler=replace(made.boiler, firing=how))


def limits_of(locomotive: Locomotive, fuel: Fuel | None = None, crew: Crew | None = None) -> dict[str, float]:
    supply = heat_balance_supply(locomotive, fuel_or_default(locomotive, fuel), crew or Crew())
    return {limit.name: limit.steam for limit in supply.limits}


@pytest.mark.parametrize("name", ENGINES)
@pytest.mark.parametrize("kind", ["bituminous", "subbituminous", "anthracite", "wood"])
def test_heat_is_that_of_the_steam_and_the_standing_loss(name: str, kind: str) -> None:
    # What the kernel of the journey takes for granted: it feeds at the feed's enthalpy and draws dry steam.
    supply = heat_balance_supply(ENGINES[name], Fuel(kind=kind), Crew())
    made = supply.steam > 0.0
    assert np.allclose(
        supply.heat[made] - supply.radiation_loss, (supply.steam * supply.evaporation_heat)[made], rtol=1e-9
    )
    assert supply.firing_rates[0] == supply.heat[0] == supply.steam[0] == 0.0
    assert np.allclose(np.diff(supply.firing_rates), supply.firing_rates[1])


@pytest.mark.parametrize("name", ["campion", "monkshood", "teasel"])
def test_the_outside_of_a_boiler_by_rule_is_about_that_of_its_dimensions(name: str) -> None:
    boiler = load_engine(SCENARIOS / f"{name}.toml").boiler
    unknown = replace(
        boiler,
        shell_inside_diameter=None,
        water_space_length=None,
        crown_sheet_length=None,
        crown_sheet_height=None,
    )
    assert boiler_radiation_loss(unknown) == pytest.approx(boiler_radiation_loss(boiler), rel=0.2)


def test_feed_and_steam_heat_are_those_of_another_steam_library() -> None:
    engine = trials.locomotive()
    supply = heat_balance_supply(engine, Fuel(), Crew())
    pressure = engine.boiler.absolute_pressure / 1e6
    tender = 1e3 * iapws.IAPWS97(P=pressure, T=288.15).h  # an injector gives back the heat of its own steam
    dry = 1e3 * iapws.IAPWS97(P=pressure, x=1.0).h
    assert supply.feed_enthalpy == pytest.approx(tender, rel=2e-3)
    assert supply.evaporation_heat == pytest.approx(dry - tender, rel=1e-4)


def test_each_way_of_firing_has_its_own_limit() -> None:
    assert {"fireman"} == set(limits_of(fired_by("hand"))) - set(
        limits_of(fired_by("oil"), Fuel(kind="oil"))
    ) - {"grate"}
    assert "stoker" in limits_of(fired_by("stoker"))
    assert "oil burner" in limits_of(fired_by("oil"))
    assert "grate" not in limits_of(fired_by("oil"))
    asked = limits_of(fired_by("hand"), crew=Crew(max_firing=0.2))
    assert asked["crew firing rate"] < asked["fireman"]


def test_a_fireman_throws_3000_pounds_an_hour() -> None:
    # [Glancey2012], at second hand; whatever the grate, the coal is the same
    for grate in (2.9, 4.5):
        made = trials.locomotive(grate=grate)
        made = replace(made, boiler=replace(made.boiler, firing="hand"))
        supply = heat_balance_supply(made, Fuel(), Crew())
        by_hand = next(limit.steam for limit in supply.limits if limit.name == "fireman")
        assert supply.firing_rate_for(by_hand) == pytest.approx(3000.0 * POUND / HOUR, rel=1e-6)


def test_the_grate_burns_120_pounds_on_a_square_foot() -> None:
    # [Cole1914], from memory
    made = trials.locomotive()
    supply = heat_balance_supply(made, Fuel(), Crew())
    by_grate = next(limit.steam for limit in supply.limits if limit.name == "grate")
    rate = supply.firing_rate_for(by_grate) / made.boiler.grate_area
    assert rate == pytest.approx(120.0 * POUND / FOOT**2 / HOUR, rel=1e-3)


def test_the_least_limit_binds_and_the_surface_rating_does_not() -> None:
    supply = heat_balance_supply(trials.locomotive(), Fuel(), Crew())
    assert supply.sustained == min(limit.steam for limit in supply.limits)
    assert not any("surface" in limit.name for limit in supply.limits)
    surface = next(rating for rating in supply.ratings if "surface" in rating.name)
    # [GermanRules], from memory: 57 kg of steam from a square metre an hour
    assert surface.steam == pytest.approx(57.0 * (15.5 + 141.0) / HOUR)


def test_feed_devices_hold_the_boiler_when_they_are_small() -> None:
    small = replace(trials.locomotive(), feed_devices=(FeedDevice(name="one", max_rate=0.8),))
    supply = heat_balance_supply(small, Fuel(), Crew())
    assert supply.binding.name == "feed devices"
    assert supply.sustained == 0.8


def test_the_front_end_shows_the_draft_the_fire_requires_at_its_limit() -> None:
    engine = replace(trials.locomotive(), steam_passages=SteamPassages(nozzle_area=0.008))
    supply = heat_balance_supply(engine, Fuel(), Crew())
    limit = next(limit for limit in supply.limits if limit.name == "front end")
    assert limit.reached
    assert supply.draft is not None
    required = np.interp(supply.firing_rate_for(limit.steam), supply.firing_rates, supply.draft)
    found = front_end(engine, supply, Assumptions())
    assert found.required_draft == pytest.approx(required, rel=1e-3)
    # A plain front end raises an inch of water for an inch of mercury [Bourne1865].
    assert found.available_draft == pytest.approx(12 * 6894.757 * 249.089 / 3386.389, rel=1e-6)


def test_feed_that_is_heated_by_exhaust_brings_more_than_an_injector_and_a_pump_less() -> None:
    boiler = trials.locomotive().boiler
    brought = {
        kind: feed_water(boiler, FeedDevice(name="x", kind=kind, max_rate=3.0)).enthalpy_of_net_water
        for kind in ("injector", "exhaust_steam_injector", "pump", "pump_with_feedwater_heater")
    }
    assert brought["pump"] < brought["injector"] < brought["exhaust_steam_injector"]
    assert brought["injector"] < brought["pump_with_feedwater_heater"]


def test_two_devices_feed_between_what_each_brings_and_the_better_one_first() -> None:
    def feed(*devices: FeedDevice) -> float:
        return heat_balance_supply(
            replace(trials.locomotive(), feed_devices=devices), Fuel(), Crew()
        ).feed_enthalpy

    heater = FeedDevice(name="heater", kind="pump_with_feedwater_heater", max_rate=1.0)
    injector = FeedDevice(name="injector", max_rate=3.0)
    large = replace(heater, max_rate=4.0)
    cold, hot = feed(injector), feed(large)
    assert cold < feed(injector, heater) < hot
    assert feed(injector, large) == pytest.approx(hot, rel=1e-6)


def test_heated_feed_makes_more_steam_of_the_same_coal() -> None:
    with_heater = replace(
        trials.locomotive(),
        feed_devices=(FeedDevice(name="h", kind="pump_with_feedwater_heater", max_rate=6.0),),
    )
    plain, heated = (
        heat_balance_supply(engine, Fuel(), Crew()) for engine in (trials.locomotive(), with_heater)
    )
    gain = heated.steam[60] / plain.steam[60] - 1.0
    # the trade's figure for feed heaters, 8 to 12 %, from memory
    assert 0.06 < gain < 0.14


@pytest.mark.parametrize("share", [0.7, 0.85, 1.05])
def test_a_leaner_coal_makes_less_steam_about_in_proportion(share: float) -> None:
    published = FUELS["bituminous"].heating_value
    engine = trials.locomotive()
    usual = heat_balance_supply(engine, Fuel(), Crew())
    other = heat_balance_supply(engine, Fuel(heating_value=share * published), Crew())
    assert other.heating_value == pytest.approx(share * published)
    ratio = other.steam[40] / usual.steam[40]
    # less coal burned leaves less in sparks and smokebox, so the loss is a little smaller than in proportion
    assert share - 0.02 < ratio < (1.0 if share < 1.0 else share + 0.02)


def test_oil_and_coal_do_not_mix() -> None:
    with pytest.raises(OutOfRange, match="write kind = 'oil'"):
        compute_performance(fired_by("oil"), method="handbook", fuel=Fuel(kind="bituminous"))
    with pytest.raises(OutOfRange, match="found fuel kind 'oil'"):
        compute_performance(fired_by("hand"), method="handbook", fuel=Fuel(kind="oil"))
    assert fuel_or_default(fired_by("oil"), None).kind == "oil"


def test_the_design_does_not_ask_who_fires_today() -> None:
    hand, stoker = fired_by("hand"), fired_by("stoker")
    assert design_supply(hand).steam[50] == design_supply(stoker).steam[50]


def test_standing_loss_is_a_small_share_and_grows_with_the_boiler() -> None:
    small, large = ENGINES["superheated"], ENGINES["articulated"]
    lost = boiler_radiation_loss(small.boiler)
    assert boiler_radiation_loss(large.boiler) == pytest.approx(2.0 * lost)
    supply = heat_balance_supply(small, Fuel(), Crew())
    assert 0.002 < lost / supply.heat[60] < 0.02


def test_superheat_rises_and_efficiency_falls_with_the_firing_rate() -> None:
    # design.md: 75 to 80 % at light and 45 to 55 % at forced rates
    table = boiler_table(trials.locomotive())
    points = [p for p in table.points if p.firing_rate_per_grate_area * HOUR * FOOT**2 / POUND <= 200]
    assert np.all(np.diff([p.superheat for p in points]) > 0)
    assert np.all(np.diff([p.efficiency for p in points]) < 0)
    assert 0.73 < points[0].efficiency < 0.80
    assert 0.45 < points[-1].efficiency < 0.55


def test_a_saturated_boiler_has_no_superheat() -> None:
    assert max(p.superheat for p in boiler_table(trials.locomotive(superheater=False)).points) < 1e-6


@pytest.mark.parametrize("method", ["cycle", "handbook"])
def test_the_table_names_the_limit_that_binds(method: str) -> None:
    table = boiler_table(trials.locomotive(), method=method)
    assert [limit.binds for limit in table.limits].count(True) == 1
    assert table.limits[0].binds
    reached = [limit.steam for limit in table.limits if limit.steam is not None]
    assert reached == sorted(reached)
    assert [limit.steam for limit in table.limits][: len(reached)] == reached, "the others come last"
    assert all(0.2 < p.efficiency < 0.85 for p in table.points)


def test_boiler_table_refuses_what_it_cannot_do() -> None:
    with pytest.raises(OutOfRange, match="step must be between"):
        boiler_table(trials.locomotive(), step=1e-6)
    with pytest.raises(OutOfRange, match="must be one of"):
        make_fuel(trials.locomotive(), kind="peat", heating_value=None)
    with pytest.raises(OutOfRange, match="method must be one of cycle, handbook"):
        boiler_table(trials.locomotive(), method="guess")


@pytest.mark.parametrize("method", ["cycle", "handbook"])
def test_a_long_climb_settles_at_the_steam_of_the_curve(method: str) -> None:
    # Fire, feed and pressure are left to themselves for 30 km: what the engine takes at the end is what `curve`
    # calls sustained, and the speed is where the curve balances the train.
    engine = trials.locomotive()
    asked = trials.excursion(
        trials.line([(30_000.0, 0.010)], speed_limit=25.0),
        engine=engine,
        made_of=trials.train(trials.coaches(9)),
        method=method,
    )
    known = compute_performance(engine, method=method)
    journey = run_journey(asked, known, transient_boiler=True)
    assert journey.arrived
    held = (journey.chainage[:-1] > 22_000.0) & (journey.chainage[1:] < 29_000.0)
    assert np.mean(journey.steam[held]) == pytest.approx(known.sustained_cylinder_steam, rel=0.01)
    speed = float(np.mean(journey.speed[:-1][held]))
    pull = curve_point(known, speed, asked.rail).indicated_effort
    assert np.mean(journey.effort[held]) == pytest.approx(pull, rel=0.01)
    working = engine.boiler.working_pressure_gauge
    assert np.ptp(journey.pressure[:-1][held]) < 0.005 * working


def test_exhaust_fed_back_spares_the_tender_and_a_pump_does_not() -> None:
    engine = trials.locomotive()

    def taken(kind: str) -> float:
        device = FeedDevice(name="x", kind=kind, max_rate=6.0)
        return heat_balance_supply(replace(engine, feed_devices=(device,)), Fuel(), Crew()).tender_water_ratio

    assert taken("injector") == pytest.approx(1.0)
    # 1.5 % of the water delivered goes to the open air as the pump's steam.
    assert taken("pump") == pytest.approx(1.0 / (1.0 - 0.015))
    # At 90 °C from 15 °C with 3 % of live steam: 75 K of 4.19 kJ less that steam's heat, by exhaust of some 2.5 MJ/kg.
    exhaust = (75.0 * 4.19e3 - 0.03 * 2.73e6) / 2.5e6
    assert taken("exhaust_steam_injector") == pytest.approx((0.97 - exhaust) / 0.97, rel=0.01)
