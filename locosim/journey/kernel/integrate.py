"""Integration of a run: midpoint steps over distance, with the boiler's state carried along.

One call is one run. The code is plain scalar code over arrays: `locosim.compiled` compiles it where numba is
installed, and it runs unchanged in CPython where it is not. Everything is SI; nothing here knows the model.

Between two nodes all forces but those of speed are constant, so no step crosses a change of grade or limit.
The step from node i to node i+1 of length h, with kinetic energy per mass e = v²/2 as the state:

    e_mid = e0 + h/2 F(e0)/m,    e1 = e0 + h F(e_mid)/m,    dt = 2 h / (v0 + v1)

where dt is exact for constant acceleration and so holds for a start from rest. Where full effort would exceed the
envelope of speed limits and stops, the effort (or the brake) is what just meets it.
"""

from __future__ import annotations

import math

import numpy as np

from locosim.compiled import compiled_inline
from locosim.constants import GRAVITY
from locosim.engine.map.interpolation import Cells, Setting, between, cell_near, find_setting, setting_at
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
    GRATE_ASH,
    GRATE_FUEL,
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
    STEAM,
    STEP_ROWS,
    SUM_COUNT,
    THROTTLE,
    THROTTLE_OPEN,
    THROTTLE_SHUT,
    TOTAL_RESISTANCE,
    USED_SUPPLIES_ENERGY,
    WATER_ON_ARRIVAL,
    WATER_ON_DEPARTURE,
    WATER_TAKEN,
    Boiler,
    BoilerState,
    Engine,
    InitialState,
    Line,
    Load,
    RunArrays,
    RunRecord,
    SteamDemand,
    StepConditions,
    TractiveStep,
)
from locosim.journey.kernel.boiler_state import advance_boiler, hold_standing, initial_boiler_state
from locosim.journey.kernel.crew import allowed_steam
from locosim.journey.kernel.tractive_step import friction_at, solve_tractive_step
from locosim.physics.resistance.starting import BREAKAWAY_SPEED, resistance_after_standing
from locosim.physics.types import Floats


@compiled_inline
def station_stop(
    line: Line, boiler: Boiler, start: InitialState, state: BoilerState, i: int, t: float, sums: Floats
) -> tuple[float, BoilerState]:
    """Stop at a station: fill the tender, and wait for the time of departure [s]."""
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
    state = BoilerState(state.heat, state.water, state.fire, tender, fuel, state.temperature, state.feed)
    if wait > 0.0:
        state = hold_standing(
            boiler, state, wait, line.cleaning[i], line.bed_aim[i], water_aim(line, boiler, i), sums
        )
    return t + max(wait, 0.0), state


@compiled_inline
def termination_cause(boiler: Boiler, engine: Engine, state: BoilerState, pressure: float) -> int:
    """Cause that ends the run at a node: no water, no fuel, no pressure, or the crown sheet bare."""
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
def setting_for_effort(engine: Engine, at: StepConditions, speed: float, effort: float) -> Setting:
    """Steam, cutoff and throttle for an effort; cutoff and throttle 0 where the throttle is shut."""
    if effort > 0.0:
        return find_setting(engine.grid, at.pressure, speed, effort, at.guess)
    return Setting(engine.drifting_steam, 0.0, 0.0, 0.0)


@compiled_inline
def engine_setting(engine: Engine, at: StepConditions, step: TractiveStep) -> Setting:
    """Mean steam over a step, with cutoff and throttle of its longer part: at full effort, or after it."""
    speed = math.sqrt(2.0 * step.e_mid)
    full_share = step.full_time / step.time
    if full_share <= 0.0:
        return setting_for_effort(engine, at, speed, step.later_effort)
    if step.full_limit == STEAM:
        full = setting_at(engine.grid, at.pressure, speed, step.place, at.max_steam, at.guess.speed)
    else:
        full = setting_for_effort(engine, at, speed, step.full_effort)
    if full_share >= 1.0:
        return full
    later = setting_for_effort(engine, at, math.sqrt(step.e_full + step.e_next), step.later_effort)
    steam = full_share * full.steam + (1.0 - full_share) * later.steam
    longer = full if full_share > 0.5 else later
    return Setting(steam, longer.cutoff, longer.throttle, longer.place)


