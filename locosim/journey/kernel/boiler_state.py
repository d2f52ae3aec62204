"""State of the boiler along the run: heat and water, with pressure from both.

The state is the heat in water and metal, not the pressure: heat is conserved, so the ledger of every run closes,
and pressure follows from heat and water through the saturation table. The fire has fuel on the grate as its state; the
heat that green fuel takes up is given back as it burns, so its ledger closes too. This is
`dP/dt = (Q + m_feed (h_feed - h_f) - m_steam h_fg) / (M dh_f/dP + metal)` written for the conserved quantity. The
heat of the steam space, some per cent of that of the water, is left out.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from locosim.compiled import compiled_inline
from locosim.constants import ZERO_CELSIUS
from locosim.engine.map.interpolation import cell_of
from locosim.journey.kernel.arrays import (
    ASH_DROPPED,
    ASH_MADE,
    AUXILIARY_STEAM,
    CYLINDER_STEAM,
    DROPPED_HEAT,
    FEED_HEAT,
    FEED_WATER,
    FIRE_HEAT,
    FUEL_BURNED,
    FUEL_DROPPED,
    FUEL_FIRED,
    HEAT_IN_STEAM,
    RADIATION_LOSS,
    RETURNED_EXHAUST,
    SAFETY_VALVE_STEAM,
    THROTTLE_SHUT,
    Boiler,
    BoilerState,
    FireState,
    InitialState,
    Saturation,
    SteamDemand,
)
from locosim.journey.kernel.crew import (
    bed_aim_standing,
    bed_for_burning,
    blower_opening,
    burner_aim,
    damper_opening,
    feed_rate,
    firing_aim,
)
from locosim.journey.kernel.fire import (
    FireStep,
    FireTargets,
    advance_fire,
    burning_for_air,
    fire_air,
    fire_decay,
    fire_heat,
    firing_for_steam,
    twice_as_long,
)
from locosim.physics.types import Floats

BOILER_STEP = 5.0  # longest step of the boiler's state [s]: the safety valves settle in about ten seconds


class BoilerRates(NamedTuple):
    """Rates of change of the boiler's state, with what the fire and the fireman tend to."""

    steam: float  # to cylinders, auxiliaries and blower [kg/s]
    feed: float  # [kg/s]
    safety_valve_steam: float  # [kg/s]
    steam_enthalpy: float  # [J/kg]
    heat_but_fire: float  # heat gained from all but the fire [W]
    fire: FireTargets


@compiled_inline
def boiler_temperature(boiler: Boiler, heat: float, water: float, guess: float) -> float:
    """Temperature of water and metal that hold a given heat [K], searched in a table from a guess."""
    step, first = boiler.temperature_step, boiler.first_temperature
    last = len(boiler.liquid_enthalpy_table) - 2
    k = min(max(int((guess - first) / step), 0), last)
    for _ in range(len(boiler.liquid_enthalpy_table)):
        slope = (boiler.liquid_enthalpy_table[k + 1] - boiler.liquid_enthalpy_table[k]) / step
        base = first + k * step
        at_base = water * boiler.liquid_enthalpy_table[k] + boiler.metal_heat_capacity * (base - ZERO_CELSIUS)
        excess = (heat - at_base) / (water * slope + boiler.metal_heat_capacity)
        # The table is linear within a cell: the answer is exact when it lies in this one.
        if excess < 0.0 and k > 0:
            k = max(k + min(int(excess / step), -1), 0)
        elif excess > step and k < last:
            k = min(k + max(int(excess / step), 1), last)
        else:
            break
    return float(base + excess)


@compiled_inline
def initial_boiler_state(boiler: Boiler, start: InitialState) -> BoilerState:
    """State of boiler, fire and tender before the first departure."""
    temperature = boiler_temperature(boiler, start.heat, start.water, boiler.working_temperature)
    fire = FireState(start.burning, start.burning, 0.0, start.bed, 0.0, start.burning)
    return BoilerState(start.heat, start.water, fire, start.tender_water, start.tender_fuel, temperature, 0.0)


@compiled_inline
def saturation(boiler: Boiler, temperature: float) -> Saturation:
    """Pressure and enthalpies of boiling water at a temperature [K]."""
    k, part = cell_of(
        temperature, boiler.first_temperature, boiler.temperature_step, len(boiler.pressure_table)
    )
    pressures, liquids, steams = (
        boiler.pressure_table,
        boiler.liquid_enthalpy_table,
        boiler.steam_enthalpy_table,
    )
    return Saturation(
        pressures[k] + part * (pressures[k + 1] - pressures[k]),
        liquids[k] + part * (liquids[k + 1] - liquids[k]),
        steams[k] + part * (steams[k + 1] - steams[k]),
    )


