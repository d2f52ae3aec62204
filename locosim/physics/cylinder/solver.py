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

from locosim.compiled import compiled_apart, compiled_inline, compiled_unlocked, in_python
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
    ENGINE_SIZE,
    MEMORY_SIZE,
    OUTSIDE_PRESSURE,
    PASSAGE_AREA,
    PEAK_TORQUE_RATIO,
    POWER,
    REVOLUTIONS,
    SPEED,
    STAGE_SIZE,
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
    fill_geometry,
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


class Diagrams(NamedTuple):
    """Arrays over crank angle of each stage, for some crank steps in a revolution.

    Attributes:
        pressures: Absolute pressure in the front and the back end, from the dead center of each, shape
            (stages, 2, steps + 1) [Pa].
        geometry: Volumes [m3] and wall areas [m2] as filled by `fill_geometry`, shape (stages, 4, steps + 1).
        torques: Torque at the middle of each crank step of the first cylinder, shape (stages, steps) [N m].
        of_one: Room for the torque of one cylinder, shape (steps,) [N m].
    """

    pressures: Floats
    geometry: Floats
    torques: Floats
    of_one: Floats


class Workspace(NamedTuple):
    """Arrays in which operating points are iterated, one after the other.

    Attributes:
        state: State of the iteration; engine and stages are those of the point.
        coarse: Diagrams in coarse steps.
        fine: Diagrams in all steps, which stay those of the latest point.
    """

    state: CycleState
    coarse: Diagrams
    fine: Diagrams


