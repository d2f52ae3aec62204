"""Indicator diagram and crank torque at one operating point."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from locosim.engine.cutoff_table import ValveEvents, locomotive_valve_events
from locosim.engine.cylinders.layout import CylinderGroup
from locosim.engine.cylinders.operating_points import OperatingPoints, WheelTorque, diagrams, torque_by_unit
from locosim.engine.map.performance_map import outside_map_error
from locosim.engine.performance import cycle_layout, max_cycle_speed, min_cycle_speed
from locosim.engine.plausibility import naming_implausible_inputs
from locosim.errors import Fault, OutOfRange
from locosim.model import Locomotive
from locosim.physics.cylinder.results import CycleDiagram, StageDiagram
from locosim.physics.cylinder.revolution import Cylinder
from locosim.physics.types import Floats

ENDS = ("front", "back")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class IndicatorDiagram:
    """An engine at one operating point, with the diagrams of each set of cylinders.

    Attributes:
        locomotive: The engine.
        speed: Train speed [m/s].
        cutoff: Fraction of the stroke [1].
        throttle: Opening [1].
        pressure: Absolute boiler pressure [Pa].
        figures: Pull, steam and the rest, arrays of one element.
        groups: Sets of cylinders that work alike.
        cycles: Diagrams of each.
        events: The valve of the first unit; None where mid gear gives a longer cutoff.
        notes: What was taken by a rule.
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
    notes: tuple[str, ...]

    @property
    def effort(self) -> float:
        """Indicated pull at the rim [N]."""
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
) -> IndicatorDiagram:
    """Compute diagrams and crank torque at one operating point.

    Args:
        locomotive: The engine.
        speed: Train speed [m/s].
        cutoff: Fraction of the stroke [1].
        throttle: Opening, above 0 to 1 [1].
        pressure_gauge: Boiler pressure by gauge; working pressure when left out [Pa].

    Raises:
        OutOfRange: A point the gear cannot be set to, or too slow or too fast to compute.
    """
    engine = cycle_layout(locomotive)
    slow, fast = min_cycle_speed(locomotive), max_cycle_speed(locomotive)
    if not slow <= speed:
        fault = Fault(
            "speed",
            "must be between {least}, a turn at a crawl, and {most}, found {found}",
            "m/s",
            {"least": slow, "most": fast, "found": speed},
        )
        raise OutOfRange.by([fault])
    if not speed <= fast * (1 + 1e-9):
        raise outside_map_error("speed", speed, 0.0, fast)
    _check_cutoff(cutoff, engine.min_cutoff, engine.max_cutoff)
    working = locomotive.boiler.working_pressure_gauge
    gauge = working if pressure_gauge is None else pressure_gauge
    if not 0.2 * working <= gauge <= 1.1 * working:
        fault = Fault(
            "pressure",
            "must be between 20 % and 110 % of the working {working} by gauge, found {found}",
            "Pa",
            {"working": working, "found": gauge},
        )
        raise OutOfRange.by([fault])
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
        notes=engine.notes,
    )


def _check_cutoff(cutoff: float, low: float, high: float) -> None:
    """Refuse a cutoff that cannot be set; ends are said so that what is said can be."""
    if low - 1e-9 <= cutoff <= high + 1e-9:
        return
    first, last = math.ceil(1e4 * low - 1e-6) / 1e2, math.floor(1e4 * high + 1e-6) / 1e2
    fault = Fault(
        "cutoff",
        f"must be between {first:g} % and {last:g} % for this engine, found {{found}}"
        f"{'; write a share with its sign, as 30 %' if cutoff > 1.0 else ''}",
        figures={"found": f"{100.0 * cutoff:g} %"},
    )
    raise OutOfRange.by([fault])


def stroke_positions(cylinder: Cylinder, stage: StageDiagram, end: str) -> Floats:
    """Fraction of the stroke from an end's own dead center, over its crank angle [1]."""
    volume = getattr(stage, f"volume_{end}")
    clear = cylinder.clearance * (volume.max() - volume.min())
    return np.asarray((volume - clear) / (volume.max() - volume.min()))


def pressures_by_stroke(
    cylinder: Cylinder, stage: StageDiagram, end: str, places: Floats
) -> tuple[Floats, Floats]:
    """Pressure of one end on the working and on the return stroke.

    Args:
        cylinder: The cylinder.
        stage: Its diagrams.
        end: `front` or `back`.
        places: Fractions of the stroke from the end's own dead center [1].

    Returns:
        Absolute pressures going out and coming back [Pa].
    """
    place, pressure = stroke_positions(cylinder, stage, end), getattr(stage, f"pressure_{end}")
    turn = int(np.argmax(place))
    out = np.interp(places, place[: turn + 1], pressure[: turn + 1])
    back = np.interp(places, place[turn:][::-1], pressure[turn:][::-1])
    return np.asarray(out), np.asarray(back)


def end_mean_pressure(stage: StageDiagram, end: str) -> float:
    """Mean effective pressure of one end: the area of its diagram over its length [Pa]."""
    volume, pressure = getattr(stage, f"volume_{end}"), getattr(stage, f"pressure_{end}")
    work = float(np.sum(0.5 * (pressure[1:] + pressure[:-1]) * np.diff(volume)))
    return work / float(volume.max() - volume.min())


def labeled_wheel_torques(diagram: IndicatorDiagram) -> list[tuple[str, WheelTorque]]:
    """Pull over a turn of each engine unit with words that say whose it is, none where there is but one unit."""
    count = len(diagram.locomotive.engine_units)
    return [(_unit_label(turn, count), turn) for turn in torque_by_unit(diagram.groups, diagram.cycles)]


def _unit_label(turn: WheelTorque, count: int) -> str:
    """Whose pull it is, of so many engine units."""
    if count == 1:
        return ""
    if len(turn.units) == 1:
        return f"engine unit {turn.units[0]} of {count}"
    return f"one of {len(turn.units)} engine units"


def labeled_stages(diagram: IndicatorDiagram) -> list[tuple[str, Cylinder, StageDiagram]]:
    """Each set of cylinders with its name and diagrams."""
    found = []
    for number, (group, cycle) in enumerate(zip(diagram.groups, diagram.cycles, strict=True), start=1):
        names = ("high pressure", "low pressure") if len(group.stages) == 2 else ("cylinder",)
        for name, cylinder, stage in zip(names, group.stages, cycle.stages, strict=True):
            name_text = f"{name} of set {number}" if len(diagram.groups) > 1 else name
            found.append((name_text[0].upper() + name_text[1:], cylinder, stage))
    return found
