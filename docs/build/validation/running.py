"""Engines at work, as the sections want them: at a steam rate, at a speed, at their best."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from locosim.constants import FOOT, HORSEPOWER, HOUR, MPH, POUND
from locosim.engine.cylinders.layout import CycleLayout, build_cycle_layout
from locosim.engine.cylinders.operating_points import OperatingPoints, operating_points
from locosim.engine.performance import Performance, compute_performance
from locosim.errors import OutOfRange
from locosim.model import Locomotive
from locosim.physics.boiler.limits import DRAFT, FIRE, GRATE

from .engines import engine

POUND_PER_HOUR = POUND / HOUR
POUND_PER_POWER_HOUR = POUND / HOUR / HORSEPOWER  # [kg/J], pounds per horsepower-hour
GOOD_COAL_STEAM = 1000.0  # [lb/(ft2 h)] of grate, good coal and good draft, [Trainorders4728623]
CHAPELON_STEAM = 1300.0  # of boilers with his front end in short tests, the same
EXPRESS_SPEEDS = tuple(float(v) * MPH for v in range(20, 81, 5))


class Working(NamedTuple):
    """An engine at one steam rate and speed, SI."""

    speed: float
    power: float
    steam: float
    cutoff: float

    @property
    def steam_rate(self) -> float:
        """Pounds of steam per indicated horsepower-hour."""
        return self.steam / self.power / POUND_PER_POWER_HOUR


@lru_cache(maxsize=32)
def performance(name: str) -> Performance:
    """What a published engine can do, by the cycle."""
    return compute_performance(engine(name).locomotive)


def supply_of(done: Performance, *, forced: bool) -> tuple[float, str]:
    """Steam the boiler is taken to give, and the limit that sets it.

    Crew, stoker and feed are left out: a published greatest power was got with as many hands as it took. Forced
    means that the most published of a grate counts in place of its customary limit.
    """
    counted = (FIRE, DRAFT) if forced else (GRATE, FIRE, DRAFT)
    limits = [(limit.steam, limit.name) for limit in done.supply.limits if limit.name in counted]
    if forced:
        most = CHAPELON_STEAM if done.locomotive.compound else GOOD_COAL_STEAM
        by_grate = most * POUND_PER_HOUR * done.locomotive.boiler.grate_area / FOOT**2
        limits.append((by_grate, f"{most:,.0f} lb/ft² h"))
    steam, name = min(limits)
    return steam - done.locomotive.auxiliaries.continuous_demand, name


def at_steam(done: Performance, *, speed: float, steam: float) -> Working:
    """The greatest power within a steam rate at a speed, read from the map."""
    pressure = done.locomotive.boiler.absolute_pressure
    effort, _ = done.map.max_effort(speed=speed, pressure=pressure, steam=steam)
    used, cutoff = done.map.steam_and_cutoff_for(effort=effort, speed=speed, pressure=pressure)
    return Working(speed, effort * speed, used, cutoff)


def best_at_steam(done: Performance, *, steam: float, speeds: tuple[float, ...]) -> Working:
    """The greatest power within a steam rate at any of the speeds."""
    inside = [speed for speed in speeds if speed <= done.map.max_speed]
    return max((at_steam(done, speed=v, steam=steam) for v in inside), key=lambda w: w.power)


def for_power(done: Performance, *, speed: float, power: float) -> Working | None:
    """What a power takes at a speed; None where the cylinders do not give it."""
    try:
        steam, cutoff = done.map.steam_and_cutoff_for(
            effort=power / speed, speed=speed, pressure=done.locomotive.boiler.absolute_pressure
        )
    except OutOfRange:
        return None
    return Working(speed, power, steam, cutoff)


def grid_points(
    cycle_layout: CycleLayout, *, speeds: np.ndarray, cutoffs: np.ndarray, **more: object
) -> tuple[np.ndarray, np.ndarray, OperatingPoints]:
    """Every speed with every cutoff at working pressure, computed by the cycle."""
    speed, cutoff = np.meshgrid(speeds, cutoffs, indexing="ij")
    pressure = cycle_layout.locomotive.boiler.absolute_pressure
    return (
        speed,
        cutoff,
        operating_points(cycle_layout, speeds=speed, cutoffs=cutoff, pressures=pressure, **more),
    )


def best_of_cycle(locomotive: Locomotive, *, steam: float, speeds: np.ndarray) -> Working:
    """The greatest power at a steam rate at any of the speeds, computed by the cycle."""
    cycle_layout = build_cycle_layout(locomotive)
    cutoffs = np.linspace(cycle_layout.min_cutoff, min(cycle_layout.max_cutoff, 0.65), 9)
    speed, _, found = grid_points(cycle_layout, speeds=speeds, cutoffs=cutoffs)
    ways = []
    for row in range(len(speeds)):
        if found.steam[row, 0] <= steam <= found.steam[row, -1]:
            power = float(np.interp(steam, found.steam[row], found.effort[row] * speed[row]))
            cutoff = float(np.interp(steam, found.steam[row], cutoffs))
            ways.append(Working(float(speeds[row]), power, steam, cutoff))
    return max(ways, key=lambda working: working.power)
