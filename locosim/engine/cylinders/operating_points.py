"""The engine run by the cylinder cycle: pull, steam and pressures at operating points, and indicator diagrams."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from locosim.constants import ATMOSPHERE
from locosim.engine.cylinders.layout import CycleLayout, CylinderGroup
from locosim.errors import Fault, NoSolution, OutOfRange
from locosim.physics.cylinder import design_rules as engine_practice
from locosim.physics.cylinder.cycle import STEPS, CyclePoints, cycle_diagram, cycle_grid
from locosim.physics.cylinder.results import CycleDiagram, CycleResults
from locosim.physics.types import Floats

TEMPERATURE_ITERATIONS = (
    3  # steam and its temperature depend on each other: the second round misses some 0.5 K
)
COARSE_STEPS = 120  # crank steps where only the steam's temperature is wanted


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OperatingPoints:
    """The engine at some operating points, arrays of one shape.

    Attributes:
        effort: Indicated pull at the rim [N].
        steam: Steam to the cylinders [kg/s].
        back_pressure: In the exhaust passage above the air, of the set that exhausts to the nozzle [Pa].
        chest_pressure: Absolute pressure in the steam chest of the first group [Pa].
        steam_temperature: Of the steam as it leaves the boiler [K].
        mean_pressure: Mean effective pressure of the first group's first stage [Pa].
        wall_condensation_share: Steam condensed on its walls over steam admitted [1].
        effort_by_unit: Pull of each engine unit, one row each [N].
    """

    effort: Floats
    steam: Floats
    back_pressure: Floats
    chest_pressure: Floats
    steam_temperature: Floats
    mean_pressure: Floats
    wall_condensation_share: Floats
    effort_by_unit: Floats


def operating_points(
    engine: CycleLayout,
    *,
    speeds: Floats | float,
    cutoffs: Floats | float,
    pressures: Floats | float,
    throttle: float = 1.0,
    temperatures: Floats | None = None,
    steps: int = STEPS,
) -> OperatingPoints:
    """Run the engine at operating points; arrays are broadcast against each other.

    Args:
        engine: The engine.
        speeds: Train speeds, above 0 [m/s].
        cutoffs: Cutoffs as the lever is set [1].
        pressures: Absolute boiler pressures [Pa].
        throttle: Opening of the throttle, above 0 to 1 [1].
        temperatures: Temperature of the steam; left out, found from the steam taken [K].
        steps: Crank steps in a revolution.

    Returns:
        The engine at each point; not a number where a set of cylinders gives no power and does not settle.

    Raises:
        OutOfRange: A point that cannot be set, or whose steam leaves the range of the steam table.
    """
    speed, cutoff, pressure = np.broadcast_arrays(
        *(np.asarray(values, dtype=float) for values in (speeds, cutoffs, pressures))
    )
    if temperatures is None:
        taken = np.full(speed.shape, engine.design_steam_rate)
        temperatures = engine.steam_temperature(taken)
        if engine.locomotive.boiler.superheater is not None:
            for _ in range(TEMPERATURE_ITERATIONS - 1):
                found = _run(engine, speed, cutoff, pressure, throttle, temperatures, COARSE_STEPS)
                temperatures = engine.steam_temperature(np.nan_to_num(found.steam))
    return _run(engine, speed, cutoff, pressure, throttle, temperatures, steps)


def _run(
    engine: CycleLayout,
    speed: Floats,
    cutoff: Floats,
    pressure: Floats,
    throttle: float,
    temperature: Floats,
    steps: int,
) -> OperatingPoints:
    enthalpy = engine.enthalpy(pressure, temperature)
    results = [
        cycle_grid(
            group.cycle_engine(engine.constants),
            CyclePoints(
                speeds=speed / (math.pi * group.driver_diameter),
                cutoffs=group.cutoffs(cutoff),
                passage_areas=throttled_area(group, throttle),
                boiler_pressures=pressure,
                boiler_enthalpies=enthalpy,
            ),
            steps=steps,
        )
        for group in engine.groups
    ]
    return _combined(engine, results, speed, temperature)


def throttled_area(group: CylinderGroup, throttle: float) -> float:
    """Flow area from boiler to chest with the throttle open so far [m²].

    Raises:
        OutOfRange: An opening that is not above 0 and at most 1.
    """
    if not 0.0 < throttle <= 1.0:
        fault = Fault(
            "throttle", "must be above 0 and at most 1 (100 %), found {found}", "", {"found": throttle}
        )
        raise OutOfRange.by([fault])
    if throttle == 1.0:
        return group.passage
    return engine_practice.throttled_passage_area(passage=group.passage, throttle=throttle)


def _combined(
    engine: CycleLayout, results: Sequence[CycleResults], speed: Floats, temperature: Floats
) -> OperatingPoints:
    """Add the groups up; what does not settle where no power is given says nothing, and goes."""
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
    )


def diagrams(
    engine: CycleLayout, *, speed: float, cutoff: float, pressure: float, throttle: float = 1.0
) -> tuple[OperatingPoints, tuple[CycleDiagram, ...]]:
    """Figures and diagrams of each group of cylinders at one operating point.

    Args:
        engine: The engine.
        speed: Train speed, above 0 [m/s].
        cutoff: Cutoff as the lever is set [1].
        pressure: Absolute boiler pressure [Pa].
        throttle: Opening of the throttle, above 0 to 1 [1].

    Raises:
        OutOfRange: A point that cannot be set, or where the cylinders give no power and do not settle.
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
            "the cylinders give no power at this point and do not settle",
            "take a longer cutoff, a lower speed, or open the throttle further",
        )
    enthalpy = float(engine.enthalpy(np.array([pressure]), points.steam_temperature)[0])
    cycles = tuple(
        cycle_diagram(
            group.cycle_engine(engine.constants),
            CyclePoints(
                speeds=speed / (math.pi * group.driver_diameter),
                cutoffs=[float(c[0]) for c in group.cutoffs(np.array([cutoff]))],
                passage_areas=throttled_area(group, throttle),
                boiler_pressures=pressure,
                boiler_enthalpies=enthalpy,
            ),
        )
        for group in engine.groups
    )
    return points, cycles


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WheelTorque:
    """Pull at the rim of an engine unit over a turn of its wheels, gas forces alone.

    Attributes:
        units: Numbers from 1 of the engine units that pull like this, each by itself.
        angle: Crank angle of the unit's first cylinder past its front dead center [rad].
        torque: On the unit's wheels [N m].
        effort: At their rim [N].
    """

    units: tuple[int, ...]
    angle: Floats
    torque: Floats
    effort: Floats

    @property
    def peak_to_mean(self) -> float:
        """Greatest over mean pull [1]."""
        return float(self.effort.max() / self.effort.mean())


