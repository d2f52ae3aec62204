"""The boiler on the road: its state as heat and water, and the hands that feed and fire it.

The state is the heat held by water and metal, not the pressure: heat is what is conserved, so the ledger of
every run closes, and the pressure follows from heat and water through the saturation table. This is
`dP/dt = (Q + m_feed (h_feed - h_f) - m_steam h_fg) / (M dh_f/dP + metal)` written for the quantity conserved;
the heat of the steam space is left out (some per cent of the water's at working level).
"""

from __future__ import annotations

import math

from locosim.compiled import compiled_lean
from locosim.constants import ZERO_CELSIUS
from locosim.engine.map.interpolation import between, place_of
from locosim.journey.kernel.arrays import (
    AUXILIARY_STEAM,
    CYLINDER_STEAM,
    FED_BACK,
    FEED_HEAT,
    FEED_WATER,
    FIRE_HEAT,
    FUEL_BURNT,
    LOST_HEAT,
    SAFETY_STEAM,
    STEAM_HEAT,
    Boiler,
    State,
)
from locosim.physics.types import Floats

HARDLY_DRAWN = 0.3  # of the sustained steam: below it water comes before pressure; common practice, no source
QUICKER = 5.0  # the level is won back as the valves are about to lift; common practice, no source
FEED_PUT_OFF = 0.7  # of the feed, at the pressure floor with the working level in the glass
WIN_BACK = 300.0  # time in which lost pressure and lost water are won back [s]; common practice, no source
BUILD_UP_LAGS = (
    2.0  # lags of the fire before leaving, from which on it is built up; common practice, no source
)
BLAST_REACH = (
    1.3  # of the fuel that keeps up the steam drawn: what its blast can burn; common practice, no source
)
BOILER_STEP = 5.0  # longest step of the boiler's state [s]: the safety valves settle in some ten seconds


@compiled_lean
def boiler_temperature(boiler: Boiler, heat: float, water: float, guess: float) -> float:
    """Temperature at which water and metal hold the given heat [K], searched from a guess on a table."""
    step, first = boiler.temperature_step, boiler.temperature_first
    last = len(boiler.liquid_of) - 2
    k = min(max(int((guess - first) / step), 0), last)
    for _ in range(len(boiler.liquid_of)):
        slope = (boiler.liquid_of[k + 1] - boiler.liquid_of[k]) / step
        base = first + k * step
        held = water * boiler.liquid_of[k] + boiler.metal_heat * (base - ZERO_CELSIUS)
        beyond = (heat - held) / (water * slope + boiler.metal_heat)
        # The piece is straight: the answer is exact when it lies on it.
        if beyond < 0.0 and k > 0:
            k = max(k + min(int(beyond / step), -1), 0)
        elif beyond > step and k < last:
            k = min(k + max(int(beyond / step), 1), last)
        else:
            break
    return float(base + beyond)


@compiled_lean
def firing_for(boiler: Boiler, heat: float) -> float:
    """Firing rate that gives a heat to the water [kg/s], no more than the greatest."""
    table, step = boiler.heat_of, boiler.firing_step
    if heat <= table[0]:
        return 0.0
    low, high = 0, len(table) - 1
    if heat >= table[high]:
        return min(high * step, boiler.firing_greatest)
    while high - low > 1:
        middle = (low + high) // 2
        if table[middle] <= heat:
            low = middle
        else:
            high = middle
    return float(min((low + (heat - table[low]) / (table[high] - table[low])) * step, boiler.firing_greatest))


