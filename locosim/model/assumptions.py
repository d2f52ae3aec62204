"""Assumptions: figures that the results rest on and that nobody has published, each declared once.

Every field carries its unit, the value assumed, the range it may lie in, its source, and what it touches. A figure with
a published source is no assumption and stands where it is used. `--change assumptions.NAME=...` sets one, as any
key of a file; docs/assumptions.md lists them all.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, fields
from typing import Any

from locosim.constants import HOUR, MPH, POUND, PSI
from locosim.model.declare import check

PRACTICE = "common practice, no source"
OURS = "our own choice, no source"


def assumption(
    unit: str,
    doc: str,
    *,
    value: float,
    low: float,
    high: float,
    touches: str,
    source: str = PRACTICE,
    example: str = "",
) -> Any:
    """Declare an assumed figure, in SI.

    Args:
        unit: SI unit; `""` for a ratio.
        doc: What the figure is, one sentence.
        value: The value assumed.
        low: Low end of the range it may lie in.
        high: High end of that range.
        touches: Which results move with it.
        source: Where it comes from.
        example: A value as a file would write it.
    """
    metadata = {
        "unit": unit,
        "doc": doc,
        "at_least": 0.0,
        "at_most": 1.0 if unit == "" and high <= 1.0 else 10.0 * high,
        "above": None,
        "below": None,
        "example": example,
        "low": low,
        "high": high,
        "touches": touches,
        "source": source,
    }
    return field(default=value, metadata=metadata)


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumptions:
    """Every figure that is assumed, with its value."""

    # Engine and boiler.
    max_steam_temperature: float = assumption(
        "K",
        "Highest steam temperature a superheater gives by the laws used here; hotter is a fault of the description.",
        value=755.4,
        low=700.0,
        high=775.0,
        touches="engines with large superheaters",
        example="900 degF",
    )
    max_heater_steam_share: float = assumption(
        "",
        "Exhaust steam taken by a feedwater heater or exhaust steam injector, at most, as a share of the feed.",
        value=0.15,
        low=0.10,
        high=0.20,
        touches="feed temperature, evaporation, fuel",
    )
    water_per_surface: float = assumption(
        "kg/m^2",
        "Water in the boiler for each area of evaporative heating surface, where no dimensions are given.",
        value=33.0,
        low=25.0,
        high=42.0,
        touches="stored heat, boiler pressure",
    )
    deferred_feed_share: float = assumption(
        "",
        "Feed put off during a short effort, as a share of the water at working level.",
        value=0.07,
        low=0.03,
        high=0.10,
        touches="short effort",
    )
    max_stoker_firing: float = assumption(
        "kg/s",
        "Coal fired by one stoker, at most.",
        value=25_000.0 * POUND / HOUR,
        low=15_000.0 * POUND / HOUR,
        high=30_000.0 * POUND / HOUR,
        touches="sustained evaporation of stoker-fired engines",
        example="25000 lb/hour",
    )
    draft_roughness_factor: float = assumption(
        "",
        "Draft through tubes with ferrules and soot over that through smooth ones.",
        value=1.3,
        low=1.1,
        high=1.6,
        touches="draft required by the fire",
    )
    design_back_pressure: float = assumption(
        "Pa",
        "Back pressure at full steam, above the air, that the exhaust nozzle is taken to be made for.",
        value=12.0 * PSI,
        low=8.0 * PSI,
        high=17.0 * PSI,
        touches="draft limit, sustained evaporation",
        example="12 psi",
    )
    tender_water_temperature: float = assumption(
        "K",
        "Temperature of the water in the tender.",
        value=288.15,
        low=278.15,
        high=303.15,
        touches="evaporation, fuel, short effort",
        example="59 degF",
    )
    boiler_wind_speed: float = assumption(
        "m/s",
        "Speed of the air past the boiler, at which its radiation loss is computed for all train speeds.",
        value=10.0,
        low=0.0,
        high=25.0,
        touches="radiation loss, evaporation",
        source=OURS,
    )
    boiler_metal_share: float = assumption(
        "",
        "Boiler metal that follows the steam temperature, over the mass of the engine, where no mass is given.",
        value=0.20,
        low=0.15,
        high=0.25,
        touches="stored heat, boiler pressure",
    )
    low_pressure_cutoff_offset: float = assumption(
        "",
        "Cutoff of the low-pressure cylinders of a compound with the high-pressure cutoff at 0.",
        value=0.45,
        low=0.35,
        high=0.55,
        touches="compound engines",
    )
    low_pressure_cutoff_slope: float = assumption(
        "",
        "Growth of the low-pressure cutoff of a compound over that of the high-pressure cutoff.",
        value=0.5,
        low=0.3,
        high=0.7,
        touches="compound engines",
    )
    # Fire and boiler on the road.
    fire_lag: float = assumption(
        "s",
        "Time between the fireman's work and the heat of the fire.",
        value=180.0,
        low=60.0,
        high=300.0,
        touches="boiler pressure",
        example="180 s",
    )
    blower_share: float = assumption(
        "",
        "Firing rate the blower draws, at most, over the maximum firing rate.",
        value=0.15,
        low=0.05,
        high=0.25,
        touches="boiler pressure when standing or drifting",
    )
    banked_share: float = assumption(
        "",
        "Firing rate that goes on at any time, dampers closed, over the maximum firing rate.",
        value=0.03,
        low=0.01,
        high=0.06,
        touches="fuel burned standing, safety valves",
    )
    blast_firing_ratio: float = assumption(
        "",
        "Fuel the blast can burn over the fuel that makes the steam drawn.",
        value=1.3,
        low=1.1,
        high=1.5,
        touches="boiler pressure",
    )
    fire_buildup_lags: float = assumption(
        "",
        "Time before leaving from which the fire is built up, in lags of the fire.",
        value=2.0,
        low=1.0,
        high=3.0,
        touches="boiler pressure after a stop",
    )
    safety_valve_margin: float = assumption(
        "Pa",
        "Pressure above working pressure at which the safety valves begin to open.",
        value=0.2e5,
        low=0.1e5,
        high=0.35e5,
        touches="steam lost by the safety valves",
        example="3 psi",
    )
    safety_valve_capacity: float = assumption(
        "",
        "Steam the safety valves pass, fully open, over the sustained evaporation.",
        value=1.2,
        low=1.0,
        high=1.6,
        touches="highest boiler pressure",
    )
    pressure_floor_share: float = assumption(
        "",
        "Share of the working gauge pressure below which the driver draws no more steam than the fire makes.",
        value=0.90,
        low=0.80,
        high=0.95,
        touches="boiler pressure, time",
    )
    low_demand_share: float = assumption(
        "",
        "Steam drawn, over the sustained evaporation, below which the fireman restores water before pressure.",
        value=0.3,
        low=0.15,
        high=0.5,
        touches="water level, boiler pressure",
    )
    feed_boost: float = assumption(
        "",
        "How many times as fast the water level is restored with the safety valves about to lift.",
        value=5.0,
        low=2.0,
        high=10.0,
        touches="water level, steam lost by the safety valves",
    )
    feed_deferral: float = assumption(
        "",
        "Share of the feed put off at the pressure floor with the water at working level.",
        value=0.7,
        low=0.3,
        high=1.0,
        touches="boiler pressure, water level",
    )
    recovery_time: float = assumption(
        "s",
        "Time in which lost pressure and lost water are restored.",
        value=300.0,
        low=120.0,
        high=600.0,
        touches="boiler pressure, water level",
        example="5 minute",
    )
    crown_sheet_water_share: float = assumption(
        "",
        "Share of the working water at which the crown sheet is bare, where no dimensions are given.",
        value=0.70,
        low=0.60,
        high=0.80,
        touches="crown sheet",
    )
    working_level_in_glass: float = assumption(
        "m",
        "Working water level above the lowest reading of the water glass.",
        value=0.125,
        low=0.08,
        high=0.18,
        touches="crown sheet, water glass",
        example="5 in",
    )
    crown_sheet_setback: float = assumption(
        "m",
        "Distance from the backhead to the back end of the crown sheet.",
        value=0.15,
        low=0.05,
        high=0.30,
        touches="crown sheet on a grade",
        example="6 in",
    )
    fire_cleaning_time: float = assumption(
        "s",
        "Time to clean a fire.",
        value=900.0,
        low=600.0,
        high=1800.0,
        touches="time at stops where the fire is cleaned",
        example="15 minute",
    )
    # Driver.
    drifting_steam_share: float = assumption(
        "",
        "Steam to the cylinders when drifting, over the sustained evaporation.",
        value=0.02,
        low=0.01,
        high=0.05,
        touches="water and fuel on falling grades",
    )
    saving_steam_share: float = assumption(
        "",
        "Steam drawn where the boiler is saved, over the sustained evaporation.",
        value=0.80,
        low=0.65,
        high=0.90,
        touches="time, boiler pressure",
    )
    steady_steam_share: float = assumption(
        "",
        "Steam drawn by a crew that steams evenly, over the sustained evaporation.",
        value=0.85,
        low=0.70,
        high=0.95,
        touches="time, boiler pressure",
    )
    starting_distance: float = assumption(
        "m",
        "Distance from a stop over which full gear is used.",
        value=100.0,
        low=30.0,
        high=300.0,
        touches="time, water",
        example="100 yard",
    )
    coasting_deceleration: float = assumption(
        "m/s^2",
        "Deceleration of a train with the throttle shut on level track.",
        value=0.03,
        low=0.015,
        high=0.05,
        touches="time and water of crews that coast to stops",
    )
    min_coasting_deceleration: float = assumption(
        "m/s^2",
        "Deceleration kept by light braking while coasting on a falling grade.",
        value=0.005,
        low=0.002,
        high=0.02,
        touches="time of crews that coast to stops",
        source=OURS,
    )
    braking_energy_share: float = assumption(
        "",
        "Share of the kinetic energy at which coasting ends and braking begins.",
        value=0.36,
        low=0.20,
        high=0.60,
        touches="time of crews that coast to stops",
    )
    # Train.
    diesel_rotating_share: float = assumption(
        "",
        "Equivalent mass of a diesel's motors and wheels over its mass.",
        value=0.10,
        low=0.05,
        high=0.20,
        touches="acceleration with a diesel helper",
    )
    # Rules of the check.
    poor_coal_share: float = assumption(
        "",
        "Heating value of poor coal over that of the coal given, in the contingency.",
        value=0.80,
        low=0.70,
        high=0.90,
        touches="the contingency of poor coal",
    )
    added_headwind: float = assumption(
        "m/s",
        "Headwind added in the contingency.",
        value=20.0 * MPH,
        low=10.0 * MPH,
        high=25.0 * MPH,
        touches="the contingency of a headwind",
        example="20 mph",
    )
    acceleration_distance: float = assumption(
        "m",
        "Distance from a stop or the end of a speed limit in which gaining speed does not count as climbing.",
        value=1000.0,
        low=500.0,
        high=2000.0,
        touches="climbing speed",
        source=OURS,
    )
    creep_acceleration: float = assumption(
        "m/s^2",
        "Acceleration up to which a train beyond that distance is taken to creep.",
        value=0.02,
        low=0.005,
        high=0.03,
        touches="climbing speed",
        source=OURS,
    )
    creep_speed: float = assumption(
        "m/s",
        "Speed at which the steam allowed must carry a start.",
        value=1.0,
        low=0.5,
        high=2.0,
        touches="start",
        source=OURS,
    )
    max_time_below_glass: float = assumption(
        "s",
        "Time the water may be below the glass before it is a warning.",
        value=60.0,
        low=15.0,
        high=120.0,
        touches="water glass",
        source=OURS,
    )
    steam_averaging_time: float = assumption(
        "s",
        "Time over which steaming is averaged; stored heat covers a few minutes.",
        value=900.0,
        low=600.0,
        high=1800.0,
        touches="steam",
        example="15 minute",
    )
    low_running_resistance: float = assumption(
        "N/kg",
        "Running resistance that helps to hold a train on a falling grade, on the low side.",
        value=0.02,
        low=0.010,
        high=0.025,
        touches="holding on a falling grade",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)

    @classmethod
    def declared(cls) -> dict[str, Any]:
        """Declaration of every assumption by its name."""
        return {each.name: each for each in fields(cls)}

    def changed(self) -> Iterator[tuple[str, float, float]]:
        """Name, value assumed and value set of every assumption that was changed."""
        for name, declaration in self.declared().items():
            value, assumed = float(getattr(self, name)), float(declaration.default)
            if value != assumed:
                yield name, assumed, value
