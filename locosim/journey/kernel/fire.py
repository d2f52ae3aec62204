"""The fire: fuel on the grate, the air that burns it, and the heat it gives to the water.

After the two-equation model of grate firing [Bauer2010]: the burning rate answers the air within seconds, in
proportion to the burning fuel on the grate; fuel that is fired acts only through that mass, after it was heated.
Oil has no bed: what is fired burns, as far as there is air for it.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from locosim.compiled import compiled_inline
from locosim.engine.map.interpolation import between
from locosim.journey.kernel.arrays import Boiler, FireState


class FireTargets(NamedTuple):
    """What the fire and the fireman tend to under the present conditions."""

    burning: float  # fuel burned [kg/s]
    firing: float  # fuel thrown on the grate [kg/s]


class FireStep(NamedTuple):
    """Fuel and heat of a step of the fire."""

    fired: float  # fuel from the tender, mean of the step [kg/s]
    burned: float  # mean of the step [kg/s]
    green_heat: float  # heat that green fuel takes up, less what the fuel burned gives back [W]


@compiled_inline
def firing_for_heat(boiler: Boiler, heat: float, limit: float, near: float = 0.0) -> float:
    """Firing rate that gives a heat to the water [kg/s], at most a limit; searched from a rate near it."""
    table, step = boiler.heat_table, boiler.firing_step
    if heat <= table[0]:
        return 0.0
    last = len(table) - 1
    if heat >= table[last]:
        return min(last * step, limit)
    low = min(max(int(near / step), 0), last - 1)
    while heat < table[low]:
        low -= 1
    while heat >= table[low + 1]:
        low += 1
    return float(min((low + (heat - table[low]) / (table[low + 1] - table[low])) * step, limit))


@compiled_inline
def firing_for_steam(boiler: Boiler, steam: float, near: float = 0.0) -> float:
    """Firing rate that makes a steam rate [kg/s], at most what grate and draft can burn."""
    heat = steam * boiler.evaporation_heat + boiler.radiation_loss
    return firing_for_heat(boiler, heat, boiler.max_burning, near)


@compiled_inline
def fire_air(boiler: Boiler, steam_firing: float, damper: float, blower: float) -> float:
    """Air drawn through the grate, as the fuel it can burn [kg/s].

    Args:
        boiler: The boiler.
        steam_firing: Firing rate that makes the steam drawn [kg/s].
        damper: Opening of the dampers, which throttle the blast [1].
        blower: Opening of the blower [1].
    """
    blast = boiler.blast_air_ratio * steam_firing * damper
    return boiler.min_firing + boiler.blower_firing * blower + blast


@compiled_inline
def burning_for_air(boiler: Boiler, fire: FireState, air: float, firing: float) -> float:
    """Burning rate that the fire tends to [kg/s]: by the air and the bed; of oil, by the air and the burner."""
    supplied = air * min(fire.bed / boiler.full_bed, 1.0) if boiler.full_bed > 0.0 else min(air, firing)
    return min(supplied, boiler.max_burning)


class FireDecay(NamedTuple):
    """What is left of a difference from its target after a time, by the lag of each [1]."""

    burning: float
    firing: float
    heating: float


@compiled_inline
def fire_decay(boiler: Boiler, dt: float) -> FireDecay:
    """What is left after a time [s]; of oil, only the burning has a lag."""
    burning = math.exp(-dt / boiler.burning_lag)
    if boiler.full_bed <= 0.0:
        return FireDecay(burning, 0.0, 0.0)
    return FireDecay(burning, math.exp(-dt / boiler.firing_lag), math.exp(-dt / boiler.heating_time))


@compiled_inline
def twice_as_long(decay: FireDecay) -> FireDecay:
    """What is left after twice the time: exponentials are the dear part of a step of the fire."""
    return FireDecay(
        decay.burning * decay.burning, decay.firing * decay.firing, decay.heating * decay.heating
    )


@compiled_inline
def advance_fire(
    boiler: Boiler, fire: FireState, targets: FireTargets, decay: FireDecay, dt: float
) -> tuple[FireState, FireStep]:
    """Advance the fire over a short time, with exact exponentials toward constant targets."""
    burning_left = decay.burning
    burning = targets.burning + (fire.burning - targets.burning) * burning_left
    burned = (
        targets.burning + (fire.burning - targets.burning) * (1.0 - burning_left) * boiler.burning_lag / dt
    )
    if boiler.full_bed <= 0.0:
        ash = fire.ash + dt * boiler.ash_share * burned
        return FireState(burning, burning, 0.0, 0.0, ash, burned), FireStep(burned, burned, 0.0)
    firing_left = decay.firing
    firing = targets.firing + (fire.firing - targets.firing) * firing_left
    fired = targets.firing + (fire.firing - targets.firing) * (1.0 - firing_left) * boiler.firing_lag / dt
    heated_in_step = fired * boiler.heating_time
    green = heated_in_step + (fire.green - heated_in_step) * decay.heating
    heated = (fire.green - green) / dt + fired
    burned = min(burned, fire.bed / dt + heated)
    bed = fire.bed + dt * (heated - burned)
    return (
        FireState(burning, firing, green, bed, fire.ash + dt * boiler.ash_share * burned, burned),
        FireStep(fired, burned, boiler.heating_heat * (heated - burned)),
    )


@compiled_inline
def fire_heat(boiler: Boiler, burned: float) -> float:
    """Heat of the fire to the water [W], with the heating of as much green fuel as is burned."""
    return between(boiler.heat_table, 0.0, boiler.firing_step, burned)
