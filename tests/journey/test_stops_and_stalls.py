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
from locosim.journey.setup.prepare import MAX_STEP
from locosim.journey.setup.train_forces import contents_at_start, train_load
from locosim.model import Crew, Criteria, CustomResistance, Excursion, Stop

G = 9.80665
LEVEL = ((3000.0, 0.0), (3000.0, 0.002), (3000.0, -0.002))


def run(excursion: Excursion, *, transient: bool = False, step: float = MAX_STEP) -> Journey:
    return run_journey(excursion, trials.performance(excursion), transient_boiler=transient, step=step)


@pytest.mark.parametrize("transient", [False, True])
def test_speed_is_zero_at_each_stop_and_nowhere_else(transient: bool) -> None:
    journey = run(trials.excursion(trials.line(LEVEL, stops=(3500.0, 5200.0))), transient=transient)
    assert journey.arrived
    chainages = [stop.chainage for stop in journey.stops]
    assert chainages == [1000.0, 4500.0, 6200.0, 10000.0]
    at = [int(np.flatnonzero(journey.chainage == chainage)[0]) for chainage in chainages]
    assert np.all(journey.speed[at] == 0.0)
    moving = np.delete(journey.speed, at)
    assert np.all(moving > 0.0)


def test_speed_never_exceeds_the_allowed_speed() -> None:
    journey = run(trials.excursion(trials.line(LEVEL, stops=(3500.0,), speed_limit=17.0)), transient=True)
    assert np.all(journey.speed <= journey.allowed_speed * (1 + 1e-12))
    assert np.max(journey.speed) == pytest.approx(17.0)


def test_time_is_distance_over_mean_speed() -> None:
    journey = run(trials.excursion(trials.line(LEVEL)))
    # Acceleration is constant between nodes, so a step takes twice its length over the sum of the speeds.
    length, fastest = np.diff(journey.chainage), np.maximum(journey.speed[1:], journey.speed[:-1])
    took = 2 * length / (journey.speed[1:] + journey.speed[:-1])
    full = np.isin(journey.limit, (records.STEAM, records.CYLINDERS, records.ADHESION))
    # But for the step in which full effort ends: the train is sooner at the speed allowed.
    ending = np.append(False, full[:-1] & ~full[1:])
    assert 1 <= np.sum(ending) <= 3
    # A step from rest is run in parts, in which the acceleration changes a little.
    starting = ~ending & (journey.speed[1:] < 2.0)
    other = ~ending & ~starting
    assert np.diff(journey.time)[other] == pytest.approx(took[other])
    assert np.diff(journey.time)[starting] == pytest.approx(took[starting], rel=5e-3)
    assert np.all(np.diff(journey.time)[ending] < took[ending])
    assert np.all(np.diff(journey.time) >= length / fastest * (1.0 - 1e-9))


def test_braking_is_at_the_planned_deceleration() -> None:
    journey = run(trials.excursion(trials.line(LEVEL), criteria=Criteria(service_deceleration=0.4)))
    braking = journey.limit == records.BRAKING
    energy = 0.5 * journey.speed**2
    rate = -np.diff(energy) / np.diff(journey.chainage)
    # The step in which braking begins may be slower.
    assert np.median(rate[braking]) == pytest.approx(0.4)
    assert np.max(rate[braking]) <= 0.4 * (1 + 1e-9)


def test_the_train_waits_for_dwell_and_timetable() -> None:
    route = trials.line(LEVEL, stops=(2000.0, 5000.0))
    free = run(trials.excursion(route, departure=36000.0))
    b = free.stops[1].arrive
    excursion = trials.excursion(
        route,
        departure=36000.0,
        stops=(
            Stop(station="A"),
            Stop(station="B", dwell=90.0, depart=b + 600.0),
            Stop(station="C", dwell=240.0, depart=b + 610.0),
            Stop(station="D"),
        ),
    )
    journey = run(excursion)
    assert journey.stops[0].depart == 36000.0
    assert journey.stops[1].arrive == pytest.approx(b)
    assert journey.stops[1].depart == pytest.approx(b + 600.0)  # early: waits for the booked time
    assert journey.stops[2].depart - journey.stops[2].arrive == pytest.approx(240.0)  # late: still dwells
    assert journey.stops[3].depart == journey.stops[3].arrive


