"""Decisions of the crew: the engineer's steam, and the fireman's fire, blower and feed.

The fireman works by what he wants on the grate and in the boiler: by the road ahead, which `rehearsal` computes, or by
the present steam where he does not know the road. The rules follow published practice [Gregory1841], [Sinclair1888],
[TEA1919]; their figures are assumptions.
"""

from __future__ import annotations

from locosim.compiled import compiled_inline
from locosim.journey.kernel.arrays import THROTTLE_SHUT, Boiler, BoilerState, FireState, Line, Saturation
from locosim.journey.kernel.fire import firing_for_heat

# Share of the most he can fire that the fireman counts on in planning; ours, so that the plan leaves him some reserve.
FIRING_MARGIN = 0.95
FLOOR_APPROACH = (
    1.02  # over the pressure floor, from where steam above the sustained evaporation is reduced; ours
)


@compiled_inline
def share_between(value: float, low: float, high: float) -> float:
    """Share of the way of a value from low to high, within 0 and 1."""
    return min(max((value - low) / (high - low), 0.0), 1.0)


@compiled_inline
def allowed_steam(line: Line, boiler: Boiler, i: int, pressure: float) -> float:
    """Most steam the engineer gives the cylinders [kg/s].

    It is a share of the sustained evaporation, less the steam of the auxiliaries. Below the pressure floor it falls
    with the pressure, faster than the pressure does, so that the fire can restore it. A share above 1 falls to 1 a
    little above the floor already, so that the steam does not jump there.
    """
    share = line.steam_share[i]
    if boiler.transient and share > 1.0:
        share = 1.0 + (share - 1.0) * share_between(
            pressure, boiler.pressure_floor, FLOOR_APPROACH * boiler.pressure_floor
        )
    if boiler.transient and pressure < boiler.pressure_floor:
        slope = boiler.floor_slope
        share = min(share, max(slope * pressure / boiler.pressure_floor - (slope - 1.0), 0.0))
    return float(max(share * boiler.sustained_steam - boiler.auxiliary_steam, 0.0))


@compiled_inline
def blower_opening(boiler: Boiler, pressure: float, throttle: int, steam_firing: float) -> float:
    """Opening of the blower.

    With the throttle shut it is 1 up to the working pressure, 0 where the safety valves lift. While the engine pulls,
    the blower helps a weak blast where the pressure is low; a strong blast leaves it nothing to do.

    Args:
        boiler: The boiler.
        pressure: Absolute boiler pressure [Pa].
        throttle: Open or shut.
        steam_firing: Firing rate that makes the steam drawn [kg/s].
    """
    if throttle == THROTTLE_SHUT:
        return 1.0 - share_between(pressure, boiler.working_pressure, boiler.safety_set_pressure)
    low = 1.0 - share_between(
        pressure, boiler.working_pressure - boiler.damper_range, boiler.working_pressure
    )
    return low * (1.0 - working_share(boiler, steam_firing))


@compiled_inline
def working_share(boiler: Boiler, burning: float) -> float:
    """How far an engine is at hard work: 0 standing, 1 from half of the sustained firing rate on."""
    return min(burning / (0.5 * boiler.max_firing), 1.0)


@compiled_inline
def damper_opening(boiler: Boiler, pressure: float, steam_firing: float, firing_ahead: float) -> float:
    """Opening of the dampers, closed so that the safety valves do not lift.

    They close as the pressure rises to the valves, and ahead of where the fireman knows that less steam will be drawn.

    Args:
        boiler: The boiler.
        pressure: Absolute boiler pressure [Pa].
        steam_firing: Firing rate that makes the steam drawn [kg/s].
        firing_ahead: The same for the steam just ahead [kg/s]; negative: not known.
    """
    low = boiler.working_pressure - boiler.damper_range
    closed = share_between(pressure, low, boiler.safety_set_pressure)
    if 0.0 <= firing_ahead < steam_firing:
        up = share_between(pressure, boiler.pressure_floor, boiler.working_pressure)
        closed = max(closed, up * (1.0 - firing_ahead / steam_firing))
    return 1.0 - (1.0 - boiler.min_damper) * closed


@compiled_inline
def bed_for_burning(boiler: Boiler, burning: float) -> float:
    """Fuel on the grate that a burning rate needs, green fuel included [kg]; of oil, none.

    From half of the sustained rate on, the bed is as deep as lets the blast burn what makes the steam; below, it is
    thinner, down to the bed kept while standing.
    """
    if boiler.full_bed <= 0.0:
        return 0.0
    thickness = boiler.full_bed / boiler.blast_air_ratio - boiler.idle_bed
    return boiler.idle_bed + thickness * working_share(boiler, burning) + burning * boiler.heating_time


