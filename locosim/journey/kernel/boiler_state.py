"""The boiler on the road: its state as heat and water, and the hands that feed and fire it.

The state is the heat held by water and metal, not the pressure: heat is what is conserved, so the ledger of
every run closes, and the pressure follows from heat and water through the saturation table. This is
`dP/dt = (Q + m_feed (h_feed - h_f) - m_steam h_fg) / (M dh_f/dP + metal)` written for the quantity conserved;
the heat of the steam space is left out (some per cent of the water's at working level).
"""

from __future__ import annotations

import math

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
)
from locosim.physics.types import Floats

LOW_DEMAND_SHARE = (
    0.3  # of the sustained steam: below it water comes before pressure; common practice, no source
)
FEED_BOOST = 5.0  # the level is won back as the valves are about to lift; common practice, no source
FEED_DEFERRAL = 0.7  # of the feed, at the pressure floor with the working level in the glass
RECOVERY_TIME = (
    300.0  # time in which lost pressure and lost water are won back [s]; common practice, no source
)
FIRE_BUILDUP_LAGS = (
    2.0  # lags of the fire before leaving, from which on it is built up; common practice, no source
)
BLAST_FIRING_RATIO = (
    1.3  # of the fuel that keeps up the steam drawn: what its blast can burn; common practice, no source
)
BOILER_STEP = 5.0  # longest step of the boiler's state [s]: the safety valves settle in some ten seconds


@compiled_inline
def boiler_temperature(boiler: Boiler, heat: float, water: float, guess: float) -> float:
    """Temperature at which water and metal hold the given heat [K], searched from a guess on a table."""
    step, first = boiler.temperature_step, boiler.first_temperature
    last = len(boiler.liquid_enthalpy_table) - 2
    k = min(max(int((guess - first) / step), 0), last)
    for _ in range(len(boiler.liquid_enthalpy_table)):
        slope = (boiler.liquid_enthalpy_table[k + 1] - boiler.liquid_enthalpy_table[k]) / step
        base = first + k * step
        held = water * boiler.liquid_enthalpy_table[k] + boiler.metal_heat_capacity * (base - ZERO_CELSIUS)
        excess = (heat - held) / (water * slope + boiler.metal_heat_capacity)
        # The piece is straight: the answer is exact when it lies on it.
        if excess < 0.0 and k > 0:
            k = max(k + min(int(excess / step), -1), 0)
        elif excess > step and k < last:
            k = min(k + max(int(excess / step), 1), last)
        else:
            break
    return float(base + excess)


@compiled_inline
def firing_for_heat(boiler: Boiler, heat: float) -> float:
    """Firing rate that gives a heat to the water [kg/s], no more than the greatest."""
    table, step = boiler.heat_table, boiler.firing_step
    if heat <= table[0]:
        return 0.0
    low, high = 0, len(table) - 1
    if heat >= table[high]:
        return min(high * step, boiler.max_firing)
    while high - low > 1:
        middle = (low + high) // 2
        if table[middle] <= heat:
            low = middle
        else:
            high = middle
    return float(min((low + (heat - table[low]) / (table[high] - table[low])) * step, boiler.max_firing))


