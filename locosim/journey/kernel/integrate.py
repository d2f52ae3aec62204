"""The run itself: midpoint steps over distance, with the boiler's state carried along.

One call is one run. The text is plain scalar code over arrays: `locosim.compiled` compiles it where numba is
installed, and it runs unchanged in CPython where it is not. Everything is SI; nothing here knows the model.

Between two nodes all forces but those of speed are constant, so no step crosses a change of grade or limit.
The step from node i to node i+1 of length h, with kinetic energy per mass e = v²/2 as the state:

    e_mid = e0 + h/2 F(e0)/m,    e1 = e0 + h F(e_mid)/m,    dt = 2 h / (v0 + v1)

where dt is exact for constant acceleration and so survives a start from rest. Where the full effort would pass
the envelope of speed limits and stops, the effort (or the brake) is what just meets it.
"""

from __future__ import annotations

import math

import numpy as np

from locosim.compiled import compiled_inline
from locosim.constants import GRAVITY
from locosim.engine.map.interpolation import between, find_steam_and_cutoff
from locosim.journey.kernel.arrays import (
    ARRIVE,
    ARRIVED,
    BOILER_WATER,
    BRAKE,
    BRAKE_WORK,
    CROWN_UNCOVERED,
    CURVE_WORK,
    CUTOFF,
    CYLINDER_STEAM_RATE,
    DEPART,
    EFFORT,
    ENERGY,
    FEED,
    FIRING,
    FRICTION_WORK,
    FUEL_ON_ARRIVAL,
    FUEL_ON_DEPARTURE,
    FUEL_TAKEN,
    GRAVITY_WORK,
    HELPER_EFFORT,
    HELPER_WORK,
    INDICATED_WORK,
    LOW_PRESSURE,
    NODE_ROWS,
    OUT_OF_FUEL,
    OUT_OF_WATER,
    PRESSURE,
    RESISTANCE_WORK,
    STALLED,
    STEP_ROWS,
    SUM_COUNT,
    TOTAL_RESISTANCE,
    USED_SUPPLIES_ENERGY,
    WATER_ON_ARRIVAL,
    WATER_ON_DEPARTURE,
    WATER_TAKEN,
    Boiler,
    BoilerState,
    Codes,
    Engine,
    InitialState,
    Line,
    Load,
    RunArrays,
)
from locosim.journey.kernel.boiler_state import (
    advance_steady,
    advance_transient,
    boiler_temperature,
    hold_standing,
)
from locosim.journey.kernel.tractive_step import allowed_steam, solve_tractive_step
from locosim.physics.resistance.starting import BREAKAWAY_SPEED
from locosim.physics.types import Floats


@compiled_inline
def station_stop(
    line: Line, boiler: Boiler, start: InitialState, state: BoilerState, i: int, t: float, sums: Floats
) -> tuple[float, BoilerState]:
    """Stand at a node where the train stops: fill up, wait for the time of departure."""
    wait = max(line.dwell[i], line.earliest_departure[i] - t)
    tender, fuel = state.tender, state.fuel
    if line.water_rate[i] > 0.0:
        taken = max(start.tender_water_full - tender, 0.0)
        wait = max(wait, taken / line.water_rate[i])
        sums[WATER_TAKEN] += taken
        tender += taken
    if line.fuel_rate[i] > 0.0:
        taken = max(start.tender_fuel_full - fuel, 0.0)
        wait = max(wait, taken / line.fuel_rate[i])
        sums[FUEL_TAKEN] += taken
        fuel += taken
    state = BoilerState(
        state.heat, state.water, state.firing, tender, fuel, state.temperature, state.feed, state.burned
    )
    if wait > 0.0:
        forecast = line.forecast_steam[i] if i < len(line.forecast_steam) else 0.0
        state = hold_standing(boiler, state, wait, line.cleaning[i], forecast, sums)
    return t + max(wait, 0.0), state


@compiled_inline
def termination_cause(boiler: Boiler, engine: Engine, state: BoilerState, pressure: float) -> int:
    """Tell whether the run must end: no water, no fuel, no pressure, or the crown sheet bare."""
    if state.tender < 0.0:
        return OUT_OF_WATER
    if state.fuel < 0.0:
        return OUT_OF_FUEL
    if pressure < engine.grid.pressure_start:
        return LOW_PRESSURE
    if boiler.transient and state.water < boiler.crown_sheet_water:
        return CROWN_UNCOVERED
    return ARRIVED