@compiled_inline
def safety_valve_flow(boiler: Boiler, pressure: float) -> float:
    """Steam through the safety valves [kg/s], which open from set pressure to full lift."""
    if pressure <= boiler.safety_set_pressure:
        return 0.0
    opening = (pressure - boiler.safety_set_pressure) / (boiler.safety_full_lift - boiler.safety_set_pressure)
    return boiler.safety_capacity * min(opening, 1.0)


@compiled_inline
def boiler_rates(boiler: Boiler, state: BoilerState, demand: SteamDemand, steam_firing: float) -> BoilerRates:
    """Rates of change of the boiler's state, with the decisions of the fireman.

    Args:
        boiler: The boiler.
        state: Its state.
        demand: Steam drawn, and the fireman's aims.
        steam_firing: Firing rate that makes the steam drawn [kg/s].
    """
    boiling = saturation(boiler, state.temperature)
    blower = blower_opening(boiler, boiling.pressure, demand.throttle, steam_firing)
    steam = demand.cylinders + demand.auxiliary
    steam += boiler.blower_steam * (1.0 if demand.throttle == THROTTLE_SHUT else blower)
    safety = safety_valve_flow(boiler, boiling.pressure)
    feed = feed_rate(boiler, state, boiling.pressure, steam, safety, demand.water_aim, demand.feed_hold)
    if boiler.full_bed > 0.0:
        bed_aim = demand.bed_aim if demand.bed_aim >= 0.0 else bed_for_burning(boiler, steam_firing)
        firing = firing_aim(boiler, state.fire, bed_aim)
    else:
        firing = burner_aim(boiler, state, boiling, steam, feed)
    damper = damper_opening(boiler, boiling.pressure, steam_firing, demand.firing_ahead)
    air = fire_air(boiler, steam_firing, damper, blower)
    return BoilerRates(
        steam,
        feed,
        safety,
        boiling.steam_enthalpy,
        feed * boiler.feed_enthalpy - (steam + safety) * boiling.steam_enthalpy - boiler.radiation_loss,
        FireTargets(burning_for_air(boiler, state.fire, air, firing), firing),
    )


@compiled_inline
def advance_boiler(
    boiler: Boiler, state: BoilerState, demand: SteamDemand, dt: float, sums: Floats
) -> BoilerState:
    """Advance the boiler over a time, in steps short enough for the safety valves."""
    if not boiler.transient:
        return advance_steady(boiler, state, demand, dt, sums)
    count = max(math.ceil(dt / BOILER_STEP), 1)
    for _ in range(count):
        state = advance_transient(boiler, state, demand, dt / count, sums)
    return state


@compiled_inline
def hold_standing(
    boiler: Boiler,
    state: BoilerState,
    seconds: float,
    cleaning: float,
    bed_aim: float,
    water_aim: float,
    sums: Floats,
) -> BoilerState:
    """Advance the boiler while the train stands.

    A fire that is cleaned loses a share of its fuel and all its ash at first, and is built up again afterward.

    Args:
        boiler: The boiler.
        state: Its state.
        seconds: Time of standing [s].
        cleaning: Time to clean the fire, from the beginning [s].
        bed_aim: Fuel on the grate aimed at for the departure [kg]; negative: the fireman does not know the road.
        water_aim: Water in the boiler aimed at [kg].
        sums: Sums of the run, added to.
    """
    auxiliary = boiler.auxiliary_steam
    if cleaning > 0.0:
        state = clean_fire(boiler, state, sums)
    if not boiler.transient:
        demand = SteamDemand(0.0, auxiliary, THROTTLE_SHUT, bed_aim, -1.0, water_aim, 0.0)
        return advance_steady(boiler, state, demand, seconds, sums)
    count = max(math.ceil(seconds / BOILER_STEP), 1)
    step = seconds / count
    for k in range(count):
        aim = 0.0 if k * step < cleaning else bed_aim_standing(boiler, bed_aim, seconds - k * step)
        state = advance_transient(
            boiler, state, SteamDemand(0.0, auxiliary, THROTTLE_SHUT, aim, -1.0, water_aim, 0.0), step, sums
        )
    return state


@compiled_inline
def clean_fire(boiler: Boiler, state: BoilerState, sums: Floats) -> BoilerState:
    """Drop the ash, and with it a share of the fuel on the grate."""
    fire, left = state.fire, 1.0 - boiler.cleaning_loss
    sums[FUEL_DROPPED] += boiler.cleaning_loss * (fire.green + fire.bed)
    sums[DROPPED_HEAT] += boiler.cleaning_loss * fire.bed * boiler.heating_heat
    sums[ASH_DROPPED] += fire.ash
    cleaned = FireState(fire.burning, fire.firing, left * fire.green, left * fire.bed, 0.0, fire.burned)
    return BoilerState(
        state.heat, state.water, cleaned, state.tender, state.fuel, state.temperature, state.feed
    )