@compiled_inline
def firing_aim(boiler: Boiler, fire: FireState, bed_aim: float) -> float:
    """Firing rate that the fireman wants [kg/s]: what burns, and what brings the bed to his aim."""
    missing = min(bed_aim, boiler.max_bed) - fire.green - fire.bed
    return min(max(fire.burned + missing / boiler.bed_recovery_time, 0.0), boiler.firing_capacity)


@compiled_inline
def bed_aim_standing(boiler: Boiler, bed_aim: float, remaining: float) -> float:
    """Fuel on the grate that the fireman aims at while standing [kg]: built up in time for the departure.

    Args:
        boiler: The boiler.
        bed_aim: Aim at departure [kg]; negative: he does not know the road.
        remaining: Time to departure [s].
    """
    if bed_aim < 0.0:
        return bed_for_burning(boiler, 0.5 * boiler.max_firing)
    if remaining > boiler.horizon:
        return boiler.idle_bed
    return max(bed_aim - FIRING_MARGIN * boiler.firing_capacity * remaining, boiler.idle_bed)


@compiled_inline
def feed_rate(
    boiler: Boiler,
    state: BoilerState,
    pressure: float,
    steam: float,
    safety_valve_steam: float,
    water_aim: float,
    hold: float,
) -> float:
    """Feed [kg/s]: it makes up the steam, and brings the water to the level aimed at.

    As pressure falls to the floor, more of the feed is put off, the more water there is in reserve. A low level is
    restored while pressure is up or hardly any steam is drawn: over a summit water comes before pressure. It is
    restored faster with the safety valves about to lift.

    Args:
        boiler: The boiler.
        state: Its state.
        pressure: Absolute boiler pressure [Pa].
        steam: Drawn by cylinders and auxiliaries [kg/s].
        safety_valve_steam: [kg/s]
        water_aim: Water in the boiler aimed at [kg].
        hold: Feed left out to save heat on a hard stretch [kg/s].
    """
    if state.tender <= 0.0:
        return 0.0
    up = share_between(pressure, boiler.pressure_floor, boiler.safety_set_pressure)
    low = 0.5 * (boiler.target_water + boiler.crown_sheet_water)
    reserve = share_between(state.water, low, boiler.target_water)
    if water_aim > boiler.target_water:
        filled = share_between(state.water, boiler.target_water, water_aim)
        # He can leave out only what he has filled. He fills while the pressure is up, and not at hard work.
        hold *= filled
        spare = share_between(
            pressure, boiler.working_pressure - boiler.damper_range, boiler.working_pressure
        )
        if steam > FIRING_MARGIN * boiler.sustained_steam:
            spare = 0.0
        level = max(min(state.water, water_aim), boiler.target_water)
        water_aim = level + spare * (water_aim - level)
    makeup = max(steam + safety_valve_steam - hold, 0.0) * (1.0 - boiler.feed_deferral * (1.0 - up) * reserve)
    recovery = (water_aim - state.water) / boiler.recovery_time
    if recovery > 0.0:
        shut = max(1.0 - steam / boiler.low_demand_steam, 0.0)
        lifting = share_between(pressure, boiler.working_pressure, boiler.safety_set_pressure)
        recovery *= max(up, shut) * (1.0 + (boiler.feed_boost - 1.0) * lifting)
    return min(max(makeup + recovery, 0.0), boiler.max_feed)


@compiled_inline
def burner_aim(boiler: Boiler, state: BoilerState, boiling: Saturation, steam: float, feed: float) -> float:
    """Firing rate of an oil burner [kg/s]: for steam, feed and losses, and the heat lost from the boiler.

    Args:
        boiler: The boiler.
        state: Its state.
        boiling: Pressure and enthalpies at its temperature.
        steam: For all purposes [kg/s].
        feed: [kg/s]
    """
    heat_deficit = state.water * (
        boiler.working_liquid_enthalpy - boiling.liquid_enthalpy
    ) + boiler.metal_heat_capacity * (boiler.working_temperature - state.temperature)
    need = (
        steam * (boiling.steam_enthalpy - boiling.liquid_enthalpy)
        + feed * (boiling.liquid_enthalpy - boiler.feed_enthalpy)
        + boiler.radiation_loss
        + heat_deficit / boiler.recovery_time
    )
    return max(firing_for_heat(boiler, need, boiler.firing_capacity, state.fire.burned), boiler.min_firing)
