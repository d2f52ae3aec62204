"""What the cylinder cycle says of an engine: many operating points at once, or one with its diagrams.

This is the door to `cylinder_cycle`: it checks what is asked, lays it out in arrays, and refuses results that do not
close or that left the range of the steam table.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from locosim.constants import ATMOSPHERE
from locosim.errors import NoSolution, OutOfRange
from locosim.physics.cylinder import coupling as ties
from locosim.physics.cylinder import solver as cc
from locosim.physics.cylinder.design_rules import FITTED_CONSTANTS
from locosim.physics.cylinder.results import CycleDiagram, CycleResults, StageDiagram, StageResult
from locosim.physics.cylinder.revolution import (
    CycleConstants,
    Cylinder,
    constants_from_row,
    cylinder_geometry,
)
from locosim.physics.cylinder.valve_gear import link_amplitude
from locosim.physics.steam.property_table import (
    ENERGY_STEP,
    MAX_TABLE_DENSITY,
    MIN_TABLE_DENSITY,
    WET_NODES,
    steam_table,
)
from locosim.physics.types import Floats

STEPS = 360  # crank steps in a revolution; twice as many change the mean pressure by less than 0.3 %
# Driver speeds below which the walls take so much in a step that more steps are made [1/s], and how many times as many.
SLOW_SPEED_STEPS = ((0.8, 2), (0.3, 4))
# Steps more than asked for, and revolutions at most, of the first and each further attempt at a point.
ATTEMPTS = (
    (0, cc.MAX_REVOLUTIONS),
    *((extra_steps, cc.MAX_REVOLUTIONS_RETRY) for extra_steps in (40, 140, 360)),
)
MAX_RESIDUAL = 1.0e-6  # mass and heat of a revolution close to this share of what went through
ACCEPTED_RESIDUAL = 1.0e-4  # what is let pass, and marked, of points near no load that vary from turn to turn


def cycle_grid(
    *,
    cylinders: Sequence[Cylinder],
    cranks: Sequence[Sequence[float]],
    speeds: ArrayLike,
    cutoffs: Sequence[ArrayLike],
    passage_areas: ArrayLike,
    boiler_pressures: ArrayLike,
    boiler_enthalpies: ArrayLike,
    nozzle_area: float,
    outside_pressure: float = ATMOSPHERE,
    constants: CycleConstants = FITTED_CONSTANTS,
    steps: int = STEPS,
) -> CycleResults:
    """Steady running at many operating points, on all cores.

    Arrays are broadcast against each other; results have the shape that comes out.

    Args:
        cylinders: One set of cylinders, or the high- and the low-pressure set.
        cranks: For each set, the crank angle of each cylinder behind the first of all [rad].
        speeds: Speed of the driving wheels [1/s].
        cutoffs: For each set, the cutoff as a fraction of the stroke, mean of both ends [1].
        passage_areas: Flow area from boiler to chest, throttle included (`engine_practice`) [m2].
        boiler_pressures: Absolute pressure in the boiler [Pa].
        boiler_enthalpies: Specific enthalpy of the steam as it leaves the superheater [J/kg].
        nozzle_area: Flow area of the blast nozzle for the exhaust of all these cylinders [m2].
        outside_pressure: Absolute pressure outside [Pa].
        constants: The cycle's constants.
        steps: Crank steps in a revolution, even; more are made at slow speeds [1].

    Returns:
        Power, steam and the rest at each point.

    Raises:
        OutOfRange: A point that cannot be set, or whose steam leaves the range of the table.
    """
    points, terms, shape = _operating_points(
        cylinders=cylinders, speeds=speeds, cutoffs=cutoffs, passage_areas=passage_areas,
        boiler_pressures=boiler_pressures, boiler_enthalpies=boiler_enthalpies, nozzle_area=nozzle_area,
        outside_pressure=outside_pressure,
    )  # fmt: skip
    engine = np.zeros((len(points), ties.ENGINE_SIZE))
    stages = np.zeros((len(points), len(cylinders), ties.STAGE_SIZE))
    times = np.array([_step_multiplier(float(speed)) for speed in points[:, 0]])
    for many in np.unique(times):
        left = np.flatnonzero(times == many)
        for extra_steps, revolutions in ATTEMPTS:
            if left.size == 0:
                break
            some_engine, some_stages = engine[left], stages[left]
            cc.converge_points(
                np.array(cylinders, dtype=float), np.array(constants, dtype=float), points[left], terms[left],
                _crank_table(cranks), int(many) * steps + extra_steps, revolutions, some_engine, some_stages, *steam_table(),
            )  # fmt: skip
            engine[left], stages[left] = some_engine, some_stages
            left = left[_needs_retry(some_engine)]
    return _results(cylinders, engine, stages, shape)


def cycle_diagram(
    *,
    cylinders: Sequence[Cylinder],
    cranks: Sequence[Sequence[float]],
    speed: float,
    cutoffs: Sequence[float],
    passage_area: float,
    boiler_pressure: float,
    boiler_enthalpy: float,
    nozzle_area: float,
    outside_pressure: float = ATMOSPHERE,
    constants: CycleConstants = FITTED_CONSTANTS,
    steps: int = STEPS,
) -> CycleDiagram:
    """Steady running at one operating point, with indicator diagrams and crank torque.

    Args:
        cylinders: One set of cylinders, or the high- and the low-pressure set.
        cranks: For each set, the crank angle of each cylinder behind the first of all [rad].
        speed: Speed of the driving wheels [1/s].
        cutoffs: For each set, the cutoff as a fraction of the stroke, mean of both ends [1].
        passage_area: Flow area from boiler to chest, throttle included (`engine_practice`) [m2].
        boiler_pressure: Absolute pressure in the boiler [Pa].
        boiler_enthalpy: Specific enthalpy of the steam as it leaves the superheater [J/kg].
        nozzle_area: Flow area of the blast nozzle for the exhaust of all these cylinders [m2].
        outside_pressure: Absolute pressure outside [Pa].
        constants: The cycle's constants.
        steps: Crank steps in a revolution, even; more are made at slow speeds [1].

    Returns:
        The figures and the diagrams.

    Raises:
        OutOfRange: A point that cannot be set, or whose steam leaves the range of the table.
    """
    points, terms, _ = _operating_points(
        cylinders=cylinders, speeds=speed, cutoffs=cutoffs, passage_areas=passage_area,
        boiler_pressures=boiler_pressure, boiler_enthalpies=boiler_enthalpy, nozzle_area=nozzle_area,
        outside_pressure=outside_pressure,
    )  # fmt: skip
    engine = np.zeros((1, ties.ENGINE_SIZE))
    stages = np.zeros((1, len(cylinders), ties.STAGE_SIZE))
    table = _crank_table(cranks)
    for extra_steps, revolutions in ATTEMPTS:
        made = _step_multiplier(speed) * steps + extra_steps
        pressures = np.zeros((len(cylinders), 2, made + 1))
        cc.converge_point(
            np.array(cylinders, dtype=float), np.array(constants, dtype=float), points[0], terms[0], table,
            revolutions, engine[0], stages[0], pressures, *steam_table(),
        )  # fmt: skip
        if not _needs_retry(engine)[0]:
            break
    stage_diagrams = []
    angle = np.linspace(0.0, 2.0 * math.pi, made + 1)
    for s, cylinder in enumerate(cylinders):
        shape = cylinder_geometry(cylinder, constants_from_row(np.array(constants, dtype=float)), made)
        stage_diagrams.append(
            StageDiagram(
                angle=angle,
                volume_front=shape[0],
                volume_back=shape[1],
                pressure_front=pressures[s, 0],
                pressure_back=pressures[s, 1],
                torque=cc.crank_torque(cylinder, pressures[s], table[s], outside_pressure),
            )
        )
    return CycleDiagram(
        point=_results(cylinders, engine, stages, (1,)),
        stages=tuple(stage_diagrams),
        torque_angle=0.5 * (angle[1:] + angle[:-1]),
        torque=np.sum([stage.torque for stage in stage_diagrams], axis=0),
    )


def _step_multiplier(speed: float) -> int:
    """How many times as many steps a driver speed [1/s] wants."""
    return max((many for below, many in SLOW_SPEED_STEPS if speed < below), default=1)


def _operating_points(
    *,
    cylinders: Sequence[Cylinder],
    speeds: ArrayLike,
    cutoffs: Sequence[ArrayLike],
    passage_areas: ArrayLike,
    boiler_pressures: ArrayLike,
    boiler_enthalpies: ArrayLike,
    nozzle_area: float,
    outside_pressure: float,
) -> tuple[Floats, Floats, tuple[int, ...]]:
    if len(cylinders) not in (1, 2) or len(cutoffs) != len(cylinders):
        raise OutOfRange(
            f"found {len(cylinders)} sets of cylinders and {len(cutoffs)} cutoffs; write one of each, "
            "or two for a two-expansion engine"
        )
    columns: list[NDArray[np.float64]] = [
        np.asarray(column, dtype=float)
        for column in (
            speeds, passage_areas, boiler_pressures, boiler_enthalpies, outside_pressure, nozzle_area, *cutoffs
        )
    ]  # fmt: skip
    broadcast = np.broadcast_arrays(*columns)
    for name, column in zip(("speed", "passage area", "boiler pressure"), broadcast, strict=False):
        if not np.all(column > 0.0):
            raise OutOfRange(f"{name} must be above 0, found {float(np.min(column)):g}")
    if np.any(broadcast[2] <= 1.02 * outside_pressure):
        raise OutOfRange(
            f"boiler pressure must be above the outside's {outside_pressure:g} Pa absolute by 2 % at least, "
            f"found {float(np.min(broadcast[2])):g}"
        )
    points = np.stack([column.ravel() for column in broadcast[: ties.POINT_SIZE]], axis=1)
    terms = np.empty((len(points), len(cylinders)))
    for s, cylinder in enumerate(cylinders):
        for k, cutoff in enumerate(broadcast[ties.POINT_SIZE + s].ravel()):
            terms[k, s] = link_amplitude(cutoff=float(cutoff), lap=cylinder.lap, lead=cylinder.lead)
    return np.ascontiguousarray(points), terms, broadcast[0].shape


def _crank_table(cranks: Sequence[Sequence[float]]) -> Floats:
    table = np.full((len(cranks), max(len(row) for row in cranks)), np.nan)
    for s, row in enumerate(cranks):
        table[s, : len(row)] = row
    return table


def _converged(engine: Floats) -> NDArray[np.bool_]:
    """Points whose revolution closes."""
    found: NDArray[np.bool_] = (
        np.max(np.abs(engine[:, [ties.MASS_RESIDUAL, ties.HEAT_RESIDUAL]]), axis=1) < MAX_RESIDUAL
    )
    return found


def _needs_retry(engine: Floats) -> NDArray[np.bool_]:
    """Points that give power and do not settle.

    Such a point has caught the step at a corner, and another step does not; or it lies near no load and only takes
    its time.
    """
    found: NDArray[np.bool_] = ~_converged(engine) & (engine[:, ties.POWER] > 0.0)
    return found


def _results(
    cylinders: Sequence[Cylinder], engine: Floats, stages: Floats, shape: tuple[int, ...]
) -> CycleResults:
    powered = engine[engine[:, ties.POWER] > 0.0]
    if np.any(powered[:, ties.CYCLE_WETTEST] < -WET_NODES * ENERGY_STEP):
        raise NoSolution(
            "steam in the cylinder is wetter than the steam table holds", "raise speed or pressure"
        )
    least, most = (
        np.min(powered[:, ties.CYCLE_MIN_DENSITY], initial=1.0),
        np.max(powered[:, ties.CYCLE_MAX_DENSITY], initial=1.0),
    )
    if most > MAX_TABLE_DENSITY or least < MIN_TABLE_DENSITY:
        raise NoSolution(
            f"density in the cylinder leaves the steam table ({MIN_TABLE_DENSITY:g} to {MAX_TABLE_DENSITY:g} kg/m3): "
            f"found {least:.3g} to {most:.3g}",
            "give more clearance, or a longer cutoff",
        )
    worst = float(np.max(np.abs(powered[:, [ties.MASS_RESIDUAL, ties.HEAT_RESIDUAL]]), initial=0.0))
    if not worst < ACCEPTED_RESIDUAL:
        raise NoSolution(
            f"a revolution of the cylinder cycle does not close, {worst:.1e} of what went through is missing",
            "look at clearance, ports and laps of the engine, or write method = 'handbook'",
        )

    def column(values: Floats) -> Floats:
        return np.ascontiguousarray(values).reshape(shape)

    results = []
    for s, cylinder in enumerate(cylinders):
        row = stages[:, s]
        swept = 0.25 * math.pi * (2.0 * cylinder.bore**2 - cylinder.rod_diameter**2) * cylinder.stroke
        results.append(
            StageResult(
                chest_pressure=column(row[:, ties.CHEST_PRESSURE]),
                chest_enthalpy=column(row[:, ties.CHEST_ENTHALPY]),
                back_pressure=column(row[:, ties.BACK_PRESSURE]),
                mean_effective_pressure=column((row[:, ties.WORK_FRONT] + row[:, ties.WORK_BACK]) / swept),
                work_front=column(row[:, ties.WORK_FRONT]),
                work_back=column(row[:, ties.WORK_BACK]),
                wall_condensation_share=column(row[:, ties.WALL_CONDENSATION_SHARE]),
            )
        )
    return CycleResults(
        power=column(engine[:, ties.POWER]),
        steam=column(engine[:, ties.STEAM]),
        exhaust_enthalpy=column(engine[:, ties.MEAN_EXHAUST_ENTHALPY]),
        peak_torque_ratio=column(engine[:, ties.PEAK_TORQUE_RATIO]),
        stages=tuple(results),
        mass_residual=column(engine[:, ties.MASS_RESIDUAL]),
        heat_residual=column(engine[:, ties.HEAT_RESIDUAL]),
        converged=_converged(engine).reshape(shape),
    )
