"""Stops, waits and stalls of a run."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import trials

from locosim.errors import OutOfRange
from locosim.journey.kernel import arrays as records
from locosim.journey.result import Journey
from locosim.journey.run import run_journey
from locosim.journey.setup.train_forces import contents_at_start, train_load
from locosim.model import Crew, Criteria, CustomResistance, Excursion, Stop

G = 9.80665
LEVEL = ((3000.0, 0.0), (3000.0, 0.002), (3000.0, -0.002))


def run(asked: Excursion, *, live: bool = False, step: float = 20.0) -> Journey:
    return run_journey(asked, trials.performance(asked), transient_boiler=live, step=step)


@pytest.mark.parametrize("live", [False, True])
def test_a_stop_is_reached_with_no_speed_left(live: bool) -> None:
    journey = run(trials.excursion(trials.line(LEVEL, stops=(3500.0, 5200.0))), live=live)
    assert journey.arrived
    places = [stop.chainage for stop in journey.stops]
    assert places == [1000.0, 4500.0, 6200.0, 10000.0]
    at = [int(np.flatnonzero(journey.chainage == place)[0]) for place in places]
    assert np.all(journey.speed[at] == 0.0)
    moving = np.delete(journey.speed, at)
    assert np.all(moving > 0.0)


def test_speed_never_exceeds_what_the_line_allows() -> None:
    journey = run(trials.excursion(trials.line(LEVEL, stops=(3500.0,), speed_limit=17.0)), live=True)
    assert np.all(journey.speed <= journey.allowed_speed * (1 + 1e-12))
    assert np.max(journey.speed) == pytest.approx(17.0)


def test_time_is_distance_over_mean_speed() -> None:
    journey = run(trials.excursion(trials.line(LEVEL)))
    # Between nodes the acceleration is even, so a step takes twice its length over the sum of the speeds.
    took = 2 * np.diff(journey.chainage) / (journey.speed[1:] + journey.speed[:-1])
    assert np.diff(journey.time) == pytest.approx(took)


def test_braking_keeps_the_planned_deceleration() -> None:
    journey = run(trials.excursion(trials.line(LEVEL), criteria=Criteria(service_deceleration=0.4)))
    braking = journey.limit == records.BRAKING
    energy = 0.5 * journey.speed**2
    rate = -np.diff(energy) / np.diff(journey.chainage)
    # All but the step in which it begins.
    assert np.median(rate[braking]) == pytest.approx(0.4)
    assert np.max(rate[braking]) <= 0.4 * (1 + 1e-9)


def test_dwell_and_timetable_hold_the_train() -> None:
    route = trials.line(LEVEL, stops=(2000.0, 5000.0))
    free = run(trials.excursion(route, departure=36000.0))
    b = free.stops[1].arrive
    asked = trials.excursion(
        route,
        departure=36000.0,
        stops=(
            Stop(station="A"),
            Stop(station="B", dwell=90.0, depart=b + 600.0),
            Stop(station="C", dwell=240.0, depart=b + 610.0),
            Stop(station="D"),
        ),
    )
    journey = run(asked)
    assert journey.stops[0].depart == 36000.0
    assert journey.stops[1].arrive == pytest.approx(b)
    assert journey.stops[1].depart == pytest.approx(b + 600.0)  # early: waits for its time
    assert journey.stops[2].depart - journey.stops[2].arrive == pytest.approx(
        240.0
    )  # late: dwells all the same
    assert journey.stops[3].depart == journey.stops[3].arrive


def test_filling_the_tender_takes_its_time() -> None:
    route = trials.line(LEVEL, stops=(5000.0,))
    asked = trials.excursion(
        route, stops=(Stop(station="A"), Stop(station="B", dwell=10.0, take_water="fill"), Stop(station="C"))
    )
    stop = run(asked).stops[1]
    taken = 21000.0 - stop.water_on_arrival
    # The column gives 0.05 m³ a second.
    assert stop.depart - stop.arrive == pytest.approx(taken / 50.0)
    blower = asked.locomotive.auxiliaries.blower + asked.locomotive.auxiliaries.continuous_demand
    assert stop.water_on_departure == pytest.approx(21000.0 - blower * (stop.depart - stop.arrive))


def test_water_where_there_is_none_is_refused() -> None:
    route = trials.line(LEVEL)
    dry = replace(route, stations=tuple(replace(s, water_rate=0.0) for s in route.stations))
    with pytest.raises(OutOfRange, match=r"calls\[1\]\.take_water found 'fill', but A has no water_rate"):
        trials.excursion(dry, stops=(Stop(station="A", take_water="fill"), Stop(station="B")))


# Stalls


def constant_pull(grade: float) -> Excursion:
    """A run at one tenth of the speed at which the pull begins to fall: a rail so bad that it sets the pull."""
    route = trials.line([(1500.0, -0.001), (9000.0, grade)], speed_limit=9.0)
    return trials.excursion(route, rail="dry", crew=Crew(steam_allowance=1.5))


def test_a_stall_is_where_the_energy_is_used_up() -> None:
    # On a steep climb the run ends where the work of all forces has eaten the kinetic energy. The forces are
    # nearly even there: held against the integral of a pull that is read independently, in fine steps.
    asked = constant_pull(0.026)
    journey = run(asked)
    assert journey.outcome == "stalled"
    fine = run(asked, step=6.0)
    assert journey.end_chainage == pytest.approx(fine.end_chainage, abs=5.0)  # a quarter of the step
    # Energy at the last node, over the force that was missing there, is the way left.
    performance = journey.performance
    load = train_load(asked)
    contents = journey.tender_water[-1] + journey.tender_fuel[-1]
    mass = load.mass + load.rotating + contents
    speed = journey.speed[-1]
    by_cylinders, _ = performance.map.max_effort(
        speed=0.0, pressure=asked.locomotive.boiler.absolute_pressure
    )
    coefficient = journey.adhesion[-1]
    pull = min(by_cylinders, coefficient * G * performance.mass_on_drivers + performance.map.friction)
    weight = (load.mass + contents) * G * math.sin(math.atan(0.026))
    running = load.a + load.a_contents * contents
    missing = weight + running + performance.map.friction - pull
    assert missing > 0.0
    way = mass * 0.5 * speed**2 / missing
    assert journey.end_chainage - journey.chainage[-1] == pytest.approx(way, abs=2.0)


def test_a_train_on_too_steep_a_grade_stalls_where_its_run_is_spent() -> None:
    # By hand, as a projectile: constant pull at the rail limit, constant weight, own resistance without speed.
    own = trials.coaches(10, resistance_law="custom", custom_resistance=CustomResistance(a=0.02))
    run_up, grade = 2500.0, 0.05
    route = trials.line([(run_up, 0.0), (4000.0, grade)], speed_limit=8.0)
    asked = trials.excursion(route, made_of=trials.train(own), rail="wet")
    journey = run(asked, step=5.0)
    assert journey.outcome == "stalled"
    # Where the whole train is on the grade, deceleration is even but for the last metres before the stand.
    length = 11.7 + 8.3 + asked.train.length
    foot = 1000.0 + run_up
    assert foot < journey.end_chainage < foot + length
    # Energy balance by quadrature over the climb, with this test's own forces at a slow pace.
    load, performance = train_load(asked), journey.performance
    on = int(np.flatnonzero(np.isclose(journey.chainage, foot))[0])
    contents = contents_at_start(asked)
    mass = load.mass + load.rotating + contents
    energy = mass * 0.5 * journey.speed[on] ** 2
    sine = math.sin(math.atan(grade))
    per_metre = [
        (asked.locomotive.mass, 0.0, 11.7),
        (asked.locomotive.tender.empty_mass + contents, 11.7, 20.0),
        (asked.train.mass, 20.0, length),
    ]
    place, step, speed = foot, 0.05, float(journey.speed[on])
    while energy > 0.0:
        climbed = place - foot
        weight = sum(
            m * G * sine * min(max((climbed - front) / (rear - front), 0.0), 1.0)
            for m, front, rear in per_metre
        )
        air = (
            load.a
            + load.b * speed
            + load.c * speed**2
            + (load.a_contents + load.b_contents * speed) * contents
        )
        # She has been under way: breaking away is over, however slow she gets.
        resistance_law = air
        cylinders, _ = performance.map.max_effort(
            speed=speed,
            pressure=asked.locomotive.boiler.absolute_pressure,
            steam=performance.sustained_cylinder_steam,
        )
        falling = (7.5 / (3.6 * speed + 44) + 0.161) / (7.5 / 44 + 0.161)
        rail = falling * journey.adhesion[0] * G * performance.mass_on_drivers
        pull = min(cylinders - performance.map.friction, rail)
        energy = min(energy + (pull - weight - resistance_law) * step, mass * 0.5 * 8.0**2)
        place += step
        speed = math.sqrt(max(2 * energy / mass, 0.0))
    assert journey.end_chainage == pytest.approx(place, abs=0.3)


def test_there_is_no_floor_under_the_speed() -> None:
    # A climb she just fails on: the speed goes all the way down, and the run ends there and then.
    own = trials.coaches(10, resistance_law="custom", custom_resistance=CustomResistance(a=0.02))
    route = trials.line([(2500.0, 0.0), (6000.0, 0.021)], speed_limit=8.0)
    journey = run(trials.excursion(route, made_of=trials.train(own), rail="wet"), step=1.0)
    assert journey.outcome == "stalled"
    assert not journey.arrived
    assert len(journey.speed) == len(journey.chainage) == len(journey.grade) + 1
    assert journey.speed[-1] < 0.7
    assert journey.chainage[-1] <= journey.end_chainage < 9500.0
    assert len(journey.stops) == 1


def test_a_train_that_cannot_start_ends_where_it_stands() -> None:
    route = trials.line([(4000.0, 0.03)])
    journey = run(trials.excursion(route, made_of=trials.train(trials.coaches(20))), live=True)
    assert journey.outcome == "stalled"
    assert journey.end_chainage == 1000.0
    assert journey.distance == 0.0


def test_an_empty_tender_ends_the_run() -> None:
    route = trials.line([(60000.0, 0.0)])
    journey = run(trials.excursion(route, initial_water=0.15))
    assert journey.outcome == "out of water"
    assert journey.tender_water[-1] == pytest.approx(0.0, abs=20.0)


def test_an_empty_bunker_ends_the_run() -> None:
    route = trials.line([(60000.0, 0.0)])
    journey = run(trials.excursion(route, initial_fuel=0.05))
    assert journey.outcome == "out of fuel"
    assert journey.tender_fuel[-1] == pytest.approx(0.0, abs=10.0)


@pytest.mark.parametrize("short", [-19.0, -7.0, -1.0, -0.1, 0.1, 0.5, 1.0, 3.0, 7.0, 12.0, 19.0, 27.0])
def test_a_train_that_gives_out_just_before_a_stop_stalls_and_does_not_arrive(short: float) -> None:
    pieces = ((1200.0, 0.0), (6000.0, 0.021))
    own = trials.train(
        trials.coaches(10, resistance_law="custom", custom_resistance=CustomResistance(a=0.02))
    )
    alone = run(trials.excursion(trials.line(pieces, speed_limit=8.0), made_of=own, rail="wet"))
    assert alone.outcome == "stalled"
    route = trials.line(pieces, stops=(alone.end_chainage - 1000.0 + short,), speed_limit=8.0)
    journey = run(trials.excursion(route, made_of=own, rail="wet"))
    assert np.all(np.isfinite(journey.speed))
    assert np.all(np.isfinite(journey.time))
    if short > 0.5:
        assert journey.outcome == "stalled"
        assert journey.end_chainage < alone.end_chainage + short