@compiled_inline
def water_aim(line: Line, boiler: Boiler, i: int) -> float:
    """Water in the boiler that the fireman aims at on leaving a node [kg]."""
    return line.water_aim[i] if line.water_aim[i] >= 0.0 else boiler.target_water


@compiled_inline
def steam_demand(
    line: Line, boiler: Boiler, i: int, cylinders: float, effort: float, dt: float
) -> SteamDemand:
    """Steam drawn in a step that lasts a time [s], and what the fireman aims at in it."""
    aim, next_aim = water_aim(line, boiler, i), water_aim(line, boiler, i + 1)
    throttle = THROTTLE_OPEN if effort > 0.0 else THROTTLE_SHUT
    return SteamDemand(
        cylinders,
        boiler.auxiliary_steam,
        throttle,
        middle_aim(line.bed_aim, i),
        middle_aim(line.firing_ahead, i),
        0.5 * (aim + next_aim),
        # Where he lets the water fall he does not make up the steam, rather than wait until there is too much.
        max(aim - next_aim, 0.0) / dt,
    )


@compiled_inline
def middle_aim(aims: Floats, i: int) -> float:
    """Aim of the fireman in the middle of a step; a negative one is not known."""
    return float(0.5 * (aims[i] + aims[i + 1]) if aims[i + 1] >= 0.0 else aims[i])


@compiled_inline
def record_departure(record: RunRecord, i: int, t: float, pressure: float, state: BoilerState) -> None:
    """Record time, boiler and supplies on leaving a node."""
    nodes = record.nodes
    nodes[DEPART, i], nodes[PRESSURE, i] = t, pressure
    nodes[BOILER_WATER, i], nodes[FIRING, i] = state.water, state.fire.burned
    nodes[GRATE_FUEL, i], nodes[GRATE_ASH, i] = state.fire.green + state.fire.bed, state.fire.ash
    nodes[WATER_ON_DEPARTURE, i], nodes[FUEL_ON_DEPARTURE, i] = state.tender, state.fuel


@compiled_inline
def record_step(record: RunRecord, i: int, step: TractiveStep, setting: Setting, feed: float) -> None:
    """Record forces, steam, cutoff, throttle and feed [kg/s] of a step."""
    steps = record.steps
    steps[EFFORT, i], steps[HELPER_EFFORT, i] = step.effort, step.helper_effort
    steps[TOTAL_RESISTANCE, i], steps[BRAKE, i] = step.total_resistance, step.brake
    steps[CUTOFF, i], steps[THROTTLE, i] = setting.cutoff, setting.throttle
    steps[CYLINDER_STEAM_RATE, i], steps[FEED, i] = setting.steam, feed
    record.limits[i] = step.limit


@compiled_inline
def book_work(
    line: Line, engine: Engine, at: StepConditions, step: TractiveStep, used: float, sums: Floats
) -> None:
    """Book the work of all forces over a step.

    Water and fuel leave with the speed of the train: the energy they carry is booked too.

    Args:
        line: The line.
        engine: The engine.
        at: Conditions of the step.
        step: Motion and forces.
        used: Water and fuel used over the step [kg].
        sums: Sums of the run, added to.
    """
    h = line.distance[at.i + 1] - line.distance[at.i]
    curve_force = line.curve[at.i]
    grade_force = line.gravity[at.i] + at.contents * GRAVITY * line.grade[at.i]
    friction = friction_at(engine, step.effort)
    sums[INDICATED_WORK] += step.effort * h
    sums[HELPER_WORK] += step.helper_effort * h
    sums[FRICTION_WORK] += friction * h
    sums[CURVE_WORK] += curve_force * h
    sums[GRAVITY_WORK] += grade_force * h
    sums[RESISTANCE_WORK] += (step.total_resistance - grade_force - curve_force - friction) * h
    sums[BRAKE_WORK] += step.brake * h
    sums[USED_SUPPLIES_ENERGY] += used * step.e_next


