"""Boiler, fire and crew rules as the kernel reads them, and the state at the start."""

from __future__ import annotations

from typing import TypedDict

import numpy as np

from locosim.compiled import in_python
from locosim.constants import ATMOSPHERE, STEEL_SPECIFIC_HEAT, WATER_DENSITY, ZERO_CELSIUS
from locosim.engine.boiler.stored_heat import metal_mass, water_at_working_level
from locosim.engine.performance import Performance
from locosim.journey.kernel.arrays import Boiler, InitialState
from locosim.journey.kernel.crew import bed_for_burning
from locosim.journey.kernel.fire import firing_for_steam
from locosim.journey.setup.water_space import build_water_space
from locosim.model import Crew, Excursion
from locosim.model.assumptions import Assumptions
from locosim.physics.boiler.fuel_bed import MAX_BED_DEPTH, fuel_bed_mass
from locosim.physics.boiler.fuels import FUELS, scaled_to_heating_value
from locosim.physics.boiler.losses import SAFETY_VALVE_LIFT_RANGE
from locosim.physics.steam import properties as steam
from locosim.physics.types import Floats
from locosim.recent import keep_recent

TEMPERATURE_COUNT = 200  # nodes of the saturation tables
MIN_PRESSURE_SHARE = 0.8  # start of the saturation tables, over the lowest pressure of the map


@keep_recent(8)
def build_boiler(
    performance: Performance, crew: Crew, assumptions: Assumptions, *, transient: bool
) -> Boiler:
    """Build the boiler of the kernel.

    Args:
        performance: What the engine can do.
        crew: The crew, for what the fireman knows of the road.
        assumptions: Figures of fire and crew.
        transient: Compute pressure and water along the run.
    """
    supply, boiler = performance.supply, performance.locomotive.boiler
    auxiliaries = performance.locomotive.auxiliaries
    working = boiler.absolute_pressure
    safety_set_pressure = working + assumptions.safety_valve_margin
    temperatures, pressures, liquids, vapors = _saturation_tables(
        MIN_PRESSURE_SHARE * float(performance.map.pressures[0]),
        safety_set_pressure + 2 * SAFETY_VALVE_LIFT_RANGE,
    )
    boiling_temperature = steam.saturation_temperature(pressure=working)
    rising = int(np.argmax(supply.heat)) + 1
    water = water_at_working_level(boiler, assumptions)
    space = build_water_space(boiler, assumptions)
    feed_devices = performance.locomotive.feed_devices
    return Boiler(
        transient=transient,
        first_temperature=float(temperatures[0]),
        temperature_step=float(temperatures[1] - temperatures[0]),
        pressure_table=pressures,
        liquid_enthalpy_table=liquids,
        steam_enthalpy_table=vapors,
        metal_heat_capacity=STEEL_SPECIFIC_HEAT * metal_mass(performance.locomotive, assumptions),
        radiation_loss=supply.radiation_loss,
        working_pressure=working,
        working_temperature=boiling_temperature,
        working_liquid_enthalpy=float(np.interp(boiling_temperature, temperatures, liquids)),
        target_water=water,
        crown_sheet_water=(
            assumptions.crown_sheet_water_share * water if space is None else space.crown_sheet_water
        ),
        safety_set_pressure=safety_set_pressure,
        safety_full_lift=safety_set_pressure + SAFETY_VALVE_LIFT_RANGE,
        safety_capacity=assumptions.safety_valve_capacity * supply.sustained,
        firing_step=float(supply.firing_rates[1]),
        heat_table=np.maximum.accumulate(supply.heat[:rising]),
        evaporation_heat=supply.evaporation_heat,
        sustained_steam=supply.sustained,
        max_firing=supply.max_firing,
        min_firing=assumptions.banked_share * supply.max_firing,
        blower_firing=assumptions.blower_share * supply.max_firing,
        max_burning=max(supply.max_burning, supply.max_firing),
        firing_capacity=max(supply.firing_capacity, supply.max_firing),
        blast_air_ratio=assumptions.blast_air_ratio,
        damper_range=assumptions.damper_range,
        min_damper=assumptions.min_damper,
        heating_time=assumptions.green_coal_time,
        heating_heat=assumptions.green_coal_heat,
        bed_recovery_time=assumptions.bed_recovery_time,
        cleaning_loss=assumptions.cleaning_loss,
        ash_share=_ash_share(performance),
        **_fire_bed(performance, assumptions),
        feed_enthalpy=supply.feed_enthalpy,
        tender_water_ratio=supply.tender_water_ratio,
        max_feed=sum(d.max_rate for d in feed_devices) or assumptions.default_feed_ratio * supply.sustained,
        auxiliary_steam=auxiliaries.continuous_demand,
        blower_steam=auxiliaries.blower,
        pressure_floor=ATMOSPHERE + assumptions.pressure_floor_share * boiler.working_pressure_gauge,
        floor_slope=assumptions.floor_slope,
        recovery_time=assumptions.recovery_time,
        low_demand_steam=assumptions.low_demand_share * supply.sustained,
        feed_boost=assumptions.feed_boost,
        feed_deferral=assumptions.feed_deferral,
        filled_water=assumptions.filled_water_share * water,
        horizon=float(crew.horizon),
        bed_lead=assumptions.bed_lead,
    )


