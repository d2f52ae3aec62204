"""Effect of the weather on resistance: density of the air, and bearings in the cold."""

from __future__ import annotations

from locosim.model import Excursion, Locomotive
from locosim.physics.resistance.air import standard_pressure_ratio
from locosim.physics.resistance.form import Coefficients
from locosim.physics.resistance.laws import with_air_density
from locosim.physics.resistance.starting import BROKEN_AWAY, cold_factor, resistance_at_rest

STANDARD_TEMPERATURE = 288.15  # air temperature assumed for the resistance laws [K]


def air_density_ratio(excursion: Excursion) -> float:
    """Density of the air over that of the resistance laws, by temperature and the altitude of the line [1]."""
    pressure = standard_pressure_ratio(altitude=excursion.route.altitude)
    return pressure * STANDARD_TEMPERATURE / excursion.weather.temperature


def running_cold_factor(excursion: Excursion, bearing: str) -> float:
    """Bearing resistance of the day over that of mild weather, by type of bearing [1]."""
    exponent = excursion.assumptions.roller_cold_share if bearing == "roller" else 1.0
    return cold_factor(temperature=excursion.weather.temperature, exponent=exponent)


def in_weather(coefficients: tuple[float, float, float], excursion: Excursion, bearing: str) -> Coefficients:
    """Running resistance a + b v + c v² in the weather of the day, in the unit of the coefficients.

    The cold raises a, which is that of the bearings; the density of the air scales c. All are scaled by the assumed
    factor of resistance.

    Args:
        coefficients: a, b and c by a law of resistance.
        excursion: Weather and assumptions.
        bearing: "roller" or "plain".
    """
    factor = excursion.assumptions.resistance_factor
    a, b, c = (factor * each for each in coefficients)
    cold = Coefficients(a * running_cold_factor(excursion, bearing), b, c)
    return with_air_density(cold, density_ratio=air_density_ratio(excursion))


def at_rest_per_mass(excursion: Excursion, bearing: str, *, warm: bool = False) -> float:
    """Resistance per mass at the instant of starting in the weather of the day [N/kg].

    Args:
        excursion: Weather and assumptions.
        bearing: "roller" or "plain".
        warm: Whether the bearings are warm from running; otherwise they are as cold as the air.
    """
    mild = max(excursion.weather.temperature, STANDARD_TEMPERATURE)
    return resistance_at_rest(
        bearing=bearing,
        temperature=mild if warm else excursion.weather.temperature,
        roller_share=excursion.assumptions.roller_cold_share,
    )


def engine_at_rest(
    excursion: Excursion, locomotive: Locomotive, contents: float, *, warm: bool = False
) -> float:
    """Resistance of an engine with tender at the instant of starting in the weather of the day [N].

    Args:
        excursion: Weather and assumptions.
        locomotive: The engine; its other axles have plain bearings.
        contents: Water and fuel on the tender [kg].
        warm: Whether the bearings are warm from running; otherwise they are as cold as the air.
    """
    on_rollers = sum(u.mass_on_drivers for u in locomotive.engine_units if u.axle_bearing == "roller")
    mass = locomotive.mass + locomotive.tender.empty_mass + contents
    return at_rest_per_mass(excursion, "plain", warm=warm) * (mass - on_rollers) + (
        at_rest_per_mass(excursion, "roller", warm=warm) * on_rollers
    )


def broken_away_per_mass(excursion: Excursion) -> float:
    """Starting resistance per mass at the speed at which the train has broken away [N/kg]."""
    return BROKEN_AWAY * running_cold_factor(excursion, "plain")
