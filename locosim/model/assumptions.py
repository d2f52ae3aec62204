"""Assumptions: figures that results depend on and that were not published as such, each declared once.

Each field has a unit, the assumed value, the believable range, the source and the results it affects. A figure with a
published source is not an assumption; it is a constant of the module that uses it. `--change assumptions.NAME=VALUE`
sets an assumption, like any key of a file; docs/assumptions.md lists them all.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import field, fields
from typing import Any

from locosim.constants import HOUR, INCH, MPH, POUND, POUND_PER_SHORT_TON, PSI
from locosim.frozen import frozen
from locosim.model.declare import check

PRACTICE = "common practice, no source"
OURS = "our own choice, no source"
MEMORY = "from memory, no source"
ROUNDS = "[Sinclair1888], a shovelful every two minutes; the lag derived from it"
SMOKE = "[Firing1845], black smoke for 3 to 7 minutes after heavy charges; the time derived from it"

# What the range of an assumption stands for. Each declaration names one.
DOUBT = "doubt"  # the same on every trip, but not known
CHANCE = "chance"  # differs from trip to trip
RULE = "rule"  # a convention of a rule or of a what-if, not a figure of the world


def assumption(
    unit: str,
    doc: str,
    *,
    value: float,
    low: float,
    high: float,
    touches: str,
    source: str = PRACTICE,
    nature: str = DOUBT,
    example: str = "",
) -> Any:
    """Declare an assumed figure, in SI.

    Args:
        unit: SI unit; `""` for a ratio.
        doc: Meaning of the figure, one sentence.
        value: The assumed value.
        low: Low end of the believable range.
        high: High end of the believable range.
        touches: The results it affects.
        source: Source of the figure.
        nature: `DOUBT`, `CHANCE` or `RULE`.
        example: A value in the notation of a file.
    """
    at_least, at_most = _allowed_range(unit, low, high)
    metadata = {
        "unit": unit,
        "doc": doc,
        "at_least": at_least,
        "at_most": at_most,
        "above": None,
        "below": None,
        "example": example,
        "low": low,
        "high": high,
        "touches": touches,
        "source": source,
        "nature": nature,
    }
    return field(default=value, metadata=metadata)


def _allowed_range(unit: str, low: float, high: float) -> tuple[float, float]:
    """The range a file may set, wider than the believable one so that limiting cases can be tried."""
    if unit == "K":
        return low - 100.0, high + 100.0
    return low / 10.0, 1.0 if unit == "" and high <= 1.0 else 10.0 * high


@frozen
class Assumptions:
    """All assumed figures."""

    # Engine and boiler.
    max_steam_temperature: float = assumption(
        "K",
        "Maximum steam temperature of a superheater; a higher computed one is an error in the description.",
        value=755.4,
        low=700.0,
        high=775.0,
        touches="engines with large superheaters",
        nature=RULE,
        example="900 degF",
    )
    machine_friction_plain: float = assumption(
        "N/kg",
        "Machine friction without steam per mass on drivers, with plain axle bearings.",
        value=8.0 * POUND_PER_SHORT_TON,
        low=3.0 * POUND_PER_SHORT_TON,
        high=15.0 * POUND_PER_SHORT_TON,
        touches="rim tractive effort, drawbar pull, coasting",
        source="between [Bourne1865] unloaded and [Cole1914] without a thrust term; our own choice, no source",
        example="8 lbf/short_ton",
    )
    machine_friction_roller: float = assumption(
        "N/kg",
        "The same with roller bearings on the driving axles.",
        value=6.0 * POUND_PER_SHORT_TON,
        low=2.0 * POUND_PER_SHORT_TON,
        high=10.0 * POUND_PER_SHORT_TON,
        touches="rim tractive effort, drawbar pull, coasting",
        source="less about the journal resistance of [Davis1926] at 30 short tons an axle; our own choice, no source",
        example="6 lbf/short_ton",
    )
    machine_friction_share: float = assumption(
        "",
        "Machine friction added per indicated tractive effort.",
        value=0.08,
        low=0.04,
        high=0.143,
        touches="rim tractive effort, drawbar pull, starting by the cylinders",
        source="high end [Bourne1865], one seventh of the load, an upper figure; our own choice, no source",
    )
    max_heater_steam_share: float = assumption(
        "",
        "Maximum exhaust steam to a feedwater heater or exhaust steam injector, as a fraction of the feed.",
        value=0.15,
        low=0.10,
        high=0.20,
        touches="feed temperature, evaporation, fuel",
    )
    water_per_surface: float = assumption(
        "kg/m^2",
        "Water in the boiler per unit of evaporative heating surface, if no dimensions are given.",
        value=33.0,
        low=25.0,
        high=42.0,
        touches="stored heat, boiler pressure",
    )
    deferred_feed_share: float = assumption(
        "",
        "Feed deferred during a short effort, as a fraction of the water at working level.",
        value=0.07,
        low=0.03,
        high=0.10,
        touches="short effort",
    )
    max_stoker_firing: float = assumption(
        "kg/s",
        "Maximum firing rate of one stoker.",
        value=25_000.0 * POUND / HOUR,
        low=15_000.0 * POUND / HOUR,
        high=30_000.0 * POUND / HOUR,
        touches="sustained evaporation of stoker-fired engines",
        example="25000 lb/hour",
    )
    draft_roughness_factor: float = assumption(
        "",
        "Pressure drop through tubes with ferrules and soot, over that through smooth tubes.",
        value=1.3,
        low=1.1,
        high=1.6,
        touches="draft required by the fire",
    )
    unburned_factor: float = assumption(
        "",
        "Share of the fuel lost unburned, over that of the usual line for the fuel.",
        value=1.0,
        low=0.6,
        high=1.6,
        touches="evaporation, fuel",
        nature=CHANCE,
        source="ends: about a tenth of the evaporation at hard firing either way; our own choice, no source",
    )
    superheater_factor: float = assumption(
        "",
        "Heat transfer to the superheater elements, over that of the usual law.",
        value=1.0,
        low=0.6,
        high=1.5,
        touches="steam temperature, steam rate",
        source="ends: about 50 K of steam temperature either way; our own choice, no source",
    )
    steam_rate_factor: float = assumption(
        "",
        "Steam to the cylinders over that computed by the cycle.",
        value=1.0,
        low=0.9,
        high=1.1,
        touches="steam, power at given steam",
        source="ends: the target for the steam rates of docs/validation.md; our own choice, no source",
    )
    power_factor: float = assumption(
        "",
        "Power at a given steam rate over that computed, by either method: the error of the model.",
        value=1.0,
        low=0.79,
        high=1.21,
        touches="curves and runs: power, steam, water, fuel; for what-ifs, and for `risk` with uncertainty.model_error",
        source="ends: the band of the sustained power of docs/validation.md",
        nature=RULE,
    )
    max_back_pressure: float = assumption(
        "Pa",
        "Highest gauge back pressure at which an engine is worked, where its file gives none.",
        value=12.0 * PSI,
        low=8.0 * PSI,
        high=17.0 * PSI,
        touches="front-end limit, sustained evaporation",
        example="12 psi",
    )
    heater_exhaust_share: float = assumption(
        "",
        "Share of the exhaust that a feedwater heater or exhaust steam injector takes away from the nozzle.",
        value=0.12,
        low=0.08,
        high=0.15,
        touches="back pressure, front-end limit",
    )
    tender_water_temperature: float = assumption(
        "K",
        "Temperature of the water in the tender.",
        value=288.15,
        low=278.15,
        high=303.15,
        touches="evaporation, fuel, short effort",
        nature=CHANCE,
        example="59 degF",
    )
    boiler_wind_speed: float = assumption(
        "m/s",
        "Speed of the air past the boiler, at which its radiation loss is computed for all train speeds.",
        value=10.0,
        low=0.0,
        high=25.0,
        touches="radiation loss, evaporation",
        nature=CHANCE,
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
    throttle_area_ratio: float = assumption(
        "",
        "Flow area of the wide-open throttle, over that of the rest of the steam passage to the steam chest.",
        value=2.0,
        low=1.2,
        high=4.0,
        touches="tractive effort and steam with the throttle partly open",
    )
    reciprocating_mass_share: float = assumption(
        "",
        "Mass of the reciprocating parts of one side of a two-cylinder engine over the mass of the engine, where none "
        "is given.",
        value=0.005,
        low=0.003,
        high=0.0075,
        touches="crank torque at speed",
        source="rule of 1897 that 1/400 of the engine's mass stays unbalanced on each side, with half of the "
        "reciprocating parts balanced; from memory, no source",
    )
    # Fire and boiler on the road.
    air_lag: float = assumption(
        "s",
        "Time lag of the burning rate behind the air drawn through the grate.",
        value=20.0,
        low=5.0,
        high=30.0,
        touches="boiler pressure after a change of steam",
        source=MEMORY,
        example="20 s",
    )
    full_bed_depth: float = assumption(
        "m",
        "Depth of burning fuel that uses all the air drawn through the grate; a thinner bed burns less.",
        value=8.0 * INCH,
        low=6.0 * INCH,
        high=10.0 * INCH,
        touches="boiler pressure on climbs above the firing rate, fuel on the grate",
        source=MEMORY,
        example="8 in",
    )
    idle_bed_share: float = assumption(
        "",
        "Bed while no steam is drawn, over a full bed.",
        value=0.45,
        low=0.3,
        high=0.7,
        touches="boiler pressure after drifting and stops",
        nature=CHANCE,
        source=OURS,
    )
    green_coal_time: float = assumption(
        "s",
        "Time in which two thirds of the coal fired is heated until it burns; most of its smoke is gone after twice "
        "this time.",
        value=120.0,
        low=30.0,
        high=210.0,
        touches="boiler pressure when the fire is built up",
        source=SMOKE,
        example="2 minute",
    )
    green_coal_heat: float = assumption(
        "J/kg",
        "Heat that coal takes up until it burns, and gives back in burning.",
        value=1.0e6,
        low=0.5e6,
        high=2.0e6,
        touches="boiler pressure when the fire is built up",
        source=MEMORY,
        example="430 Btu/lb",
    )
    hand_firing_lag: float = assumption(
        "s",
        "Time lag of the rate of firing by hand: half of a round.",
        value=60.0,
        low=20.0,
        high=120.0,
        touches="boiler pressure",
        nature=CHANCE,
        source=ROUNDS,
        example="1 minute",
    )
    stoker_lag: float = assumption(
        "s",
        "Time lag of the coal on the grate behind the setting of the stoker.",
        value=30.0,
        low=10.0,
        high=90.0,
        touches="boiler pressure of stoker-fired engines",
        example="30 s",
    )
    oil_lag: float = assumption(
        "s",
        "Time lag of the heat of an oil fire behind the steam drawn.",
        value=15.0,
        low=5.0,
        high=25.0,
        touches="boiler pressure of oil-fired engines",
        source=MEMORY,
        example="15 s",
    )
    bed_recovery_time: float = assumption(
        "s",
        "Time in which the fireman brings the bed to the depth he wants.",
        value=90.0,
        low=30.0,
        high=240.0,
        touches="fuel on the grate, boiler pressure",
        nature=CHANCE,
        source=OURS,
        example="90 s",
    )
    bed_lead: float = assumption(
        "s",
        "Time ahead over whose mean steam the fireman keeps the bed; he lets it down before a summit by this time.",
        value=120.0,
        low=60.0,
        high=300.0,
        touches="fuel on the grate, boiler pressure at summits",
        nature=CHANCE,
        source=OURS,
        example="2 minute",
    )
    damper_range: float = assumption(
        "Pa",
        "Pressure below working pressure at which the dampers begin to be closed.",
        value=0.3e5,
        low=0.15e5,
        high=0.6e5,
        touches="boiler pressure, steam lost by the safety valves",
        example="5 psi",
    )
    min_damper: float = assumption(
        "",
        "Air that the blast draws with the dampers closed, over that with open dampers.",
        value=0.3,
        low=0.15,
        high=0.5,
        touches="steam lost by the safety valves",
    )
    cleaning_loss: float = assumption(
        "",
        "Share of the fuel on the grate that is dropped in cleaning the fire.",
        value=0.3,
        low=0.15,
        high=0.5,
        touches="fuel, boiler pressure after cleaning the fire",
        nature=CHANCE,
    )
    filled_water_share: float = assumption(
        "",
        "Water in a boiler filled ahead of a climb, over that at working level; about two thirds of the glass.",
        value=1.05,
        low=1.0,
        high=1.08,
        touches="boiler pressure, crown sheet",
        nature=CHANCE,
    )
    blower_share: float = assumption(
        "",
        "Maximum firing rate with the blower alone, over the maximum firing rate.",
        value=0.15,
        low=0.05,
        high=0.25,
        touches="boiler pressure when standing or drifting",
    )
    banked_share: float = assumption(
        "",
        "Combustion rate with dampers closed, over the maximum firing rate.",
        value=0.03,
        low=0.01,
        high=0.06,
        touches="fuel burned standing, safety valves",
    )
    blast_air_ratio: float = assumption(
        "",
        "Fuel that the air of the blast can burn with open dampers and a full bed, over the fuel that makes the steam.",
        value=1.3,
        low=1.1,
        high=1.5,
        touches="boiler pressure",
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
        "Capacity of the safety valves, over the sustained evaporation.",
        value=1.2,
        low=1.0,
        high=1.6,
        touches="highest boiler pressure",
    )
    pressure_floor_share: float = assumption(
        "",
        "Pressure floor, as a fraction of working gauge pressure; below it, steam use is limited to evaporation.",
        value=0.90,
        low=0.80,
        high=0.95,
        touches="boiler pressure, time",
    )
    low_demand_share: float = assumption(
        "",
        "Steam rate, over the sustained evaporation, below which the fireman restores water before pressure.",
        value=0.3,
        low=0.15,
        high=0.5,
        touches="water level, boiler pressure",
        nature=CHANCE,
    )
    feed_boost: float = assumption(
        "",
        "Feed rate to restore the water level with the safety valves about to lift, over the usual one.",
        value=5.0,
        low=2.0,
        high=10.0,
        touches="water level, steam lost by the safety valves",
    )
    feed_deferral: float = assumption(
        "",
        "Fraction of the feed deferred at the pressure floor with the water at working level.",
        value=0.7,
        low=0.3,
        high=1.0,
        touches="boiler pressure, water level",
    )
    recovery_time: float = assumption(
        "s",
        "Time to restore lost pressure and water.",
        value=300.0,
        low=120.0,
        high=600.0,
        touches="boiler pressure, water level",
        nature=CHANCE,
        example="5 minute",
    )
    crown_sheet_water_share: float = assumption(
        "",
        "Water at which the crown sheet is bare, as a fraction of that at working level, if no dimensions are given.",
        value=0.70,
        low=0.60,
        high=0.80,
        touches="crown sheet",
    )
    working_level_in_glass: float = assumption(
        "m",
        "Height of the working water level above the bottom of the water glass.",
        value=0.125,
        low=0.08,
        high=0.18,
        touches="crown sheet, water glass",
        nature=CHANCE,
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
        nature=CHANCE,
        example="15 minute",
    )
    default_feed_ratio: float = assumption(
        "",
        "Feed devices together over the sustained evaporation, where no feed device is given.",
        value=2.0,
        low=1.2,
        high=2.5,
        touches="water level",
    )
    # Engineer.
    drifting_steam: float = assumption(
        "kg/s/m^2",
        "Steam to the cylinders when drifting, over the area of the pistons.",
        value=0.10,
        low=0.05,
        high=0.25,
        touches="water and fuel on falling grades",
        nature=CHANCE,
    )
    saving_steam_share: float = assumption(
        "",
        "Steam rate where steam is saved, over the sustained evaporation.",
        value=0.80,
        low=0.65,
        high=0.90,
        touches="time, boiler pressure",
        nature=CHANCE,
    )
    steady_steam_share: float = assumption(
        "",
        "Steam rate of a crew that uses steam steadily, over the sustained evaporation.",
        value=0.85,
        low=0.70,
        high=0.95,
        touches="time, boiler pressure",
        nature=CHANCE,
    )
    steam_reserve: float = assumption(
        "",
        "Most steam of a train with time in hand, over the least with which it is just on time.",
        value=1.15,
        low=1.05,
        high=1.5,
        touches="fuel, water and pressure of a train with time in hand",
        nature=CHANCE,
        source=OURS,
    )
    starting_distance: float = assumption(
        "m",
        "Distance from a stop run in full gear.",
        value=100.0,
        low=30.0,
        high=300.0,
        touches="time, water",
        nature=CHANCE,
        example="100 yard",
    )
    coasting_deceleration: float = assumption(
        "m/s^2",
        "Deceleration of a train with the throttle shut on level track.",
        value=0.03,
        low=0.015,
        high=0.05,
        touches="time and water of crews that coast to stops",
        nature=CHANCE,
    )
    min_coasting_deceleration: float = assumption(
        "m/s^2",
        "Deceleration by light braking while coasting on a falling grade.",
        value=0.005,
        low=0.002,
        high=0.02,
        touches="time of crews that coast to stops",
        nature=CHANCE,
        source=OURS,
    )
    braking_energy_share: float = assumption(
        "",
        "Fraction of the kinetic energy at which coasting ends and braking begins.",
        value=0.36,
        low=0.20,
        high=0.60,
        touches="time of crews that coast to stops",
        nature=CHANCE,
    )
    floor_slope: float = assumption(
        "",
        "Fall of the steam drawn below the pressure floor, over the fall of pressure, both as shares.",
        value=2.0,
        low=1.0,
        high=4.0,
        touches="boiler pressure, time",
    )
    climb_approach: float = assumption(
        "m",
        "Distance before a long climb over which steam is saved.",
        value=3000.0,
        low=1000.0,
        high=5000.0,
        touches="time and pressure of crews that save steam before climbs",
        nature=CHANCE,
        example="2 mile",
    )
    long_climb_grade: float = assumption(
        "",
        "Grade from which a stretch counts as a climb.",
        value=0.004,
        low=0.002,
        high=0.008,
        touches="time and pressure of crews that save steam before climbs",
        nature=RULE,
        source=OURS,
    )
    long_climb_length: float = assumption(
        "m",
        "Length from which a climb counts as long.",
        value=1000.0,
        low=500.0,
        high=2000.0,
        touches="time and pressure of crews that save steam before climbs",
        nature=RULE,
        source=OURS,
        example="0.6 mile",
    )
    # Rail and train.
    adhesion_factor: float = assumption(
        "",
        "Coefficient of adhesion over that of the rail condition.",
        value=1.0,
        low=0.7,
        high=1.3,
        touches="starting, adhesion, climbing speed, time",
        nature=CHANCE,
        source="[Johnsson1963] that it scatters from start to start; ends about twice a standard deviation of 0.04 on "
        "0.30, from memory, no source",
    )
    resistance_factor: float = assumption(
        "",
        "Running resistance of engines and cars over that by their laws.",
        value=1.0,
        low=0.8,
        high=1.3,
        touches="time, climbing speed, steam, water, fuel",
        source="the laws of docs/theory/resistance.md for the same car differ by about a fifth at 30 mph; our own "
        "choice, no source",
    )
    roller_cold_share: float = assumption(
        "",
        "Rise of the resistance of roller bearings in the cold over that of plain bearings, as powers of one factor.",
        value=0.5,
        low=0.2,
        high=1.0,
        touches="running and starting resistance of cars with roller bearings in the cold",
        source=OURS,
    )
    bearing_cooling_time: float = assumption(
        "s",
        "Time constant of the cooling of bearings of a standing train.",
        value=3600.0,
        low=1800.0,
        high=10800.0,
        touches="starting after a stop in the cold",
        source=OURS,
        example="60 minute",
    )
    switching_time: float = assumption(
        "s",
        "Time to divide a train, set out a part or couple to one, with the brake test.",
        value=600.0,
        low=300.0,
        high=1200.0,
        touches="doubling a hill",
        nature=CHANCE,
        example="10 minute",
    )
    diesel_rotating_share: float = assumption(
        "",
        "Equivalent mass of a diesel's motors and wheels, over its mass.",
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
        nature=RULE,
    )
    added_headwind: float = assumption(
        "m/s",
        "Headwind added in the contingency.",
        value=20.0 * MPH,
        low=10.0 * MPH,
        high=25.0 * MPH,
        touches="the contingency of a headwind",
        nature=RULE,
        example="20 mph",
    )
    acceleration_distance: float = assumption(
        "m",
        "Distance from a stop or a speed limit within which gaining speed does not count as climbing.",
        value=1000.0,
        low=500.0,
        high=2000.0,
        touches="climbing speed",
        nature=RULE,
        source=OURS,
    )
    creep_acceleration: float = assumption(
        "m/s^2",
        "Acceleration below which a train beyond that distance counts as creeping.",
        value=0.02,
        low=0.005,
        high=0.03,
        touches="climbing speed",
        nature=RULE,
        source=OURS,
    )
    creep_speed: float = assumption(
        "m/s",
        "Speed at which the steam available must support a start.",
        value=1.0,
        low=0.5,
        high=2.0,
        touches="start",
        nature=RULE,
        source=OURS,
    )
    max_time_below_glass: float = assumption(
        "s",
        "Time the water may be below the glass before a warning.",
        value=60.0,
        low=15.0,
        high=120.0,
        touches="water glass",
        nature=RULE,
        source=OURS,
    )
    low_running_resistance: float = assumption(
        "N/kg",
        "Running resistance that helps the brakes on a falling grade, a low value.",
        value=0.02,
        low=0.010,
        high=0.025,
        touches="holding on a falling grade",
    )
    remaining_compressor_steam: float = assumption(
        "",
        "Steam of the air compressors that remain when one fails, over what all used before.",
        value=1.25,
        low=1.0,
        high=1.5,
        touches="the contingency of a failed air compressor",
        nature=RULE,
    )
    min_climb_grade: float = assumption(
        "",
        "Mean grade under the train from which a stretch counts as a climb.",
        value=0.003,
        low=0.002,
        high=0.005,
        touches="climbing speed",
        nature=RULE,
        source=OURS,
    )
    min_climb_length: float = assumption(
        "m",
        "Length from which a stretch counts as a climb.",
        value=400.0,
        low=200.0,
        high=800.0,
        touches="climbing speed",
        nature=RULE,
        source=OURS,
        example="400 m",
    )
    min_descent_grade: float = assumption(
        "",
        "Falling mean grade under the train from which holding the train is checked.",
        value=0.008,
        low=0.005,
        high=0.012,
        touches="holding on a falling grade",
        nature=RULE,
        source=OURS,
    )
    min_descent_length: float = assumption(
        "m",
        "Length from which a falling grade is checked.",
        value=500.0,
        low=300.0,
        high=1000.0,
        touches="holding on a falling grade",
        nature=RULE,
        source=OURS,
        example="500 m",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)

    @classmethod
    def declared(cls) -> dict[str, Any]:
        """Declarations of all assumptions by name."""
        return {declaration.name: declaration for declaration in fields(cls)}

    def changed(self) -> Iterator[tuple[str, float, float]]:
        """Name, default value and present value of each assumption that was changed."""
        for name, declaration in self.declared().items():
            value, default = float(getattr(self, name)), float(declaration.default)
            if value != default:
                yield name, default, value
