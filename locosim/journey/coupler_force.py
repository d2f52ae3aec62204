"""Coupler force along a run."""

from __future__ import annotations

import numpy as np

from locosim.journey.result import Journey
from locosim.journey.setup.helper_performance import HELPER_SPEED_STEP
from locosim.journey.setup.train_forces import (
    Alignment,
    cached_alignment,
    consist_length,
    helper_blocks,
    vehicle_coefficients,
)
from locosim.journey.setup.weather import at_rest_per_mass, broken_away_per_mass, in_weather
from locosim.model import Excursion, Vehicle
from locosim.physics.resistance.starting import starting_resistances
from locosim.physics.types import Floats


def coupler_force(journey: Journey) -> Floats:
    """Highest pull in any coupler behind the tender in each step, shape (n,) [N].

    The pull in a coupler moves everything behind it: running resistance, curves, weight along the track and inertia,
    less the effort of rear helpers beyond what moves them. Steps with the brakes on are 0: slack action is not
    computed.
    """
    excursion = journey.excursion
    middle = 0.5 * (journey.chainage[1:] + journey.chainage[:-1])
    speed = 0.5 * (journey.speed[1:] + journey.speed[:-1])
    acceleration = np.diff(0.5 * journey.speed**2) / np.diff(journey.chainage)
    alignment = cached_alignment(excursion.route_as_run)
    rear = consist_length(excursion)
    behind = _rear_helper_resistance(journey, alignment, speed, acceleration) - _rear_helper_push(
        journey, speed
    )
    highest = np.zeros(len(middle))
    cold_share = _cold_share(journey)
    # A car ends where the next one begins: the work up to there is computed once.
    curve_at_rear, grade_at_rear = alignment.curve_work(middle - rear), alignment.lifting_work(middle - rear)
    for vehicle in reversed(excursion.train.vehicles):
        resistance = _vehicle_resistance(excursion, vehicle, speed, acceleration, cold_share)
        inertia = (vehicle.mass + vehicle.rotating_mass_fraction * vehicle.empty_mass) * acceleration
        for _ in range(vehicle.count):
            front = rear - vehicle.length
            curve, grade = alignment.curve_work(middle - front), alignment.lifting_work(middle - front)
            behind += resistance
            behind += vehicle.mass * (curve - curve_at_rear) / (rear - front)
            behind += vehicle.mass * (grade - grade_at_rear) / (rear - front)
            behind += inertia
            highest = np.maximum(highest, behind)
            rear, curve_at_rear, grade_at_rear = front, curve, grade
    return np.where(journey.brake > 0.0, 0.0, highest)


def _cold_share(journey: Journey) -> Floats:
    """How far the bearings cooled at the last stop before each step, shape (n,): 0 warm, 1 as cold as the air [1]."""
    stood = np.array([stop.depart - stop.arrive for stop in journey.stops])
    stood[0] = np.inf
    places = np.array([stop.chainage for stop in journey.stops])
    last = np.searchsorted(places, journey.chainage[:-1], side="right") - 1
    return np.asarray(1.0 - np.exp(-stood[last] / journey.excursion.assumptions.bearing_cooling_time))


def _vehicle_resistance(
    excursion: Excursion, vehicle: Vehicle, speed: Floats, acceleration: Floats, cold_share: Floats
) -> Floats:
    """Running or breakaway resistance of one vehicle on straight level track, in the weather of the day [N]."""
    a, b, c = in_weather(vehicle_coefficients(vehicle), excursion, vehicle.bearing)
    air_speed = speed + excursion.weather.headwind
    running = np.maximum(a + b * speed + c * air_speed * np.abs(air_speed), 0.0)
    warm, cold = (at_rest_per_mass(excursion, vehicle.bearing, warm=warm) for warm in (True, False))
    at_rest = warm + (cold - warm) * cold_share
    starting = starting_resistances(speed, running, at_rest, broken_away_per_mass(excursion))
    return np.asarray(vehicle.mass * np.where(acceleration > 0.0, starting, running))


def _rear_helper_resistance(
    journey: Journey, alignment: Alignment, speed: Floats, acceleration: Floats
) -> Floats:
    """Force that moves the rear helpers themselves [N]."""
    middle = 0.5 * (journey.chainage[1:] + journey.chainage[:-1])
    length = consist_length(journey.excursion)
    force = np.zeros(len(speed))
    air_speed = speed + journey.excursion.weather.headwind
    blocks = helper_blocks(journey.helpers, length)
    for helper, on, block in zip(journey.helpers, journey.helper_active, blocks, strict=True):
        if helper.place == "rear":
            a, b, c = helper.resistance
            own = a + b * speed + c * air_speed * np.abs(air_speed)
            own += (helper.mass + helper.rotating) * acceleration + helper.friction
            own += alignment.mean_grade_force([block], middle)
            own += alignment.mean_curve_force([block], middle)
            force += on * own
    return force


def _rear_helper_push(journey: Journey, speed: Floats) -> Floats:
    """Effort of the rear helpers [N]."""
    if not any(helper.place == "rear" for helper in journey.helpers):
        return np.zeros(len(speed))
    rear_effort, all_effort = np.zeros(len(speed)), np.zeros(len(speed))
    for helper, on in zip(journey.helpers, journey.helper_active, strict=True):
        effort = on * np.interp(speed, np.arange(len(helper.effort)) * HELPER_SPEED_STEP, helper.effort)
        all_effort += effort
        if helper.place == "rear":
            rear_effort += effort
    return np.asarray(journey.helper_effort * rear_effort / np.maximum(all_effort, 1.0))
