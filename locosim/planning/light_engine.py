"""An engine alone on the line, and what a helper uses while it helps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from locosim.engine.map.performance_map import PerformanceMap
from locosim.engine.performance import Performance, compute_performance, drifting_steam
from locosim.frozen import frozen
from locosim.journey.result import Journey
from locosim.journey.run import run_to_timetable
from locosim.model import Excursion, Locomotive, Stop, Train


@frozen
class Used:
    """Time, water and fuel of an engine.

    Attributes:
        time: [s]
        water: [kg]
        fuel: [kg]
    """

    time: float
    water: float
    fuel: float


def used_on(journey: Journey) -> Used:
    """What the engine of a run uses from the first departure to the arrival; fuel burned off the grate is made good."""
    return Used(time=journey.duration, water=journey.water_used, fuel=journey.fuel_burned)


def run_light(
    excursion: Excursion, locomotive: Locomotive, performance: Performance, stations: tuple[str, str]
) -> Journey:
    """Run an engine without a train from one station back to another, not turned, with a full tender.

    Args:
        excursion: The excursion whose line, weather and crew apply.
        locomotive: The engine.
        performance: Its performance.
        stations: From and to, against the direction of the excursion.
    """
    back = replace(
        excursion,
        name=f"{locomotive.name} light",
        locomotive=locomotive,
        train=Train(name="light engine", vehicles=()),
        direction="reverse" if excursion.direction == "forward" else "forward",
        engine_facing="tender_first" if excursion.engine_facing == "stack_first" else "stack_first",
        stops=tuple(Stop(station=name) for name in stations),
        helpers=(),
        initial_water=1.0,
        initial_fuel=1.0,
    )
    return run_to_timetable(back, performance)


def compute_helper_performance(excursion: Excursion, locomotive: Locomotive) -> Performance:
    """Performance of a steam helper; it burns the fuel of the train engine, unless one of the two burns oil."""
    alike = (locomotive.boiler.firing == "oil") == (excursion.locomotive.boiler.firing == "oil")
    return compute_performance(
        locomotive,
        method=excursion.method,
        fuel=excursion.fuel if alike else None,
        assumptions=excursion.assumptions,
    )


def used_by_helper(journey: Journey, performance: Performance, number: int) -> Used:
    """What a steam helper uses while it is coupled on, standing at stops included, by its share of each step.

    Where several helpers are on, each gives a part of their effort in proportion to its sustained effort. Its steam is
    that of its cylinders for the effort it gives, of drifting where it gives none, and of its auxiliaries; water is
    taken to be the steam. Raising steam, waiting and the run back are not counted here.

    Args:
        journey: The run.
        performance: Performance of the helper.
        number: Index of the helper in the run.
    """
    on = np.flatnonzero(journey.helper_active[number])
    if len(on) == 0:
        return Used(time=0.0, water=0.0, fuel=0.0)
    engine_map, supply = performance.map, performance.supply
    pressure = performance.locomotive.boiler.absolute_pressure
    auxiliaries = performance.locomotive.auxiliaries.continuous_demand
    drifting = drifting_steam(performance.locomotive, performance.assumptions)
    water = fuel = 0.0
    for step in map(int, on):
        time = float(journey.time[step + 1] - journey.departure_time[step])
        speed = 0.5 * float(journey.speed[step] + journey.speed[step + 1])
        effort = _share(journey, number, step, speed) * float(journey.helper_effort[step])
        cylinders = _cylinder_steam(engine_map, effort, speed, pressure) if effort > 0.0 else drifting
        steam = cylinders + auxiliaries
        water += steam * time
        fuel += supply.firing_rate_for(steam) * time
        standing = float(journey.departure_time[step] - journey.time[step]) if step != on[0] else 0.0
        water += auxiliaries * standing
        fuel += supply.firing_rate_for(auxiliaries) * standing
    return Used(time=float(journey.time[on[-1] + 1] - journey.departure_time[on[0]]), water=water, fuel=fuel)


def _share(journey: Journey, number: int, step: int, speed: float) -> float:
    """Share of a helper in the effort of all that are on in a step [1]."""
    on = list(map(int, np.flatnonzero(journey.helper_active[:, step])))
    if len(on) == 1:
        return 1.0
    efforts = {k: float(journey.helpers[k].effort_at(speed)) for k in on}
    return efforts[number] / sum(efforts.values())


def _cylinder_steam(engine_map: PerformanceMap, rim_effort: float, speed: float, pressure: float) -> float:
    """Steam to the cylinders of a helper for an effort at the rim [kg/s]."""
    speed = min(speed, engine_map.max_speed)
    most, _ = engine_map.max_effort(speed=speed, pressure=pressure)
    effort = min(rim_effort / (1.0 - engine_map.friction_share), most)
    return engine_map.setting_for(effort=effort, speed=speed, pressure=pressure).steam