@compiled_inline
def integrate_run(
    line: Line,
    load: Load,
    engine: Engine,
    boiler: Boiler,
    start: InitialState,
    nodes: Floats,
    steps: Floats,
    limits: Codes,
    sums: Floats,
) -> tuple[int, int, float, float, float]:
    """Run a train over a line once, writing node by node and step by step into the arrays given.

    Returns:
        Last node reached, how the run ended, where it stalled [m], boiler heat and kinetic energy at the end [J].
    """
    n = len(line.grade)
    temperature = boiler_temperature(boiler, start.heat, start.water, boiler.working_temperature)
    state = BoilerState(
        start.heat,
        start.water,
        start.firing,
        start.tender_water,
        start.tender_fuel,
        temperature,
        0.0,
        boiler.min_firing,
    )
    t, e = start.time, 0.0
    status, end_distance, last_node = ARRIVED, -1.0, 0
    starting = 1.0  # 0 once the train has been fast enough since it stood
    guess = 0  # cell of the cutoff axis where the last step ended

    for i in range(n + 1):
        nodes[ENERGY, i], nodes[ARRIVE, i] = e, t
        nodes[WATER_ON_ARRIVAL, i], nodes[FUEL_ON_ARRIVAL, i] = state.tender, state.fuel
        if line.dwell[i] >= 0.0:
            t, state = station_stop(line, boiler, start, state, i, t, sums)
            starting = 1.0
        pressure = between(
            boiler.pressure_table, boiler.first_temperature, boiler.temperature_step, state.temperature
        )
        nodes[DEPART, i], nodes[PRESSURE, i] = t, pressure
        nodes[BOILER_WATER, i], nodes[FIRING, i] = state.water, state.burned
        nodes[WATER_ON_DEPARTURE, i], nodes[FUEL_ON_DEPARTURE, i] = state.tender, state.fuel
        last_node = i
        if i == n:
            break
        status = termination_cause(boiler, engine, state, pressure)
        if status != ARRIVED:
            end_distance = line.distance[i]
            break

        h = line.distance[i + 1] - line.distance[i]
        contents = state.tender + state.fuel
        step = solve_tractive_step(
            line,
            load,
            engine,
            i,
            e,
            contents,
            pressure,
            allowed_steam(line, boiler, i, pressure),
            starting,
            guess,
        )
        if step.e_mid <= 0.0 or step.e_next < 0.0 or (step.e_next == 0.0 and line.envelope[i + 1] > 0.0):
            status = STALLED
            fall = e - step.e_next
            end_distance = line.distance[i] + (h * e / fall if fall > 0.0 else 0.0)
            break
        dt = 2.0 * h / (math.sqrt(2.0 * e) + math.sqrt(2.0 * step.e_next))
        auxiliary = boiler.auxiliary_steam
        if step.effort > 0.0:
            drawn, cutoff = find_steam_and_cutoff(
                engine.grid, pressure, math.sqrt(2.0 * step.e_mid), step.effort, guess
            )
        else:
            drawn, cutoff = engine.drifting_steam, 0.0
            auxiliary += boiler.blower_steam
        guess = int((cutoff - engine.grid.cutoff_start) / engine.grid.cutoff_step)
        if boiler.transient:
            forecast = (line.forecast_steam[i] if line.forecast_steam[i] >= 0.0 else drawn) + auxiliary
            after = advance_transient(boiler, state, drawn, auxiliary, forecast, dt, sums)
        else:
            after = advance_steady(boiler, state, drawn, auxiliary, dt, sums)

        grade_force = line.gravity[i] + contents * GRAVITY * line.grade[i]
        sums[INDICATED_WORK] += step.effort * h
        sums[HELPER_WORK] += step.helper_effort * h
        sums[FRICTION_WORK] += engine.friction * h
        sums[CURVE_WORK] += line.curve[i] * h
        sums[GRAVITY_WORK] += grade_force * h
        sums[RESISTANCE_WORK] += (step.total_resistance - grade_force - line.curve[i] - engine.friction) * h
        sums[BRAKE_WORK] += step.brake * h
        # Water and fuel leave with the speed they had: the energy they take along is booked as shed.
        sums[USED_SUPPLIES_ENERGY] += (contents - after.tender - after.fuel) * step.e_next
        steps[EFFORT, i], steps[HELPER_EFFORT, i] = step.effort, step.helper_effort
        steps[TOTAL_RESISTANCE, i], steps[BRAKE, i] = step.total_resistance, step.brake
        steps[CUTOFF, i], steps[CYLINDER_STEAM_RATE, i], steps[FEED, i] = cutoff, drawn, after.feed
        limits[i] = step.limit
        t, e, state = t + dt, step.e_next, after
        if math.sqrt(2.0 * e) >= BREAKAWAY_SPEED:
            starting = 0.0

    inertia = load.mass + state.tender + state.fuel + load.rotating + line.helper_mass[max(last_node - 1, 0)]
    return last_node, status, end_distance, state.heat, inertia * e


def run(line: Line, load: Load, engine: Engine, boiler: Boiler, start: InitialState) -> RunArrays:
    """Run a train over a line once.

    Args:
        line: Steps of the line with what holds in each.
        load: What is moved.
        engine: Performance map of the engine.
        boiler: Boiler, fire and feed.
        start: State before the first departure.

    Returns:
        RunArrays: State at each node, what happened in each step, and the sums for the ledgers.
    """
    n = len(line.grade)
    nodes, steps = np.zeros((NODE_ROWS, n + 1)), np.zeros((STEP_ROWS, n))
    limits, sums = np.zeros(n, dtype=np.int8), np.zeros(SUM_COUNT)
    last_node, status, end_distance, heat, energy = integrate_run(
        line, load, engine, boiler, start, nodes, steps, limits, sums
    )
    return RunArrays(last_node, status, end_distance, nodes, steps, limits, start.heat, heat, energy, sums)
