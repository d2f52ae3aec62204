"""State of the boiler along the run: heat and water, with pressure from both.

The state is the heat in water and metal, not the pressure: heat is conserved, so the ledger of every run closes,
and pressure follows from heat and water through the saturation table. This is
`dP/dt = (Q + m_feed (h_feed - h_f) - m_steam h_fg) / (M dh_f/dP + metal)` written for the conserved quantity. The
heat of the steam space, some per cent of that of the water, is left out.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from locosim.compiled import compiled_inline
from locosim.constants import ZERO_CELSIUS
from locosim.engine.map.interpolation import between, cell_of
from locosim.journey.kernel.arrays import (
    AUXILIARY_STEAM,
    CYLINDER_STEAM,
    FEED_HEAT,
    FEED_WATER,
    FIRE_HEAT,
    FUEL_BURNED,
    HEAT_IN_STEAM,
    RADIATION_LOSS,
    RETURNED_EXHAUST,
    SAFETY_VALVE_STEAM,
    Boiler,
    BoilerState,
    InitialState,
    Saturation,
    SteamDemand,
)
from locosim.journey.kernel.crew import blower_opening, expected_steam_standing, feed_rate, target_firing
from locosim.journey.kernel.fire import blast_limit, burning_rate, firing_for_heat
from locosim.physics.types import Floats

BOILER_STEP = 5.0  # longest step of the boiler's state [s]: the safety valves settle in about ten seconds


class BoilerRates(NamedTuple):
    """Rates of change of the boiler's state."""

    burned: float  # fuel [kg/s]
    fire_heat: float  # heat of the fire to the water [W]
    feed: float  # [kg/s]
    safety_valve_steam: float  # [kg/s]
    target_firing: float  # [kg/s]
    net_heat: float  # [W]
    steam_enthalpy: float  # [J/kg]


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
    return BoilerState(
        start.heat,
        start.water,
        start.firing,
        start.tender_water,
        start.tender_fuel,
        temperature,
        0.0,
        boiler.min_firing,
    )


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
def boiler_rates(boiler: Boiler, state: BoilerState, demand: SteamDemand, blast: float) -> BoilerRates:
    """Rates of change of the boiler's state, with the decisions of the fireman.

    Args:
        boiler: The boiler.
        state: Its state.
        demand: Steam drawn and expected.
        blast: Fuel that the blast can burn [kg/s].
    """
    boiling = saturation(boiler, state.temperature)
    steam = demand.cylinders + demand.auxiliary
    safety = safety_valve_flow(boiler, boiling.pressure)
    blower = blower_opening(boiler, boiling.pressure)
    feed = feed_rate(boiler, state, boiling.pressure, blower, steam, safety)
    target = target_firing(boiler, state, boiling, demand.expected, feed)
    burned = burning_rate(boiler, state.firing, blower, blast)
    fire_heat = between(boiler.heat_table, 0.0, boiler.firing_step, burned)
    net = (
        fire_heat
        + feed * boiler.feed_enthalpy
        - (steam + safety) * boiling.steam_enthalpy
        - boiler.radiation_loss
    )
    return BoilerRates(burned, fire_heat, feed, safety, target, net, boiling.steam_enthalpy)


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
    boiler: Boiler, state: BoilerState, seconds: float, cleaning: float, forecast: float, sums: Floats
) -> BoilerState:
    """Advance the boiler while the train stands; a fire being cleaned gives only the minimum.

    Args:
        boiler: The boiler.
        state: Its state.
        seconds: Time of standing [s].
        cleaning: Time to clean the fire, from the beginning [s].
        forecast: Cylinder steam expected after departure [kg/s].
        sums: Sums of the run, added to.
    """
    auxiliary = boiler.auxiliary_steam + boiler.blower_steam
    if not boiler.transient:
        return advance_steady(boiler, state, SteamDemand(0.0, auxiliary, auxiliary), seconds, sums)
    count = max(math.ceil(seconds / BOILER_STEP), 1)
    step = seconds / count
    for k in range(count):
        expected = expected_steam_standing(boiler, auxiliary, forecast, seconds - k * step)
        if k * step < cleaning:
            state = BoilerState(
                state.heat,
                state.water,
                boiler.min_firing,
                state.tender,
                state.fuel,
                state.temperature,
                state.feed,
                state.burned,
            )
        state = advance_transient(boiler, state, SteamDemand(0.0, auxiliary, expected), step, sums)
    return state


