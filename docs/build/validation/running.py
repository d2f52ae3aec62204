"""Operating points of engines for the sections: at given steam, at given speed, and at the best speed."""

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
from locosim.physics.boiler.limits import FIRE, FRONT_END, GRATE

from .engines import engine

POUND_PER_HOUR = POUND / HOUR
POUND_PER_POWER_HOUR = POUND / HOUR / HORSEPOWER  # [kg/J], pounds per horsepower-hour
GOOD_COAL_STEAM = 1000.0  # [lb/(ft2 h)] of grate, good coal and good draft, [Trainorders4728623]
CHAPELON_STEAM = 1300.0  # of boilers with his front end in short tests, the same
EXPRESS_SPEEDS = tuple(float(v) * MPH for v in range(20, 81, 5))


class Working(NamedTuple):
    """Operating point of an engine at one steam rate and speed, SI."""

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
    """Performance of a published engine, by the cycle."""
    return compute_performance(engine(name).locomotive)


def supply_of(perf: Performance, *, forced: bool) -> tuple[float, str]:
    """Steam the boiler is assumed to give, and the limit that sets it.

    Crew, stoker and feed are left out, since a published maximum power was obtained with as many hands as needed.
    Forced means that the highest published rate of a grate replaces its customary limit.
    """
    counted = (FIRE, FRONT_END) if forced else (GRATE, FIRE, FRONT_END)
    limits = [(limit.steam, limit.name) for limit in perf.supply.limits if limit.name in counted]
    if forced:
        most = CHAPELON_STEAM if perf.locomotive.compound else GOOD_COAL_STEAM
        by_grate = most * POUND_PER_HOUR * perf.locomotive.boiler.grate_area / FOOT**2
        limits.append((by_grate, f"{most:,.0f} lb/ft² h"))
    steam, name = min(limits)
    return steam - perf.locomotive.auxiliaries.continuous_demand, name


def at_steam(perf: Performance, *, speed: float, steam: float) -> Working:
    """The maximum power within a steam rate at one speed, from the map."""
    pressure = perf.locomotive.boiler.absolute_pressure
    effort, _ = perf.map.max_effort(speed=speed, pressure=pressure, steam=steam)
    setting = perf.map.setting_for(effort=effort, speed=speed, pressure=pressure)
    return Working(speed, effort * speed, setting.steam, setting.cutoff)


def best_at_steam(perf: Performance, *, steam: float, speeds: tuple[float, ...]) -> Working:
    """The maximum power within a steam rate at any of the speeds."""
    inside = [speed for speed in speeds if speed <= perf.map.max_speed]
    return max((at_steam(perf, speed=v, steam=steam) for v in inside), key=lambda w: w.power)


def for_power(perf: Performance, *, speed: float, power: float) -> Working | None:
    """Operating point that gives a power at a speed; None where the cylinders cannot develop it."""
    try:
        setting = perf.map.setting_for(
            effort=power / speed, speed=speed, pressure=perf.locomotive.boiler.absolute_pressure
        )
    except OutOfRange:
        return None
    return Working(speed, power, setting.steam, setting.cutoff)


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
    """The maximum power at a steam rate at any of the speeds, computed by the cycle."""
    cycle_layout = build_cycle_layout(locomotive)
    cutoffs = np.linspace(cycle_layout.min_cutoff, min(cycle_layout.max_cutoff, 0.65), 9)
    speed, _, found = grid_points(cycle_layout, speeds=speeds, cutoffs=cutoffs)
    candidates = []
    for row in range(len(speeds)):
        if found.steam[row, 0] <= steam <= found.steam[row, -1]:
            power = float(np.interp(steam, found.steam[row], found.effort[row] * speed[row]))
            cutoff = float(np.interp(steam, found.steam[row], cutoffs))
            candidates.append(Working(float(speeds[row]), power, steam, cutoff))
    return max(candidates, key=lambda working: working.power)
