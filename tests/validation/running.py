"""Engines at work, as the sections want them: at a steam rate, at a speed, at their best."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from locosim.constants import FOOT, HORSEPOWER, HOUR, MPH, POUND
from locosim.engine.cylinders.layout import CycleEngine, cycle_engine
from locosim.engine.cylinders.operating_points import OperatingPoints, operating_points
from locosim.engine.performance import Performance, performance_of
from locosim.errors import OutOfRange
from locosim.model import Locomotive
from locosim.physics.boiler.limits import DRAUGHT, FIRE, GRATE

from .engines import engine

POUND_PER_HOUR = POUND / HOUR
POUND_PER_POWER_HOUR = POUND / HOUR / HORSEPOWER  # [kg/J], pounds per horsepower-hour
GOOD_COAL_STEAM = 1000.0  # [lb/(ft2 h)] of grate, good coal and good draught, [Trainorders4728623]
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
    return performance_of(engine(name).locomotive)


def supply_of(done: Performance, *, forced: bool) -> tuple[float, str]:
    """Steam the boiler is taken to give, and the limit that sets it.

    Crew, stoker and feed are left out: a published greatest power was got with as many hands as it took. Forced
    means that the most published of a grate counts in place of its customary limit.
    """
    counted = (FIRE, DRAUGHT) if forced else (GRATE, FIRE, DRAUGHT)
    limits = [(limit.steam, limit.name) for limit in done.supply.limits if limit.name in counted]
    if forced:
        most = CHAPELON_STEAM if done.locomotive.two_expansion else GOOD_COAL_STEAM
        by_grate = most * POUND_PER_HOUR * done.locomotive.boiler.grate_area / FOOT**2
        limits.append((by_grate, f"{most:,.0f} lb/ft² h"))
    steam, name = min(limits)
    return steam - done.locomotive.auxiliaries.steady, name


def at_steam(done: Performance, *, speed: float, steam: float) -> Working:
    """The greatest power within a steam rate at a speed, read from the map."""
    pressure = done.locomotive.boiler.absolute_pressure
    pull, _ = done.map.greatest_pull(speed=speed, pressure=pressure, steam=steam)
    used, cutoff = done.map.steam_and_cutoff_for(pull=pull, speed=speed, pressure=pressure)
    return Working(speed, pull * speed, used, cutoff)


def best_at_steam(done: Performance, *, steam: float, speeds: tuple[float, ...]) -> Working:
    """The greatest power within a steam rate at any of the speeds."""
    inside = [speed for speed in speeds if speed <= done.map.greatest_speed]
    return max((at_steam(done, speed=v, steam=steam) for v in inside), key=lambda w: w.power)


def for_power(done: Performance, *, speed: float, power: float) -> Working | None:
    """What a power takes at a speed; None where the cylinders do not give it."""
    try:
        steam, cutoff = done.map.steam_and_cutoff_for(
            pull=power / speed, speed=speed, pressure=done.locomotive.boiler.absolute_pressure
        )
    except OutOfRange:
        return None
    return Working(speed, power, steam, cutoff)


def grid_points(
    laid_out: CycleEngine, *, speeds: np.ndarray, cutoffs: np.ndarray, **more: object
) -> tuple[np.ndarray, np.ndarray, OperatingPoints]:
    """Every speed with every cutoff at working pressure, computed by the cycle."""
    speed, cutoff = np.meshgrid(speeds, cutoffs, indexing="ij")
    pressure = laid_out.locomotive.boiler.absolute_pressure
    return speed, cutoff, operating_points(laid_out, speeds=speed, cutoffs=cutoff, pressures=pressure, **more)


def best_of_cycle(locomotive: Locomotive, *, steam: float, speeds: np.ndarray) -> Working:
    """The greatest power at a steam rate at any of the speeds, computed by the cycle."""
    laid_out = cycle_engine(locomotive)
    cutoffs = np.linspace(laid_out.cutoff_least, min(laid_out.cutoff_greatest, 0.65), 9)
    speed, _, found = grid_points(laid_out, speeds=speeds, cutoffs=cutoffs)
    ways = []
    for row in range(len(speeds)):
        if found.steam[row, 0] <= steam <= found.steam[row, -1]:
            power = float(np.interp(steam, found.steam[row], found.pull[row] * speed[row]))
            cutoff = float(np.interp(steam, found.steam[row], cutoffs))
            ways.append(Working(float(speeds[row]), power, steam, cutoff))
    return max(ways, key=lambda working: working.power)
