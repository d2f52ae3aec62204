"""Motion and steam of a train driven as a road log says: midpoint steps over time, with the forces of a run.

A stretch is a piece of the log in which the effort is known. Each begins at a speed of its own, and its place on the
line is that of the log, so that a stretch does not hand its errors on.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from locosim.compiled import compiled_inline
from locosim.engine.map.interpolation import (
    Cells,
    MapGrid,
    cell_of,
    cutoff_cell,
    find_setting,
    value_at_node,
)
from locosim.journey.kernel.arrays import Boiler, Engine, Line, Load, StepConditions
from locosim.journey.kernel.crew import allowed_steam
from locosim.journey.kernel.tractive_step import full_effort_forces, resisting_force
from locosim.physics.types import Floats

Codes = npt.NDArray[np.int64]

# How the engine is worked from one row of a log to the next. Where its effort is not known but the train moves without
# brakes, the steam follows from the effort that the motion takes.
UNKNOWN, SHUT, BY_CUTOFF, FULL_EFFORT, BY_MOTION = -1, 0, 1, 2, 3
LONGEST_STEP = 2.0  # of the integration over time [s]
MIN_SPEED = (
    0.1  # a speed of the integration is never less [m/s]: a train that the model stops is no stretch to fit
)


class LoggedRows(NamedTuple):
    """Rows of a road log, n of them; what is set at a row holds up to the next."""

    time: Floats  # [s]
    distance: Floats  # from the start of the line in steps [m]
    driving: Codes  # one of the codes above
    cutoff: Floats  # [1]
    pressure: Floats  # absolute [Pa]
    contents: Floats  # water and fuel carried [kg]
    acceleration: Floats  # of the log, from each row to the next [m/s²]
    stretch: Codes  # number of the stretch from this row to the next; -1: not in one


@compiled_inline
def step_at(line: Line, distance: float, guess: int) -> int:
    """Step of the line at a distance from its start, searched from a guess."""
    last = len(line.grade) - 1
    i = min(max(guess, 0), last)
    while i < last and line.distance[i + 1] <= distance:
        i += 1
    while i > 0 and line.distance[i] > distance:
        i -= 1
    return i


@compiled_inline
def effort_by_cutoff(grid: MapGrid, pressure: float, speed: float, cutoff: float) -> tuple[float, float]:
    """Indicated effort [N] and steam [kg/s] at a cutoff with the throttle wide open."""
    i, fi = cell_of(pressure, grid.pressure_start, grid.pressure_step, grid.effort.shape[0])
    j, fj = cell_of(speed, 0.0, grid.speed_step, grid.effort.shape[1])
    k, fk = cutoff_cell(grid, cutoff)
    effort, steam = value_at_node(grid.effort, i, fi, j, fj, k), value_at_node(grid.steam, i, fi, j, fj, k)
    effort += fk * (value_at_node(grid.effort, i, fi, j, fj, k + 1) - effort)
    steam += fk * (value_at_node(grid.steam, i, fi, j, fj, k + 1) - steam)
    return effort, steam


@compiled_inline
def logged_acceleration(
    line: Line,
    load: Load,
    engine: Engine,
    boiler: Boiler,
    at: StepConditions,
    driving: int,
    cutoff: float,
    speed: float,
) -> float:
    """Acceleration of the train as it is driven [m/s²]."""
    inertia = load.mass + at.contents + load.rotating
    if driving == FULL_EFFORT:
        forces = full_effort_forces(line, load, engine, at, 0.5 * speed * speed)
        return (forces.effort - forces.total_resistance) / inertia
    resistance = resisting_force(line, load, engine, at, speed)
    if driving == SHUT:
        return -resistance / inertia
    effort, _ = effort_by_cutoff(engine.grid, at.pressure, speed, cutoff)
    return ((1.0 - engine.friction_share) * effort - resistance) / inertia


@compiled_inline
def conditions_at(
    line: Line, boiler: Boiler, rows: LoggedRows, j: int, part: float, guess: int
) -> StepConditions:
    """Place, load and pressure a part of the way from one row to the next."""
    distance = rows.distance[j] + part * (rows.distance[j + 1] - rows.distance[j])
    pressure = rows.pressure[j] + part * (rows.pressure[j + 1] - rows.pressure[j])
    contents = rows.contents[j] + part * (rows.contents[j + 1] - rows.contents[j])
    i = step_at(line, distance, guess)
    return StepConditions(i, contents, pressure, allowed_steam(line, boiler, i, pressure), 0.0, Cells(0, 0))


@compiled_inline
def follow_rows(
    line: Line,
    load: Load,
    engine: Engine,
    boiler: Boiler,
    rows: LoggedRows,
    first_speed: Floats,
    speed: Floats,
    covered: Floats,
) -> None:
    """Write speed, and distance covered since the stretch began, at each row of a stretch and at its end."""
    place = 0
    v, x = 0.0, 0.0
    for j in range(len(rows.time) - 1):
        if rows.stretch[j] < 0:
            continue
        if j == 0 or rows.stretch[j - 1] != rows.stretch[j]:
            v, x = first_speed[rows.stretch[j]], 0.0
            speed[j], covered[j] = v, x
        dt = rows.time[j + 1] - rows.time[j]
        count = max(math.ceil(dt / LONGEST_STEP), 1)
        h = dt / count
        for k in range(count):
            at = conditions_at(line, boiler, rows, j, k / count, place)
            place = at.i
            rate = logged_acceleration(line, load, engine, boiler, at, rows.driving[j], rows.cutoff[j], v)
            middle = max(v + 0.5 * h * rate, MIN_SPEED)
            at = conditions_at(line, boiler, rows, j, (k + 0.5) / count, place)
            rate = logged_acceleration(
                line, load, engine, boiler, at, rows.driving[j], rows.cutoff[j], middle
            )
            after = max(v + h * rate, MIN_SPEED)
            x += 0.5 * h * (v + after)
            v = after
        speed[j + 1], covered[j + 1] = v, x


@compiled_inline
def steam_of_rows(
    line: Line,
    load: Load,
    engine: Engine,
    boiler: Boiler,
    rows: LoggedRows,
    logged_speed: Floats,
    steam: Floats,
) -> None:
    """Write the steam to the cylinders from each row to the next, at the speed of the log [kg]; 0 where unknown."""
    place = 0
    for j in range(len(rows.time) - 1):
        dt = rows.time[j + 1] - rows.time[j]
        v = 0.5 * (logged_speed[j] + logged_speed[j + 1])
        at = conditions_at(line, boiler, rows, j, 0.5, place)
        place = at.i
        rate = 0.0
        if rows.driving[j] == SHUT and v > MIN_SPEED:
            rate = engine.drifting_steam
        elif rows.driving[j] == BY_CUTOFF:
            _, rate = effort_by_cutoff(engine.grid, at.pressure, v, rows.cutoff[j])
        elif rows.driving[j] == BY_MOTION:
            inertia = load.mass + at.contents + load.rotating
            pull = resisting_force(line, load, engine, at, v) + inertia * rows.acceleration[j]
            rate = engine.drifting_steam
            if pull > 0.0:
                rate = find_setting(
                    engine.grid, at.pressure, v, pull / (1.0 - engine.friction_share), at.guess
                ).steam
        elif rows.driving[j] == FULL_EFFORT:
            forces = full_effort_forces(line, load, engine, at, 0.5 * v * v)
            rate = find_setting(engine.grid, at.pressure, v, forces.effort, at.guess).steam
        steam[j] = rate * dt


def follow_log(
    line: Line, load: Load, engine: Engine, boiler: Boiler, rows: LoggedRows, first_speed: Floats
) -> tuple[Floats, Floats]:
    """Run a train as a log says, stretch by stretch.

    Args:
        line: The line in steps.
        load: Mass and resistance of the train.
        engine: Performance map, adhesion and friction.
        boiler: The boiler, for the steam of full effort.
        rows: Rows of the log.
        first_speed: Speed at the start of each stretch [m/s].

    Returns:
        Speed [m/s], and distance covered since the stretch began [m], at each row; NaN outside stretches.
    """
    speed, covered = np.full(len(rows.time), np.nan), np.full(len(rows.time), np.nan)
    follow_rows(line, load, engine, boiler, rows, first_speed, speed, covered)
    return speed, covered


def steam_of_log(
    line: Line, load: Load, engine: Engine, boiler: Boiler, rows: LoggedRows, logged_speed: Floats
) -> Floats:
    """Steam to the cylinders from each row to the next [kg], at the speed of the log; 0 where it is not known.

    Args:
        line: The line in steps.
        load: Mass and resistance of the train.
        engine: Performance map, adhesion and friction.
        boiler: The boiler, for the steam of full effort.
        rows: Rows of the log.
        logged_speed: Speed at each row [m/s].
    """
    steam = np.zeros(len(rows.time))
    steam_of_rows(line, load, engine, boiler, rows, logged_speed, steam)
    return steam
