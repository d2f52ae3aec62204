"""Helpers, double heading, and their effect on coupler force."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trials

from locosim.errors import OutOfRange
from locosim.journey.coupler_force import coupler_force
from locosim.journey.result import Journey
from locosim.journey.run import run_journey
from locosim.journey.setup.helper_performance import build_helpers
from locosim.journey.setup.train_forces import helper_blocks
from locosim.model import Assumptions, Diesel, Excursion, Fuel, Helper, Weather

HP = 745.69987158227022
LBF = 4.4482216152605
# A climb on which one engine with twelve cars stalls.
CLIMB = ((2500.0, 0.0), (9000.0, 0.02), (2500.0, 0.0))
DIESEL = Diesel(
    name="trial diesel", mass=110e3, length=17.0, rail_power=1600 * HP, starting_tractive_effort=62000 * LBF
)


def over_the_climb(*helpers: Helper, coaches: int = 12) -> Excursion:
    route = trials.line(CLIMB, stops=(2200.0, 11800.0), speed_limit=18.0)
    made_of = trials.train(trials.coaches(coaches))
    return trials.excursion(route, made_of=made_of, helpers=helpers)


def run(excursion: Excursion) -> Journey:
    return run_journey(excursion, trials.performance(excursion), transient_boiler=True)


def steam_helper(place: str, **changes: object) -> Helper:
    return Helper(locomotive=trials.locomotive(), place=place, **changes)  # type: ignore[arg-type]


def test_a_train_that_stalls_alone_arrives_with_a_helper() -> None:
    alone = run(over_the_climb())
    assert alone.outcome == "stalled"
    for helper in (steam_helper("front"), steam_helper("rear"), Helper(diesel=DIESEL, place="rear")):
        assert run(over_the_climb(helper)).arrived


def test_a_helper_pulls_only_between_its_stops() -> None:
    journey = run(over_the_climb(steam_helper("rear", from_station="B", to_station="C")))
    assert journey.arrived
    first, last = journey.stops[1].chainage, journey.stops[2].chainage
    middle = 0.5 * (journey.chainage[1:] + journey.chainage[:-1])
    helped = (middle > first) & (middle < last)
    assert np.all(journey.helper_effort[~helped] == 0.0)
    assert np.max(journey.helper_effort[helped]) > 0.0


def test_a_light_train_with_helper_is_no_slower_and_uses_less_steam() -> None:
    alone, helped = run(over_the_climb(coaches=5)), run(over_the_climb(steam_helper("front"), coaches=5))
    assert alone.arrived
    assert helped.arrived
    assert helped.duration <= alone.duration + 1e-6
    assert helped.steam_used < alone.steam_used


def test_time_is_the_same_with_the_helper_at_either_end() -> None:
    front, rear = run(over_the_climb(steam_helper("front"))), run(over_the_climb(steam_helper("rear")))
    assert front.duration == pytest.approx(rear.duration, rel=0.02)


def test_a_rear_helper_lowers_the_coupler_force() -> None:
    front, rear = run(over_the_climb(steam_helper("front"))), run(over_the_climb(steam_helper("rear")))
    assert np.max(coupler_force(rear)) < 0.8 * np.max(coupler_force(front))


def test_the_first_coupler_moves_everything_behind_the_tender() -> None:
    journey = run(over_the_climb(coaches=5))
    force = coupler_force(journey)
    # On the grade: weight along the track, inertia and running resistance of the cars.
    i = int(np.argmin(np.abs(journey.chainage - 9000.0)))
    mass = journey.excursion.train.mass
    acceleration = np.diff(0.5 * journey.speed**2) / np.diff(journey.chainage)
    rotating = journey.excursion.train.rotating_mass
    gravity = mass * 9.80665 * 0.02 / (1 + 0.02**2) ** 0.5
    inertia = (mass + rotating) * acceleration[i]
    # Davis for a car of this weight is between 0.015 and 0.035 N/kg at these speeds.
    running = force[i] - gravity - inertia
    assert 0.015 * mass < running < 0.035 * mass


def test_a_diesel_has_constant_power_below_its_starting_effort() -> None:
    helper = build_helpers(over_the_climb(Helper(diesel=DIESEL)))[0]
    assert helper.effort[0] == pytest.approx(62000 * LBF)
    # 1,600 hp at 20 m/s, by hand: 1600 x 745.7 / 20.
    assert helper.effort[40] == pytest.approx(59656, rel=1e-4)


def test_a_helper_needs_one_engine() -> None:
    with pytest.raises(OutOfRange, match="needs a locomotive or a diesel, and not both"):
        Helper()
    with pytest.raises(OutOfRange, match="needs a locomotive or a diesel, and not both"):
        Helper(locomotive=trials.locomotive(), diesel=DIESEL)


def test_a_helper_is_coupled_at_a_stop() -> None:
    with pytest.raises(OutOfRange, match=r"helpers\[1\]\.from_station must be one of the stops"):
        over_the_climb(steam_helper("rear", from_station="Q"))
    with pytest.raises(OutOfRange, match="is cut off at B before it is coupled on"):
        over_the_climb(steam_helper("rear", from_station="C", to_station="B"))


def test_two_helpers_add_up() -> None:
    one = run(over_the_climb(steam_helper("rear"), coaches=14))
    two = run(over_the_climb(steam_helper("rear"), steam_helper("front"), coaches=14))
    assert two.arrived
    assert two.duration < one.duration or not one.arrived


def test_a_dead_diesel_counts_as_a_car() -> None:
    dead = trials.coaches(
        1,
        name="dead diesel",
        empty_mass=110e3,
        people=0,
        kind="diesel",
        resistance_law="davis_1926_locomotive",
    )
    excursion = over_the_climb(coaches=5)
    heavier = replace(excursion, train=trials.train(trials.coaches(5), dead))
    assert run(heavier).duration >= run(excursion).duration


def slow(place: str = "rear", **changes: object) -> Helper:
    """A helper with a speed limit of 5 m/s."""
    made = replace(trials.locomotive(), max_speed=5.0)
    return Helper(locomotive=made, place=place, **changes)  # type: ignore[arg-type]


def test_the_speed_limit_of_a_helper_applies_only_where_it_is_on() -> None:
    journey = run(over_the_climb(slow(from_station="B", to_station="C"), coaches=5))
    first, last = journey.stops[1].chainage, journey.stops[2].chainage
    on = (journey.chainage >= first - 1.0) & (journey.chainage <= last + 1.0)
    assert np.max(journey.speed[on]) == pytest.approx(5.0)
    assert np.max(journey.speed[~on]) > 8.0


def test_a_helper_burns_the_fuel_of_the_train_engine() -> None:
    good, poor = over_the_climb(steam_helper("front")), over_the_climb(steam_helper("front"))
    poor = replace(poor, fuel=Fuel(heating_value=20e6))
    # At 8 m/s both are limited by steam.
    assert build_helpers(poor)[0].effort[16] < 0.9 * build_helpers(good)[0].effort[16]


def test_wind_and_cold_raise_the_resistance_of_helpers() -> None:
    calm = over_the_climb(Helper(diesel=DIESEL, place="front"), coaches=5)
    calm = replace(calm, route=replace(calm.route, speed_limit=9.0))
    cold = replace(calm, weather=Weather(temperature=250.0))
    assert build_helpers(cold)[0].resistance[2] == pytest.approx(
        288.15 / 250.0 * build_helpers(calm)[0].resistance[2]
    )
    assert build_helpers(cold)[0].starting > build_helpers(calm)[0].starting  # plain bearings below freezing
    windy = replace(calm, weather=Weather(temperature=288.15, headwind=15.0))
    still = replace(calm, weather=Weather(temperature=288.15))
    alone = (replace(windy, helpers=()), replace(still, helpers=()))

    def resistance(excursion: Excursion) -> float:
        """Total resistance at the speed limit, on level track just before B."""
        journey = run(excursion)
        at = int(np.argmin(np.abs(journey.chainage - 2200.0)))
        assert journey.speed[at] == pytest.approx(9.0)
        return float(journey.total_resistance[at] - journey.performance.map.friction_at(journey.effort[at]))

    more = (resistance(windy) - resistance(still)) - (resistance(alone[0]) - resistance(alone[1]))
    c = build_helpers(still)[0].resistance[2]
    assert more == pytest.approx(c * ((9.0 + 15.0) ** 2 - 9.0**2), rel=1e-3)


def test_two_helpers_at_one_end_are_one_behind_the_other() -> None:
    first, second = helper_blocks(build_helpers(over_the_climb(steam_helper("front"), slow("front"))), 300.0)
    assert first.rear == 0.0
    assert second.rear == first.front
    third, fourth = helper_blocks(build_helpers(over_the_climb(steam_helper("rear"), slow("rear"))), 300.0)
    assert third.front == 300.0
    assert fourth.front == third.rear


def test_the_assumed_rotating_mass_of_a_diesel_slows_it() -> None:
    excursion = over_the_climb(Helper(diesel=DIESEL))
    changed = replace(excursion, assumptions=Assumptions(diesel_rotating_share=0.2))
    assert build_helpers(excursion)[0].rotating == pytest.approx(0.1 * DIESEL.mass)
    assert build_helpers(changed)[0].rotating == pytest.approx(0.2 * DIESEL.mass)
    assert run(changed).duration > run(excursion).duration
