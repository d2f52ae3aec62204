"""The boiler along a run: pressure, glass and the crown sheet."""

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
from locosim.journey.setup.water_space import WaterSpace, build_water_space, cover_and_glass
from locosim.model import Crew, Excursion, FeedDevice, Locomotive

PSI = 6894.757


def run(asked: Excursion, *, live: bool = True, step: float = 20.0) -> Journey:
    return run_journey(asked, trials.performance(asked), transient_boiler=live, step=step)


def with_barrel(**changes: object) -> Locomotive:
    made = trials.locomotive()
    shape: dict[str, object] = {
        "water_space_length": 7.0,
        "shell_inside_diameter": 1.7,
        "crown_sheet_length": 2.2,
        "crown_sheet_height": 1.2,
    }
    return replace(made, boiler=replace(made.boiler, **{**shape, **changes}))  # type: ignore[arg-type]


def test_a_long_climb_settles_at_what_the_curve_says_is_sustained() -> None:
    asked = trials.excursion(trials.line([(2000.0, 0.0), (60000.0, 0.009)], speed_limit=25.0))
    performance = trials.performance(asked)
    journey = run_journey(asked, performance, transient_boiler=True)
    assert journey.arrived
    late = journey.chainage[:-1] > journey.chainage[-1] - 15000.0
    late &= journey.chainage[:-1] < journey.chainage[-1] - 2000.0
    assert np.mean(journey.steam[late]) == pytest.approx(performance.sustained_cylinder_steam, rel=0.01)
    speed = float(np.mean(journey.speed[:-1][late]))
    sustained = curve_point(performance, speed, "dry")
    assert np.mean(journey.effort[late]) == pytest.approx(sustained.indicated_effort, rel=0.01)


def test_a_short_summit_is_taken_faster_than_sustained_and_the_pressure_pays() -> None:
    line = trials.line([(6000.0, 0.0), (1800.0, 0.014), (8000.0, 0.0)], speed_limit=22.0)
    easy = trials.excursion(line)
    forced = replace(easy, crew=Crew(steam_allowance=1.4))
    held, short = run(easy), run(forced)
    # The summit lies 8.8 km from the start of the line, the first kilometre among it.
    top_held = float(np.interp(8800.0, held.chainage, held.speed))
    top_short = float(np.interp(8800.0, short.chainage, short.speed))
    assert top_short > 1.03 * top_held
    assert np.min(short.pressure) < np.min(held.pressure) - 5 * PSI
    # And won back: at the end the boiler is up again.
    assert short.pressure[-1] > np.min(short.pressure) + 5 * PSI


def test_heat_given_equals_heat_held_over_a_run() -> None:
    journey = run(trials.excursion(trials.line([(9000.0, 0.004), (9000.0, -0.006)], stops=(9500.0,))))
    assert {book.name for book in journey.ledgers} >= {"boiler heat [J]", "boiler water [kg]"}
    assert all(abs(book.residual) < 1e-9 for book in journey.ledgers)


@pytest.mark.parametrize(
    "habit", ["hold_speed_limit", "steady_steam", "save_steam_before_climbs", "coast_to_stops"]
)
def test_halving_the_step_changes_nothing_that_matters(habit: str) -> None:
    line = trials.line([(5000.0, 0.002), (7000.0, 0.010), (8000.0, -0.009), (5000.0, 0.0)], stops=(12500.0,))
    asked = trials.excursion(line, crew=Crew(habit=habit))
    coarse, fine = run(asked), run(asked, step=10.0)
    assert coarse.duration == pytest.approx(fine.duration, rel=1e-3)
    assert np.min(coarse.pressure) == pytest.approx(np.min(fine.pressure), rel=5e-3)


def test_a_fire_built_up_in_a_stand_does_not_blow_off() -> None:
    line = trials.line([(9000.0, 0.006), (9000.0, -0.006)], stops=(9500.0,))
    asked = trials.excursion(line)
    stops = tuple(replace(stop, dwell=1200.0) for stop in asked.stops)
    journey = run(replace(asked, stops=stops))
    working = journey.performance.locomotive.boiler.absolute_pressure
    # The valves begin to lift at 0.2 bar above working pressure and are open at 6 psi more.
    assert np.max(journey.pressure) < working + 0.2e5 + 1.5 * PSI
    steam = sum(-value for name, value in book(journey, "boiler water [kg]").entries if name == "steam")
    took = 2.0 * np.diff(journey.chainage) / (journey.speed[1:] + journey.speed[:-1])
    used = float(np.sum(journey.steam * took))
    auxiliaries = journey.performance.locomotive.auxiliaries
    shut = (1200.0 + float(np.sum(took[journey.effort == 0.0]))) * auxiliaries.blower
    used += auxiliaries.continuous_demand * journey.duration + shut
    assert steam < 1.08 * used


def test_a_fire_dies_down_when_the_regulator_shuts() -> None:
    journey = run(trials.excursion(trials.line([(8000.0, 0.008), (6000.0, -0.012), (3000.0, 0.0)])))
    pulling = np.flatnonzero(journey.effort > 0.0)
    shut = pulling[-1] + 2
    assert shut < len(journey.effort)
    assert journey.firing[shut + 1] < 0.4 * np.max(journey.firing)


