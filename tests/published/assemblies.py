"""Worked examples that need more than one function of locosim; every step is one of its functions."""

from __future__ import annotations

import math

from locosim.physics.operation import momentum, tonnage
from locosim.physics.resistance import laws as resistance
from locosim.physics.resistance.form import Coefficients
from locosim.physics.traction import mean_pressure as handbook
from locosim.physics.traction import tractive_effort
from locosim.physics.traction.adhesion import adhesion_limited_effort
from locosim.physics.traction.machine_friction import bourne_1865


def frank_train(*, service: str, weight_ratio: float) -> Coefficients:
    """Engine and train by Frank; the book takes engines of 54 and 60 tonnes."""
    engine_mass = {"passenger": 54_000.0, "freight": 60_000.0}[service]
    cars = {"passenger": "frank_passenger_cars", "freight": "frank_freight_cars"}[service]
    engine = resistance.LAWS[f"frank_{service}_locomotive"]
    return resistance.mean_coefficients(
        masses=[engine_mass, weight_ratio * engine_mass],
        coefficients=[
            engine(axle_load=engine_mass / 6, axles=6, frontal_area=7.0),
            resistance.LAWS[cars](axle_load=8000.0, axles=2, frontal_area=7.0),
        ],
    )


def frank_train_at_speed(*, service: str, weight_ratio: float, speed: float) -> float:
    coefficients = frank_train(service=service, weight_ratio=weight_ratio)
    return float(resistance.at_speed(coefficients, speed=speed))


def bourne_total_piston_force(
    *, rail_pull: float, blast: float, bore: float, stroke: float, driver_diameter: float
) -> float:
    """Force on both pistons that leaves a pull at the rail after friction and back pressure of the blast.

    The friction law is asked at the answer: with the right indicated pull, what friction leaves is the pull.
    """
    engine = {"bore": bore, "stroke": stroke, "driver_diameter": driver_diameter}
    per_pressure = tractive_effort.effort_per_pressure(**engine)
    low, high = 0.0, 10 * rail_pull
    for _ in range(100):
        indicated = (low + high) / 2
        friction = bourne_1865(
            indicated_effort=indicated, mass_on_drivers=0.0, driving_axles=1, effort_per_pressure=per_pressure
        )
        low, high = (indicated, high) if indicated - friction < rail_pull else (low, indicated)
    piston_force = tractive_effort.piston_force_from_effort(
        effort=indicated, stroke=stroke, driver_diameter=driver_diameter
    )
    return float(piston_force + blast * 2 * tractive_effort.piston_area(bore=bore))


def train_pull_on_grade(*, mass: float, grade: float, rolling_resistance: float) -> float:
    """Pull of a train on a grade: the share of a weight, times that weight."""
    share = tonnage.adhesion_required_on_grade(
        mass=mass, grade=grade, rolling_resistance=rolling_resistance, mass_on_drivers=1000.0
    )
    return float(adhesion_limited_effort(mass_on_drivers=1000.0, coefficient=share))


def wheel_energy(*, mass: float, radius_of_gyration: float, wheel_radius: float, speed: float) -> float:
    equivalent = momentum.rotating_mass(
        count=1, mass=mass, radius_of_gyration=radius_of_gyration, wheel_radius=wheel_radius
    )
    return float(momentum.kinetic_energy(mass=equivalent, speed=speed))


def power_by_speed_factor(*, steam: str, piston_speed: float) -> float:
    """Indicated power of two cylinders of 100 square inches at 200 psi, by the speed factors."""
    factor = {
        "saturated": handbook.speed_factor_saturated,
        "superheated": handbook.speed_factor_superheated,
    }[steam]
    bore, stroke, driver_diameter, pressure = math.sqrt(0.064516 * 4 / math.pi), 0.7, 1.6, 200 * 6894.757293
    rated = tractive_effort.rated_tractive_effort(
        gauge_pressure=pressure, bore=bore, stroke=stroke, driver_diameter=driver_diameter
    )
    speed = tractive_effort.speed_from_piston_speed(
        piston_speed=piston_speed, stroke=stroke, driver_diameter=driver_diameter
    )
    return float(tractive_effort.power(effort=rated * factor(piston_speed=piston_speed), speed=speed))
