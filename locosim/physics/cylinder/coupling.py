"""Couplings between the revolutions of the cylinder cycle, and how each one is converged.

Chest pressure depends on the flow through throttle and steam pipes, back pressure on the flow through the exhaust
nozzle, and receiver pressure on equal flow in both stages. The enthalpies follow from what is mixed in each space. Each
wall temperature is the one at which the net heat over a revolution is zero. This module sums up a revolution and
computes the next step of each coupled quantity.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from locosim.compiled import compiled_apart, compiled_inline
from locosim.physics.cylinder.revolution import (
    CONDENSING_HEAT,
    ENTHALPY_RETURNED,
    EXHAUST_HEAT,
    EXHAUST_OUT,
    EXHAUST_RETURNED,
    STEAM_IN,
    STEAM_RETURNED,
    TALLY_SIZE,
    WALL_CONDUCTANCE,
    WALL_HEAT,
    WORK,
)
from locosim.physics.steam.nozzle_flow import solve_downstream_pressure, solve_upstream_pressure
from locosim.physics.steam.property_table import SteamTable, steam_state
from locosim.physics.types import Floats

# Index of each entry in an operating point.
SPEED, PASSAGE_AREA, BOILER_PRESSURE, BOILER_ENTHALPY, OUTSIDE_PRESSURE, NOZZLE_AREA = range(6)
POINT_SIZE = 6

# Index of each entry in the results of the whole engine at a point.
STEAM, MEAN_EXHAUST_ENTHALPY, POWER, PEAK_TORQUE_RATIO, REVOLUTIONS, MASS_RESIDUAL, HEAT_RESIDUAL = range(7)
CYCLE_WETTEST, CYCLE_MAX_DENSITY, CYCLE_MIN_DENSITY, CHOKED_FLOW = range(7, 11)
ENGINE_SIZE = 11
# Index of each entry in the results of one stage of expansion.
(
    CHEST_PRESSURE,
    CHEST_ENTHALPY,
    BACK_PRESSURE,
    BACK_ENTHALPY,
    WORK_FRONT,
    WORK_BACK,
    FLOW,
    WALL_CONDENSATION_SHARE,
) = range(8)
WALL_FRONT, WALL_BACK, CHEST_FLOW_WORK, BACK_FLOW_WORK = range(8, 12)
STAGE_SIZE = 12

# Index of each entry in the memory of a wall, or of a pressure, from one revolution to the next.
PREVIOUS_VALUE, PREVIOUS_RESPONSE, SLOPE, DRIFT = range(4)
MEMORY_SIZE = 4

WALL_HOLD_RATIO = 1.5  # a wall waits while the trapped steam drifts by more than this times the wall heat
DAMPING_ONSET = 60  # revolutions after which a point that still oscillates is damped
RELAXATION = 0.4  # share of each step that is then applied
FLOW_WORK_ITERATIONS = 60  # to invert the table; 38 is the most needed from 0.5 to 50 bar
LEARNING_RATE = 0.7  # weight of the latest revolution in a learned slope
# Approximate latent heat of steam in the cylinder [J/kg]; only for the share condensed, which affects no other result.
TYPICAL_LATENT_HEAT = 2.0e6


class CycleState(NamedTuple):
    """Arrays on which one operating point is iterated.

    Attributes:
        engine: Results of the whole engine, shape (ENGINE_SIZE,).
        stages: Results of each stage, shape (stages, STAGE_SIZE).
        tallies: Latest tally of each stage and end, shape (stages, 2, TALLY_SIZE).
        wall_memory: Memory of the wall of each stage and end, shape (stages, 2, MEMORY_SIZE).
        pressure_memory: Memory of each chest pressure, then of the back pressure, shape (stages + 1, MEMORY_SIZE).
        both_ends: Room for the sum of the tallies of a stage, shape (TALLY_SIZE,).
    """

    engine: Floats
    stages: Floats
    tallies: Floats
    wall_memory: Floats
    pressure_memory: Floats
    both_ends: Floats


@compiled_apart
def flow_work_at(pressure: float, enthalpy: float, table: SteamTable) -> float:
    """p/rho of steam of known pressure and enthalpy, by inverting the table.

    Args:
        pressure: Absolute pressure [Pa].
        enthalpy: Specific enthalpy [J/kg].
        table: From `steam_table`.

    Returns:
        p/rho [J/kg]; NaN where the iteration does not converge, which invalidates the whole point.
    """
    flow_work = 1.8e5
    for _ in range(FLOW_WORK_ITERATIONS):
        found = steam_state(pressure / flow_work, enthalpy - flow_work, table)[0]
        change = found - flow_work
        flow_work += 0.75 * change
        if abs(change) < 1e-9 * found:
            return flow_work
    return math.nan


@compiled_inline
def wall_step(tally: Floats, memory: Floats, temperature: float) -> float:
    """Change of a wall temperature toward zero net heat.

    Net heat falls with the wall temperature by a share of the conductance, because the steam follows the wall. The
    share is learned from one revolution to the next. A share outside its possible range has other causes and is not
    learned.

    Args:
        tally: Tally of this revolution.
        memory: Temperature, net heat and share of the previous revolution; replaced.
        temperature: Wall temperature of this revolution [K].

    Returns:
        Change [K].
    """
    if memory[PREVIOUS_VALUE] > 0.0 and abs(temperature - memory[PREVIOUS_VALUE]) > 1e-7:
        slope = (memory[PREVIOUS_RESPONSE] - tally[WALL_HEAT]) / (temperature - memory[PREVIOUS_VALUE])
        share = slope / tally[WALL_CONDUCTANCE]
        if 0.02 < share < 1.5:
            memory[SLOPE] += LEARNING_RATE * (share - memory[SLOPE])
    else:
        memory[SLOPE] = 0.5
    memory[PREVIOUS_VALUE] = temperature
    memory[PREVIOUS_RESPONSE] = tally[WALL_HEAT]
    change: float = tally[WALL_HEAT] / (memory[SLOPE] * tally[WALL_CONDUCTANCE])
    return min(max(change, -20.0), 20.0)


@compiled_apart
def secant_step(memory: Floats, pressure: float, target: float) -> float:
    """Change of a chest, receiver or back pressure toward the pressure that the flow requires.

    The target moves with the pressure itself; that slope is learned from one revolution to the next.

    Args:
        memory: Pressure, target, slope and gap of the previous revolution; replaced.
        pressure: Pressure of this revolution [Pa].
        target: Pressure that the flow of this revolution requires [Pa].

    Returns:
        Change, at most 30 % of the pressure [Pa].
    """
    pressure_change = pressure - memory[PREVIOUS_VALUE]
    if memory[PREVIOUS_VALUE] > 0.0 and abs(pressure_change) > 1e-7 * pressure:
        slope = (target - memory[PREVIOUS_RESPONSE]) / pressure_change
        if -20.0 < slope < 0.5:
            memory[SLOPE] += LEARNING_RATE * (slope - memory[SLOPE])
    memory[PREVIOUS_VALUE] = pressure
    memory[PREVIOUS_RESPONSE] = target
    memory[DRIFT] = abs(target - pressure) / pressure
    change: float = (target - pressure) / (1.0 - memory[SLOPE])
    return min(max(change, -0.3 * pressure), 0.3 * pressure)


@compiled_inline
def _ratio(part: float, whole: float) -> float:
    return part / whole if whole != 0.0 else 0.0


@compiled_inline
def _add_ends(state: CycleState, s: int) -> None:
    """Add the tallies of both ends of a stage."""
    for k in range(TALLY_SIZE):
        state.both_ends[k] = state.tallies[s, 0, k] + state.tallies[s, 1, k]


@compiled_inline
def close_balance(cylinders: Floats, point: Floats, state: CycleState) -> float:
    """Sum up the revolution for the whole engine and return the residual of its balances.

    Args:
        cylinders: A row for each stage, as `Cylinder`.
        point: Operating point.
        state: State of the iteration; the sums of engine and stages are replaced.

    Returns:
        The larger residual, of mass or of heat, over the throughput [1].
    """
    engine, stages, tallies = state.engine, state.stages, state.tallies
    count = stages.shape[0]
    work = 0.0
    for s in range(count):
        _add_ends(state, s)
        tally = state.both_ends
        number = cylinders[s, 0]
        mass_in = number * (tally[STEAM_IN] - tally[STEAM_RETURNED])
        mass_out = number * (tally[EXHAUST_OUT] - tally[EXHAUST_RETURNED])
        stages[s, WORK_FRONT] = tallies[s, 0, WORK]
        stages[s, WORK_BACK] = tallies[s, 1, WORK]
        stages[s, FLOW] = mass_in * point[SPEED]
        stages[s, WALL_CONDENSATION_SHARE] = _ratio(
            tally[CONDENSING_HEAT], TYPICAL_LATENT_HEAT * tally[STEAM_IN]
        )
        work += number * tally[WORK]
        if s == 0:
            boiler_steam = mass_in
    heat_out = number * (tally[EXHAUST_HEAT] - tally[EXHAUST_RETURNED] * stages[count - 1, BACK_ENTHALPY])
    engine[STEAM] = boiler_steam * point[SPEED]
    engine[POWER] = work * point[SPEED]
    engine[MEAN_EXHAUST_ENTHALPY] = _ratio(heat_out, mass_out)
    engine[MASS_RESIDUAL] = _ratio(boiler_steam - mass_out, boiler_steam)
    heat_in = boiler_steam * point[BOILER_ENTHALPY]
    engine[HEAT_RESIDUAL] = _ratio(heat_in - work - heat_out, heat_in)
    residual: float = max(abs(engine[MASS_RESIDUAL]), abs(engine[HEAT_RESIDUAL]))
    return residual


@compiled_inline
def update_couplings(point: Floats, state: CycleState, boiler_flow_work: float, table: SteamTable) -> None:
    """Move chest, receiver and back pressures, enthalpies and walls toward what this revolution requires.

    Args:
        point: Operating point.
        state: State of the iteration; pressures, enthalpies and walls of the stages are replaced.
        boiler_flow_work: p/rho of the steam as it leaves the boiler [J/kg].
        table: From `steam_table`.
    """
    stages = state.stages
    relaxation = 1.0 if state.engine[REVOLUTIONS] < DAMPING_ONSET else RELAXATION
    supply_enthalpy = point[BOILER_ENTHALPY]
    for s in range(stages.shape[0]):
        _add_ends(state, s)
        tally = state.both_ends
        _update_chest_pressure(s, point, state, boiler_flow_work, relaxation)
        _update_enthalpies(stages[s], tally, supply_enthalpy, relaxation)
        supply_enthalpy = stages[s, BACK_ENTHALPY]
        _update_walls(s, state, relaxation)
    _update_back_pressure(point, state, relaxation)
    update_flow_work(stages, table)


@compiled_inline
def _update_chest_pressure(
    s: int, point: Floats, state: CycleState, boiler_flow_work: float, relaxation: float
) -> None:
    """Move the chest pressure of a stage, and the back pressure of the stage before it."""
    engine, stages = state.engine, state.stages
    pressure = stages[s, CHEST_PRESSURE]
    flow = max(stages[s, FLOW], 1e-4 * engine[CHOKED_FLOW])
    if s == 0:
        target = solve_downstream_pressure(
            point[BOILER_PRESSURE], boiler_flow_work, point[PASSAGE_AREA], flow / pressure
        )
    else:
        target = pressure * max(stages[s - 1, FLOW], 1e-4 * engine[CHOKED_FLOW]) / flow
    stages[s, CHEST_PRESSURE] += relaxation * secant_step(state.pressure_memory[s], pressure, target)
    if s > 0:
        stages[s - 1, BACK_PRESSURE] = stages[s, CHEST_PRESSURE]


@compiled_inline
def _update_enthalpies(stage: Floats, tally: Floats, supply_enthalpy: float, relaxation: float) -> None:
    """Move the enthalpies in the chest and the exhaust passage of a stage toward those of the mixture."""
    if tally[STEAM_IN] > 0.0:
        net = tally[STEAM_IN] - tally[STEAM_RETURNED]
        target = (supply_enthalpy * net + tally[ENTHALPY_RETURNED]) / tally[STEAM_IN]
        stage[CHEST_ENTHALPY] += relaxation * (target - stage[CHEST_ENTHALPY])
    if tally[EXHAUST_OUT] > 0.0:
        target = tally[EXHAUST_HEAT] / tally[EXHAUST_OUT]
        stage[BACK_ENTHALPY] += relaxation * (target - stage[BACK_ENTHALPY])


@compiled_inline
def _update_walls(s: int, state: CycleState, relaxation: float) -> None:
    """Move the wall temperatures of a stage.

    While the trapped steam still follows the last change, the wall heat means little, so the wall waits. It waits at
    most four revolutions: a wall started too cold would condense steam indefinitely.
    """
    fourth_revolution = int(state.engine[REVOLUTIONS]) % 4 == 0
    for e in range(2):
        tally, memory = state.tallies[s, e], state.wall_memory[s, e]
        steady = memory[DRIFT] < WALL_HOLD_RATIO * abs(tally[WALL_HEAT])
        if relaxation < 1.0 or fourth_revolution or steady:
            step = wall_step(tally, memory, state.stages[s, WALL_FRONT + e])
            state.stages[s, WALL_FRONT + e] += relaxation * step


@compiled_inline
def _update_back_pressure(point: Floats, state: CycleState, relaxation: float) -> None:
    """Move the back pressure of the last stage toward what the exhaust nozzle requires."""
    last = state.stages[-1]
    steam = max(state.engine[STEAM], 0.0)
    target = solve_upstream_pressure(point[OUTSIDE_PRESSURE], last[BACK_FLOW_WORK], point[NOZZLE_AREA], steam)
    last[BACK_PRESSURE] += relaxation * secant_step(state.pressure_memory[-1], last[BACK_PRESSURE], target)


@compiled_inline
def update_flow_work(stages: Floats, table: SteamTable) -> None:
    """Set p/rho in chest and exhaust passage of every stage from its pressures and enthalpies.

    Args:
        stages: Results of each stage; p/rho is replaced.
        table: From `steam_table`.
    """
    for s in range(stages.shape[0]):
        stage = stages[s]
        stage[CHEST_FLOW_WORK] = flow_work_at(stage[CHEST_PRESSURE], stage[CHEST_ENTHALPY], table)
        stage[BACK_FLOW_WORK] = flow_work_at(stage[BACK_PRESSURE], stage[BACK_ENTHALPY], table)