@keep_recent(4)
def _saturation_tables(lowest: float, highest: float) -> tuple[Floats, Floats, Floats, Floats]:
    """Temperature, pressure, and enthalpy of water and steam, from a pressure below the map to one above full lift."""
    low, high = (steam.saturation_temperature(pressure=p) for p in (lowest, highest))
    temperatures = np.linspace(low, high, TEMPERATURE_COUNT)
    pressures = steam.saturation_pressures(temperature=temperatures)
    liquids, vapors = steam.saturation_enthalpies(pressure=pressures)
    return temperatures, pressures, liquids, vapors


class FireBed(TypedDict):
    """Fuel on the grate, and how fast fire and fireman answer."""

    full_bed: float
    max_bed: float
    idle_bed: float
    burning_lag: float
    firing_lag: float


def _fire_bed(performance: Performance, assumptions: Assumptions) -> FireBed:
    """Bed and lags by the means of firing; oil burns without a bed."""
    boiler = performance.locomotive.boiler
    if boiler.firing == "oil":
        return FireBed(
            full_bed=0.0,
            max_bed=0.0,
            idle_bed=0.0,
            burning_lag=assumptions.oil_lag,
            firing_lag=assumptions.oil_lag,
        )
    full = fuel_bed_mass(depth=assumptions.full_bed_depth, grate_area=boiler.grate_area)
    hand = boiler.firing == "hand"
    return FireBed(
        full_bed=full,
        max_bed=fuel_bed_mass(depth=MAX_BED_DEPTH, grate_area=boiler.grate_area),
        idle_bed=assumptions.idle_bed_share * full,
        burning_lag=assumptions.air_lag,
        firing_lag=assumptions.hand_firing_lag if hand else assumptions.stoker_lag,
    )


def _ash_share(performance: Performance) -> float:
    """Ash in the fuel as fired [1]."""
    fuel = FUELS[performance.fuel.kind]
    return scaled_to_heating_value(fuel=fuel, heating_value=performance.supply.heating_value).ash


def fire_rebuilding_time(boiler: Boiler) -> float:
    """Time after cleaning in which what was lost of a full bed is fired again and heated [s]."""
    return boiler.cleaning_loss * boiler.full_bed / boiler.firing_capacity + boiler.heating_time


def initial_state(excursion: Excursion, performance: Performance, kernel_boiler: Boiler) -> InitialState:
    """State before the first departure: working pressure, working level, tender as filled.

    The fire is made: as much burns as a standing engine needs, and the bed is one to start with on any road.
    `with_rehearsal` makes it that for the road ahead.
    """
    tender, assumptions = excursion.locomotive.tender, excursion.assumptions
    boiler = performance.locomotive.boiler
    temperature = steam.saturation_temperature(pressure=boiler.absolute_pressure)
    water = water_at_working_level(boiler, assumptions)
    water_heat = water * steam.liquid_enthalpy(pressure=boiler.absolute_pressure)
    auxiliary_water = WATER_DENSITY * excursion.train.water
    tank = WATER_DENSITY * tender.water_capacity
    return InitialState(
        time=excursion.departure + excursion.departure_delay,
        heat=water_heat
        + STEEL_SPECIFIC_HEAT
        * metal_mass(performance.locomotive, assumptions)
        * (temperature - ZERO_CELSIUS),
        water=water,
        burning=in_python(firing_for_steam)(
            kernel_boiler, kernel_boiler.auxiliary_steam + kernel_boiler.blower_steam
        ),
        bed=in_python(bed_for_burning)(kernel_boiler, 0.5 * kernel_boiler.max_firing),
        tender_water=tank * excursion.initial_water + auxiliary_water * excursion.initial_auxiliary_water,
        tender_fuel=tender.fuel_capacity * excursion.initial_fuel,
        tender_water_full=tank + auxiliary_water,
        tender_fuel_full=tender.fuel_capacity,
        warm=False,
    )
