"""Pull in the couplers of the train along a run."""

from __future__ import annotations

import numpy as np

from locosim.journey.run import Journey
from locosim.journey.setup.helper_engines import SPEED_STEP
from locosim.journey.setup.train_forces import (
    Alignment,
    Block,
    alignment_of,
    consist_length,
    helper_blocks,
    vehicle_coefficients,
)
from locosim.journey.setup.weather import air_density_ratio, plain_start
from locosim.model import Excursion, Vehicle
from locosim.physics.resistance.grade_and_curve import BROKEN_AWAY, BROKEN_AWAY_SPEED, START_ROLLER
from locosim.physics.resistance.laws import with_air_density
from locosim.physics.types import Floats


def coupler_pull(journey: Journey) -> Floats:
    """Greatest pull in any coupler behind the tender in each step, shape (n,) [N].

    The pull in a coupler is what moves everything behind it: running resistance, curves, weight along the
    track and inertia, less what engines at the rear give beyond their own needs. Steps on the brake are left
    at 0: what the slack does then is not computed.
    """
    excursion = journey.excursion
    middle = 0.5 * (journey.chainage[1:] + journey.chainage[:-1])
    speed = 0.5 * (journey.speed[1:] + journey.speed[:-1])
    acceleration = np.diff(0.5 * journey.speed**2) / np.diff(journey.chainage)
    alignment = alignment_of(excursion.line)
    rear = consist_length(excursion)
    behind = _rear_needs(journey, alignment, speed, acceleration) - _rear_push(journey, speed)
    most = np.zeros(len(middle))
    for vehicle in reversed(excursion.train.vehicles):
        for _ in range(vehicle.count):
            block = [Block(mass=vehicle.mass, front=rear - vehicle.length, rear=rear)]
            behind += _running(excursion, vehicle, speed, acceleration)
            behind += alignment.mean_curving(block, middle)
            behind += alignment.mean_weight(block, middle)
            behind += (vehicle.mass + vehicle.rotating_allowance * vehicle.tare) * acceleration
            most = np.maximum(most, behind)
            rear -= vehicle.length
    return np.where(journey.brake > 0.0, 0.0, most)


def _running(excursion: Excursion, vehicle: Vehicle, speed: Floats, acceleration: Floats) -> Floats:
    """Resistance of one vehicle on straight level track in the day's weather, breaking away among it [N]."""
    a, b, c = with_air_density(vehicle_coefficients(vehicle), density_ratio=air_density_ratio(excursion))
    through_air = speed + excursion.weather.head_wind
    rest = START_ROLLER if vehicle.bearing == "roller" else plain_start(excursion)
    part = np.minimum(speed / BROKEN_AWAY_SPEED, 1.0)
    starting = (speed < BROKEN_AWAY_SPEED) & (acceleration > 0.0)
    breaking = np.where(starting, rest + (min(BROKEN_AWAY, rest) - rest) * part, 0.0)
    return np.asarray(
        vehicle.mass * np.maximum(a + b * speed + c * through_air * np.abs(through_air), breaking)
    )


def _rear_needs(journey: Journey, alignment: Alignment, speed: Floats, acceleration: Floats) -> Floats:
    """What engines at the rear take to move themselves [N]."""
    middle = 0.5 * (journey.chainage[1:] + journey.chainage[:-1])
    length = consist_length(journey.excursion)
    needs = np.zeros(len(speed))
    through_air = speed + journey.excursion.weather.head_wind
    blocks = helper_blocks(journey.helpers, length)
    for helper, on, block in zip(journey.helpers, journey.helping, blocks, strict=True):
        if helper.place == "rear":
            a, b, c = helper.resistance
            own = a + b * speed + c * through_air * np.abs(through_air)
            own += (helper.mass + helper.rotating) * acceleration + helper.friction
            own += alignment.mean_weight([block], middle)
            own += alignment.mean_curving([block], middle)
            needs += on * own
    return needs


def _rear_push(journey: Journey, speed: Floats) -> Floats:
    """Share of the assistance that pushes from the rear [N]."""
    if not any(helper.place == "rear" for helper in journey.helpers):
        return np.zeros(len(speed))
    from_rear, all_pull = np.zeros(len(speed)), np.zeros(len(speed))
    for helper, on in zip(journey.helpers, journey.helping, strict=True):
        pull = on * np.interp(speed, np.arange(len(helper.pull)) * SPEED_STEP, helper.pull)
        all_pull += pull
        if helper.place == "rear":
            from_rear += pull
    return np.asarray(journey.assist_pull * from_rear / np.maximum(all_pull, 1.0))
