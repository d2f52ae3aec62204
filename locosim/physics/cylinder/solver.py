"""Steady running of an engine at one speed, cutoff, throttle opening and boiler pressure.

Revolutions are simulated (`revolution`) and the quantities that couple them are updated (`coupling`) until a revolution
ends as it began: mass and energy of the steam, wall heat, and the balances of the whole engine each to 5e-7 of the
throughput. Coarse crank steps bring a point near its solution first.
"""

from __future__ import annotations

import math
import os
from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np

from locosim.compiled import compiled, compiled_unlocked
from locosim.physics.cylinder.coupling import (
    BACK_ENTHALPY,
    BACK_FLOW_WORK,
    BACK_PRESSURE,
    BOILER_ENTHALPY,
    BOILER_PRESSURE,
    CHEST_ENTHALPY,
    CHEST_FLOW_WORK,
    CHEST_PRESSURE,
    CHOKED_FLOW,
    CYCLE_MAX_DENSITY,
    CYCLE_MIN_DENSITY,
    CYCLE_WETTEST,
    DAMPING_ONSET,
    DRIFT,
    MEMORY_SIZE,
    OUTSIDE_PRESSURE,
    PASSAGE_AREA,
    PEAK_TORQUE_RATIO,
    POWER,
    REVOLUTIONS,
    SPEED,
    WALL_BACK,
    WALL_FRONT,
    CycleState,
    close_balance,
    flow_work_at,
    update_couplings,
    update_flow_work,
)
from locosim.physics.cylinder.port_flow import PortSteam
from locosim.physics.cylinder.revolution import (
    ENERGY,
    MASS,
    MAX_DENSITY,
    MIN_DENSITY,
    STEAM_IN,
    TALLY_SIZE,
    WALL_HEAT,
    WETTEST,
    BoundaryConditions,
    Cylinder,
    constants_from_row,
    cylinder_from_row,
    cylinder_geometry,
    simulate_revolution,
)
from locosim.physics.cylinder.valve_gear import piston_position, valve_motion_from_row
from locosim.physics.cylinder.wall_heat import boiling_point
from locosim.physics.steam.property_table import SteamTable
from locosim.physics.types import Floats

TOLERANCE = 5.0e-7
COARSE_TOLERANCE = 1.0e-3  # at which the coarse steps hand over to the fine ones
COARSE_STEP_RATIO = 3  # fine steps in a coarse one
MIN_COARSE_STEPS = 120  # coarse steps in a revolution, at least
MAX_REVOLUTIONS = 300
MAX_REVOLUTIONS_RETRY = 1500  # of a retried point: some near no load converge slowly
POINTS_AT_ONCE = 8  # operating points a thread takes at a time
TYPICAL_STEAM_ENERGY = 3.0e6  # approximate [J/kg]; puts residuals of mass and of energy on one scale


class CycleInputs(NamedTuple):
    """An engine at one operating point, or at many.

    Attributes:
        cylinders: A row for each stage, as `Cylinder`.
        constants: General constants, as `CycleConstants`.
        point: Operating point, shape (POINT_SIZE,); with many, a row for each.
        valve_motions: Motion of the valves of each stage, rows as `ValveMotion`; with many, such a table each.
        cranks: Crank angles by stage and cylinder; NaN where there is no cylinder [rad].
    """

    cylinders: Floats
    constants: Floats
    point: Floats
    valve_motions: Floats
    cranks: Floats


@compiled
def crank_torque(cylinder: Cylinder, pressures: Floats, cranks: Floats, outside_pressure: float) -> Floats:
    """Torque of the cylinders of one stage on the axle over a revolution, steam forces alone.

    Args:
        cylinder: The cylinder.
        pressures: Rows front and back end over crank angle from the dead center of each end [Pa].
        cranks: Crank angle of each cylinder behind the first [rad].
        outside_pressure: Absolute pressure on the end of the piston rod [Pa].

    Returns:
        Torque at the middle of each crank step of the first cylinder [N m].
    """
    steps = pressures.shape[1] - 1
    front_area = 0.25 * math.pi * cylinder.bore**2
    rod_area = 0.25 * math.pi * cylinder.rod_diameter**2
    single = np.empty(steps)
    half = steps // 2
    for i in range(steps):
        j = (i + half) % steps
        force = 0.5 * (pressures[0, i] + pressures[0, i + 1]) * front_area
        force -= 0.5 * (pressures[1, j] + pressures[1, j + 1]) * (front_area - rod_area)
        force -= outside_pressure * rod_area
        a0, a1 = 2.0 * math.pi * i / steps, 2.0 * math.pi * (i + 1) / steps
        lever = cylinder.stroke * (
            piston_position(a1, cylinder.rod_ratio) - piston_position(a0, cylinder.rod_ratio)
        )
        single[i] = force * lever / (a1 - a0)
    total = np.zeros(steps)
    for k in range(cranks.size):
        if not math.isfinite(cranks[k]):
            continue
        shift = cranks[k] / (2.0 * math.pi) * steps
        whole = math.floor(shift)
        part = shift - whole
        for i in range(steps):
            j = int(i + whole) % steps
            total[i] += (1.0 - part) * single[j] + part * single[(j + 1) % steps]
    return total


