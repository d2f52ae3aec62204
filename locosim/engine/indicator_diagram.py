"""Indicator diagram and wheel torque at one operating point."""

from __future__ import annotations

import math

import numpy as np

from locosim.engine.cutoff_table import ValveEvents, locomotive_valve_events
from locosim.engine.cylinders.cylinder_groups import CylinderGroup
from locosim.engine.cylinders.layout import CycleLayout
from locosim.engine.cylinders.operating_points import (
    OperatingPoints,
    diagrams,
    operating_points,
)
from locosim.engine.cylinders.speed_range import max_cycle_speed, min_cycle_speed
from locosim.engine.cylinders.starting import StartingEffort, starting_effort
from locosim.engine.cylinders.valve_events import events_of_ends
from locosim.engine.cylinders.wheel_torque import WheelTorque, torque_by_unit
from locosim.engine.map.performance_map import outside_map_error
from locosim.engine.performance import cycle_layout
from locosim.engine.plausibility import naming_implausible_inputs
from locosim.errors import Fault, OutOfRange
from locosim.frozen import frozen
from locosim.model import Assumptions, Locomotive
from locosim.physics.cylinder import valve_gear
from locosim.physics.cylinder.cycle_results import CycleDiagram, StageDiagram
from locosim.physics.cylinder.revolution import Cylinder
from locosim.physics.types import Floats

ENDS = ("front", "back")


@frozen(eq=False)
class IndicatorDiagram:
    """Indicator diagrams and wheel torque of an engine at one operating point.

    Attributes:
        locomotive: The engine.
        speed: Train speed [m/s].
        cutoff: Fraction of the stroke [1].
        throttle: Throttle opening [1].
        pressure: Absolute boiler pressure [Pa].
        figures: Tractive effort, steam and other figures, arrays of shape (1,).
        groups: Groups of cylinders that work alike.
        cycles: Diagrams of each group.
        events: Valve events of the first unit, mean of both ends; None where the gear gives no cutoff so short.
        starting: Tractive effort at starting, at working pressure.
        notes: What was set by rule because the engine file does not give it.
        assumptions: Assumed figures it was computed with.
    """

    locomotive: Locomotive
    speed: float
    cutoff: float
    throttle: float
    pressure: float
    figures: OperatingPoints
    groups: tuple[CylinderGroup, ...]
    cycles: tuple[CycleDiagram, ...]
    events: ValveEvents | None
    starting: StartingEffort
    notes: tuple[str, ...]
    assumptions: Assumptions

    @property
    def effort(self) -> float:
        """Indicated tractive effort at the rim [N]."""
        return float(self.figures.effort[0])

    @property
    def steam(self) -> float:
        """Steam to the cylinders [kg/s]."""
        return float(self.figures.steam[0])


def indicator_diagram(
    locomotive: Locomotive,
    *,
    speed: float,
    cutoff: float,
    throttle: float = 1.0,
    pressure_gauge: float | None = None,
    assumptions: Assumptions = Assumptions(),
) -> IndicatorDiagram:
    """Compute indicator diagrams and wheel torque at one operating point.

    Args:
        locomotive: The engine.
        speed: Train speed [m/s].
        cutoff: Fraction of the stroke [1].
        throttle: Throttle opening, above 0 to 1 [1].
        pressure_gauge: Boiler gauge pressure; None for working pressure [Pa].
        assumptions: Assumed figures.

    Raises:
        OutOfRange: A cutoff the gear does not give, a speed the cycle does not cover, or a point at which the
            cylinders give no power and the cycle does not converge.
    """
    engine = cycle_layout(locomotive, assumptions)
    _check_speed(speed, locomotive)
    _check_cutoff(cutoff, engine.min_cutoff, engine.max_cutoff)
    working = locomotive.boiler.working_pressure_gauge
    gauge = working if pressure_gauge is None else pressure_gauge
    _check_pressure(gauge, working)
    pressure = locomotive.boiler.absolute_pressure + gauge - working
    with naming_implausible_inputs(locomotive):
        figures, cycles = diagrams(engine, speed=speed, cutoff=cutoff, pressure=pressure, throttle=throttle)
    return IndicatorDiagram(
        locomotive=locomotive,
        speed=speed,
        cutoff=cutoff,
        throttle=throttle,
        pressure=pressure,
        figures=figures,
        groups=engine.groups,
        cycles=cycles,
        events=locomotive_valve_events(locomotive, cutoff),
        starting=_starting(engine),
        notes=engine.notes,
        assumptions=assumptions,
    )


def _starting(engine: CycleLayout) -> StartingEffort:
    """Tractive effort of an engine at starting."""
    slow = operating_points(
        engine,
        speeds=np.array([min_cycle_speed(engine.locomotive)]),
        cutoffs=np.array([engine.max_cutoff]),
        pressures=np.array([engine.locomotive.boiler.absolute_pressure]),
    )
    return starting_effort(engine, float(slow.effort[0]))


def _check_speed(speed: float, locomotive: Locomotive) -> None:
    """Refuse a speed the cycle does not cover."""
    low, high = min_cycle_speed(locomotive), max_cycle_speed(locomotive)
    if not low <= speed:
        fault = Fault(
            "speed",
            "must be between {least}, a very slow revolution, and {most}, found {found}",
            "m/s",
            {"least": low, "most": high, "found": speed},
        )
        raise OutOfRange.by([fault])
    if not speed <= high * (1 + 1e-9):
        raise outside_map_error("speed", speed, 0.0, high)


