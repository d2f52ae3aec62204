"""Torque of the reciprocating parts of a cylinder at steady speed."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from locosim.physics.cylinder.revolution import Cylinder
from locosim.physics.types import Floats


def reciprocating_torque(
    cylinder: Cylinder, *, mass: float, cranks: Sequence[float], driver_speed: float, steps: int
) -> Floats:
    """Torque that the reciprocating parts of like cylinders exert on the axle over a revolution.

    The parts take up kinetic energy E in the first half of a stroke and give it back in the second:
    T = -dE/d(angle), E = m v^2/2, at constant driving-wheel speed. The mean over each crank step is exact, so the mean
    over a revolution is zero. Without rod obliquity one cylinder gives T = -m r^2 w^2 sin(2 angle)/2.

    Args:
        cylinder: The cylinder.
        mass: Reciprocating mass of one cylinder [kg].
        cranks: Crank angle of each cylinder behind the first [rad].
        driver_speed: Driving-wheel speed [1/s].
        steps: Crank steps in a revolution.

    Returns:
        Torque at the middle of each crank step of the first cylinder, shape (steps,) [N m].
    """
    angle = np.linspace(0.0, 2.0 * math.pi, steps + 1)
    torque = np.zeros(steps)
    for crank in cranks:
        velocity = 2.0 * math.pi * driver_speed * _travel_per_angle(angle + crank, cylinder)
        torque -= np.diff(0.5 * mass * velocity**2) / np.diff(angle)
    return torque


def _travel_per_angle(angle: Floats, cylinder: Cylinder) -> Floats:
    """Travel of the piston over crank angle [m/rad], positive away from the front dead center."""
    sine, cosine = np.sin(angle), np.cos(angle)
    obliquity = sine * cosine / np.sqrt(cylinder.rod_ratio**2 - sine**2)
    return np.asarray(0.5 * cylinder.stroke * (sine + obliquity))
