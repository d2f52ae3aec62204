"""Operating points and diagrams of an engine by the cylinder cycle."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial

import numpy as np

from locosim.constants import ATMOSPHERE
from locosim.engine.cylinders.cylinder_groups import CylinderGroup
from locosim.engine.cylinders.layout import CycleLayout
from locosim.errors import Fault, NoSolution, OutOfRange
from locosim.frozen import frozen
from locosim.physics.cylinder import design_rules
from locosim.physics.cylinder.cycle import STEPS, CyclePoints, cycle_diagram, cycle_grid
from locosim.physics.cylinder.cycle_results import CycleDiagram, CycleResults
from locosim.physics.types import Floats

# Steam rate and steam temperature depend on each other; after the second iteration the error is some 0.5 K.
TEMPERATURE_ITERATIONS = 3
COARSE_STEPS = 120  # crank steps where only the steam temperature is needed


@frozen(eq=False)
class OperatingPoints:
    """The engine at several operating points; all arrays have the shape of the points.

    Attributes:
        effort: Indicated tractive effort at the rim [N].
        steam: Steam to the cylinders [kg/s].
        back_pressure: In the exhaust passage above atmosphere, of the set that exhausts to the nozzle [Pa].
        chest_pressure: Absolute pressure in the steam chest of the first group [Pa].
        steam_temperature: Steam temperature leaving the boiler [K].
        mean_pressure: Mean effective pressure of the first group's first stage [Pa].
        wall_condensation_share: Steam condensed on its walls over steam admitted [1].
        effort_by_unit: Indicated tractive effort of each engine unit, shape (units, ...) [N].
    """

    effort: Floats
    steam: Floats
    back_pressure: Floats
    chest_pressure: Floats
    steam_temperature: Floats
    mean_pressure: Floats
    wall_condensation_share: Floats
    effort_by_unit: Floats
    stage_work_shares: Floats
    receiver_pressure: Floats | None


def operating_points(
    engine: CycleLayout,
    *,
    speeds: Floats | float,
    cutoffs: Floats | float,
    pressures: Floats | float,
    throttle: Floats | float = 1.0,
    temperatures: Floats | None = None,
    steps: int = STEPS,
    omit_unclosed: bool = False,
) -> OperatingPoints:
    """Compute the engine at operating points; arrays are broadcast against each other.

    Args:
        engine: The engine laid out.
        speeds: Train speeds, above 0 [m/s].
        cutoffs: Cutoffs as the lever is set [1].
        pressures: Absolute boiler pressures [Pa].
        throttle: Throttle openings, above 0 to 1 [1].
        temperatures: Steam temperature, of the broadcast shape; None to find it from the steam rate [K].
        steps: Crank steps per revolution.
        omit_unclosed: Return NaN too where a revolution does not close, rather than refuse the engine.

    Returns:
        The engine at each point; NaN where a set of cylinders gives no power and the cycle does not converge.

    Raises:
        OutOfRange: A throttle opening outside its range, or steam outside the range of the steam table.
    """
    speed, cutoff, pressure, opening = np.broadcast_arrays(
        *(np.asarray(values, dtype=float) for values in (speeds, cutoffs, pressures, throttle))
    )
    at = (speed, cutoff, pressure)
    if temperatures is None:
        temperatures = engine.steam_temperature(np.full(speed.shape, engine.design_steam_rate))
        if engine.locomotive.boiler.superheater is not None:
            for _ in range(TEMPERATURE_ITERATIONS - 1):
                found = _points_at(
                    engine, at, opening, temperatures, COARSE_STEPS, omit_unclosed=omit_unclosed
                )
                temperatures = engine.steam_temperature(np.nan_to_num(found.steam))
    return _points_at(engine, at, opening, temperatures, steps, omit_unclosed=omit_unclosed)


def _points_at(
    engine: CycleLayout,
    at: tuple[Floats, Floats, Floats],
    throttle: Floats,
    temperature: Floats,
    steps: int,
    *,
    omit_unclosed: bool,
) -> OperatingPoints:
    """The engine at points of one shape with known steam temperature: speed, cutoff, absolute pressure."""
    speed, cutoff, pressure = at
    enthalpy = engine.enthalpy(pressure, temperature)
    results = [
        cycle_grid(
            group.cycle_engine(engine.constants),
            CyclePoints(
                speeds=speed / (math.pi * group.driver_diameter),
                cutoffs=group.cutoffs(cutoff),
                passage_areas=throttled_area(engine, group, throttle),
                boiler_pressures=pressure,
                boiler_enthalpies=enthalpy,
            ),
            steps=steps,
            omit_unclosed=omit_unclosed,
        )
        for group in engine.groups
    ]
    return _combined(engine, results, speed, temperature)


def throttled_area(engine: CycleLayout, group: CylinderGroup, throttle: Floats | float) -> Floats:
    """Flow area from boiler to steam chest at throttle openings, of their shape [m²].

    Args:
        engine: The engine laid out.
        group: One of its groups of cylinders.
        throttle: Throttle openings, above 0 to 1 [1].

    Raises:
        OutOfRange: An opening outside that range.
    """
    openings = np.asarray(throttle, dtype=float)
    wrong = openings[~((openings > 0.0) & (openings <= 1.0))]
    if wrong.size:
        fault = Fault(
            "throttle",
            "must be above 0 and at most 1 (100 %), found {found}",
            "",
            {"found": float(wrong.flat[0])},
        )
        raise OutOfRange.by([fault])
    return np.asarray(_passage_area(group.passage, openings, engine.throttle_area_ratio))


@partial(np.vectorize, otypes=[float])
def _passage_area(passage: float, opening: float, throttle_area_ratio: float) -> float:
    """Flow area [m²] at one throttle opening; that of the passage where it is wide open."""
    if opening == 1.0:
        return passage
    return design_rules.throttled_passage_area(
        passage=passage, throttle=opening, throttle_area_ratio=throttle_area_ratio
    )


def _combined(
    engine: CycleLayout, results: Sequence[CycleResults], speed: Floats, temperature: Floats
) -> OperatingPoints:
    """Sum over the groups; NaN where a group gives no power and its cycle does not converge."""
    units = np.zeros((len(engine.locomotive.engine_units), *speed.shape))
    known = np.where(
        np.any([~found.converged & ~(found.power > 0.0) for found in results], axis=0), np.nan, 1.0
    )
    for group, found in zip(engine.groups, results, strict=True):
        if len(group.stages) == 2:
            works = [
                c.number * (s.work_front + s.work_back)
                for c, s in zip(group.stages, found.stages, strict=True)
            ]
            both = works[0] + works[1]
            for unit, work in zip(group.units, works, strict=True):
                units[unit] += found.power / speed * work / both
        else:
            for unit in group.units:
                units[unit] += found.power / speed
    first, last = results[0].stages[0], results[0].stages[-1]
    return OperatingPoints(
        effort=known * units.sum(axis=0),
        steam=known
        * engine.steam_rate_factor
        * sum(
            (g.group_count * found.steam for g, found in zip(engine.groups, results, strict=True)),
            np.zeros(()),
        ),
        back_pressure=known * (last.back_pressure - ATMOSPHERE),
        chest_pressure=known * first.chest_pressure,
        steam_temperature=np.broadcast_to(temperature, speed.shape),
        mean_pressure=known * first.mean_effective_pressure,
        wall_condensation_share=known * first.wall_condensation_share,
        effort_by_unit=known * units,
        stage_work_shares=known * _stage_work_shares(engine.groups[0], results[0]),
        receiver_pressure=known * last.chest_pressure if len(results[0].stages) == 2 else None,
    )


def _stage_work_shares(group: CylinderGroup, found: CycleResults) -> Floats:
    """Share of each stage of a group in its work, a row for each stage [1]."""
    works = np.array(
        [
            cylinder.number * (stage.work_front + stage.work_back)
            for cylinder, stage in zip(group.stages, found.stages, strict=True)
        ]
    )
    total = works.sum(axis=0)
    return np.asarray(works / np.where(total != 0.0, total, np.nan))


def diagrams(
    engine: CycleLayout, *, speed: float, cutoff: float, pressure: float, throttle: float = 1.0
) -> tuple[OperatingPoints, tuple[CycleDiagram, ...]]:
    """Figures of an engine, and diagrams of each group of cylinders, at one operating point.

    Args:
        engine: The engine laid out.
        speed: Train speed, above 0 [m/s].
        cutoff: Cutoff as the lever is set [1].
        pressure: Absolute boiler pressure [Pa].
        throttle: Throttle opening, above 0 to 1 [1].

    Returns:
        The figures, arrays of shape (1,), and one diagram per group.

    Raises:
        OutOfRange: A throttle opening outside its range, or a point at which the cylinders give no power and the cycle
            does not converge.
    """
    points = operating_points(
        engine,
        speeds=np.array([speed]),
        cutoffs=np.array([cutoff]),
        pressures=np.array([pressure]),
        throttle=throttle,
    )
    if np.isnan(points.effort[0]):
        raise NoSolution(
            "the cylinders give no power at this point and the cycle does not converge",
            "use a longer cutoff, a lower speed or a wider throttle opening",
        )
    enthalpy = float(engine.enthalpy(np.array([pressure]), points.steam_temperature)[0])
    cycles = tuple(
        cycle_diagram(
            group.cycle_engine(engine.constants),
            CyclePoints(
                speeds=speed / (math.pi * group.driver_diameter),
                cutoffs=[float(c[0]) for c in group.cutoffs(np.array([cutoff]))],
                passage_areas=throttled_area(engine, group, throttle),
                boiler_pressures=pressure,
                boiler_enthalpies=enthalpy,
            ),
        )
        for group in engine.groups
    )
    return points, cycles
