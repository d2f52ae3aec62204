"""Tables of full effort, resistance and fuel over speed, for steps of a line that are alike."""

from __future__ import annotations

from locosim.compiled import compiled_inline
from locosim.constants import GRAVITY
from locosim.engine.map.interpolation import Cells, cell_near, find_setting
from locosim.journey.kernel.arrays import Boiler, Engine, Line, Load, StepConditions
from locosim.journey.kernel.crew import allowed_steam
from locosim.journey.kernel.fire import firing_for_steam
from locosim.journey.kernel.tractive_step import full_effort_forces, resisting_force
from locosim.physics.types import Floats


@compiled_inline
def shut_firing(engine: Engine, boiler: Boiler) -> float:
    """Firing rate with the throttle shut [kg/s]: drifting steam, auxiliaries and blower."""
    return firing_for_steam(boiler, engine.drifting_steam + boiler.auxiliary_steam + boiler.blower_steam)


@compiled_inline
def fill_effort_tables(
    line: Line,
    load: Load,
    engine: Engine,
    boiler: Boiler,
    i: int,
    contents: float,
    speed_step: float,
    resistance: Floats,
    effort: Floats,
    fuel: Floats,
) -> None:
    """Fill the tables of one kind of step, with steady boiler pressure.

    Args:
        line: The line.
        load: The train.
        engine: The engine.
        boiler: The boiler, with steady pressure.
        i: A step of this kind.
        contents: Water and fuel carried [kg].
        speed_step: Of the speeds, from rest [m/s].
        resistance: Written: resistance without effort, grade and curve, shape (m,) [N].
        effort: Written: full effort of engine and helpers, less the friction of the thrust, shape (m,) [N].
        fuel: Written: fuel at even shares of full effort, from hardly any steam to full, shape (m, shares) [kg/s].
    """
    pressure = boiler.working_pressure
    most = allowed_steam(line, boiler, i, pressure)
    track = line.curve[i] + line.gravity[i] + contents * GRAVITY * line.grade[i]
    last = fuel.shape[1] - 1
    shut = shut_firing(engine, boiler)
    grid, cell = engine.grid, 0
    for k in range(len(effort)):
        speed = k * speed_step
        cell, _ = cell_near(speed, 0.0, grid.speed_step, grid.effort.shape[1], cell)
        at = StepConditions(i, contents, pressure, most, 0.0, Cells(0, cell))
        forces = full_effort_forces(line, load, engine, at, 0.5 * speed * speed)
        resistance[k] = resisting_force(line, load, engine, at, speed) - track
        effort[k] = forces.effort + forces.helper_effort - forces.thrust_friction
        rate = shut
        for j in range(1, last + 1):
            steam = find_setting(grid, pressure, speed, forces.effort * j / last, at.guess).steam
            rate = firing_for_steam(boiler, steam + boiler.auxiliary_steam, rate)
            fuel[k, j] = rate
        # Steam does not fall to that of a shut throttle as the effort falls to none.
        fuel[k, 0] = max(2.0 * fuel[k, 1] - fuel[k, 2], shut)