def workspace(stages: int, steps: int) -> Workspace:
    """Room to iterate operating points of an engine.

    Args:
        stages: Stages of expansion.
        steps: Crank steps in a revolution.
    """
    state = CycleState(
        np.empty(ENGINE_SIZE),
        np.empty((stages, STAGE_SIZE)),
        np.empty((stages, 2, TALLY_SIZE)),
        np.empty((stages, 2, MEMORY_SIZE)),
        np.empty((stages + 1, MEMORY_SIZE)),
        np.empty(TALLY_SIZE),
    )
    return Workspace(
        state, _diagrams(stages, 2 * (steps // (2 * COARSE_STEP_RATIO))), _diagrams(stages, steps)
    )


def _diagrams(stages: int, steps: int) -> Diagrams:
    return Diagrams(
        np.empty((stages, 2, steps + 1)),
        np.empty((stages, 4, steps + 1)),
        np.empty((stages, steps)),
        np.empty(steps),
    )


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
    torque = np.empty(pressures.shape[1] - 1)
    in_python(_fill_torque)(cylinder, pressures, cranks, outside_pressure, torque, np.empty_like(torque))
    return torque


@compiled_inline
def _fill_torque(
    cylinder: Cylinder,
    pressures: Floats,
    cranks: Floats,
    outside_pressure: float,
    torque: Floats,
    of_one: Floats,
) -> None:
    """Fill `torque` as `crank_torque` returns it; `of_one` is room for the torque of one cylinder."""
    steps = pressures.shape[1] - 1
    front_area = 0.25 * math.pi * cylinder.bore**2
    rod_area = 0.25 * math.pi * cylinder.rod_diameter**2
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
        of_one[i] = force * lever / (a1 - a0)
        torque[i] = 0.0
    for k in range(cranks.size):
        if not math.isfinite(cranks[k]):
            continue
        shift = cranks[k] / (2.0 * math.pi) * steps
        whole = math.floor(shift)
        part = shift - whole
        for i in range(steps):
            j = int(i + whole) % steps
            torque[i] += (1.0 - part) * of_one[j] + part * of_one[(j + 1) % steps]


@compiled_inline
def converge_point(
    inputs: CycleInputs,
    revolutions: int,
    state: CycleState,
    coarse: Diagrams,
    fine: Diagrams,
    table: SteamTable,
) -> None:
    """Iterate one operating point until its revolution repeats.

    Args:
        inputs: The engine and the operating point.
        revolutions: Maximum number of revolutions.
        state: Results of the engine and its stages are filled, indexed as in `coupling`.
        coarse: Room for diagrams in coarse steps.
        fine: Filled with the diagrams.
        table: From `steam_table`.
    """
    engine, count, steps = state.engine, state.stages.shape[0], fine.of_one.size
    engine[REVOLUTIONS] = 0
    _initial_guess(inputs, state, table)
    if steps >= COARSE_STEP_RATIO * MIN_COARSE_STEPS:
        _iterate(inputs, state, coarse, revolutions, COARSE_TOLERANCE, table)
    _iterate(inputs, state, fine, revolutions, TOLERANCE, table)
    wettest, densest, thinnest = np.inf, -np.inf, np.inf
    for s in range(count):
        _fill_torque(
            cylinder_from_row(inputs.cylinders[s]),
            fine.pressures[s],
            inputs.cranks[s],
            inputs.point[OUTSIDE_PRESSURE],
            fine.torques[s],
            fine.of_one,
        )
        for e in range(2):
            wettest = min(wettest, state.tallies[s, e, WETTEST])
            densest = max(densest, state.tallies[s, e, MAX_DENSITY])
            thinnest = min(thinnest, state.tallies[s, e, MIN_DENSITY])
    peak, total = -np.inf, 0.0
    for i in range(steps):
        torque = 0.0
        for s in range(count):
            torque += fine.torques[s, i]
        peak = max(peak, torque)
        total += torque
    engine[PEAK_TORQUE_RATIO] = peak / (total / steps)
    engine[CYCLE_WETTEST] = wettest
    engine[CYCLE_MAX_DENSITY] = densest
    engine[CYCLE_MIN_DENSITY] = thinnest


@compiled_inline
def _clear(state: CycleState) -> None:
    """Forget the point iterated before."""
    for s in range(state.pressure_memory.shape[0]):
        for k in range(MEMORY_SIZE):
            state.pressure_memory[s, k] = 0.0
    for s in range(state.stages.shape[0]):
        for e in range(2):
            for k in range(MEMORY_SIZE):
                state.wall_memory[s, e, k] = 0.0
            for k in range(TALLY_SIZE):
                state.tallies[s, e, k] = 0.0


@compiled_inline
def _initial_guess(inputs: CycleInputs, state: CycleState, table: SteamTable) -> None:
    """Set pressures, enthalpies, walls and trapped steam to a first guess."""
    point, stages = inputs.point, state.stages
    count = stages.shape[0]
    boiler_flow_work = flow_work_at(point[BOILER_PRESSURE], point[BOILER_ENTHALPY], table)
    _clear(state)
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


@compiled_apart
def _iterate(
    inputs: CycleInputs,
    state: CycleState,
    diagrams: Diagrams,
    revolutions: int,
    tolerance: float,
    table: SteamTable,
) -> None:
    """Simulate revolutions, in as many steps as the diagrams have room for, until the largest residual is small."""
    point, engine = inputs.point, state.engine
    for s in range(state.stages.shape[0]):
        cylinder = cylinder_from_row(inputs.cylinders[s])
        fill_geometry(cylinder, constants_from_row(inputs.constants), diagrams.geometry[s])
    boiler_flow_work = flow_work_at(point[BOILER_PRESSURE], point[BOILER_ENTHALPY], table)
    while engine[REVOLUTIONS] < revolutions:
        engine[REVOLUTIONS] += 1
        drift = 0.0
        for s in range(state.pressure_memory.shape[0]):
            drift = max(drift, state.pressure_memory[s, DRIFT])
        residual = 0.1 * drift
        residual = max(residual, _simulate_ends(inputs, state, diagrams, table))
        residual = max(residual, close_balance(inputs.cylinders, point, state))
        no_power = engine[REVOLUTIONS] > DAMPING_ONSET and engine[POWER] <= 0.0
        if residual < tolerance or no_power:
            break
        update_couplings(point, state, boiler_flow_work, table)


@compiled_inline
def _simulate_ends(inputs: CycleInputs, state: CycleState, diagrams: Diagrams, table: SteamTable) -> float:
    """Carry every end of the engine through one revolution; the largest residual of them [1]."""
    residual = 0.0
    geometry = diagrams.geometry
    for s in range(geometry.shape[0]):
        cylinder = cylinder_from_row(inputs.cylinders[s])
        for e in range(2):
            tally = state.tallies[s, e]
            mass, energy = tally[MASS], tally[ENERGY]
            simulate_revolution(
                cylinder,
                constants_from_row(inputs.constants),
                _boundary_conditions(inputs, state.stages[s], s, e),
                (geometry[s, e], geometry[s, 2 + e]),
                diagrams.pressures[s, e],
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


@compiled_inline
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
        room = workspace(stages.shape[1], steps)
        converge_some_points(some, revolutions, engine[part], stages[part], room, table)

    with ThreadPoolExecutor(_cores()) as threads:
        list(threads.map(converge, range(0, engine.shape[0], POINTS_AT_ONCE)))


def _cores() -> int:
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@compiled_unlocked
def converge_some_points(
    inputs: CycleInputs,
    revolutions: int,
    engine: Floats,
    stages: Floats,
    room: Workspace,
    table: SteamTable,
) -> None:
    """Iterate operating points one after the other; see `converge_points`.

    The diagrams of the last one are left in the room given.
    """
    work = room.state
    for k in range(engine.shape[0]):
        state = CycleState(
            engine[k], stages[k], work.tallies, work.wall_memory, work.pressure_memory, work.both_ends
        )
        point = CycleInputs(
            inputs.cylinders, inputs.constants, inputs.point[k], inputs.valve_motions[k], inputs.cranks
        )
        converge_point(point, revolutions, state, room.coarse, room.fine, table)
