"""The speed curve and what the boiler keeps up, with the limit that binds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trials

from locosim.engine.boiler.boiler_table import boiler_table
from locosim.engine.boiler.by_handbook import handbook_supply
from locosim.engine.cutoff_table import cutoff_table
from locosim.engine.performance import Performance, compute_performance
from locosim.engine.speed_curve import curve_point, evenly_spaced_speeds, speed_curve
from locosim.errors import OutOfRange
from locosim.model import Crew, FeedDevice, Fuel, Locomotive

POUND, HOUR, FOOT = 0.45359237, 3600.0, 0.3048


def over_boilered() -> Locomotive:
    """A boiler that would feed the cylinders at their best cutoff, but not at full gear."""
    made = trials.locomotive(mass_on_drivers=90e3, mass=120e3)
    boiler = replace(made.boiler, grate_area=9.0, tube_surface=330.0)
    return replace(made, boiler=boiler, feed_devices=())


ENGINES = {
    "middling": trials.locomotive(),
    "small boiler": trials.locomotive(grate=1.2),
    "over-boilered": over_boilered(),
    "articulated": trials.locomotive(units=2),
}


@pytest.fixture(params=ENGINES)
def performance(request: pytest.FixtureRequest) -> Performance:
    return compute_performance(ENGINES[request.param], method="handbook")


def speeds_of(performance: Performance) -> tuple[float, ...]:
    return evenly_spaced_speeds(performance, 0.9)


def test_the_curve_never_takes_more_steam_than_the_boiler_keeps_up(performance: Performance) -> None:
    for point in speed_curve(performance, speeds=speeds_of(performance)):
        assert point.steam <= performance.sustained_cylinder_steam * (1 + 1e-9)


def test_pull_on_the_curve_falls_with_speed(performance: Performance) -> None:
    pulls = [p.indicated_effort for p in speed_curve(performance, speeds=speeds_of(performance))]
    assert np.all(np.diff(pulls) <= 1e-6)


def test_steam_on_the_curve_is_what_the_map_takes_at_its_cutoff(performance: Performance) -> None:
    pressure = performance.locomotive.boiler.absolute_pressure
    for point in speed_curve(performance, speeds=speeds_of(performance)):
        if point.cutoff > performance.map.cutoffs[0] * 1.01:
            at = {"speed": point.speed, "cutoff": point.cutoff, "pressure": pressure}
            assert performance.map.effort_at(**at) == pytest.approx(point.indicated_effort)
            assert performance.map.steam_at(**at) == pytest.approx(point.steam)


def test_the_limit_is_named_for_what_it_is(performance: Performance) -> None:
    binding = performance.supply.binding.name
    for point in speed_curve(performance, speeds=speeds_of(performance), rail="wet"):
        assert point.limit in ("adhesion", "cylinders", binding)
        if point.limit == binding:
            assert point.steam == pytest.approx(performance.sustained_cylinder_steam)
    far = curve_point(performance, performance.map.max_speed, "dry")
    expected = "cylinders" if performance.locomotive is ENGINES["over-boilered"] else binding
    assert far.limit in (expected, "cylinders")


def test_a_worse_rail_never_pulls_more(performance: Performance) -> None:
    speeds = speeds_of(performance)[:12]
    best = [p.indicated_effort for p in speed_curve(performance, speeds=speeds, rail="very dry")]
    worst = [p.indicated_effort for p in speed_curve(performance, speeds=speeds, rail="half wet")]
    assert all(b >= w for b, w in zip(best, worst, strict=True))
    slipping = [p.limit == "adhesion" for p in speed_curve(performance, speeds=speeds, rail="half wet")]
    assert any(slipping)
    assert all(b > w for b, w, slips in zip(best, worst, slipping, strict=True) if slips)


def test_drawbar_pull_is_wheel_pull_less_the_running_of_engine_and_tender(performance: Performance) -> None:
    for point in speed_curve(performance, speeds=(0.0, 8.0, 16.0)):
        assert point.rim_effort == pytest.approx(0.92 * point.indicated_effort - performance.map.friction)
        assert 0.0 < point.rim_effort - point.drawbar_pull < 0.12 * point.rim_effort + 3e4
        assert point.indicated_power == pytest.approx(point.indicated_effort * point.speed)
        assert point.drawbar_power == pytest.approx(point.drawbar_pull * point.speed)


def test_speeds_run_to_the_end_of_the_map_or_of_what_she_is_passed_for() -> None:
    open_ended = compute_performance(trials.locomotive(), method="handbook")
    assert evenly_spaced_speeds(open_ended, 1.0)[-1] <= open_ended.map.max_speed
    assert evenly_spaced_speeds(open_ended, 1.0)[-1] > open_ended.map.max_speed - 1.0
    passed = compute_performance(trials.locomotive(max_speed=13.0), method="handbook")
    assert evenly_spaced_speeds(passed, 1.0) == tuple(float(v) for v in range(14))


def test_a_step_of_no_use_and_an_unknown_rail_are_refused() -> None:
    made = compute_performance(trials.locomotive(), method="handbook")
    for step in (0.0, -1.0, 1e-3, 500.0):
        with pytest.raises(OutOfRange, match="step must be between"):
            evenly_spaced_speeds(made, step)
    with pytest.raises(OutOfRange, match=r"rail must be one of .*dry.*, found 'slimy'"):
        speed_curve(made, speeds=(1.0,), rail="slimy")
    with pytest.raises(OutOfRange, match="the performance map runs from"):
        speed_curve(made, speeds=(99.0,))


# What each cutoff gives


def test_the_table_of_cutoffs_runs_over_the_gear() -> None:
    made = compute_performance(trials.locomotive(), method="handbook")
    rows = cutoff_table(made, speed=9.0)
    cutoffs = [row.cutoff for row in rows]
    assert cutoffs[0] == pytest.approx(0.15)
    assert cutoffs[-1] == pytest.approx(0.83)
    assert np.all(np.diff(cutoffs) > 0.0)
    assert all(any(abs(c - 0.05 * n) < 1e-9 for c in cutoffs) for n in range(3, 17))


def test_longer_cutoff_pulls_no_less_and_takes_more_steam() -> None:
    made = compute_performance(trials.locomotive(), method="handbook")
    rows = cutoff_table(made, speed=9.0)
    assert np.all(np.diff([row.indicated_effort for row in rows]) >= 0.0)
    assert np.all(np.diff([row.steam for row in rows]) > 0.0)
    for row in rows:
        assert row.steam_per_work == pytest.approx(row.steam / (row.indicated_effort * 9.0))
        drawn = row.steam + made.locomotive.auxiliaries.continuous_demand
        assert row.steam_share == pytest.approx(drawn / made.supply.sustained)


def test_at_rest_no_work_is_done() -> None:
    made = compute_performance(trials.locomotive(), method="handbook")
    assert cutoff_table(made, speed=0.0)[0].steam_per_work == float("inf")


def test_a_cutoff_the_gear_has_not_is_refused() -> None:
    made = compute_performance(trials.locomotive(), method="handbook")
    with pytest.raises(OutOfRange, match=r"in cutoff, found 0\.9"):
        cutoff_table(made, speed=9.0, cutoffs=(0.9,))


# What the boiler keeps up


def binding(engine: Locomotive, **crew: float) -> str:
    return handbook_supply(engine, Fuel(), Crew(**crew)).binding.name


def with_boiler(**changes: object) -> Locomotive:
    made = trials.locomotive()
    return replace(made, boiler=replace(made.boiler, **changes))  # type: ignore[arg-type]


def test_each_limit_binds_where_it_is_the_least() -> None:
    assert binding(with_boiler(grate_area=1.0)) == "grate"
    assert binding(with_boiler(tube_surface=20.0)) == "heating surface"
    assert binding(with_boiler(grate_area=8.0, tube_surface=500.0, firing="hand")) == "fireman"
    assert binding(trials.locomotive(), max_firing=0.05) == "crew firing rate"
    slow = (FeedDevice(name="one", max_rate=0.3), FeedDevice(name="two", max_rate=0.4))
    assert binding(replace(trials.locomotive(), feed_devices=slow)) == "feed devices"


def test_the_feed_limit_is_all_devices_together() -> None:
    slow = (FeedDevice(name="one", max_rate=0.3), FeedDevice(name="two", max_rate=0.4))
    supply = handbook_supply(replace(trials.locomotive(), feed_devices=slow), Fuel(), Crew())
    assert supply.sustained == pytest.approx(0.7)


def test_sustained_steam_is_the_least_of_all_limits() -> None:
    supply = handbook_supply(trials.locomotive(), Fuel(), Crew())
    assert supply.sustained == min(limit.steam for limit in supply.limits)
    names = [limit.name for limit in supply.limits]
    assert len(names) == len(set(names))


def test_the_grate_burns_its_published_rate() -> None:
    # [Cole1914], from memory: 120 lb of coal to the square foot and hour.
    engine = with_boiler(grate_area=40 * FOOT**2, tube_surface=900.0)
    supply = handbook_supply(engine, Fuel(heating_value=13500 * 1055.05585262 / POUND), Crew())
    assert supply.binding.name == "grate"
    assert supply.max_firing == pytest.approx(120 * 40 * POUND / HOUR, rel=1e-3)


def test_a_fireman_fires_his_published_rate() -> None:
    # [Glancey2012], at second hand: 3,000 lb an hour by hand.
    engine = with_boiler(grate_area=8.0, tube_surface=700.0, firing="hand")
    assert handbook_supply(engine, Fuel(), Crew()).max_firing == pytest.approx(3000 * POUND / HOUR, rel=1e-3)


def test_the_heating_surface_makes_its_published_rate() -> None:
    # [GermanRules]: 57 kg to the square metre and hour.
    engine = with_boiler(grate_area=8.0)
    supply = handbook_supply(engine, Fuel(), Crew())
    assert supply.binding.name == "heating surface"
    assert supply.sustained == pytest.approx(57 / HOUR * engine.boiler.evaporative_heating_surface, rel=1e-3)


def test_poorer_coal_makes_less_steam_and_takes_more_coal() -> None:
    good, poor = (
        handbook_supply(trials.locomotive(grate=1.4), Fuel(heating_value=value), Crew())
        for value in (31e6, 24e6)
    )
    assert poor.sustained < good.sustained
    assert poor.firing_rate_for(1.0) > good.firing_rate_for(1.0)


def test_fuel_and_steam_answer_each_other() -> None:
    supply = handbook_supply(trials.locomotive(), Fuel(), Crew())
    for steam in (0.2, 0.9, supply.sustained):
        firing = supply.firing_rate_for(steam)
        assert float(np.interp(firing, supply.firing_rates, supply.steam)) == pytest.approx(steam)
    assert supply.firing_rate_for(0.0) == 0.0
    # Evaporation per coal falls with the rate: more steam takes more than in proportion.
    assert supply.firing_rate_for(2.0) > 2 * supply.firing_rate_for(1.0)


def test_auxiliaries_are_taken_off_first() -> None:
    made = compute_performance(trials.locomotive(), method="handbook")
    assert made.sustained_cylinder_steam == pytest.approx(
        made.supply.sustained - made.locomotive.auxiliaries.continuous_demand
    )


def test_a_stoker_fires_its_rate_by_the_handbook_too() -> None:
    # Common practice, no source: 25,000 lb of coal an hour.
    engine = with_boiler(grate_area=24.0, tube_surface=3500.0)
    supply = handbook_supply(replace(engine, feed_devices=()), Fuel(), Crew())
    assert supply.binding.name == "stoker"
    assert supply.max_firing == pytest.approx(25_000 * POUND / HOUR, rel=1e-3)


def test_a_coal_richer_than_coal_is_refused_by_the_handbook_too() -> None:
    with pytest.raises(OutOfRange, match=r"heating value of bituminous must be at most 35\.3 MJ/kg"):
        handbook_supply(trials.locomotive(), Fuel(heating_value=49e6), Crew())


def test_the_handbook_does_not_know_how_hot_superheated_steam_is() -> None:
    superheated = boiler_table(trials.locomotive(), method="handbook")
    for point in superheated.points:
        assert (point.steam_temperature, point.superheat) == (None, None)
    with pytest.raises(OutOfRange, match="the handbook gives no temperature of superheated steam"):
        superheated.supply.steam_temperature_at(1.0)
    saturated = boiler_table(trials.locomotive(superheater=False), method="handbook")
    for point in saturated.points:
        assert point.steam_temperature == saturated.supply.saturation_temperature
        assert point.superheat == 0.0