@compiled
def converge_point(
    inputs: CycleInputs,
    revolutions: int,
    engine: Floats,
    stages: Floats,
    pressures: Floats,
    table: SteamTable,
) -> None:
    """Iterate one operating point until its revolution repeats.

    Args:
        inputs: The engine and the operating point.
        revolutions: Maximum number of revolutions.
        engine: Filled with the results of the engine, indexed as in `coupling`.
        stages: Filled with the results of the stages, indexed as in `coupling`.
        pressures: Filled with absolute pressure by stage, end and crank angle [Pa].
        table: From `steam_table`.
    """
    count = stages.shape[0]
    steps = pressures.shape[2] - 1
    state = CycleState(
        engine,
        stages,
        np.zeros((count, 2, TALLY_SIZE)),
        np.zeros((count, 2, MEMORY_SIZE)),
        np.zeros((count + 1, MEMORY_SIZE)),
    )
    engine[REVOLUTIONS] = 0
    _initial_guess(inputs, state, table)
    if steps >= COARSE_STEP_RATIO * MIN_COARSE_STEPS:
        coarse = np.empty((count, 2, 2 * (steps // (2 * COARSE_STEP_RATIO)) + 1))
        _iterate(inputs, state, coarse, revolutions, COARSE_TOLERANCE, table)
    _iterate(inputs, state, pressures, revolutions, TOLERANCE, table)
    torque = np.zeros(steps)
    wettest, densest, thinnest = np.inf, -np.inf, np.inf
    for s in range(count):
        of_stage = crank_torque(
            cylinder_from_row(inputs.cylinders[s]),
            pressures[s],
            inputs.cranks[s],
            inputs.point[OUTSIDE_PRESSURE],
        )
        for i in range(steps):
            torque[i] += of_stage[i]
        for e in range(2):
            wettest = min(wettest, state.tallies[s, e, WETTEST])
            densest = max(densest, state.tallies[s, e, MAX_DENSITY])
            thinnest = min(thinnest, state.tallies[s, e, MIN_DENSITY])
    peak, total = -np.inf, 0.0
    for i in range(steps):
        peak = max(peak, torque[i])
        total += torque[i]
    engine[PEAK_TORQUE_RATIO] = peak / (total / steps)
    engine[CYCLE_WETTEST] = wettest
    engine[CYCLE_MAX_DENSITY] = densest
    engine[CYCLE_MIN_DENSITY] = thinnest


@compiled
def _initial_guess(inputs: CycleInputs, state: CycleState, table: SteamTable) -> None:
    """Set pressures, enthalpies, walls and trapped steam to a first guess."""
    point, stages = inputs.point, state.stages
    count = stages.shape[0]
    boiler_flow_work = flow_work_at(point[BOILER_PRESSURE], point[BOILER_ENTHALPY], table)
    state.engine[CHOKED_FLOW] = point[PASSAGE_AREA] * point[BOILER_PRESSURE] / math.sqrt(boiler_flow_work)
    guess = point[BOILER_PRESSURE]
    for s in range(count):
        stages[s, CHEST_PRESSURE] = 0.95 * guess
        guess = 1.1 * point[OUTSIDE_PRESSURE] if s == count - 1 else 0.3 * guess
        stages[s, BACK_PRESSURE] = guess
        stages[s, CHEST_ENTHALPY] = point[BOILER_ENTHALPY] - 250e3 * s
        stages[s, BACK_ENTHALPY] = stages[s, CHEST_ENTHALPY] - 300e3
        hot, cold = boiling_point(stages[s, CHEST_PRESSURE]), boiling_point(guess)
        stages[s, WALL_FRONT] = max(hot - 10.0, 0.5 * (hot + cold))
        stages[s, WALL_BACK] = stages[s, WALL_FRONT]
    update_flow_work(stages, table)
    for s in range(count):
        cylinder = cylinder_from_row(inputs.cylinders[s])
        end_volume = 0.25 * math.pi * cylinder.bore**2 * cylinder.stroke * (1.0 + cylinder.clearance)
        for e in range(2):
            mass = stages[s, BACK_PRESSURE] * end_volume / stages[s, BACK_FLOW_WORK]
            state.tallies[s, e, MASS] = mass
            state.tallies[s, e, ENERGY] = mass * (stages[s, BACK_ENTHALPY] - stages[s, BACK_FLOW_WORK])


@compiled
def _iterate(
    inputs: CycleInputs,
    state: CycleState,
    pressures: Floats,
    revolutions: int,
    tolerance: float,
    table: SteamTable,
) -> None:
    """Simulate revolutions, in as many steps as `pressures` has room for, until the largest residual is small."""
    point, engine = inputs.point, state.engine
    count, steps = pressures.shape[0], pressures.shape[2] - 1
    shapes = np.empty((count, 4, steps + 1))
    for s in range(count):
        rows = cylinder_geometry(
            cylinder_from_row(inputs.cylinders[s]), constants_from_row(inputs.constants), steps
        )
        for row in range(4):
            for i in range(steps + 1):
                shapes[s, row, i] = rows[row, i]
    boiler_flow_work = flow_work_at(point[BOILER_PRESSURE], point[BOILER_ENTHALPY], table)
    while engine[REVOLUTIONS] < revolutions:
        engine[REVOLUTIONS] += 1
        drift = 0.0
        for s in range(state.pressure_memory.shape[0]):
            drift = max(drift, state.pressure_memory[s, DRIFT])
        residual = 0.1 * drift
        residual = max(residual, _simulate_ends(inputs, state, shapes, pressures, table))
        residual = max(residual, close_balance(inputs.cylinders, point, state))
        no_power = engine[REVOLUTIONS] > DAMPING_ONSET and engine[POWER] <= 0.0
        if residual < tolerance or no_power:
            break
        update_couplings(point, state, boiler_flow_work, table)


@compiled
def _simulate_ends(
    inputs: CycleInputs, state: CycleState, shapes: Floats, pressures: Floats, table: SteamTable
) -> float:
    """Carry every end of the engine through one revolution; the largest residual of them [1]."""
    residual = 0.0
    for s in range(pressures.shape[0]):
        cylinder = cylinder_from_row(inputs.cylinders[s])
        for e in range(2):
            tally = state.tallies[s, e]
            mass, energy = tally[MASS], tally[ENERGY]
            simulate_revolution(
                cylinder,
                constants_from_row(inputs.constants),
                _boundary_conditions(inputs, state.stages[s], s, e),
                (shapes[s, e], shapes[s, 2 + e]),
                pressures[s, e],
                tally,
                table,
            )
            throughput = (tally[STEAM_IN] + 1.0e-9) * TYPICAL_STEAM_ENERGY
            drift = abs(tally[MASS] - mass) * TYPICAL_STEAM_ENERGY + abs(tally[ENERGY] - energy)
            state.wall_memory[s, e, DRIFT] = drift
            residual = max(residual, drift / throughput, abs(tally[WALL_HEAT]) / throughput)
            if state.engine[REVOLUTIONS] > DAMPING_ONSET:
                tally[MASS] = 0.5 * (tally[MASS] + mass)
                tally[ENERGY] = 0.5 * (tally[ENERGY] + energy)
    return residual


@compiled
def _boundary_conditions(inputs: CycleInputs, stage: Floats, s: int, e: int) -> BoundaryConditions:
    """Conditions outside one end of a stage."""
    return BoundaryConditions(
        inputs.point[SPEED],
        valve_motion_from_row(inputs.valve_motions[s]),
        PortSteam(stage[CHEST_PRESSURE], stage[CHEST_FLOW_WORK], stage[CHEST_ENTHALPY], 0.0),
        PortSteam(stage[BACK_PRESSURE], stage[BACK_FLOW_WORK], stage[BACK_ENTHALPY], 1.0),
        stage[WALL_FRONT + e],
    )


def converge_points(
    inputs: CycleInputs, steps: int, revolutions: int, engine: Floats, stages: Floats, table: SteamTable
) -> None:
    """Iterate many operating points on all cores; see `converge_point`.

    Threads of this process share the points and end with the call. Nothing is left running that a process made by
    `fork` would miss, and calls from several threads do not disturb each other.

    Args:
        inputs: The engine, with a row for each operating point.
        steps: Crank steps in a revolution [1].
        revolutions: Maximum number of revolutions.
        engine: Filled with the results of the engine, a row for each point.
        stages: Filled with the results of the stages, a row for each point.
        table: From `steam_table`.
    """

    def converge(first: int) -> None:
        part = slice(first, first + POINTS_AT_ONCE)
        some = inputs._replace(point=inputs.point[part], valve_motions=inputs.valve_motions[part])
        converge_some_points(some, steps, revolutions, engine[part], stages[part], table)

    with ThreadPoolExecutor(_cores()) as threads:
        list(threads.map(converge, range(0, engine.shape[0], POINTS_AT_ONCE)))


def _cores() -> int:
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@compiled_unlocked
def converge_some_points(
    inputs: CycleInputs,
    steps: int,
    revolutions: int,
    engine: Floats,
    stages: Floats,
    table: SteamTable,
) -> None:
    """Iterate operating points one after the other; see `converge_points`."""
    for k in range(engine.shape[0]):
        pressures = np.empty((stages.shape[1], 2, steps + 1))
        point = CycleInputs(
            inputs.cylinders, inputs.constants, inputs.point[k], inputs.valve_motions[k], inputs.cranks
        )
        converge_point(point, revolutions, engine[k], stages[k], pressures, table)