@compiled_inline
def boiler_rates(
    boiler: Boiler,
    temperature: float,
    water: float,
    firing: float,
    drawn: float,
    expected: float,
    left: float,
) -> tuple[float, float, float, float, float, float, float]:
    """Rates of the boiler's state under the crew's hand.

    The fireman fires for the steam he expects, and to win back within five minutes what the boiler has lost. What
    lies on the grate burns only as far as the blast of the steam drawn reaches, helped by the blower, which he
    shuts, with the dampers, as pressure goes from working to where the valves lift.
    The feed makes up the steam drawn, and wins back the level in the same time while pressure is up, or while hardly
    any steam is drawn: over a summit water comes before pressure. With the valves about to lift it goes in quicker.
    As pressure goes down to the floor the more of the feed is put off the more water is in hand. Common practice,
    no source.

    Args:
        boiler: The boiler.
        temperature: Of the water [K].
        water: In the boiler [kg].
        firing: What the fire as it lies would burn under full blast [kg/s].
        drawn: Steam to cylinders and auxiliaries [kg/s].
        expected: Steam for all purposes the fireman fires for [kg/s].
        left: Water on the tender [kg].

    Returns:
        Fuel burned [kg/s], heat of the fire [W], feed [kg/s], steam through the safety valves [kg/s], firing aimed
        at [kg/s], net heat [W] and enthalpy of the steam [J/kg].
    """
    k, part = cell_of(
        temperature, boiler.first_temperature, boiler.temperature_step, len(boiler.pressure_table)
    )
    pressure = boiler.pressure_table[k] + part * (boiler.pressure_table[k + 1] - boiler.pressure_table[k])
    steam_enthalpy = boiler.steam_enthalpy_table[k] + part * (
        boiler.steam_enthalpy_table[k + 1] - boiler.steam_enthalpy_table[k]
    )
    liquid = boiler.liquid_enthalpy_table[k] + part * (
        boiler.liquid_enthalpy_table[k + 1] - boiler.liquid_enthalpy_table[k]
    )
    safety = 0.0
    if pressure > boiler.safety_set_pressure:
        opening = (pressure - boiler.safety_set_pressure) / (
            boiler.safety_full_lift - boiler.safety_set_pressure
        )
        safety = boiler.safety_capacity * min(opening, 1.0)
    up = (pressure - boiler.pressure_floor) / (boiler.safety_set_pressure - boiler.pressure_floor)
    up = min(max(up, 0.0), 1.0)
    low = 0.5 * (boiler.target_water + boiler.crown_sheet_water)
    level_reserve = min(max((water - low) / (boiler.target_water - low), 0.0), 1.0)
    makeup = (drawn + safety) * (1.0 - FEED_DEFERRAL * (1.0 - up) * level_reserve)
    margin_to_lift = (boiler.safety_set_pressure - pressure) / (
        boiler.safety_set_pressure - boiler.working_pressure
    )
    margin_to_lift = min(max(margin_to_lift, 0.0), 1.0)
    level_recovery = (boiler.target_water - water) / RECOVERY_TIME
    if level_recovery > 0.0:
        shut = max(1.0 - drawn / (LOW_DEMAND_SHARE * boiler.sustained_steam), 0.0)
        level_recovery *= max(up, shut) * (FEED_BOOST + (1.0 - FEED_BOOST) * margin_to_lift)
    feed = min(max(makeup + level_recovery, 0.0), boiler.max_feed)
    if left <= 0.0:
        feed = 0.0
    target_temperature = boiler.working_temperature
    short = water * (boiler.working_liquid_enthalpy - liquid) + boiler.metal_heat_capacity * (
        target_temperature - temperature
    )
    need = (
        expected * (steam_enthalpy - liquid)
        + feed * (liquid - boiler.feed_enthalpy)
        + boiler.radiation_loss
        + short / RECOVERY_TIME
    )
    target_firing = max(firing_for_heat(boiler, need), boiler.min_firing)
    draft = boiler.min_firing + boiler.blower_firing * margin_to_lift
    burned = min(
        firing, draft + BLAST_FIRING_RATIO * firing_for_heat(boiler, drawn * boiler.evaporation_heat)
    )
    fire = between(boiler.heat_table, 0.0, boiler.firing_step, burned)
    net = fire + feed * boiler.feed_enthalpy - (drawn + safety) * steam_enthalpy - boiler.radiation_loss
    return burned, fire, feed, safety, target_firing, net, steam_enthalpy


