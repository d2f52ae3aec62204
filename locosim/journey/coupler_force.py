"""Coupler force along a run."""

from __future__ import annotations

import numpy as np

from locosim.journey.result import Journey
from locosim.journey.setup.helper_performance import HELPER_SPEED_STEP
from locosim.journey.setup.train_forces import (
    Alignment,
    Block,
    cached_alignment,
    consist_length,
    helper_blocks,
    vehicle_coefficients,
)
from locosim.journey.setup.weather import air_density_ratio
from locosim.model import Excursion, Vehicle
from locosim.physics.resistance.laws import with_air_density
from locosim.physics.resistance.starting import BROKEN_AWAY, resistance_at_rest, starting_resistances
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
    for vehicle in reversed(excursion.train.vehicles):
        for _ in range(vehicle.count):
            block = [Block(mass=vehicle.mass, front=rear - vehicle.length, rear=rear)]
            behind += _vehicle_resistance(excursion, vehicle, speed, acceleration)
            behind += alignment.mean_curve_force(block, middle)
            behind += alignment.mean_grade_force(block, middle)
            behind += (vehicle.mass + vehicle.rotating_mass_fraction * vehicle.empty_mass) * acceleration
            highest = np.maximum(highest, behind)
            rear -= vehicle.length
    return np.where(journey.brake > 0.0, 0.0, highest)


def _vehicle_resistance(
    excursion: Excursion, vehicle: Vehicle, speed: Floats, acceleration: Floats
) -> Floats:
    """Running or breakaway resistance of one vehicle on straight level track, in the weather of the day [N]."""
    a, b, c = with_air_density(vehicle_coefficients(vehicle), density_ratio=air_density_ratio(excursion))
    air_speed = speed + excursion.weather.headwind
    running = np.maximum(a + b * speed + c * air_speed * np.abs(air_speed), 0.0)
    at_rest = resistance_at_rest(bearing=vehicle.bearing, temperature=excursion.weather.temperature)
    starting = starting_resistances(speed, running, at_rest, BROKEN_AWAY)
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