def _check_pressure(gauge: float, working: float) -> None:
    """Refuse a gauge pressure far from working pressure."""
    if not 0.2 * working <= gauge <= 1.1 * working:
        fault = Fault(
            "pressure",
            "must be between 20 % and 110 % of the working gauge pressure of {working}, found {found}",
            "Pa",
            {"working": working, "found": gauge},
        )
        raise OutOfRange.by([fault])


def _check_cutoff(cutoff: float, low: float, high: float) -> None:
    """Refuse a cutoff the gear does not give; the ends are rounded inward, so that they are accepted."""
    if low - 1e-9 <= cutoff <= high + 1e-9:
        return
    first, last = math.ceil(1e4 * low - 1e-6) / 1e2, math.floor(1e4 * high + 1e-6) / 1e2
    fault = Fault(
        "cutoff",
        f"must be between {first:g} % and {last:g} % for this engine, found {{found}}"
        f"{'; write a percentage, as 30 %' if cutoff > 1.0 else ''}",
        figures={"found": f"{100.0 * cutoff:g} %"},
    )
    raise OutOfRange.by([fault])


def stroke_positions(cylinder: Cylinder, stage: StageDiagram, end: str) -> Floats:
    """Piston position from an end's own dead center, as a fraction of the stroke [1], shape (crank angles,).

    Args:
        cylinder: The cylinder.
        stage: Its diagrams.
        end: `front` or `back`.
    """
    volume = getattr(stage, f"volume_{end}")
    clear = cylinder.clearance * (volume.max() - volume.min())
    return np.asarray((volume - clear) / (volume.max() - volume.min()))


def pressures_by_stroke(
    cylinder: Cylinder, stage: StageDiagram, end: str, positions: Floats
) -> tuple[Floats, Floats]:
    """Pressure of one end on its working stroke and on its return stroke.

    Args:
        cylinder: The cylinder.
        stage: Its diagrams.
        end: `front` or `back`.
        positions: Fractions of the stroke from the end's own dead center, shape (n,) [1].

    Returns:
        Absolute pressures on the working and the return stroke, shape (n,) each [Pa].
    """
    position, pressure = stroke_positions(cylinder, stage, end), getattr(stage, f"pressure_{end}")
    reversal = int(np.argmax(position))
    working = np.interp(positions, position[: reversal + 1], pressure[: reversal + 1])
    returning = np.interp(positions, position[reversal:][::-1], pressure[reversal:][::-1])
    return np.asarray(working), np.asarray(returning)


def end_mean_pressure(stage: StageDiagram, end: str) -> float:
    """Mean effective pressure of one end: the area of its diagram over its length [Pa].

    Args:
        stage: Diagrams of a set of cylinders.
        end: `front` or `back`.
    """
    volume, pressure = getattr(stage, f"volume_{end}"), getattr(stage, f"pressure_{end}")
    work = float(np.sum(0.5 * (pressure[1:] + pressure[:-1]) * np.diff(volume)))
    return work / float(volume.max() - volume.min())


def labeled_wheel_torques(diagram: IndicatorDiagram) -> list[tuple[str, WheelTorque]]:
    """Torque of each engine unit over a revolution, with a label; an empty label on an engine with one unit."""
    count = len(diagram.locomotive.engine_units)
    torques = torque_by_unit(diagram.groups, diagram.cycles, speed=diagram.speed)
    return [(_unit_label(torque, count), torque) for torque in torques]


def _unit_label(torque: WheelTorque, count: int) -> str:
    """Label of an engine unit, of so many units on the engine."""
    if count == 1:
        return ""
    if len(torque.units) == 1:
        return f"engine unit {torque.units[0]} of {count}"
    return f"one of {len(torque.units)} engine units"


def labeled_stages(diagram: IndicatorDiagram) -> list[tuple[str, Cylinder, StageDiagram]]:
    """Each set of cylinders, with its label and diagrams."""
    found = []
    for number, (group, cycle) in enumerate(zip(diagram.groups, diagram.cycles, strict=True), start=1):
        names = ("high pressure", "low pressure") if len(group.stages) == 2 else ("cylinder",)
        for name, cylinder, stage in zip(names, group.stages, cycle.stages, strict=True):
            label = f"{name} of set {number}" if len(diagram.groups) > 1 else name
            found.append((label[0].upper() + label[1:], cylinder, stage))
    return found


def stage_events(
    diagram: IndicatorDiagram,
) -> list[tuple[valve_gear.ValveEvents, valve_gear.ValveEvents] | None]:
    """Valve events at the front and the back end of each set of cylinders, in the order of `labeled_stages`.

    None stands for a set whose gear gives no cutoff so short.
    """
    found = []
    for group in diagram.groups:
        cutoffs = [float(cutoff[0]) for cutoff in group.cutoffs(np.array([diagram.cutoff]))]
        for cylinder, poppets, cutoff in zip(group.stages, group.poppets, cutoffs, strict=True):
            found.append(events_of_ends(cylinder, poppets, cutoff))
    return found