@compiled_inline
def hold_standing(
    boiler: Boiler, state: BoilerState, seconds: float, cleaning: float, expected: float, sums: Floats
) -> BoilerState:
    """Let the engine stand for a time: fire, feed, blower and losses go on.

    The fire is built up for the steam expected on leaving over the last two lags. While it is cleaned it gives no
    more than the least.
    """
    auxiliary = boiler.auxiliary_steam + boiler.blower_steam
    if not boiler.transient:
        return advance_steady(boiler, state, 0.0, auxiliary, seconds, sums)
    count = max(math.ceil(seconds / BOILER_STEP), 1)
    step = seconds / count
    for k in range(count):
        ahead = auxiliary
        if seconds - k * step <= FIRE_BUILDUP_LAGS * boiler.fire_lag:
            ahead += max(expected, 0.0)
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
        state = transient_substep(boiler, state, 0.0, auxiliary, ahead, step, sums)
    return state


@compiled_inline
def advance_steady(
    boiler: Boiler, state: BoilerState, drawn: float, auxiliary: float, dt: float, sums: Floats
) -> BoilerState:
    """Pass a time with the pressure held: water and fuel follow the steam at once."""
    steam = drawn + auxiliary
    firing = firing_for_heat(boiler, steam * boiler.evaporation_heat + boiler.radiation_loss)
    sums[CYLINDER_STEAM] += dt * drawn
    sums[AUXILIARY_STEAM] += dt * auxiliary
    sums[FEED_WATER] += dt * steam
    sums[RETURNED_EXHAUST] += dt * steam * (1.0 - boiler.tender_water_ratio)
    sums[FUEL_BURNED] += dt * firing
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
    boiler: Boiler,
    state: BoilerState,
    drawn: float,
    auxiliary: float,
    expected: float,
    dt: float,
    sums: Floats,
) -> BoilerState:
    """Pass a time with the boiler's state carried along; the long steps of a crawling train in parts."""
    count = max(math.ceil(dt / BOILER_STEP), 1)
    for _ in range(count):
        state = transient_substep(boiler, state, drawn, auxiliary, expected, dt / count, sums)
    return state


@compiled_inline
def transient_substep(
    boiler: Boiler,
    state: BoilerState,
    drawn: float,
    auxiliary: float,
    expected: float,
    dt: float,
    sums: Floats,
) -> BoilerState:
    """Pass a short time with the boiler's state carried along, by a midpoint step."""
    steam = drawn + auxiliary
    held = math.exp(-0.5 * dt / boiler.fire_lag)  # of the firing rate over half the step
    _, _, feed, safety, target_firing, net, _ = boiler_rates(
        boiler, state.temperature, state.water, state.firing, steam, expected, state.tender
    )
    heat = state.heat + 0.5 * dt * net
    water = state.water + 0.5 * dt * (feed - steam - safety)
    firing = target_firing + (state.firing - target_firing) * held
    temperature = boiler_temperature(boiler, heat, water, state.temperature)
    burned, fire, feed, safety, target_firing, net, steam_enthalpy = boiler_rates(
        boiler, temperature, water, firing, steam, expected, state.tender
    )
    sums[FIRE_HEAT] += dt * fire
    sums[FEED_HEAT] += dt * feed * boiler.feed_enthalpy
    sums[HEAT_IN_STEAM] += dt * (steam + safety) * steam_enthalpy
    sums[RADIATION_LOSS] += dt * boiler.radiation_loss
    sums[CYLINDER_STEAM] += dt * drawn
    sums[AUXILIARY_STEAM] += dt * auxiliary
    sums[SAFETY_VALVE_STEAM] += dt * safety
    sums[FEED_WATER] += dt * feed
    sums[RETURNED_EXHAUST] += dt * feed * (1.0 - boiler.tender_water_ratio)
    sums[FUEL_BURNED] += dt * burned
    heat = state.heat + dt * net
    water = state.water + dt * (feed - steam - safety)
    return BoilerState(
        heat,
        water,
        target_firing + (state.firing - target_firing) * held * held,
        state.tender - dt * feed * boiler.tender_water_ratio,
        state.fuel - dt * burned,
        boiler_temperature(boiler, heat, water, temperature),
        feed,
        burned,
    )