def test_filling_the_tender_takes_time() -> None:
    route = trials.line(LEVEL, stops=(5000.0,))
    excursion = trials.excursion(
        route, stops=(Stop(station="A"), Stop(station="B", dwell=10.0, take_water="fill"), Stop(station="C"))
    )
    stop = run(excursion).stops[1]
    taken = 21000.0 - stop.water_on_arrival
    # The water column gives 0.05 m³/s.
    assert stop.depart - stop.arrive == pytest.approx(taken / 50.0)
    blower = excursion.locomotive.auxiliaries.blower + excursion.locomotive.auxiliaries.continuous_demand
    assert stop.water_on_departure == pytest.approx(21000.0 - blower * (stop.depart - stop.arrive))


def test_water_where_there_is_none_is_refused() -> None:
    route = trials.line(LEVEL)
    dry = replace(route, stations=tuple(replace(s, water_rate=0.0) for s in route.stations))
    with pytest.raises(OutOfRange, match=r"stops\[1\]\.take_water found 'fill', but A has no water_rate"):
        trials.excursion(dry, stops=(Stop(station="A", take_water="fill"), Stop(station="B")))


# Stalls


def slow_climb(grade: float) -> Excursion:
    """A climb at low speed, where cylinders or rail limit the effort."""
    route = trials.line([(1500.0, -0.001), (9000.0, grade)], speed_limit=9.0)
    return trials.excursion(route, rail="dry", crew=Crew(steam_allowance=1.5))


def test_a_stall_is_where_the_kinetic_energy_is_used_up() -> None:
    # The forces are nearly constant near a stall, so the distance left from the last node is known from them.
    excursion = slow_climb(0.026)
    journey = run(excursion)
    assert journey.outcome == "stalled"
    fine = run(excursion, step=6.0)
    assert journey.end_chainage == pytest.approx(fine.end_chainage, abs=5.0)  # a quarter of a step
    # Kinetic energy at the last node over the missing force is the distance left.
    performance = journey.performance
    load = train_load(excursion)
    contents = journey.tender_water[-1] + journey.tender_fuel[-1]
    mass = load.mass + load.rotating + contents
    speed = journey.speed[-1]
    by_cylinders, _ = performance.map.max_effort(
        speed=0.0, pressure=excursion.locomotive.boiler.absolute_pressure
    )
    coefficient = journey.adhesion[-1]
    effort = min(performance.map.rim_effort(by_cylinders), coefficient * G * performance.mass_on_drivers)
    weight = (load.mass + contents) * G * math.sin(math.atan(0.026))
    running = load.a + load.a_contents * contents
    missing = weight + running - effort
    assert missing > 0.0
    distance = mass * 0.5 * speed**2 / missing
    assert journey.end_chainage - journey.chainage[-1] == pytest.approx(distance, abs=2.0)


