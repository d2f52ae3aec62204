"""Cylinder cycle of an engine: results at many operating points, or at one with its diagrams.

This is the interface to `solver`. It checks the operating points, lays them out in arrays, and refuses results that do
not close or that leave the range of the steam table.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from locosim.constants import ATMOSPHERE
from locosim.errors import NoSolution, OutOfRange
from locosim.frozen import frozen
from locosim.physics.cylinder import coupling, solver
from locosim.physics.cylinder.cycle_results import CycleDiagram, CycleResults, StageDiagram, StageResult
from locosim.physics.cylinder.design_rules import FITTED_CONSTANTS
from locosim.physics.cylinder.poppet_gear import PoppetGear, poppet_motion
from locosim.physics.cylinder.revolution import CycleConstants, Cylinder
from locosim.physics.cylinder.valve_gear import ValveMotion, harmonic_motion
from locosim.physics.steam.property_table import (
    ENERGY_STEP,
    MAX_TABLE_DENSITY,
    MIN_TABLE_DENSITY,
    WET_NODES,
    steam_table,
)
from locosim.physics.types import Floats

STEPS = 360  # crank steps in a revolution; twice as many change the mean pressure by less than 0.3 %
# Driving-wheel speed [1/s] below which steps are multiplied, and by how much: the walls take much heat in a slow step.
SLOW_SPEED_STEPS = ((0.8, 2), (0.3, 4))
# Extra steps and maximum revolutions of the first attempt at a point and of each retry.
ATTEMPTS = (
    (0, solver.MAX_REVOLUTIONS),
    *((extra_steps, solver.MAX_REVOLUTIONS_RETRY) for extra_steps in (40, 140, 360)),
)
MAX_RESIDUAL = (
    1.0e-6  # residual of mass and heat over the throughput of a revolution, at which a point has converged
)
ACCEPTED_RESIDUAL = (
    1.0e-4  # accepted, and marked, at points near no load that vary from one revolution to the next
)


@frozen
class CycleEngine:
    """Cylinders that exhaust through one nozzle.

    Attributes:
        cylinders: One set of cylinders, or the high- and the low-pressure set.
        cranks: For each set, the crank angle of each cylinder behind the first of all [rad].
        nozzle_area: Flow area of the exhaust nozzle for all these cylinders [m2].
        outside_pressure: Absolute pressure outside [Pa].
        constants: General constants of the cycle.
        poppets: For each set, its poppet valves, or None for the sliding valve of the cylinder; empty if none has any.
    """

    cylinders: Sequence[Cylinder]
    cranks: Sequence[Sequence[float]]
    nozzle_area: float
    outside_pressure: float = ATMOSPHERE
    constants: CycleConstants = FITTED_CONSTANTS
    poppets: Sequence[PoppetGear | None] = ()


@frozen
class CyclePoints:
    """Operating points; arrays are broadcast against each other.

    Attributes:
        speeds: Driving-wheel speed [1/s].
        cutoffs: For each set of cylinders, the cutoff as a fraction of the stroke, mean of both ends [1].
        passage_areas: Flow area from boiler to steam chest, throttle included (`design_rules`) [m2].
        boiler_pressures: Absolute pressure in the boiler [Pa].
        boiler_enthalpies: Specific enthalpy of the steam as it leaves the superheater [J/kg].
    """

    speeds: ArrayLike
    cutoffs: Sequence[ArrayLike]
    passage_areas: ArrayLike
    boiler_pressures: ArrayLike
    boiler_enthalpies: ArrayLike


def cycle_grid(
    engine: CycleEngine, points: CyclePoints, *, steps: int = STEPS, omit_unclosed: bool = False
) -> CycleResults:
    """Steady running at many operating points, on all cores.

    Args:
        engine: The engine.
        points: The operating points.
        steps: Crank steps in a revolution, even; more are used at slow speeds [1].
        omit_unclosed: Return a point whose revolution does not close, or whose steam leaves the range of the table,
            as one without power that has not converged, rather than refuse it.

    Returns:
        Results at each point, of the shape to which the points broadcast.

    Raises:
        OutOfRange: A point that cannot be set, or whose steam leaves the range of the table.
        NoSolution: A revolution that does not close.
    """
    inputs, shape = _inputs(engine, points)
    count = len(inputs.point)
    results = np.zeros((count, coupling.ENGINE_SIZE))
    stages = np.zeros((count, len(engine.cylinders), coupling.STAGE_SIZE))
    multipliers = np.array([_step_multiplier(float(speed)) for speed in inputs.point[:, coupling.SPEED]])
    for multiplier in np.unique(multipliers):
        left = np.flatnonzero(multipliers == multiplier)
        for extra_steps, revolutions in ATTEMPTS:
            if left.size == 0:
                break
            some = inputs._replace(point=inputs.point[left], valve_motions=inputs.valve_motions[left])
            some_results, some_stages = results[left], stages[left]
            solver.converge_points(
                some,
                int(multiplier) * steps + extra_steps,
                revolutions,
                some_results,
                some_stages,
                steam_table(),
            )
            results[left], stages[left] = some_results, some_stages
            left = left[_needs_retry(some_results)]
    if omit_unclosed:
        results[~(_closes(results) & _in_table(results)), coupling.POWER] = 0.0
    return _results(engine.cylinders, results, stages, shape)


def cycle_diagram(engine: CycleEngine, point: CyclePoints, *, steps: int = STEPS) -> CycleDiagram:
    """Steady running at one operating point, with indicator diagrams and crank torque.

    Args:
        engine: The engine.
        point: The operating point, all its figures scalar.
        steps: Crank steps in a revolution, even; more are used at slow speeds [1].

    Returns:
        Results, arrays of one element, and diagrams.

    Raises:
        OutOfRange: A point that cannot be set, or whose steam leaves the range of the table.
    """
    inputs, _ = _inputs(engine, point)
    results = np.zeros((1, coupling.ENGINE_SIZE))
    stages = np.zeros((1, len(engine.cylinders), coupling.STAGE_SIZE))
    for extra_steps, revolutions in ATTEMPTS:
        total_steps = _step_multiplier(float(inputs.point[0, coupling.SPEED])) * steps + extra_steps
        room = solver.workspace(len(engine.cylinders), total_steps)
        solver.converge_some_points(inputs, revolutions, results, stages, room, steam_table())
        if not _needs_retry(results)[0]:
            break
    diagrams = tuple(_stage_diagram(room.fine, s) for s in range(len(engine.cylinders)))
    angle = diagrams[0].angle
    return CycleDiagram(
        point=_results(engine.cylinders, results, stages, (1,)),
        stages=diagrams,
        torque_angle=0.5 * (angle[1:] + angle[:-1]),
        torque=np.sum([diagram.torque for diagram in diagrams], axis=0),
    )


def _stage_diagram(room: solver.Diagrams, s: int) -> StageDiagram:
    return StageDiagram(
        angle=np.linspace(0.0, 2.0 * math.pi, room.torques.shape[1] + 1),
        volume_front=room.geometry[s, 0],
        volume_back=room.geometry[s, 1],
        pressure_front=room.pressures[s, 0],
        pressure_back=room.pressures[s, 1],
        torque=room.torques[s],
    )


def _step_multiplier(speed: float) -> int:
    """How many times as many steps a driving-wheel speed [1/s] needs."""
    return max((multiplier for below, multiplier in SLOW_SPEED_STEPS if speed < below), default=1)


def _inputs(engine: CycleEngine, points: CyclePoints) -> tuple[solver.CycleInputs, tuple[int, ...]]:
    """Arrays for the solver, and the shape of the points."""
    cylinders = engine.cylinders
    if len(cylinders) not in (1, 2) or len(points.cutoffs) != len(cylinders):
        raise OutOfRange(
            f"found {len(cylinders)} sets of cylinders and {len(points.cutoffs)} cutoffs; write one of each, "
            "or two for a compound engine"
        )
    given: list[ArrayLike] = [
        points.speeds,
        points.passage_areas,
        points.boiler_pressures,
        points.boiler_enthalpies,
    ]
    given += [engine.outside_pressure, engine.nozzle_area, *points.cutoffs]
    broadcast = np.broadcast_arrays(*(np.asarray(values, dtype=float) for values in given))
    for name, column in zip(("speed", "passage area", "boiler pressure"), broadcast, strict=False):
        if not np.all(column > 0.0):
            raise OutOfRange(f"{name} must be above 0, found {float(np.min(column)):g}")
    if np.any(broadcast[coupling.BOILER_PRESSURE] <= 1.02 * engine.outside_pressure):
        raise OutOfRange(
            f"boiler pressure must be at least 2 % above the outside pressure of {engine.outside_pressure:g} Pa "
            f"absolute, found {float(np.min(broadcast[coupling.BOILER_PRESSURE])):g} Pa"
        )
    rows = np.stack([column.ravel() for column in broadcast[: coupling.POINT_SIZE]], axis=1)
    motions = np.empty((len(rows), len(cylinders), len(ValveMotion._fields)))
    poppets = engine.poppets or (None,) * len(cylinders)
    for s, (cylinder, poppet) in enumerate(zip(cylinders, poppets, strict=True)):
        for k, cutoff in enumerate(broadcast[coupling.POINT_SIZE + s].ravel()):
            motions[k, s] = valve_motion(cylinder, poppet, cutoff=float(cutoff))
    inputs = solver.CycleInputs(
        cylinders=np.array(cylinders, dtype=float),
        constants=np.array(engine.constants, dtype=float),
        point=np.ascontiguousarray(rows),
        valve_motions=motions,
        cranks=_crank_table(engine.cranks),
    )
    return inputs, broadcast[0].shape


def valve_motion(cylinder: Cylinder, poppet: PoppetGear | None, *, cutoff: float) -> ValveMotion:
    """Motion of the valves of a cylinder at a cutoff.

    Args:
        cylinder: The cylinder, with its sliding valve.
        poppet: Poppet valves instead of it, if any.
        cutoff: Cutoff, mean of both ends, as a fraction of the stroke [1].

    Raises:
        OutOfRange: A cutoff that the gear cannot give.
    """
    if poppet is not None:
        return poppet_motion(poppet, cutoff=cutoff)
    return harmonic_motion(
        cutoff=cutoff,
        lap=cylinder.lap,
        lead=cylinder.lead,
        lead_rise=cylinder.lead_rise,
        travel=cylinder.travel,
    )


def _crank_table(cranks: Sequence[Sequence[float]]) -> Floats:
    """Crank angles by stage and cylinder; NaN where there is no cylinder."""
    table = np.full((len(cranks), max(len(row) for row in cranks)), np.nan)
    for s, row in enumerate(cranks):
        table[s, : len(row)] = row
    return table


def _converged(results: Floats) -> NDArray[np.bool_]:
    """Which points have converged."""
    found: NDArray[np.bool_] = (
        np.max(np.abs(results[:, [coupling.MASS_RESIDUAL, coupling.HEAT_RESIDUAL]]), axis=1) < MAX_RESIDUAL
    )
    return found


def _needs_retry(results: Floats) -> NDArray[np.bool_]:
    """Which points give power and have not converged.

    At such a point a valve event falls badly on the crank steps, and other steps avoid that; or the point lies near no
    load and converges slowly.
    """
    found: NDArray[np.bool_] = ~_converged(results) & (results[:, coupling.POWER] > 0.0)
    return found


def _closes(results: Floats) -> NDArray[np.bool_]:
    """Which points close well enough to be used."""
    residuals = results[:, [coupling.MASS_RESIDUAL, coupling.HEAT_RESIDUAL]]
    found: NDArray[np.bool_] = np.max(np.abs(residuals), axis=1) < ACCEPTED_RESIDUAL
    return found


def _too_wet(results: Floats) -> NDArray[np.bool_]:
    """Which points have steam wetter than the table covers."""
    found: NDArray[np.bool_] = results[:, coupling.CYCLE_WETTEST] < -WET_NODES * ENERGY_STEP
    return found


def _in_table(results: Floats) -> NDArray[np.bool_]:
    """Which points have all steam in the range of the table."""
    found: NDArray[np.bool_] = (
        ~_too_wet(results)
        & (results[:, coupling.CYCLE_MAX_DENSITY] <= MAX_TABLE_DENSITY)
        & (results[:, coupling.CYCLE_MIN_DENSITY] >= MIN_TABLE_DENSITY)
    )
    return found


def _check_results(results: Floats) -> None:
    """Refuse points that give power and left the steam table or do not close."""
    powered = results[results[:, coupling.POWER] > 0.0]
    if np.any(_too_wet(powered)):
        raise NoSolution(
            "steam in the cylinder is wetter than the steam table covers", "raise the speed or the pressure"
        )
    if not np.all(_in_table(powered)):
        min_density = np.min(powered[:, coupling.CYCLE_MIN_DENSITY])
        max_density = np.max(powered[:, coupling.CYCLE_MAX_DENSITY])
        raise NoSolution(
            "density in the cylinder is outside the steam table "
            f"({MIN_TABLE_DENSITY:g} to {MAX_TABLE_DENSITY:g} kg/m3): "
            f"found {min_density:.3g} to {max_density:.3g}",
            "write more clearance or a longer cutoff",
        )
    if not np.all(_closes(powered)):
        residuals = powered[:, [coupling.MASS_RESIDUAL, coupling.HEAT_RESIDUAL]]
        worst = float(np.max(np.abs(residuals)))
        raise NoSolution(
            f"a revolution of the cylinder cycle does not close; {worst:.1e} of its throughput is missing",
            "check clearance, ports and laps of the engine, or write method = 'handbook'",
        )


def _results(
    cylinders: Sequence[Cylinder], results: Floats, stages: Floats, shape: tuple[int, ...]
) -> CycleResults:
    _check_results(results)

    def column(values: Floats) -> Floats:
        return np.ascontiguousarray(values).reshape(shape)

    def stage_result(cylinder: Cylinder, rows: Floats) -> StageResult:
        swept = 0.25 * math.pi * (2.0 * cylinder.bore**2 - cylinder.rod_diameter**2) * cylinder.stroke
        work_front, work_back = rows[:, coupling.WORK_FRONT], rows[:, coupling.WORK_BACK]
        return StageResult(
            chest_pressure=column(rows[:, coupling.CHEST_PRESSURE]),
            chest_enthalpy=column(rows[:, coupling.CHEST_ENTHALPY]),
            back_pressure=column(rows[:, coupling.BACK_PRESSURE]),
            mean_effective_pressure=column((work_front + work_back) / swept),
            work_front=column(work_front),
            work_back=column(work_back),
            wall_condensation_share=column(rows[:, coupling.WALL_CONDENSATION_SHARE]),
        )

    return CycleResults(
        power=column(results[:, coupling.POWER]),
        steam=column(results[:, coupling.STEAM]),
        exhaust_enthalpy=column(results[:, coupling.MEAN_EXHAUST_ENTHALPY]),
        peak_torque_ratio=column(results[:, coupling.PEAK_TORQUE_RATIO]),
        stages=tuple(stage_result(cylinder, stages[:, s]) for s, cylinder in enumerate(cylinders)),
        mass_residual=column(results[:, coupling.MASS_RESIDUAL]),
        heat_residual=column(results[:, coupling.HEAT_RESIDUAL]),
        converged=_converged(results).reshape(shape),
    )
