"""Coupler force along a run."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from locosim.journey.result import Journey
from locosim.journey.setup.train_forces import (
    Alignment,
    cached_alignment,
    car_resistances,
    consist_length,
    helper_blocks,
)
from locosim.journey.setup.weather import broken_away_per_mass
from locosim.model import Excursion
from locosim.physics.resistance.starting import BREAKAWAY_SPEED, starting_resistances
from locosim.physics.types import Floats

Steps = slice | npt.NDArray[np.intp]  # steps of a run

ALL_STEPS = slice(None)
STEPS_TOGETHER = 16  # in the search for the highest pull
SEEN_FIRST = 32  # steps in which the pull is likely to be the highest


class Motion(NamedTuple):
    """Motion of the train in some steps of a run."""

    middle: Floats  # chainage, shape (k,) [m]
    speed: Floats  # shape (k,) [m/s]
    acceleration: Floats  # shape (k,) [m/s²]


def coupler_force(journey: Journey, steps: Steps = ALL_STEPS) -> Floats:
    """Highest pull in any coupler behind the tender in each step, shape (n,) [N].

    The pull in a coupler moves everything behind it: running resistance, curves, weight along the track and inertia,
    less the effort of rear helpers beyond what moves them. Steps with the brakes on are 0: slack action is not
    computed.

    Args:
        journey: The run.
        steps: The steps asked for, all by default; the result has their shape.
    """
    excursion = journey.excursion
    at = _motion(journey, steps)
    alignment, vehicles = cached_alignment(excursion.route_as_run), excursion.train.vehicles
    last = _rear_helper_resistance(journey, alignment, at, steps) - _rear_helper_push(journey, at, steps)
    if not vehicles:
        return np.zeros(len(at.middle))
    cold_share, counts = _cold_share(journey, steps), [vehicle.count for vehicle in vehicles]
    length, mass, inertia = (
        np.repeat(of_each, counts)
        for of_each in (
            [vehicle.length for vehicle in vehicles],
            [vehicle.mass for vehicle in vehicles],
            [v.mass + v.rotating_mass_fraction * v.empty_mass for v in vehicles],
        )
    )
    ends = consist_length(excursion) - np.append(np.cumsum(length[::-1])[::-1], 0.0)
    place = at.middle[:, np.newaxis] - ends
    work = alignment.curve_work(place) + alignment.lifting_work(place)
    force = mass / length * (work[:, :-1] - work[:, 1:]) + inertia * at.acceleration[:, np.newaxis]
    force += np.repeat(_resistance_of_each(excursion, at, cold_share), counts, axis=1)
    behind = np.cumsum(force[:, ::-1], axis=1) + last[:, np.newaxis]
    return np.where(journey.brake[steps] > 0.0, 0.0, np.maximum(np.max(behind, axis=1), 0.0))


def highest_pull(journey: Journey) -> tuple[int, float]:
    """Step with the highest pull in any coupler, the first of several, and that pull [N].

    Only steps in which it can be the highest are computed: in no coupler is there more than all cars would take with
    each of them where the line under the train is steepest.

    Args:
        journey: A run of at least one step.
    """
    if any(helper.place == "rear" for helper in journey.helpers):
        steps = np.arange(len(journey.brake))
    else:
        bound = _pull_bound(journey)
        seen = np.argpartition(bound, -SEEN_FIRST)[-SEEN_FIRST:] if len(bound) > SEEN_FIRST else ALL_STEPS
        steps = np.flatnonzero(bound >= (1.0 - 1e-9) * np.max(coupler_force(journey, seen)))
    pull = coupler_force(journey, steps)
    worst = int(np.argmax(pull))
    return int(steps[worst]), float(pull[worst])


def _pull_bound(journey: Journey) -> Floats:
    """Upper bound of the pull in any coupler in each step, without rear helpers, shape (n,) [N]."""
    excursion = journey.excursion
    at, train = _motion(journey, ALL_STEPS), excursion.train
    # The steepest line is looked for under several steps together.
    first = np.arange(0, len(at.middle), STEPS_TOGETHER)
    final = np.minimum(first + STEPS_TOGETHER, len(at.middle)) - 1
    highest = cached_alignment(excursion.route_as_run).highest_force(
        at.middle[first] - consist_length(excursion), at.middle[final]
    )
    air_speed = np.maximum(at.speed + excursion.weather.headwind, 0.0)
    started = at.speed > BREAKAWAY_SPEED
    a, b, c, rest = 0.0, 0.0, 0.0, 0.0
    for vehicle, (own, warm, cold) in zip(train.vehicles, car_resistances(excursion), strict=True):
        mass = vehicle.count * vehicle.mass
        a, b, c = a + max(own[0], 0.0) * mass, b + max(own[1], 0.0) * mass, c + max(own[2], 0.0) * mass
        rest += max(warm, cold) * mass
    resistance = a + b * at.speed + c * air_speed**2 + np.where(started, 0.0, rest)
    track = train.mass * np.repeat(np.maximum(highest, 0.0), final - first + 1)
    inertia = (train.mass + train.rotating_mass) * np.maximum(at.acceleration, 0.0)
    return np.where(journey.brake > 0.0, 0.0, resistance + track + inertia)


def _motion(journey: Journey, steps: Steps) -> Motion:
    """Motion of the train in some steps."""
    first = np.arange(len(journey.brake))[steps]
    chainage, speed = ((values[first], values[first + 1]) for values in (journey.chainage, journey.speed))
    acceleration = 0.5 * (speed[1] ** 2 - speed[0] ** 2) / (chainage[1] - chainage[0])
    return Motion(0.5 * (chainage[0] + chainage[1]), 0.5 * (speed[0] + speed[1]), acceleration)


def _cold_share(journey: Journey, steps: Steps) -> Floats:
    """How far the bearings cooled at the last stop before each step: 0 warm, 1 as cold as the air [1]."""
    stood = np.array([stop.depart - stop.arrive for stop in journey.stops])
    stood[0] = np.inf
    cold = 1.0 - np.exp(-stood / journey.excursion.assumptions.bearing_cooling_time)
    places = np.array([stop.chainage for stop in journey.stops])
    last = np.searchsorted(places, journey.chainage[:-1][steps], side="right") - 1
    return np.asarray(cold[last])


def _resistance_of_each(excursion: Excursion, at: Motion, cold_share: Floats) -> Floats:
    """Running or breakaway resistance of a car of each kind, on straight level track, shape (k, kinds) [N]."""
    cars = car_resistances(excursion)
    a, b, c = np.array([car.running for car in cars]).T
    warm, cold = np.array([[car.warm, car.cold] for car in cars]).T
    speed = at.speed[:, np.newaxis]
    air_speed = speed + excursion.weather.headwind
    running = np.maximum(a + b * speed + c * air_speed * np.abs(air_speed), 0.0)
    at_rest = warm + (cold - warm) * cold_share[:, np.newaxis]
    starting = starting_resistances(
        np.repeat(at.speed, len(cars)), running.ravel(), at_rest.ravel(), broken_away_per_mass(excursion)
    ).reshape(running.shape)
    mass = np.array([vehicle.mass for vehicle in excursion.train.vehicles])
    return np.asarray(mass * np.where(at.acceleration[:, np.newaxis] > 0.0, starting, running))


def _rear_helper_resistance(journey: Journey, alignment: Alignment, at: Motion, steps: Steps) -> Floats:
    """Force that moves the rear helpers themselves [N]."""
    length = consist_length(journey.excursion)
    force = np.zeros(len(at.speed))
    air_speed = at.speed + journey.excursion.weather.headwind
    blocks = helper_blocks(journey.helpers, length)
    for helper, on, block in zip(journey.helpers, journey.helper_active, blocks, strict=True):
        if helper.place == "rear":
            a, b, c = helper.resistance
            own = a + b * at.speed + c * air_speed * np.abs(air_speed)
            own += (helper.mass + helper.rotating) * at.acceleration + helper.friction
            own += alignment.grade_force([block], at.middle)
            own += alignment.curve_force([block], at.middle)
            force += on[steps] * own
    return force


def _rear_helper_push(journey: Journey, at: Motion, steps: Steps) -> Floats:
    """Effort of the rear helpers [N]."""
    speed = at.speed
    if not any(helper.place == "rear" for helper in journey.helpers):
        return np.zeros(len(speed))
    rear_effort, all_effort = np.zeros(len(speed)), np.zeros(len(speed))
    for helper, active in zip(journey.helpers, journey.helper_active, strict=True):
        on = active[steps]
        effort = on * helper.effort_at(speed)
        all_effort += effort
        if helper.place == "rear":
            rear_effort += effort
    return np.asarray(journey.helper_effort[steps] * rear_effort / np.maximum(all_effort, 1.0))
