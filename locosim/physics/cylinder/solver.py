"""The cylinder cycle: steady running of an engine at one speed, cutoff, throttle and boiler pressure.

Revolution after revolution is computed (`cylinder_end`) while the quantities that tie them together settle
(`cycle_ties`), until a revolution ends as it began: mass and energy of the steam, wall heat, and the ledgers of the
whole engine each to 5e-7 of what went through. Three crank steps in one carry a point near its end first.
"""

from __future__ import annotations

import math

import numpy as np

from locosim.compiled import compiled, compiled_parallel, prange
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
    close_balance,
    flow_work_at,
    update_couplings,
)
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
from locosim.physics.cylinder.valve_gear import piston_position
from locosim.physics.cylinder.wall_heat import boiling_point
from locosim.physics.types import Floats

TOLERANCE = 5.0e-7
COARSE_TOLERANCE = 1.0e-3  # where the coarse steps hand over to the fine ones
COARSE_STEP_RATIO = 3  # fine steps in a coarse one
MIN_COARSE_STEPS = 120  # coarse steps in a revolution
MAX_REVOLUTIONS = 300
MAX_REVOLUTIONS_RETRY = 1500  # of a point tried again: some near no load settle slowly
TYPICAL_STEAM_ENERGY = (
    3.0e6  # of a kilogram of steam, about [J/kg]: makes a gap of mass and one of energy comparable
)


@compiled
def crank_torque(cylinder: Cylinder, pressures: Floats, cranks: Floats, outside_pressure: float) -> Floats:
    """Torque of one stage's cylinders on the axle over a turn, gas forces alone.

    Args:
        cylinder: The cylinder.
        pressures: Rows front and back end over crank angle from each end's own dead center [Pa].
        cranks: Crank angle of each cylinder behind the first [rad].
        outside_pressure: Absolute pressure on the piston rod [Pa].

    Returns:
        Torque at the middle of each crank step of the first cylinder [N m].
    """
    steps = pressures.shape[1] - 1
    front_area = 0.25 * math.pi * cylinder.bore**2
    rod_area = 0.25 * math.pi * cylinder.rod_diameter**2
    one = np.empty(steps)
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
        one[i] = force * lever / (a1 - a0)
    total = np.zeros(steps)
    for k in range(cranks.size):
        if not math.isfinite(cranks[k]):
            continue
        shift = cranks[k] / (2.0 * math.pi) * steps
        whole = math.floor(shift)
        part = shift - whole
        for i in range(steps):
            j = int(i + whole) % steps
            total[i] += (1.0 - part) * one[j] + part * one[(j + 1) % steps]
    return total


