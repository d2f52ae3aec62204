"""Limits of the check, with their defaults."""

from __future__ import annotations

from locosim.frozen import frozen
from locosim.model.declare import check, measure


@frozen
class Criteria:
    """Limits that the check applies to the excursion."""

    tight_margin: float = measure(
        "",
        "A margin below this fraction of the limit is tight [common practice, no source].",
        at_least=0,
        at_most=1,
        default=0.10,
    )
    water_reserve: float = measure(
        "",
        "Water reserve at any supply point, as a fraction of the tender's capacity [common practice, no source].",
        at_least=0,
        below=1,
        default=0.15,
    )
    fuel_reserve: float = measure(
        "",
        "Fuel reserve at the end, as a fraction of the tender's capacity [common practice, no source].",
        at_least=0,
        below=1,
        default=0.15,
    )
    min_climbing_speed: float = measure(
        "m/s",
        "Minimum speed on a climb; half the permitted speed where engine, crew or line permit no more than this "
        "[common practice, no source].",
        at_least=0,
        below=90,
        default=4.4704,
        example="10 mph",
    )
    max_lateness: float = measure(
        "s",
        "Lateness allowed at any scheduled time [common practice, no source].",
        at_least=0,
        at_most=86400,
        default=300.0,
        example="5 minute",
    )
    min_starting_acceleration: float = measure(
        "m/s^2",
        "Minimum acceleration at starting [common practice, no source].",
        at_least=0,
        at_most=1,
        default=0.02,
    )
    max_stopping_distance: float = measure(
        "m",
        "Maximum distance to stop from line speed [common practice, no source].",
        above=0,
        below=20_000,
        default=1600.0,
        example="5250 ft",
    )
    brake_reaction_time: float = measure(
        "s",
        "Time for the brakes of the whole train to apply [common practice, no source].",
        at_least=0,
        below=120,
        default=6.0,
        example="6 s",
    )
    service_deceleration: float = measure(
        "m/s^2",
        "Deceleration planned for service stops [common practice, no source].",
        above=0.02,
        at_most=1.5,
        default=0.20,
    )
    max_unbalanced_superelevation: float = measure(
        "m",
        "Unbalanced superelevation allowed on a curve at the speed of the run [49 CFR 213.57].",
        at_least=0,
        below=0.25,
        default=0.0762,
        example="3 in",
    )
    max_driver_rotation: float = measure(
        "Hz",
        "Maximum driving-wheel speed: the diameter speed [common practice, no source].",
        above=0,
        below=20,
        default=5.6,
        example="336 rpm",
    )
    max_piston_speed: float = measure(
        "m/s",
        "Maximum mean piston speed: the end of the speed factors [Cole1914, from memory].",
        above=0,
        below=50,
        default=8.128,
        example="1600 ft/minute",
    )
    min_boiler_pressure: float = measure(
        "",
        "Minimum boiler pressure, as a fraction of working pressure, both gauge [common practice, no source].",
        at_least=0,
        at_most=1,
        default=0.80,
    )
    max_ash_per_grate_area: float = measure(
        "kg/m^2",
        "Maximum ash per unit of grate area before the fire is cleaned [common practice, no source].",
        above=0,
        below=1000,
        default=100.0,
        example="20 lb/ft^2",
    )
    min_crown_sheet_cover: float = measure(
        "m",
        "Minimum water over the highest part of the crown sheet [49 CFR 230.51, from memory].",
        at_least=0,
        below=3,
        default=0.0762,
        example="3 in",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)