@compiled_inline
def advance_steady(
    boiler: Boiler, state: BoilerState, demand: SteamDemand, dt: float, sums: Floats
) -> BoilerState:
    """Advance a boiler with constant pressure: water and fuel follow the steam at once."""
    steam = demand.cylinders + demand.auxiliary
    firing = firing_for_heat(boiler, steam * boiler.evaporation_heat + boiler.radiation_loss)
    book_supplies(boiler, demand, steam, firing, dt, sums)
    return BoilerState(
        state.heat,
        state.water,
        firing,
        state.tender - dt * steam * boiler.tender_water_ratio,
        state.fuel - dt * firing,
        state.temperature,
        steam,
        firing,
    )


@compiled_inline
def advance_transient(
    boiler: Boiler, state: BoilerState, demand: SteamDemand, dt: float, sums: Floats
) -> BoilerState:
    """Advance the boiler over a short time by a midpoint step."""
    steam = demand.cylinders + demand.auxiliary
    remaining = math.exp(-0.5 * dt / boiler.fire_lag)  # of the distance to the target, after half the step
    blast = blast_limit(boiler, steam)
    rates = boiler_rates(boiler, state, demand, blast)
    heat = state.heat + 0.5 * dt * rates.net_heat
    water = state.water + 0.5 * dt * (rates.feed - steam - rates.safety_valve_steam)
    middle = BoilerState(
        heat,
        water,
        rates.target_firing + (state.firing - rates.target_firing) * remaining,
        state.tender,
        state.fuel,
        boiler_temperature(boiler, heat, water, state.temperature),
        state.feed,
        state.burned,
    )
    rates = boiler_rates(boiler, middle, demand, blast)
    book_supplies(boiler, demand, rates.feed, rates.burned, dt, sums)
    book_heat(boiler, rates, steam, dt, sums)
    heat = state.heat + dt * rates.net_heat
    water = state.water + dt * (rates.feed - steam - rates.safety_valve_steam)
    return BoilerState(
        heat,
        water,
        rates.target_firing + (state.firing - rates.target_firing) * remaining * remaining,
        state.tender - dt * rates.feed * boiler.tender_water_ratio,
        state.fuel - dt * rates.burned,
        boiler_temperature(boiler, heat, water, middle.temperature),
        rates.feed,
        rates.burned,
    )


@compiled_inline
def book_supplies(
    boiler: Boiler, demand: SteamDemand, feed: float, burned: float, dt: float, sums: Floats
) -> None:
    """Book steam, feed and fuel of a step."""
    sums[CYLINDER_STEAM] += dt * demand.cylinders
    sums[AUXILIARY_STEAM] += dt * demand.auxiliary
    sums[FEED_WATER] += dt * feed
    sums[RETURNED_EXHAUST] += dt * feed * (1.0 - boiler.tender_water_ratio)
    sums[FUEL_BURNED] += dt * burned


@compiled_inline
def book_heat(boiler: Boiler, rates: BoilerRates, steam: float, dt: float, sums: Floats) -> None:
    """Book heat and safety valve steam of a step."""
    safety = rates.safety_valve_steam
    sums[FIRE_HEAT] += dt * rates.fire_heat
    sums[FEED_HEAT] += dt * rates.feed * boiler.feed_enthalpy
    sums[HEAT_IN_STEAM] += dt * (steam + safety) * rates.steam_enthalpy
    sums[RADIATION_LOSS] += dt * boiler.radiation_loss
    sums[SAFETY_VALVE_STEAM] += dt * safety