def test_cleaning_the_fire_takes_its_time_and_its_pressure() -> None:
    line = trials.line([(9000.0, 0.006), (9000.0, 0.006)], stops=(9500.0,))
    asked = trials.excursion(line)

    def stopped(clean: str) -> Journey:
        stops = (asked.stops[0], replace(asked.stops[1], dwell=60.0, clean_fire=clean), asked.stops[2])
        return run(replace(asked, stops=stops))

    plain, cleaned = stopped("no"), stopped("yes")
    assert cleaned.stops[1].depart - cleaned.stops[1].arrive == pytest.approx(900.0 + 2 * 180.0)
    assert plain.stops[1].depart - plain.stops[1].arrive == pytest.approx(60.0)
    leaving = int(np.argmin(np.abs(cleaned.chainage - cleaned.stops[1].chainage)))
    long_stand = replace(asked, stops=(asked.stops[0], replace(asked.stops[1], dwell=1260.0), asked.stops[2]))
    # Built up again at the end, she leaves with less than after standing as long over a live fire.
    assert cleaned.pressure[leaving] < run(long_stand).pressure[leaving]
    assert cleaned.tender_fuel[leaving] > run(long_stand).tender_fuel[leaving]


def test_a_crawling_train_keeps_the_pressure_its_valves_allow() -> None:
    asked = trials.excursion(trials.line([(3000.0, 0.0), (20000.0, 0.031)]))
    for step in (20.0, 5.0):
        journey = run(asked, step=step)
        assert journey.outcome == "stalled"
        working = journey.performance.locomotive.boiler.absolute_pressure
        assert np.max(journey.pressure) < working + 0.2e5 + 6.0 * PSI


def book(journey: Journey, name: str) -> Ledger:
    return next(ledger for ledger in journey.ledgers if ledger.name == name)


def test_pull_falls_with_pressure() -> None:
    performance = trials.performance(trials.excursion(trials.line([(5000.0, 0.0)])))
    full = performance.locomotive.boiler.absolute_pressure
    pulls = [
        performance.map.effort_at(speed=8.0, cutoff=0.4, pressure=share * full)
        for share in (0.5, 0.7, 0.9, 1.0)
    ]
    assert pulls == sorted(pulls)


def test_a_climb_that_ends_in_a_descent_bares_the_back_of_the_crown_first() -> None:
    line = trials.line([(3000.0, 0.0), (5000.0, 0.018), (5000.0, -0.018), (3000.0, 0.0)], speed_limit=15.0)
    stack = run(trials.excursion(line, engine=with_barrel()))
    worst = int(np.argmin(stack.crown_cover))
    # The summit is 9 km along; the least cover comes beyond it, where the grade has turned down.
    assert stack.chainage[worst] > 9000.0
    climbing = int(np.argmin(np.abs(stack.chainage - 8500.0)))
    falling = int(np.argmin(np.abs(stack.chainage - 9500.0)))
    # The glass stands on the backhead: high on the climb, low on the fall, by 3.6 % of half the barrel.
    assert stack.glass_reading[climbing] - stack.glass_reading[falling] > 0.8 * 0.036 * 3.5
    tender = run(trials.excursion(line, engine=with_barrel(), engine_facing="tender_first"))
    assert tender.glass_reading[climbing] < tender.glass_reading[falling]


def test_cover_is_that_of_the_tilted_plane_by_geometry() -> None:
    space = build_water_space(with_barrel().boiler)
    assert space is not None
    tilt = np.array([-0.02, 0.0, 0.02])
    cover, glass = cover_and_glass(space, np.full(3, space.water_at_working_level), tilt)
    for angle, found in zip(tilt, cover, strict=True):
        assert found == pytest.approx(least_cover_by_volume(space, float(angle)), abs=2e-3)
    assert glass[2] > glass[1] > glass[0]


def least_cover_by_volume(space: WaterSpace, tilt: float) -> float:
    """Cover found by filling the tilted barrel slice by slice to the working volume."""
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


def test_a_crown_that_falls_to_the_back_keeps_more_cover_on_a_descent() -> None:
    level, sloped = (
        build_water_space(with_barrel().boiler),
        build_water_space(with_barrel(crown_sheet_slope=1 / 24).boiler),
    )
    assert level is not None
    assert sloped is not None
    tilt, water = np.array([-0.03]), np.array([level.water_at_working_level])
    assert cover_and_glass(sloped, water, tilt)[0][0] > cover_and_glass(level, water, tilt)[0][0]


def test_a_boiler_without_geometry_has_no_cover() -> None:
    assert build_water_space(trials.locomotive().boiler) is None
    journey = run(trials.excursion(trials.line([(4000.0, 0.0)])))
    assert len(journey.crown_cover) == 0


def test_less_water_is_less_cover() -> None:
    space = build_water_space(with_barrel().boiler)
    assert space is not None
    water = np.linspace(space.crown_sheet_water, space.water_at_working_level, 9)
    cover, _ = cover_and_glass(space, water, np.zeros(9))
    assert np.all(np.diff(cover) > 0)
    assert cover[0] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("live", [True, False])
def test_the_tender_gives_the_feed_less_what_is_fed_back(live: bool) -> None:
    device = FeedDevice(name="exhaust", kind="exhaust_steam_injector", max_rate=6.0)
    asked = trials.excursion(
        trials.line([(9000.0, 0.006)]),
        engine=replace(trials.locomotive(), feed_devices=(device,)),
        method="cycle",
    )
    journey = run_journey(asked, compute_excursion_performance(asked), transient_boiler=live)
    drawn = journey.stops[0].water_on_arrival - journey.tender_water[-1]
    assert journey.water_used == pytest.approx(drawn, rel=1e-9)
    share = journey.performance.supply.tender_water_ratio
    assert 0.85 < share < 0.95
    if not live:
        assert drawn == pytest.approx(share * journey.steam_used, rel=1e-9)