@compiled
def converge_point(
    cylinders: Floats,
    constants: Floats,
    point: Floats,
    link_amplitudes: Floats,
    cranks: Floats,
    revolutions: int,
    engine: Floats,
    stages: Floats,
    pressures: Floats,
    dew: Floats,
    table: Floats,
) -> None:
    """Run one operating point until it repeats itself.

    Args:
        cylinders: A row for one set of cylinders, or for the high- and the low-pressure set, as `Cylinder`.
        constants: General constants, as `CycleConstants`.
        point: Operating point, by the places of `cycle_ties`.
        link_amplitudes: Second amplitude of each stage's valve gear [m].
        cranks: Crank angles by stage and cylinder [rad]; not a number where there is no cylinder.
        revolutions: Revolutions at most.
        engine: Filled with the engine's results, by the places of `cycle_ties`.
        stages: Filled with the stages' results, by the places of `cycle_ties`.
        pressures: Filled with absolute pressure by stage, end, crank angle [Pa].
        dew: From `steam_table`.
        table: From `steam_table`.
    """
    count = stages.shape[0]
    steps = pressures.shape[2] - 1
    tallies = np.zeros((count, 2, TALLY_SIZE))
    wall_memory = np.zeros((count, 2, MEMORY_SIZE))
    pressure_memory = np.zeros((count + 1, MEMORY_SIZE))
    engine[REVOLUTIONS] = 0
    _initial_guess(cylinders, point, engine, stages, tallies, dew, table)
    if steps >= COARSE_STEP_RATIO * MIN_COARSE_STEPS:
        coarse = np.empty((count, 2, 2 * (steps // (2 * COARSE_STEP_RATIO)) + 1))
        _iterate(
            cylinders, constants, point, link_amplitudes, revolutions, engine, stages, tallies, wall_memory, pressure_memory, coarse, COARSE_TOLERANCE,
            dew, table,
        )  # fmt: skip
    _iterate(
        cylinders, constants, point, link_amplitudes, revolutions, engine, stages, tallies, wall_memory, pressure_memory, pressures, TOLERANCE,
        dew, table,
    )  # fmt: skip
    torque = np.zeros(steps)
    for s in range(count):
        torque += crank_torque(
            cylinder_from_row(cylinders[s]), pressures[s], cranks[s], point[OUTSIDE_PRESSURE]
        )
    engine[PEAK_TORQUE_RATIO] = np.max(torque) / np.mean(torque)
    engine[CYCLE_WETTEST] = np.min(tallies[:, :, WETTEST])
    engine[CYCLE_MAX_DENSITY] = np.max(tallies[:, :, MAX_DENSITY])
    engine[CYCLE_MIN_DENSITY] = np.min(tallies[:, :, MIN_DENSITY])


@compiled
def _initial_guess(
    cylinders: Floats,
    point: Floats,
    engine: Floats,
    stages: Floats,
    tallies: Floats,
    dew: Floats,
    table: Floats,
) -> None:
    """A first guess of everything that settles."""
    count = stages.shape[0]
    boiler_flow_work = flow_work_at(point[BOILER_PRESSURE], point[BOILER_ENTHALPY], dew, table)
    engine[CHOKED_FLOW] = point[PASSAGE_AREA] * point[BOILER_PRESSURE] / math.sqrt(boiler_flow_work)
    guess = point[BOILER_PRESSURE]
    for s in range(count):
        cylinder = cylinder_from_row(cylinders[s])
        stages[s, CHEST_PRESSURE] = 0.95 * guess
        guess = 1.1 * point[OUTSIDE_PRESSURE] if s == count - 1 else 0.3 * guess
        stages[s, BACK_PRESSURE] = guess
        stages[s, CHEST_ENTHALPY] = point[BOILER_ENTHALPY] - 250e3 * s
        stages[s, BACK_ENTHALPY] = stages[s, CHEST_ENTHALPY] - 300e3
        stages[s, CHEST_FLOW_WORK] = flow_work_at(
            stages[s, CHEST_PRESSURE], stages[s, CHEST_ENTHALPY], dew, table
        )
        stages[s, BACK_FLOW_WORK] = flow_work_at(guess, stages[s, BACK_ENTHALPY], dew, table)
        hot, cold = boiling_point(stages[s, CHEST_PRESSURE]), boiling_point(guess)
        stages[s, WALL_FRONT] = max(hot - 10.0, 0.5 * (hot + cold))
        stages[s, WALL_BACK] = stages[s, WALL_FRONT]
        end_volume = 0.25 * math.pi * cylinder.bore**2 * cylinder.stroke * (1.0 + cylinder.clearance)
        for e in range(2):
            tallies[s, e, MASS] = guess * end_volume / stages[s, BACK_FLOW_WORK]
            energy = stages[s, BACK_ENTHALPY] - stages[s, BACK_FLOW_WORK]
            tallies[s, e, ENERGY] = tallies[s, e, MASS] * energy


@compiled
def _iterate(
    cylinders: Floats,
    constants: Floats,
    point: Floats,
    link_amplitudes: Floats,
    revolutions: int,
    engine: Floats,
    stages: Floats,
    tallies: Floats,
    wall_memory: Floats,
    pressure_memory: Floats,
    pressures: Floats,
    tolerance: float,
    dew: Floats,
    table: Floats,
) -> None:
    """Revolve with the steps `pressures` has room for until the largest gap is below the tolerance."""
    count = stages.shape[0]
    steps = pressures.shape[2] - 1
    general = constants_from_row(constants)
    shapes = np.empty((count, 4, steps + 1))
    for s in range(count):
        shapes[s] = cylinder_geometry(cylinder_from_row(cylinders[s]), general, steps)
    boiler_flow_work = flow_work_at(point[BOILER_PRESSURE], point[BOILER_ENTHALPY], dew, table)
    while engine[REVOLUTIONS] < revolutions:
        engine[REVOLUTIONS] += 1
        residual = 0.1 * float(np.max(pressure_memory[:, DRIFT]))
        for s in range(count):
            for e in range(2):
                boundary = BoundaryConditions(
                    point[SPEED],
                    link_amplitudes[s],
                    stages[s, CHEST_PRESSURE],
                    stages[s, CHEST_FLOW_WORK],
                    stages[s, CHEST_ENTHALPY],
                    stages[s, BACK_PRESSURE],
                    stages[s, BACK_FLOW_WORK],
                    stages[s, BACK_ENTHALPY],
                    stages[s, WALL_FRONT + e],
                )
                tally = tallies[s, e]
                mass, energy = tally[MASS], tally[ENERGY]
                simulate_revolution(
                    cylinder_from_row(cylinders[s]), general, boundary, shapes[s, e], shapes[s, 2 + e], pressures[s, e],
                    tally, dew, table,
                )  # fmt: skip
                through = (tally[STEAM_IN] + 1.0e-9) * TYPICAL_STEAM_ENERGY
                wall_memory[s, e, DRIFT] = abs(tally[MASS] - mass) * TYPICAL_STEAM_ENERGY + abs(
                    tally[ENERGY] - energy
                )
                residual = max(residual, wall_memory[s, e, DRIFT] / through, abs(tally[WALL_HEAT]) / through)
                if engine[REVOLUTIONS] > DAMPING_ONSET:
                    tally[MASS] = 0.5 * (tally[MASS] + mass)
                    tally[ENERGY] = 0.5 * (tally[ENERGY] + energy)
        residual = max(residual, close_balance(cylinders, point, tallies, engine, stages))
        if residual < tolerance or (engine[REVOLUTIONS] > DAMPING_ONSET and engine[POWER] <= 0.0):
            break
        update_couplings(
            point, tallies, wall_memory, pressure_memory, engine, stages, boiler_flow_work, dew, table
        )


@compiled_parallel
def converge_points(
    cylinders: Floats,
    constants: Floats,
    points: Floats,
    link_amplitudes: Floats,
    cranks: Floats,
    steps: int,
    revolutions: int,
    engine: Floats,
    stages: Floats,
    dew: Floats,
    table: Floats,
) -> None:
    """Run many operating points on all cores; see `converge_point`, with one row more in front of each array."""
    for k in prange(points.shape[0]):
        pressures = np.empty((stages.shape[1], 2, steps + 1))
        converge_point(
            cylinders,
            constants,
            points[k],
            link_amplitudes[k],
            cranks,
            revolutions,
            engine[k],
            stages[k],
            pressures,
            dew,
            table,
        )
