"""Decisions of the crew: the engineer's steam, and the fireman's fire, blower and feed.

The rules are common practice without a source; their figures are assumptions.
"""

from __future__ import annotations

from locosim.compiled import compiled_inline
from locosim.journey.kernel.arrays import Boiler, BoilerState, Line, Saturation
from locosim.journey.kernel.fire import firing_for_heat


@compiled_inline
def allowed_steam(line: Line, boiler: Boiler, i: int, pressure: float) -> float:
    """Most steam the engineer gives the cylinders [kg/s].

    It is a share of the sustained evaporation, less the steam of the auxiliaries. Below the pressure floor it falls
    with the pressure, faster than the pressure does, so that the fire can restore it.
    """
    most = line.steam_share[i] * boiler.sustained_steam
    if boiler.transient and pressure < boiler.pressure_floor:
        slope = boiler.floor_slope
        share = max(slope * pressure / boiler.pressure_floor - (slope - 1.0), 0.0)
        most = min(most, boiler.sustained_steam * share)
    return float(max(most - boiler.auxiliary_steam, 0.0))


@compiled_inline
def blower_opening(boiler: Boiler, pressure: float) -> float:
    """Opening of blower and dampers: 1 up to the working pressure, 0 where the safety valves lift."""
    margin = (boiler.safety_set_pressure - pressure) / (boiler.safety_set_pressure - boiler.working_pressure)
    return min(max(margin, 0.0), 1.0)


@compiled_inline
def feed_rate(
    boiler: Boiler,
    state: BoilerState,
    pressure: float,
    blower: float,
    steam: float,
    safety_valve_steam: float,
) -> float:
    """Feed [kg/s]: it makes up the steam, and restores the water level.

    As pressure falls to the floor, more of the feed is put off, the more water there is in reserve. A low level is
    restored while pressure is up or hardly any steam is drawn: over a summit water comes before pressure. It is
    restored faster with the safety valves about to lift.

    Args:
        boiler: The boiler.
        state: Its state.
        pressure: Absolute boiler pressure [Pa].
        blower: Opening of the blower, which closes as the safety valves are about to lift [1].
        steam: Drawn by cylinders and auxiliaries [kg/s].
        safety_valve_steam: [kg/s]
    """
    if state.tender <= 0.0:
        return 0.0
    up = (pressure - boiler.pressure_floor) / (boiler.safety_set_pressure - boiler.pressure_floor)
    up = min(max(up, 0.0), 1.0)
    low = 0.5 * (boiler.target_water + boiler.crown_sheet_water)
    reserve = min(max((state.water - low) / (boiler.target_water - low), 0.0), 1.0)
    makeup = (steam + safety_valve_steam) * (1.0 - boiler.feed_deferral * (1.0 - up) * reserve)
    recovery = (boiler.target_water - state.water) / boiler.recovery_time
    if recovery > 0.0:
        shut = max(1.0 - steam / boiler.low_demand_steam, 0.0)
        boost = boiler.feed_boost + (1.0 - boiler.feed_boost) * blower
        recovery *= max(up, shut) * boost
    return min(max(makeup + recovery, 0.0), boiler.max_feed)


@compiled_inline
def target_firing(
    boiler: Boiler, state: BoilerState, boiling: Saturation, expected: float, feed: float
) -> float:
    """Firing rate aimed at [kg/s]: for the steam expected, the feed, the losses, and the heat lost from the boiler.

    Args:
        boiler: The boiler.
        state: Its state.
        boiling: Pressure and enthalpies at its temperature.
        expected: Steam for all purposes [kg/s].
        feed: [kg/s]
    """
    heat_deficit = state.water * (
        boiler.working_liquid_enthalpy - boiling.liquid_enthalpy
    ) + boiler.metal_heat_capacity * (boiler.working_temperature - state.temperature)
    need = (
        expected * (boiling.steam_enthalpy - boiling.liquid_enthalpy)
        + feed * (boiling.liquid_enthalpy - boiler.feed_enthalpy)
        + boiler.radiation_loss
        + heat_deficit / boiler.recovery_time
    )
    return max(firing_for_heat(boiler, need), boiler.min_firing)


@compiled_inline
def expected_steam_standing(boiler: Boiler, auxiliary: float, forecast: float, remaining: float) -> float:
    """Steam the fireman fires for while standing [kg/s]; that of the road in the time before departure.

    Args:
        boiler: The boiler.
        auxiliary: Steam of the auxiliaries [kg/s].
        forecast: Cylinder steam expected after departure [kg/s]; negative: none.
        remaining: Time to departure [s].
    """
    if remaining <= boiler.fire_buildup_time:
        return auxiliary + max(forecast, 0.0)
    return auxiliary