def torque_by_unit(
    groups: Sequence[CylinderGroup], cycles: Sequence[CycleDiagram]
) -> tuple[WheelTorque, ...]:
    """Pull of each engine unit over a turn; units that are alike together.

    All sets of cylinders on a unit turn its wheels together, each with its cranks. Units turn each by itself: the
    sets of a two-expansion engine are added up only where they drive the same wheels.

    Args:
        groups: Sets of cylinders that work alike.
        cycles: Diagrams of each of them at one operating point.
    """
    angle = cycles[0].torque_angle
    torques: dict[int, Floats] = {}
    radius: dict[int, float] = {}
    for group, cycle in zip(groups, cycles, strict=True):
        for unit, crank_offset, torque in _unit_torques(group, cycle):
            here = np.interp(angle + crank_offset, cycle.torque_angle, torque, period=2.0 * math.pi)
            torques[unit] = torques.get(unit, np.zeros_like(angle)) + here
            radius[unit] = 0.5 * group.driver_diameter
    alike: dict[tuple[bytes, float], list[int]] = {}
    for unit in sorted(torques):
        alike.setdefault((torques[unit].tobytes(), radius[unit]), []).append(unit)
    return tuple(
        WheelTorque(
            units=tuple(unit + 1 for unit in units),
            angle=angle,
            torque=torques[units[0]],
            effort=torques[units[0]] / radius[units[0]],
        )
        for units in alike.values()
    )


def _unit_torques(group: CylinderGroup, cycle: CycleDiagram) -> list[tuple[int, float, Floats]]:
    """Each engine unit a group drives, how far its cranks are offset [rad], and its torque [N m]."""
    if len(group.stages) == 2:
        return [(unit, 0.0, stage.torque) for unit, stage in zip(group.units, cycle.stages, strict=True)]
    return [
        (unit, crank_offset, cycle.torque)
        for unit, crank_offset in zip(group.units, group.crank_offset, strict=True)
    ]


def peak_to_mean(engine: CycleLayout, cycles: Sequence[CycleDiagram]) -> float:
    """Greatest over mean pull at the rim in a turn, gas forces alone; of several engine units the greatest [1].

    All sets of cylinders on a unit turn its wheels together, each with its cranks.

    Args:
        engine: The engine.
        cycles: Diagrams of each of its groups at one operating point.
    """
    return max(turn.peak_to_mean for turn in torque_by_unit(engine.groups, cycles))