@compiled_inline
def advance_steady(
    boiler: Boiler, state: BoilerState, demand: SteamDemand, dt: float, sums: Floats
) -> BoilerState:
    """Advance a boiler with constant pressure: water and fuel follow the steam at once."""
    blower = boiler.blower_steam if demand.throttle == THROTTLE_SHUT else 0.0
    steam = demand.cylinders + demand.auxiliary + blower
    burned = firing_for_steam(boiler, steam, state.fire.burned)
    fire = FireState(
        burned,
        burned,
        state.fire.green,
        state.fire.bed,
        state.fire.ash + dt * boiler.ash_share * burned,
        burned,
    )
    book_supplies(boiler, demand.cylinders, steam, steam, FireStep(burned, burned, 0.0), dt, sums)
    return BoilerState(
        state.heat,
        state.water,
        fire,
        state.tender - dt * steam * boiler.tender_water_ratio,
        state.fuel - dt * burned,
        state.temperature,
        steam,
    )


@compiled_inline
def advance_transient(
    boiler: Boiler, state: BoilerState, demand: SteamDemand, dt: float, sums: Floats
) -> BoilerState:
    """Advance the boiler over a short time by a midpoint step."""
    steam_firing = firing_for_steam(boiler, demand.cylinders + demand.auxiliary, state.fire.burned)
    rates = boiler_rates(boiler, state, demand, steam_firing)
    decay = fire_decay(boiler, 0.5 * dt)
    fire, burnt = advance_fire(boiler, state.fire, rates.fire, decay, 0.5 * dt)
    net = fire_heat(boiler, burnt.burned) - burnt.green_heat + rates.heat_but_fire
    heat = state.heat + 0.5 * dt * net
    water = state.water + 0.5 * dt * (rates.feed - rates.steam - rates.safety_valve_steam)
    middle = BoilerState(
        heat,
        water,
        fire,
        state.tender,
        state.fuel,
        boiler_temperature(boiler, heat, water, state.temperature),
        state.feed,
    )
    rates = boiler_rates(boiler, middle, demand, steam_firing)
    fire, burnt = advance_fire(boiler, state.fire, rates.fire, twice_as_long(decay), dt)
    heat_from_fire = fire_heat(boiler, burnt.burned)
    book_supplies(boiler, demand.cylinders, rates.steam, rates.feed, burnt, dt, sums)
    book_heat(boiler, rates, heat_from_fire, dt, sums)
    heat = state.heat + dt * (heat_from_fire - burnt.green_heat + rates.heat_but_fire)
    water = state.water + dt * (rates.feed - rates.steam - rates.safety_valve_steam)
    return BoilerState(
        heat,
        water,
        fire,
        state.tender - dt * rates.feed * boiler.tender_water_ratio,
        state.fuel - dt * burnt.fired,
        boiler_temperature(boiler, heat, water, middle.temperature),
        rates.feed,
    )


@compiled_inline
def book_supplies(
    boiler: Boiler, cylinders: float, steam: float, feed: float, burnt: FireStep, dt: float, sums: Floats
) -> None:
    """Book steam, feed, fuel and ash of a step."""
    sums[CYLINDER_STEAM] += dt * cylinders
    sums[AUXILIARY_STEAM] += dt * (steam - cylinders)
    sums[FEED_WATER] += dt * feed
    sums[RETURNED_EXHAUST] += dt * feed * (1.0 - boiler.tender_water_ratio)
    sums[FUEL_FIRED] += dt * burnt.fired
    sums[FUEL_BURNED] += dt * burnt.burned
    sums[ASH_MADE] += dt * boiler.ash_share * burnt.burned


@compiled_inline
def book_heat(boiler: Boiler, rates: BoilerRates, heat_from_fire: float, dt: float, sums: Floats) -> None:
    """Book heat and safety valve steam of a step."""
    safety = rates.safety_valve_steam
    sums[FIRE_HEAT] += dt * heat_from_fire
    sums[FEED_HEAT] += dt * rates.feed * boiler.feed_enthalpy
    sums[HEAT_IN_STEAM] += dt * (rates.steam + safety) * rates.steam_enthalpy
    sums[RADIATION_LOSS] += dt * boiler.radiation_loss
    sums[SAFETY_VALVE_STEAM] += dt * safety
