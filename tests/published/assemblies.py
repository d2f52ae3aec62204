"""Worked examples that need more than one function of locosim."""

from __future__ import annotations

import math

import numpy as np

from locosim.constants import ATMOSPHERE
from locosim.model import Cylinders
from locosim.physics.boiler.evaporation import evaporation_per_coal
from locosim.physics.operation import momentum, tonnage
from locosim.physics.resistance import laws as resistance
from locosim.physics.resistance import starting
from locosim.physics.resistance.form import Coefficients
from locosim.physics.resistance.grade_and_curve import grade_resistance
from locosim.physics.steam import properties as steam
from locosim.physics.traction import mean_pressure as handbook
from locosim.physics.traction import tractive_effort
from locosim.physics.traction.adhesion import adhesion_limited_effort


def frank_train(*, service: str, weight_ratio: float) -> Coefficients:
    """Engine and train by Frank; the book takes engines of 54 and 60 tonnes."""
    engine_mass = {"passenger": 54_000.0, "freight": 60_000.0}[service]
    engine = resistance.LAWS[f"frank_{service}_locomotive"](
        axle_load=engine_mass / 6, axles=6, frontal_area=7.0
    )
    cars = resistance.LAWS[f"frank_{service}_cars"](axle_load=8000.0, axles=2, frontal_area=7.0)
    return Coefficients(*np.average([engine, cars], axis=0, weights=[1.0, weight_ratio]))


def frank_train_at_speed(*, service: str, weight_ratio: float, speed: float) -> float:
    a, b, c = frank_train(service=service, weight_ratio=weight_ratio)
    return float(a + b * speed + c * speed**2)


def rating_in_cold(*, temperature: float, ruling_grade: float, running_resistance: float) -> float:
    """Load that one tractive effort hauls up a grade in the cold, over the load in mild air."""
    cold = starting.cold_factor(temperature=temperature) * running_resistance
    grade = float(grade_resistance(grade=ruling_grade))
    return (running_resistance + grade) / (cold + grade)


def winter_increase(*, mild: float, cold: float) -> float:
    """Resistance of freight cars at one temperature over that at another."""
    return starting.cold_factor(temperature=cold) / starting.cold_factor(temperature=mild)


def resistance_by_law(
    *, law: str, speed: float, axle_load: float, frontal_area: float, axles: float
) -> float:
    """Running resistance per mass of a vehicle in still air, by the law that a file names."""
    a, b, c = resistance.LAWS[law](axle_load=axle_load, axles=axles, frontal_area=frontal_area)
    return float(a + b * speed + c * speed**2)


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
    return float(rated * factor(piston_speed=piston_speed) * speed)


def indicated_effort_at_rim(
    *, mean_effective_pressure: float, bore: float, stroke: float, driver_diameter: float
) -> float:
    """Indicated effort of two cylinders."""
    return float(
        mean_effective_pressure
        * tractive_effort.effort_per_pressure(bore=bore, stroke=stroke, driver_diameter=driver_diameter)
    )


def indicated_power(
    *, mean_effective_pressure: float, speed: float, bore: float, stroke: float, driver_diameter: float
) -> float:
    """Indicated power of two cylinders."""
    effort = indicated_effort_at_rim(
        mean_effective_pressure=mean_effective_pressure,
        bore=bore,
        stroke=stroke,
        driver_diameter=driver_diameter,
    )
    return effort * speed


def mean_effective_pressure(
    *, admission_pressure: float, back_pressure: float, cutoff: float, clearance: float
) -> float:
    """Hyperbolic expansion against a constant back pressure; absolute pressures."""
    return float(
        admission_pressure * handbook.mean_pressure_ratio(cutoff=cutoff, clearance=clearance) - back_pressure
    )


def expansion_work_ratio(*, expansion_ratio: float) -> float:
    """Work of steam expanded hyperbolically over its work without expansion."""
    return float(expansion_ratio * handbook.mean_pressure_ratio(cutoff=1 / expansion_ratio))


def swept_volume(*, bore: float, stroke: float) -> float:
    """Volume swept by one piston in one stroke."""
    return Cylinders(number=2, bore=bore, stroke=stroke).swept_volume


def swept_volume_rate(*, speed: float, bore: float, stroke: float, driver_diameter: float) -> float:
    """Volume swept by two double-acting pistons in unit time."""
    strokes = 4 * tractive_effort.driver_revolutions(speed=speed, driver_diameter=driver_diameter)
    return float(strokes * swept_volume(bore=bore, stroke=stroke))


def grate_evaporation(*, grate_area: float, firing_rate_per_grate_area: float) -> float:
    """Water evaporated by a grate at a firing rate."""
    per_coal = evaporation_per_coal(firing_rate_per_grate_area=firing_rate_per_grate_area)
    return float(grate_area * firing_rate_per_grate_area * per_coal)


def factor_of_evaporation(*, gauge_pressure: float, feed_temperature: float) -> float:
    """Heat put into dry saturated steam, in units of evaporation from and at 212 °F."""
    pressure = gauge_pressure + ATMOSPHERE
    heat = steam.vapor_enthalpy(pressure=pressure) - steam.enthalpy(
        pressure=pressure, temperature=feed_temperature
    )
    return heat / steam.EVAPORATION_FROM_AND_AT_212F