@compiled_inline
def integrate_run(
    line: Line, load: Load, engine: Engine, boiler: Boiler, start: InitialState, record: RunRecord
) -> tuple[int, int, float, float, float, float]:
    """Run a train over a line once, writing node by node and step by step into the record.

    Returns:
        Last node reached, how the run ended, where it stalled [m], boiler heat, heat taken up by the
        fuel on the grate, and kinetic energy at the end [J].
    """
    n = len(line.grade)
    nodes, sums = record.nodes, record.sums
    state = initial_boiler_state(boiler, start)
    t, e = start.time, 0.0
    status, end_distance, last_node = ARRIVED, -1.0, 0
    starting = load.starting  # 0 once the train has broken away [N]
    guess = Cells(engine.grid.wide_open, 0)

    for i in range(n + 1):
        nodes[ENERGY, i], nodes[ARRIVE, i] = e, t
        nodes[WATER_ON_ARRIVAL, i], nodes[FUEL_ON_ARRIVAL, i] = state.tender, state.fuel
        if line.dwell[i] >= 0.0:
            arrival = t
            t, state = station_stop(line, boiler, start, state, i, t, sums)
            if i > 0 or start.warm:
                starting = resistance_after_standing(
                    load.starting_warm, load.starting, t - arrival, load.cooling_time
                )
        pressure = between(
            boiler.pressure_table, boiler.first_temperature, boiler.temperature_step, state.temperature
        )
        record_departure(record, i, t, pressure, state)
        last_node = i
        if i == n:
            break
        status = termination_cause(boiler, engine, state, pressure)
        if status != ARRIVED:
            end_distance = line.distance[i]
            break

        h = line.distance[i + 1] - line.distance[i]
        contents = state.tender + state.fuel
        at = StepConditions(i, contents, pressure, allowed_steam(line, boiler, i, pressure), starting, guess)
        step = solve_tractive_step(line, load, engine, at, e)
        if step.e_mid <= 0.0 or step.e_next < 0.0 or (step.e_next == 0.0 and line.envelope[i + 1] > 0.0):
            status = STALLED
            fall = e - step.e_next
            end_distance = line.distance[i] + (h * e / fall if fall > 0.0 else 0.0)
            break
        dt = step.time
        setting = engine_setting(engine, at, step)
        speed = math.sqrt(2.0 * step.e_next)
        cell, _ = cell_near(speed, 0.0, engine.grid.speed_step, engine.grid.effort.shape[1], guess.speed)
        guess = Cells(int(setting.place), cell)
        demand = steam_demand(line, boiler, i, setting.steam, step.effort, dt)
        state = advance_boiler(boiler, state, demand, dt, sums)
        used = contents - state.tender - state.fuel
        book_work(line, engine, at, step, used, sums)
        record_step(record, i, step, setting, state.feed)
        t, e = t + dt, step.e_next
        if speed >= BREAKAWAY_SPEED:
            starting = 0.0

    inertia = load.mass + state.tender + state.fuel + load.rotating + line.helper_mass[max(last_node - 1, 0)]
    bed_heat = boiler.heating_heat * state.fire.bed
    return last_node, status, end_distance, state.heat, bed_heat, inertia * e


def blank_record(steps: int) -> RunRecord:
    """A record of a run in a number of steps, not written yet."""
    return RunRecord(
        np.empty((NODE_ROWS, steps + 1)),
        np.empty((STEP_ROWS, steps)),
        np.zeros(steps, dtype=np.int8),
        np.zeros(SUM_COUNT),
    )


def run(
    line: Line,
    load: Load,
    engine: Engine,
    boiler: Boiler,
    start: InitialState,
    record: RunRecord | None = None,
) -> RunArrays:
    """Run a train over a line once.

    Args:
        line: The line in steps.
        load: Mass and resistance of the train.
        engine: Performance map, adhesion and helpers.
        boiler: Boiler, fire, feed and rules of the crew.
        start: State before the first departure.
        record: Where to write; new arrays if omitted. A search that keeps no run writes all in one place, which is
            faster.

    Returns:
        State at each node, forces and rates in each step, and the sums for the ledgers. Beyond the last node the
        arrays hold anything.
    """
    record = blank_record(len(line.grade)) if record is None else record
    record.sums[:] = 0.0
    last_node, status, end_distance, heat, bed_heat, energy = integrate_run(
        line, load, engine, boiler, start, record
    )
    return RunArrays(
        last_node,
        status,
        end_distance,
        record.nodes,
        record.steps,
        record.limits,
        start.heat,
        heat,
        boiler.heating_heat * start.bed,
        bed_heat,
        energy,
        record.sums,
    )
