"""The fire: fuel burned, and the heat it gives to the water."""

from __future__ import annotations

from locosim.compiled import compiled_inline
from locosim.journey.kernel.arrays import Boiler


@compiled_inline
def firing_for_heat(boiler: Boiler, heat: float) -> float:
    """Firing rate that gives a heat to the water [kg/s], at most the maximum firing rate."""
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
def blast_limit(boiler: Boiler, steam: float) -> float:
    """Fuel that the blast of the steam drawn can burn [kg/s]."""
    return boiler.blast_firing_ratio * firing_for_heat(boiler, steam * boiler.evaporation_heat)


@compiled_inline
def burning_rate(boiler: Boiler, firing: float, blower: float, blast: float) -> float:
    """Fuel burned [kg/s]: what the fire would burn under full blast, as far as there is draft for it.

    Args:
        boiler: The boiler.
        firing: What the fire would burn under full blast [kg/s].
        blower: Opening of blower and dampers, 0 to 1.
        blast: Fuel that the blast can burn [kg/s].
    """
    return min(firing, boiler.min_firing + boiler.blower_firing * blower + blast)
