"""The boiler on the road: its state as heat and water, and the hands that feed and fire it.

The state is the heat held by water and metal, not the pressure: heat is what is conserved, so the ledger of
every run closes, and the pressure follows from heat and water through the saturation table. This is
`dP/dt = (Q + m_feed (h_feed - h_f) - m_steam h_fg) / (M dh_f/dP + metal)` written for the quantity conserved;
the heat of the steam space is left out (some per cent of the water's at working level).
"""

from __future__ import annotations

from locosim.compiled import compiled
from locosim.journey.records import Boiler
from locosim.performance.map_reading import between


@compiled
def boiler_temperature(boiler: Boiler, heat: float, water: float, guess: float) -> float:
    """Temperature at which water and metal hold the given heat [K]; Newton on a table of straight pieces."""
    temperature = guess
    last = len(boiler.liquid_of) - 2
    for _ in range(20):
        k = min(max(int((temperature - boiler.temperature_first) / boiler.temperature_step), 0), last)
        slope = (boiler.liquid_of[k + 1] - boiler.liquid_of[k]) / boiler.temperature_step
        base = boiler.temperature_first + k * boiler.temperature_step
        held = water * (boiler.liquid_of[k] + slope * (temperature - base))
        held += boiler.metal_heat * (temperature - 273.15)
        change = (heat - held) / (water * slope + boiler.metal_heat)
        temperature += change
        if abs(change) < 1e-9:
            break
    return float(temperature)


@compiled
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
    return min((low + (heat - table[low]) / (table[high] - table[low])) * step, boiler.firing_greatest)


@compiled
def boiler_rates(
    boiler: Boiler,
    temperature: float,
    water: float,
    firing: float,
    cylinders: float,
    auxiliary: float,
    left: float,
) -> tuple[float, float, float, float, float, float]:
    """Rates of the boiler's state under the crew's hand.

    The fireman aims at the heat the steam now takes, and at winning back what the boiler has lost within five
    minutes; the feed aims at the working level in the same time, and is eased while pressure is below the
    floor and there is water in hand (common practice, no source).

    Returns heat of the fire [W], feed [kg/s], steam through the safety valves [kg/s], firing aimed at [kg/s],
    net heat [W] and enthalpy of the steam [J/kg].
    """
    first, step = boiler.temperature_first, boiler.temperature_step
    pressure = between(boiler.pressure_of, first, step, temperature)
    vapour = between(boiler.vapour_of, first, step, temperature)
    safety = 0.0
    if pressure > boiler.safety_pressure:
        opening = (pressure - boiler.safety_pressure) / (boiler.safety_full - boiler.safety_pressure)
        safety = boiler.safety_capacity * min(opening, 1.0)
    drawn = cylinders + auxiliary
    feed = min(max(drawn + safety + (boiler.water_aim - water) / 300.0, 0.0), boiler.feed_greatest)
    if pressure < boiler.pressure_floor and water > 0.5 * (boiler.water_aim + boiler.water_bare):
        feed *= 0.5
    if left <= 0.0:
        feed = 0.0
    full = between(boiler.liquid_of, first, step, temperature)
    # How far the boiler is below its working heat, for the water it holds.
    aim = boiler.working_temperature
    short = water * (between(boiler.liquid_of, first, step, aim) - full) + boiler.metal_heat * (
        aim - temperature
    )
    need = drawn * vapour - feed * boiler.feed_enthalpy + boiler.standing_loss + short / 300.0
    aimed = max(firing_for(boiler, need), boiler.firing_least)
    fire = between(boiler.heat_of, 0.0, boiler.firing_step, firing)
    net = fire + feed * boiler.feed_enthalpy - (drawn + safety) * vapour - boiler.standing_loss
    return fire, feed, safety, aimed, net, vapour