def test_a_train_on_too_steep_a_grade_stalls_where_its_momentum_ends() -> None:
    # A resistance without speed, so that the energy balance below is simple.
    own = trials.coaches(10, resistance_law="custom", custom_resistance=CustomResistance(a=0.02))
    run_up, grade = 2500.0, 0.05
    route = trials.line([(run_up, 0.0), (4000.0, grade)], speed_limit=8.0)
    excursion = trials.excursion(route, made_of=trials.train(own), rail="wet")
    journey = run(excursion, step=5.0)
    assert journey.outcome == "stalled"
    length = 11.7 + 8.3 + excursion.train.length
    foot = 1000.0 + run_up
    assert foot < journey.end_chainage < foot + length
    # Energy balance by quadrature over the climb, with forces computed here.
    load, performance = train_load(excursion), journey.performance
    on = int(np.flatnonzero(np.isclose(journey.chainage, foot))[0])
    contents = contents_at_start(excursion)
    mass = load.mass + load.rotating + contents
    energy = mass * 0.5 * journey.speed[on] ** 2
    sine = math.sin(math.atan(grade))
    blocks = [
        (excursion.locomotive.mass, 0.0, 11.7),
        (excursion.locomotive.tender.empty_mass + contents, 11.7, 20.0),
        (excursion.train.mass, 20.0, length),
    ]
    at, step, speed = foot, 0.05, float(journey.speed[on])
    while energy > 0.0:
        climbed = at - foot
        weight = sum(
            m * G * sine * min(max((climbed - front) / (rear - front), 0.0), 1.0) for m, front, rear in blocks
        )
        # The train has been under way, so breakaway resistance is over, however slow it gets.
        resistance = (
            load.a
            + load.b * speed
            + load.c * speed**2
            + (load.a_contents + load.b_contents * speed) * contents
        )
        cylinders, _ = performance.map.max_effort(
            speed=speed,
            pressure=excursion.locomotive.boiler.absolute_pressure,
            steam=performance.sustained_cylinder_steam,
        )
        speed_factor = (7.5 / (3.6 * speed + 44) + 0.161) / (7.5 / 44 + 0.161)
        rail = speed_factor * journey.adhesion[0] * G * performance.mass_on_drivers
        effort = min(performance.map.rim_effort(cylinders), rail)
        energy = min(energy + (effort - weight - resistance) * step, mass * 0.5 * 8.0**2)
        at += step
        speed = math.sqrt(max(2 * energy / mass, 0.0))
    assert journey.end_chainage == pytest.approx(at, abs=0.3)


def test_speed_has_no_lower_bound() -> None:
    # A climb the train barely fails on: speed falls to almost nothing, and the run ends there.
    own = trials.coaches(10, resistance_law="custom", custom_resistance=CustomResistance(a=0.02))
    route = trials.line([(2500.0, 0.0), (6000.0, 0.021)], speed_limit=8.0)
    journey = run(trials.excursion(route, made_of=trials.train(own), rail="wet"), step=1.0)
    assert journey.outcome == "stalled"
    assert not journey.arrived
    assert len(journey.speed) == len(journey.chainage) == len(journey.grade) + 1
    assert journey.speed[-1] < 0.7
    assert journey.chainage[-1] <= journey.end_chainage < 9500.0
    assert len(journey.stops) == 1


def test_a_train_that_cannot_start_stalls_at_the_station() -> None:
    route = trials.line([(4000.0, 0.03)])
    journey = run(trials.excursion(route, made_of=trials.train(trials.coaches(20))), transient=True)
    assert journey.outcome == "stalled"
    assert journey.end_chainage == 1000.0
    assert journey.distance == 0.0


def test_an_empty_tender_ends_the_run() -> None:
    route = trials.line([(60000.0, 0.0)])
    journey = run(trials.excursion(route, initial_water=0.15))
    assert journey.outcome == "out of water"
    assert journey.tender_water[-1] == pytest.approx(0.0, abs=20.0)


def test_running_out_of_fuel_ends_the_run() -> None:
    route = trials.line([(60000.0, 0.0)])
    journey = run(trials.excursion(route, initial_fuel=0.05))
    assert journey.outcome == "out of fuel"
    assert journey.tender_fuel[-1] == pytest.approx(0.0, abs=10.0)


@pytest.mark.parametrize("short", [-19.0, -7.0, -1.0, -0.1, 0.1, 0.5, 1.0, 3.0, 7.0, 12.0, 19.0, 27.0])
def test_a_train_that_fails_just_short_of_a_stop_stalls(short: float) -> None:
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
