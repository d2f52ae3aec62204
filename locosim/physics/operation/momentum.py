"""Momentum of trains: kinetic energy, velocity head, rotating mass."""

from __future__ import annotations

import numpy as np

from locosim.constants import GRAVITY
from locosim.physics.types import Real

# Equivalent mass of the rotating wheels over the mass of the train. [Webb1906] § 120, freight car: loaded 3.15 %,
# empty 8.9 %; 5 % is the usual allowance for a train.
ROTATING_MASS_FRACTION = 0.05


def rotating_mass(*, count: float, mass: float, radius_of_gyration: float, wheel_radius: float) -> float:
    """Equivalent mass of rotating wheels: the mass with the same energy at the speed of the train.

    Args:
        count: Number of equal wheels [1].
        mass: Mass of one wheel [kg].
        radius_of_gyration: Radius of gyration of a wheel [m].
        wheel_radius: Radius of the tread [m].

    Returns:
        Equivalent mass [kg].

    References:
        [Webb1906] § 120.
    """
    return count * mass * (radius_of_gyration / wheel_radius) ** 2


def kinetic_energy(*, mass: float, speed: Real) -> Real:
    """Kinetic energy of a mass.

    Args:
        mass: Mass, including the equivalent mass of the wheels where it counts [kg].
        speed: Speed [m/s].

    Returns:
        Energy [J].

    References:
        Mechanics.
    """
    return mass * speed**2 / 2


def velocity_head(*, speed: Real, rotating_mass_fraction: float = 0.0) -> Real:
    """Velocity head: the height to which the kinetic energy of a train would lift it.

    Args:
        speed: Speed [m/s].
        rotating_mass_fraction: Equivalent mass of the rotating wheels over the mass of the train [1].

    Returns:
        Height [m].

    References:
        [Webb1906] § 124 and table XX, with 5 % rotating: 0.0351 V² ft, V in mile/h.
    """
    return (1 + rotating_mass_fraction) * speed**2 / (2 * GRAVITY)


def speed_from_velocity_head(*, head: Real, rotating_mass_fraction: float = 0.0) -> Real:
    """Speed from a velocity head.

    Args:
        head: Velocity head, not below zero [m].
        rotating_mass_fraction: Equivalent mass of the rotating wheels over the mass of the train [1].

    Returns:
        Speed [m/s].

    References:
        [Webb1906] § 124.
    """
    speed: Real = np.sqrt(2 * GRAVITY * head / (1 + rotating_mass_fraction))
    return speed


def speed_after_rise(*, speed: Real, rise: float, rotating_mass_fraction: float = 0.0) -> Real:
    """Speed after a change of height, with an effort that balances the resistance on the level.

    Args:
        speed: Speed before [m/s].
        rise: Height gained, negative when lost [m].
        rotating_mass_fraction: Equivalent mass of the rotating wheels over the mass of the train [1].

    Returns:
        Speed; zero where the train does not reach that height [m/s].

    References:
        [Webb1906] §§ 124 and 193.
    """
    head = velocity_head(speed=speed, rotating_mass_fraction=rotating_mass_fraction) - rise
    left: Real = np.maximum(head, 0.0)
    return speed_from_velocity_head(head=left, rotating_mass_fraction=rotating_mass_fraction)


def momentum_run(*, head: Real, resistance: float) -> Real:
    """Distance that a train runs without steam on its velocity head.

    Args:
        head: Velocity head [m].
        resistance: Resistance per mass, grade included [N/kg].

    Returns:
        Distance [m].

    References:
        [Randolph1910].
    """
    return GRAVITY * head / resistance


def accelerating_force(
    *, speed_before: Real, speed_after: Real, distance: float, rotating_mass_fraction: float = 0.0
) -> Real:
    """Mean force per mass that changes the speed over a distance.

    Args:
        speed_before: Speed at the beginning [m/s].
        speed_after: Speed at the end [m/s].
        distance: Distance [m].
        rotating_mass_fraction: Equivalent mass of the rotating wheels over the mass of the train [1].

    Returns:
        Force per mass, negative when it slows the train [N/kg].

    References:
        [Webb1906] § 120; with 5 % rotating 70 (V2² - V1²)/feet lb per short ton, from memory.
    """
    return (1 + rotating_mass_fraction) * (speed_after**2 - speed_before**2) / (2 * distance)