@compiled_lean
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
        Fuel burnt [kg/s], heat of the fire [W], feed [kg/s], steam through the safety valves [kg/s], firing aimed
        at [kg/s], net heat [W] and enthalpy of the steam [J/kg].
    """
    k, part = place_of(
        temperature, boiler.temperature_first, boiler.temperature_step, len(boiler.pressure_of)
    )
    pressure = boiler.pressure_of[k] + part * (boiler.pressure_of[k + 1] - boiler.pressure_of[k])
    vapour = boiler.vapour_of[k] + part * (boiler.vapour_of[k + 1] - boiler.vapour_of[k])
    liquid = boiler.liquid_of[k] + part * (boiler.liquid_of[k + 1] - boiler.liquid_of[k])
    safety = 0.0
    if pressure > boiler.safety_pressure:
        opening = (pressure - boiler.safety_pressure) / (boiler.safety_full - boiler.safety_pressure)
        safety = boiler.safety_capacity * min(opening, 1.0)
    up = (pressure - boiler.pressure_floor) / (boiler.safety_pressure - boiler.pressure_floor)
    up = min(max(up, 0.0), 1.0)
    low = 0.5 * (boiler.water_aim + boiler.water_bare)
    in_hand = min(max((water - low) / (boiler.water_aim - low), 0.0), 1.0)
    makeup = (drawn + safety) * (1.0 - FEED_PUT_OFF * (1.0 - up) * in_hand)
    to_lifting = (boiler.safety_pressure - pressure) / (boiler.safety_pressure - boiler.working_pressure)
    to_lifting = min(max(to_lifting, 0.0), 1.0)
    behind = (boiler.water_aim - water) / WIN_BACK
    if behind > 0.0:
        shut = max(1.0 - drawn / (HARDLY_DRAWN * boiler.sustained_steam), 0.0)
        behind *= max(up, shut) * (QUICKER + (1.0 - QUICKER) * to_lifting)
    feed = min(max(makeup + behind, 0.0), boiler.feed_greatest)
    if left <= 0.0:
        feed = 0.0
    aim = boiler.working_temperature
    short = water * (boiler.working_liquid - liquid) + boiler.metal_heat * (aim - temperature)
    need = (
        expected * (vapour - liquid)
        + feed * (liquid - boiler.feed_enthalpy)
        + boiler.standing_loss
        + short / WIN_BACK
    )
    aimed = max(firing_for(boiler, need), boiler.firing_least)
    draught = boiler.firing_least + boiler.blower_firing * to_lifting
    burnt = min(firing, draught + BLAST_REACH * firing_for(boiler, drawn * boiler.steam_heat))
    fire = between(boiler.heat_of, 0.0, boiler.firing_step, burnt)
    net = fire + feed * boiler.feed_enthalpy - (drawn + safety) * vapour - boiler.standing_loss
    return burnt, fire, feed, safety, aimed, net, vapour


@compiled_lean
def stand(
    boiler: Boiler, state: State, seconds: float, cleaning: float, expected: float, sums: Floats
) -> State:
    """Let the engine stand for a time: fire, feed, blower and losses go on.

    The fire is built up for the steam expected on leaving over the last two lags. While it is cleaned it gives no
    more than the least.
    """
    auxiliary = boiler.auxiliary_steam + boiler.standing_steam
    if not boiler.live:
        return steady_boiler(boiler, state, 0.0, auxiliary, seconds, sums)
    count = max(math.ceil(seconds / BOILER_STEP), 1)
    step = seconds / count
    for k in range(count):
        ahead = auxiliary
        if seconds - k * step <= BUILD_UP_LAGS * boiler.fire_lag:
            ahead += max(expected, 0.0)
        if k * step < cleaning:
            state = State(
                state.heat,
                state.water,
                boiler.firing_least,
                state.tender,
                state.fuel,
                state.temperature,
                state.feed,
                state.burnt,
            )
        state = live_step(boiler, state, 0.0, auxiliary, ahead, step, sums)
    return state


@compiled_lean
def steady_boiler(
    boiler: Boiler, state: State, drawn: float, auxiliary: float, dt: float, sums: Floats
) -> State:
    """Pass a time with the pressure held: water and fuel follow the steam at once."""
    steam = drawn + auxiliary
    firing = firing_for(boiler, steam * boiler.steam_heat + boiler.standing_loss)
    sums[CYLINDER_STEAM] += dt * drawn
    sums[AUXILIARY_STEAM] += dt * auxiliary
    sums[FEED_WATER] += dt * steam
    sums[FED_BACK] += dt * steam * (1.0 - boiler.tender_over_feed)
    sums[FUEL_BURNT] += dt * firing
    return State(
        state.heat,
        state.water,
        firing,
        state.tender - dt * steam * boiler.tender_over_feed,
        state.fuel - dt * firing,
        state.temperature,
        steam,
        firing,
    )


@compiled_lean
def live_boiler(
    boiler: Boiler, state: State, drawn: float, auxiliary: float, expected: float, dt: float, sums: Floats
) -> State:
    """Pass a time with the boiler's state carried along; the long steps of a crawling train in parts."""
    count = max(math.ceil(dt / BOILER_STEP), 1)
    for _ in range(count):
        state = live_step(boiler, state, drawn, auxiliary, expected, dt / count, sums)
    return state


@compiled_lean
def live_step(
    boiler: Boiler, state: State, drawn: float, auxiliary: float, expected: float, dt: float, sums: Floats
) -> State:
    """Pass a short time with the boiler's state carried along, by a midpoint step."""
    steam = drawn + auxiliary
    held = math.exp(-0.5 * dt / boiler.fire_lag)  # of the firing rate over half the step
    _, _, feed, safety, aimed, net, _ = boiler_rates(
        boiler, state.temperature, state.water, state.firing, steam, expected, state.tender
    )
    heat = state.heat + 0.5 * dt * net
    water = state.water + 0.5 * dt * (feed - steam - safety)
    firing = aimed + (state.firing - aimed) * held
    temperature = boiler_temperature(boiler, heat, water, state.temperature)
    burnt, fire, feed, safety, aimed, net, vapour = boiler_rates(
        boiler, temperature, water, firing, steam, expected, state.tender
    )
    sums[FIRE_HEAT] += dt * fire
    sums[FEED_HEAT] += dt * feed * boiler.feed_enthalpy
    sums[STEAM_HEAT] += dt * (steam + safety) * vapour
    sums[LOST_HEAT] += dt * boiler.standing_loss
    sums[CYLINDER_STEAM] += dt * drawn
    sums[AUXILIARY_STEAM] += dt * auxiliary
    sums[SAFETY_STEAM] += dt * safety
    sums[FEED_WATER] += dt * feed
    sums[FED_BACK] += dt * feed * (1.0 - boiler.tender_over_feed)
    sums[FUEL_BURNT] += dt * burnt
    heat = state.heat + dt * net
    water = state.water + dt * (feed - steam - safety)
    return State(
        heat,
        water,
        aimed + (state.firing - aimed) * held * held,
        state.tender - dt * feed * boiler.tender_over_feed,
        state.fuel - dt * burnt,
        boiler_temperature(boiler, heat, water, temperature),
        feed,
        burnt,
    )
