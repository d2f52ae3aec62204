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

from locosim.compiled import compiled_lean
from locosim.constants import GRAVITY
from locosim.engine.map.interpolation import between, steam_for
from locosim.journey.kernel.arrays import (
    AGAINST,
    ARRIVE,
    ARRIVED,
    ASSIST,
    ASSIST_WORK,
    BOILER_WATER,
    BRAKE,
    BRAKE_WORK,
    CROWN_BARE,
    CURVE_WORK,
    CUTOFF,
    DRAWN,
    ENERGY,
    FEED,
    FIRING,
    FRICTION_WORK,
    FUEL_GONE,
    FUEL_IN,
    FUEL_OUT,
    FUEL_TAKEN,
    GRAVITY_WORK,
    LEAVE,
    NODES,
    PRESSURE,
    PRESSURE_LOST,
    PULL,
    PULL_WORK,
    RESISTANCE_WORK,
    SHED_ENERGY,
    STALLED,
    STEPS,
    SUMS,
    WATER_GONE,
    WATER_IN,
    WATER_OUT,
    WATER_TAKEN,
    Boiler,
    Codes,
    Course,
    Engine,
    Line,
    Load,
    Start,
    State,
)
from locosim.journey.kernel.boiler_state import boiler_temperature, live_boiler, stand, steady_boiler
from locosim.journey.kernel.tractive_step import effort, steam_allowed
from locosim.physics.types import Floats


@compiled_lean
def call(
    line: Line, boiler: Boiler, start: Start, state: State, i: int, t: float, sums: Floats
) -> tuple[float, State]:
    """Stand at a node where the train stops: fill up, wait for the time of departure."""
    wait = max(line.dwell[i], line.depart[i] - t)
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
    state = State(
        state.heat, state.water, state.firing, tender, fuel, state.temperature, state.feed, state.burnt
    )
    if wait > 0.0:
        ahead = line.expected[i] if i < len(line.expected) else 0.0
        state = stand(boiler, state, wait, line.cleaning[i], ahead, sums)
    return t + max(wait, 0.0), state


@compiled_lean
def failing(boiler: Boiler, engine: Engine, state: State, pressure: float) -> int:
    """Tell whether the run must end: no water, no fuel, no pressure, or the crown sheet bare."""
    if state.tender < 0.0:
        return WATER_GONE
    if state.fuel < 0.0:
        return FUEL_GONE
    if pressure < engine.grid.pressure_first:
        return PRESSURE_LOST
    if boiler.live and state.water < boiler.water_bare:
        return CROWN_BARE
    return ARRIVED


@compiled_lean
def run_into(
    line: Line,
    load: Load,
    engine: Engine,
    boiler: Boiler,
    start: Start,
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
    state = State(
        start.heat,
        start.water,
        start.firing,
        start.tender_water,
        start.tender_fuel,
        temperature,
        0.0,
        boiler.firing_least,
    )
    t, e = start.time, 0.0
    status, stalled_at, reached = ARRIVED, -1.0, 0
    starting = 1.0  # 0 once the train has been fast enough since it stood
    guess = 0  # cell of the cutoff axis where the last step ended

    for i in range(n + 1):
        nodes[ENERGY, i], nodes[ARRIVE, i] = e, t
        nodes[WATER_IN, i], nodes[FUEL_IN, i] = state.tender, state.fuel
        if line.dwell[i] >= 0.0:
            t, state = call(line, boiler, start, state, i, t, sums)
            starting = 1.0
        pressure = between(
            boiler.pressure_of, boiler.temperature_first, boiler.temperature_step, state.temperature
        )
        nodes[LEAVE, i], nodes[PRESSURE, i] = t, pressure
        nodes[BOILER_WATER, i], nodes[FIRING, i] = state.water, state.burnt
        nodes[WATER_OUT, i], nodes[FUEL_OUT, i] = state.tender, state.fuel
        reached = i
        if i == n:
            break
        status = failing(boiler, engine, state, pressure)
        if status != ARRIVED:
            stalled_at = line.distance[i]
            break

        h = line.distance[i + 1] - line.distance[i]
        contents = state.tender + state.fuel
        step = effort(
            line,
            load,
            engine,
            i,
            e,
            contents,
            pressure,
            steam_allowed(line, boiler, i, pressure),
            starting,
            guess,
        )
        if step.e_mid <= 0.0 or step.e_next < 0.0 or (step.e_next == 0.0 and line.envelope[i + 1] > 0.0):
            status = STALLED
            fall = e - step.e_next
            stalled_at = line.distance[i] + (h * e / fall if fall > 0.0 else 0.0)
            break
        dt = 2.0 * h / (math.sqrt(2.0 * e) + math.sqrt(2.0 * step.e_next))
        auxiliary = boiler.auxiliary_steam
        if step.pull > 0.0:
            drawn, cutoff = steam_for(engine.grid, pressure, math.sqrt(2.0 * step.e_mid), step.pull, guess)
        else:
            drawn, cutoff = engine.drifting_steam, 0.0
            auxiliary += boiler.standing_steam
        guess = int((cutoff - engine.grid.cutoff_first) / engine.grid.cutoff_step)
        if boiler.live:
            ahead = (line.expected[i] if line.expected[i] >= 0.0 else drawn) + auxiliary
            after = live_boiler(boiler, state, drawn, auxiliary, ahead, dt, sums)
        else:
            after = steady_boiler(boiler, state, drawn, auxiliary, dt, sums)

        climb = line.gravity[i] + contents * GRAVITY * line.grade[i]
        sums[PULL_WORK] += step.pull * h
        sums[ASSIST_WORK] += step.assist * h
        sums[FRICTION_WORK] += engine.friction * h
        sums[CURVE_WORK] += line.curve[i] * h
        sums[GRAVITY_WORK] += climb * h
        sums[RESISTANCE_WORK] += (step.against - climb - line.curve[i] - engine.friction) * h
        sums[BRAKE_WORK] += step.brake * h
        # Water and fuel leave with the speed they had: the energy they take along is booked as shed.
        sums[SHED_ENERGY] += (contents - after.tender - after.fuel) * step.e_next
        steps[PULL, i], steps[ASSIST, i] = step.pull, step.assist
        steps[AGAINST, i], steps[BRAKE, i] = step.against, step.brake
        steps[CUTOFF, i], steps[DRAWN, i], steps[FEED, i] = cutoff, drawn, after.feed
        limits[i] = step.limit
        t, e, state = t + dt, step.e_next, after
        if math.sqrt(2.0 * e) >= load.starting_speed:
            starting = 0.0

    inertia = load.mass + state.tender + state.fuel + load.rotating + line.assist_mass[max(reached - 1, 0)]
    return reached, status, stalled_at, state.heat, inertia * e


def run(line: Line, load: Load, engine: Engine, boiler: Boiler, start: Start) -> Course:
    """Run a train over a line once.

    Args:
        line: Steps of the line with what holds in each.
        load: What is moved.
        engine: Performance map of the engine.
        boiler: Boiler, fire and feed.
        start: State before the first departure.

    Returns:
        Course: State at each node, what happened in each step, and the sums for the ledgers.
    """
    n = len(line.grade)
    nodes, steps = np.zeros((NODES, n + 1)), np.zeros((STEPS, n))
    limits, sums = np.zeros(n, dtype=np.int8), np.zeros(SUMS)
    reached, status, stalled_at, heat, energy = run_into(
        line, load, engine, boiler, start, nodes, steps, limits, sums
    )
    return Course(reached, status, stalled_at, nodes, steps, limits, start.heat, heat, energy, sums)
