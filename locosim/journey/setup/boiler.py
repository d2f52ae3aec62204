"""The boiler as the kernel reads it: tables over temperature and firing rate, and its state at the start."""

from __future__ import annotations

import numpy as np

from locosim.constants import ATMOSPHERE, STEEL_SPECIFIC_HEAT, WATER_DENSITY, ZERO_CELSIUS
from locosim.engine.boiler.stored_heat import metal_mass, water_at_working_level
from locosim.engine.performance import Performance
from locosim.journey.kernel.arrays import Boiler, InitialState
from locosim.journey.setup.water_space import build_water_space
from locosim.model import Excursion
from locosim.physics.boiler.losses import SAFETY_VALVE_LIFT_RANGE
from locosim.physics.steam import properties as steam

TEMPERATURE_COUNT = 200  # nodes of the tables
MIN_PRESSURE_SHARE = 0.8  # of its lowest pressure: where the tables begin
FIRE_LAG = 180.0  # between the fireman's hand and the heat [s]; common practice, no source
BLOWER_SHARE = 0.15  # of the greatest firing rate, what the blower adds; common practice, no source
SAFETY_VALVE_MARGIN = 0.2e5  # valves begin to open this far above working pressure [Pa]; about 3 psi
SAFETY_CAPACITY = 1.2  # of the valves over the sustained steam; common practice, no source
BANKED_SHARE = 0.03  # of the greatest firing rate that is kept in at any time; common practice, no source
PRESSURE_FLOOR_SHARE = (
    0.90  # of working gauge pressure, below which the driver draws less; common practice, no source
)
CROWN_SHEET_SHARE = (
    0.70  # of the working water at which the crown is taken as bare, where no geometry is given
)


def build_boiler(performance: Performance, *, transient: bool) -> Boiler:
    """Make the tables. The temperatures run from below the map's pressures to above the safety valves.

    Args:
        performance: Engine and supply.
        transient: Carry pressure and water along.
    """
    supply, boiler = performance.supply, performance.locomotive.boiler
    auxiliaries = performance.locomotive.auxiliaries
    working = boiler.absolute_pressure
    safety = working + SAFETY_VALVE_MARGIN
    low = steam.saturation_temperature(pressure=MIN_PRESSURE_SHARE * float(performance.map.pressures[0]))
    high = steam.saturation_temperature(pressure=safety + 2 * SAFETY_VALVE_LIFT_RANGE)
    temperatures = np.linspace(low, high, TEMPERATURE_COUNT)
    pressures = np.array([steam.saturation_pressure(temperature=float(t)) for t in temperatures])
    rising = int(np.argmax(supply.heat)) + 1
    water = water_at_working_level(boiler, performance.assumptions)
    space = build_water_space(boiler, performance.assumptions)
    boiling_temperature = steam.saturation_temperature(pressure=working)
    liquids = np.array([steam.liquid_enthalpy(pressure=float(p)) for p in pressures])
    return Boiler(
        transient=transient,
        first_temperature=low,
        temperature_step=float(temperatures[1] - temperatures[0]),
        pressure_table=pressures,
        liquid_enthalpy_table=liquids,
        steam_enthalpy_table=np.array([steam.vapor_enthalpy(pressure=float(p)) for p in pressures]),
        firing_step=float(supply.firing_rates[1]),
        heat_table=np.maximum.accumulate(supply.heat[:rising]),
        fire_lag=FIRE_LAG,
        max_firing=supply.max_firing,
        min_firing=BANKED_SHARE * supply.max_firing,
        blower_firing=BLOWER_SHARE * supply.max_firing,
        metal_heat_capacity=STEEL_SPECIFIC_HEAT * metal_mass(performance.locomotive, performance.assumptions),
        radiation_loss=supply.radiation_loss,
        feed_enthalpy=supply.feed_enthalpy,
        tender_water_ratio=supply.tender_water_ratio,
        max_feed=sum(d.max_rate for d in performance.locomotive.feed_devices) or 2 * supply.sustained,
        working_pressure=working,
        working_temperature=boiling_temperature,
        working_liquid_enthalpy=float(np.interp(boiling_temperature, temperatures, liquids)),
        safety_set_pressure=safety,
        safety_full_lift=safety + SAFETY_VALVE_LIFT_RANGE,
        safety_capacity=SAFETY_CAPACITY * supply.sustained,
        pressure_floor=ATMOSPHERE + PRESSURE_FLOOR_SHARE * boiler.working_pressure_gauge,
        target_water=water,
        crown_sheet_water=CROWN_SHEET_SHARE * water if space is None else space.crown_sheet_water,
        sustained_steam=supply.sustained,
        evaporation_heat=supply.evaporation_heat,
        auxiliary_steam=auxiliaries.continuous_demand,
        blower_steam=auxiliaries.blower,
    )


def initial_state(excursion: Excursion, performance: Performance) -> InitialState:
    """State before the first departure: working pressure, working level, tender as asked."""
    tender = excursion.locomotive.tender
    boiler = performance.locomotive.boiler
    temperature = steam.saturation_temperature(pressure=boiler.absolute_pressure)
    water = water_at_working_level(boiler, performance.assumptions)
    water_heat = water * steam.liquid_enthalpy(pressure=boiler.absolute_pressure)
    auxiliary_water = WATER_DENSITY * excursion.train.water
    tank = WATER_DENSITY * tender.water_capacity
    return InitialState(
        time=excursion.departure,
        heat=water_heat
        + STEEL_SPECIFIC_HEAT
        * metal_mass(performance.locomotive, performance.assumptions)
        * (temperature - ZERO_CELSIUS),
        water=water,
        firing=0.5 * performance.supply.max_firing,
        tender_water=tank * excursion.initial_water + auxiliary_water,
        tender_fuel=tender.fuel_capacity * excursion.initial_fuel,
        tender_water_full=tank + auxiliary_water,
        tender_fuel_full=tender.fuel_capacity,
    )
