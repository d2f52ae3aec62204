"""The boiler along a run: pressure, water glass and crown sheet."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trials
from scipy import integrate

from locosim.engine.performance import compute_excursion_performance
from locosim.engine.speed_curve import curve_point
from locosim.journey.ledgers import Ledger
from locosim.journey.result import Journey
from locosim.journey.run import run_journey
from locosim.journey.setup.boiler import build_boiler
from locosim.journey.setup.prepare import MAX_STEP
from locosim.journey.setup.water_space import WaterSpace, build_water_space, cover_and_glass
from locosim.model import Assumptions, Crew, Excursion, FeedDevice, Locomotive

PSI = 6894.757


def run(excursion: Excursion, *, step: float = MAX_STEP) -> Journey:
    return run_journey(excursion, trials.performance(excursion), transient_boiler=True, step=step)


def with_barrel(**changes: object) -> Locomotive:
    made = trials.locomotive()
    shape: dict[str, object] = {
        "water_space_length": 7.0,
        "shell_inside_diameter": 1.7,
        "crown_sheet_length": 2.2,
        "crown_sheet_height": 1.2,
    }
    return replace(made, boiler=replace(made.boiler, **{**shape, **changes}))  # type: ignore[arg-type]


def test_a_long_climb_settles_at_the_sustained_steam_and_effort() -> None:
    excursion = trials.excursion(trials.line([(2000.0, 0.0), (60000.0, 0.009)], speed_limit=25.0))
    performance = trials.performance(excursion)
    journey = run_journey(excursion, performance, transient_boiler=True)
    assert journey.arrived
    late = journey.chainage[:-1] > journey.chainage[-1] - 15000.0
    late &= journey.chainage[:-1] < journey.chainage[-1] - 2000.0
    assert np.mean(journey.steam[late]) == pytest.approx(performance.sustained_cylinder_steam, rel=0.01)
    speed = float(np.mean(journey.speed[:-1][late]))
    sustained = curve_point(performance, speed, "dry")
    assert np.mean(journey.effort[late]) == pytest.approx(sustained.indicated_effort, rel=0.01)


def test_more_steam_over_a_short_summit_is_faster_and_lowers_the_pressure() -> None:
    line = trials.line([(6000.0, 0.0), (1800.0, 0.014), (8000.0, 0.0)], speed_limit=22.0)
    excursion = trials.excursion(line)
    sustained, forced = run(excursion), run(replace(excursion, crew=Crew(steam_allowance=1.4)))
    # The summit is 8.8 km from the start of the line, whose first kilometer is before the first station.
    assert speed_at(forced, 8800.0) > 1.03 * speed_at(sustained, 8800.0)
    assert np.min(forced.pressure) < np.min(sustained.pressure) - 5 * PSI
    # At the end the pressure is restored.
    assert forced.pressure[-1] > np.min(forced.pressure) + 5 * PSI


def speed_at(journey: Journey, chainage: float) -> float:
    return float(np.interp(chainage, journey.chainage, journey.speed))


def test_the_ledgers_of_the_boiler_close() -> None:
    journey = run(trials.excursion(trials.line([(9000.0, 0.004), (9000.0, -0.006)], stops=(9500.0,))))
    assert {ledger.name for ledger in journey.ledgers} >= {"boiler heat [J]", "boiler water [kg]"}
    assert all(abs(ledger.residual) < 1e-9 for ledger in journey.ledgers)


@pytest.mark.parametrize(
    "habit", ["hold_speed_limit", "steady_steam", "save_steam_before_climbs", "coast_to_stops"]
)
def test_halving_the_step_changes_little(habit: str) -> None:
    line = trials.line([(5000.0, 0.002), (7000.0, 0.010), (8000.0, -0.009), (5000.0, 0.0)], stops=(12500.0,))
    excursion = trials.excursion(line, crew=Crew(habit=habit))
    coarse, fine = run(excursion), run(excursion, step=MAX_STEP / 2)
    assert coarse.duration == pytest.approx(fine.duration, rel=1e-3)
    assert np.min(coarse.pressure) == pytest.approx(np.min(fine.pressure), rel=5e-3)


def test_a_fire_built_up_at_a_stop_does_not_lift_the_safety_valves() -> None:
    line = trials.line([(9000.0, 0.006), (9000.0, -0.006)], stops=(9500.0,))
    excursion = trials.excursion(line)
    stops = tuple(replace(stop, dwell=1200.0) for stop in excursion.stops)
    journey = run(replace(excursion, stops=stops))
    working = journey.performance.locomotive.boiler.absolute_pressure
    # The valves begin to lift 0.2 bar above working pressure and are fully open 6 psi above that.
    assert np.max(journey.pressure) < working + 0.2e5 + 1.5 * PSI
    steam = sum(-value for name, value in ledger_of(journey, "boiler water [kg]").entries if name == "steam")
    took = 2.0 * np.diff(journey.chainage) / (journey.speed[1:] + journey.speed[:-1])
    used = float(np.sum(journey.steam * took))
    auxiliaries = journey.performance.locomotive.auxiliaries
    shut = (1200.0 + float(np.sum(took[journey.effort == 0.0]))) * auxiliaries.blower
    used += auxiliaries.continuous_demand * journey.duration + shut
    assert steam < 1.08 * used


def test_a_fire_dies_down_when_the_throttle_is_shut() -> None:
    journey = run(trials.excursion(trials.line([(8000.0, 0.008), (6000.0, -0.012), (3000.0, 0.0)])))
    pulling = np.flatnonzero(journey.effort > 0.0)
    shut = pulling[-1] + 2
    assert shut < len(journey.effort)
    assert np.all(np.diff(journey.firing[shut:]) < 1e-3 * np.max(journey.firing))
    assert journey.firing[-1] < 0.4 * journey.firing[shut]


def test_cleaning_the_fire_takes_time_and_lowers_the_pressure() -> None:
    line = trials.line([(9000.0, 0.006), (9000.0, 0.006)], stops=(9500.0,))
    excursion = trials.excursion(line)

    def stopped(clean: str) -> Journey:
        stops = (
            excursion.stops[0],
            replace(excursion.stops[1], dwell=60.0, clean_fire=clean),
            excursion.stops[2],
        )
        return run(replace(excursion, stops=stops))

    plain, cleaned = stopped("no"), stopped("yes")
    # What was lost of the bed is fired again, and heated.
    boiler = build_boiler(cleaned.performance, excursion.crew, Assumptions(), transient=True)
    rebuilding = 0.3 * boiler.full_bed / boiler.firing_capacity + 120.0
    assert cleaned.stops[1].depart - cleaned.stops[1].arrive == pytest.approx(900.0 + rebuilding)
    assert plain.stops[1].depart - plain.stops[1].arrive == pytest.approx(60.0)
    leaving = int(np.argmin(np.abs(cleaned.chainage - cleaned.stops[1].chainage)))
    first, second, third = excursion.stops
    long_stop = run(replace(excursion, stops=(first, replace(second, dwell=900.0 + rebuilding), third)))
    # Although the fire is built up again, pressure is lower than after a stop as long without cleaning.
    assert cleaned.pressure[leaving] < long_stop.pressure[leaving]
    # What was dropped is fired again.
    assert cleaned.tender_fuel[leaving] < long_stop.tender_fuel[leaving]
    assert cleaned.grate_ash[leaving] < 0.1 * long_stop.grate_ash[leaving]
    dropped = dict(ledger_of(cleaned, "fuel on the grate [kg]").entries)["dropped in cleaning the fire"]
    assert -dropped == pytest.approx(0.3 * cleaned.grate_fuel[leaving - 1], rel=0.05)


def test_the_safety_valves_limit_the_pressure_of_a_crawling_train() -> None:
    excursion = trials.excursion(trials.line([(3000.0, 0.0), (20000.0, 0.031)]))
    for step in (20.0, 5.0):
        journey = run(excursion, step=step)
        assert journey.outcome == "stalled"
        working = journey.performance.locomotive.boiler.absolute_pressure
        assert np.max(journey.pressure) < working + 0.2e5 + 6.0 * PSI


def ledger_of(journey: Journey, name: str) -> Ledger:
    return next(ledger for ledger in journey.ledgers if ledger.name == name)


def test_effort_falls_with_pressure() -> None:
    performance = trials.performance(trials.excursion(trials.line([(5000.0, 0.0)])))
    full = performance.locomotive.boiler.absolute_pressure
    efforts = [
        performance.map.effort_at(speed=8.0, cutoff=0.4, pressure=share * full)
        for share in (0.5, 0.7, 0.9, 1.0)
    ]
    assert efforts == sorted(efforts)


def test_cover_is_lowest_just_beyond_a_summit() -> None:
    line = trials.line([(3000.0, 0.0), (5000.0, 0.018), (5000.0, -0.018), (3000.0, 0.0)], speed_limit=15.0)
    stack = run(trials.excursion(line, engine=with_barrel()))
    worst = int(np.argmin(stack.crown_cover))
    # The summit is at 9 km; cover is lowest beyond it, where the grade has turned down.
    assert stack.chainage[worst] > 9000.0
    climbing = int(np.argmin(np.abs(stack.chainage - 8500.0)))
    falling = int(np.argmin(np.abs(stack.chainage - 9500.0)))
    # The glass is on the backhead: high uphill, low downhill, by 3.6 % of half the length.
    assert stack.glass_reading[climbing] - stack.glass_reading[falling] > 0.8 * 0.036 * 3.5
    tender = run(trials.excursion(line, engine=with_barrel(), engine_facing="tender_first"))
    assert tender.glass_reading[climbing] < tender.glass_reading[falling]


def test_cover_is_that_of_a_tilted_plane() -> None:
    space = build_water_space(with_barrel().boiler, Assumptions())
    assert space is not None
    tilt = np.array([-0.02, 0.0, 0.02])
    cover, glass = cover_and_glass(space, np.full(3, space.water_at_working_level), tilt)
    for angle, found in zip(tilt, cover, strict=True):
        assert found == pytest.approx(least_cover_by_volume(space, float(angle)), abs=2e-3)
    assert glass[2] > glass[1] > glass[0]


def least_cover_by_volume(space: WaterSpace, tilt: float) -> float:
    """Cover in the tilted barrel, filled slice by slice to the working volume."""
    radius = space.diameter / 2

    def area(height: float) -> float:
        height = min(max(height, 0.0), space.diameter)
        width = lambda y: 2 * np.sqrt(max(radius**2 - (y - radius) ** 2, 0.0))  # noqa: E731
        return float(integrate.quad(width, 0.0, height)[0])

    places = np.linspace(-space.length / 2, space.length / 2, 41)

    def volume(amidships: float) -> float:
        return float(integrate.trapezoid([area(amidships - tilt * x) for x in places], places))

    low, high = 0.0, space.diameter
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if volume(middle) < space.working_volume else (low, middle)
    back = low - tilt * space.crown_back - (space.crown_sheet_height - space.crown_drop)
    front = low - tilt * space.crown_front - space.crown_sheet_height
    return min(back, front)


def test_a_crown_sheet_sloping_to_the_back_has_more_cover_downhill() -> None:
    level, sloped = (
        build_water_space(with_barrel().boiler, Assumptions()),
        build_water_space(with_barrel(crown_sheet_slope=1 / 24).boiler, Assumptions()),
    )
    assert level is not None
    assert sloped is not None
    tilt, water = np.array([-0.03]), np.array([level.water_at_working_level])
    assert cover_and_glass(sloped, water, tilt)[0][0] > cover_and_glass(level, water, tilt)[0][0]


def test_a_boiler_without_dimensions_has_no_cover() -> None:
    assert build_water_space(trials.locomotive().boiler, Assumptions()) is None
    journey = run(trials.excursion(trials.line([(4000.0, 0.0)])))
    assert len(journey.crown_cover) == 0


def test_cover_rises_with_the_water() -> None:
    space = build_water_space(with_barrel().boiler, Assumptions())
    assert space is not None
    water = np.linspace(space.crown_sheet_water, space.water_at_working_level, 9)
    cover, _ = cover_and_glass(space, water, np.zeros(9))
    assert np.all(np.diff(cover) > 0)
    assert cover[0] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("transient", [True, False])
def test_the_tender_gives_the_feed_less_the_exhaust_steam_returned(transient: bool) -> None:
    device = FeedDevice(name="exhaust", kind="exhaust_steam_injector", max_rate=6.0)
    excursion = trials.excursion(
        trials.line([(9000.0, 0.006)]),
        engine=replace(trials.locomotive(), feed_devices=(device,)),
        method="cycle",
    )
    journey = run_journey(excursion, compute_excursion_performance(excursion), transient_boiler=transient)
    drawn = journey.stops[0].water_on_arrival - journey.tender_water[-1]
    assert journey.water_used == pytest.approx(drawn, rel=1e-9)
    share = journey.performance.supply.tender_water_ratio
    assert 0.85 < share < 0.95
    if not transient:
        assert drawn == pytest.approx(share * journey.steam_used, rel=1e-9)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("air_lag", 30.0),
        ("full_bed_depth", 0.15),
        ("idle_bed_share", 0.7),
        ("green_coal_time", 30.0),
        ("green_coal_heat", 2e6),
        ("stoker_lag", 90.0),
        ("bed_recovery_time", 240.0),
        ("bed_lead", 300.0),
        ("damper_range", 0.6e5),
        ("min_damper", 0.5),
        ("filled_water_share", 1.0),
        ("blower_share", 0.05),
        ("banked_share", 0.06),
        ("blast_air_ratio", 1.1),
        ("safety_valve_margin", 0.1e5),
        ("safety_valve_capacity", 1.0),
        ("pressure_floor_share", 0.98),
        ("floor_slope", 4.0),
        ("low_demand_share", 0.5),
        ("feed_boost", 10.0),
        ("feed_deferral", 0.3),
        ("recovery_time", 600.0),
    ],
)
def test_each_assumption_on_fire_and_feed_changes_the_pressure(name: str, value: float) -> None:
    line = trials.line([(4000.0, 0.010), (3000.0, -0.012), (2000.0, 0.0)], stops=(4500.0,))
    excursion = trials.excursion(line, crew=Crew(steam_allowance=1.4))
    stops = tuple(replace(stop, dwell=900.0) for stop in excursion.stops)
    excursion = replace(excursion, stops=stops)
    # The slope acts below the floor only, which this run does not reach otherwise.
    base = Assumptions(pressure_floor_share=0.98) if name == "floor_slope" else Assumptions()
    changed = replace(excursion, assumptions=replace(base, **{name: value}))
    one, other = run(replace(excursion, assumptions=base)), run(changed)
    shared = min(len(one.pressure), len(other.pressure))
    assert np.max(np.abs(one.pressure[:shared] - other.pressure[:shared])) > 1.0


def test_assumed_time_of_cleaning_the_fire_changes_the_stop() -> None:
    excursion = trials.excursion(trials.line([(6000.0, 0.0)], stops=(3000.0,)))
    stops = (excursion.stops[0], replace(excursion.stops[1], clean_fire="yes"), excursion.stops[2])
    changed = Assumptions(fire_cleaning_time=600.0, cleaning_loss=0.2, green_coal_time=100.0)
    journey = run(replace(excursion, stops=stops, assumptions=changed))
    stop, boiler = journey.stops[1], build_boiler(journey.performance, Crew(), changed, transient=True)
    lost = 0.2 * boiler.full_bed / boiler.firing_capacity
    assert stop.depart - stop.arrive == pytest.approx(600.0 + lost + 100.0)


def test_assumed_place_of_crown_sheet_and_working_level_changes_the_cover() -> None:
    boiler = with_barrel().boiler
    assumed = build_water_space(boiler, Assumptions())
    moved = build_water_space(boiler, Assumptions(crown_sheet_setback=0.30))
    higher = build_water_space(boiler, Assumptions(working_level_in_glass=0.18))
    assert assumed is not None
    assert moved is not None
    assert higher is not None
    assert moved.crown_back - assumed.crown_back == pytest.approx(0.15)
    assert higher.working_volume > assumed.working_volume


def test_assumed_water_at_a_bare_crown_sheet_and_feed_are_in_the_boiler_of_the_kernel() -> None:
    engine = replace(trials.locomotive(), feed_devices=())
    excursion = trials.excursion(trials.line([(4000.0, 0.0)]), engine=engine)
    performance = trials.performance(excursion)
    changed = Assumptions(crown_sheet_water_share=0.6, default_feed_ratio=1.5)
    boiler = build_boiler(performance, Crew(), changed, transient=True)
    assert boiler.crown_sheet_water == pytest.approx(0.6 * boiler.target_water)
    assert boiler.max_feed == pytest.approx(1.5 * performance.supply.sustained)
