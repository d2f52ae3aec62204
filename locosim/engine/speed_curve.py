"""Pull over speed, with the limit that binds named at each: kept up, or for a short effort."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from locosim.engine.boiler.stored_heat import ShortEffort
from locosim.engine.own_resistance import engine_resistance_at
from locosim.engine.performance import Performance
from locosim.errors import Fault, OutOfRange
from locosim.physics.traction.adhesion import CONDITIONS, adhesion_coefficient, adhesive_pull


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePoint:
    """What the engine can do at one speed.

    Attributes:
        speed: Train speed [m/s].
        indicated_pull: At the rim, from the pressure in the cylinders [N].
        wheel_pull: At the rim, less machine friction [N].
        drawbar_pull: Behind the tender on straight level track [N].
        cutoff: Fraction of the stroke [1].
        steam: Steam to the cylinders [kg/s].
        fuel: Fuel for that and the auxiliaries [kg/s]; what the fire cannot follow is paid from stored heat.
        limit: What holds the pull: adhesion, cylinders, or the limit of the boiler by name.
        pressure_end: Absolute pressure at the end of a short effort [Pa]; None where it is kept up.
    """

    speed: float
    indicated_pull: float
    wheel_pull: float
    drawbar_pull: float
    cutoff: float
    steam: float
    fuel: float
    limit: str
    pressure_end: float | None = None

    @property
    def indicated_power(self) -> float:
        """Power in the cylinders [W]."""
        return self.indicated_pull * self.speed

    @property
    def drawbar_power(self) -> float:
        """Power behind the tender [W]."""
        return self.drawbar_pull * self.speed


def even_speeds(performance: Performance, step: float) -> tuple[float, ...]:
    """Speeds from rest to the end of the map or of what the engine is passed for, in even steps.

    Args:
        performance: The engine.
        step: Step of speed [m/s].

    Raises:
        OutOfRange: A step that is not above 0, or so small that there would be over a thousand.
    """
    top = performance.map.greatest_speed
    if performance.locomotive.speed_greatest is not None:
        top = min(top, performance.locomotive.speed_greatest)
    if not top / 1000 <= step <= top:
        wrong = Fault(
            "step",
            "must be between {least} and {most} for this engine, found {found}",
            "m/s",
            {"least": top / 1000, "most": top, "found": step},
        )
        raise OutOfRange.by([wrong])
    return tuple(float(v) for v in np.arange(0.0, top * (1 + 1e-9), step))


def speed_curve(
    performance: Performance, *, speeds: tuple[float, ...], rail: str = "dry"
) -> tuple[CurvePoint, ...]:
    """Largest pull at each speed within adhesion, cylinders and sustained steam.

    Args:
        performance: The engine.
        speeds: Speeds wanted [m/s].
        rail: Condition of the rail.

    Returns:
        One point per speed.

    Raises:
        OutOfRange: A speed beyond the map, or a rail condition that is not known.
    """
    return tuple(curve_point(performance, speed, rail) for speed in speeds)


def effort_curve(
    performance: Performance, *, speeds: tuple[float, ...], efforts: Sequence[ShortEffort], rail: str = "dry"
) -> tuple[CurvePoint, ...]:
    """Largest pull at each speed for a short effort, with the fall of pressure that suits it best.

    Args:
        performance: The engine.
        speeds: Speeds wanted [m/s].
        efforts: What stored heat adds, for several falls of pressure.
        rail: Condition of the rail.

    Returns:
        One point per speed.

    Raises:
        OutOfRange: A speed beyond the map, or a rail condition that is not known.
    """
    return tuple(
        max(
            (curve_point(performance, speed, rail, effort) for effort in efforts),
            key=lambda point: point.indicated_pull,
        )
        for speed in speeds
    )


def curve_point(
    performance: Performance, speed: float, rail: str, effort: ShortEffort | None = None
) -> CurvePoint:
    """One point of the speed curve, sustained or for a short effort; speed in m/s.

    Raises:
        OutOfRange: A speed beyond the map, or a rail condition that is not known.
    """
    if rail not in CONDITIONS:
        raise OutOfRange.by([Fault("rail", f"must be one of {', '.join(CONDITIONS)}, found {rail!r}")])
    charts, engine = performance.map, performance.locomotive
    pressure, most = engine.boiler.absolute_pressure, performance.cylinder_steam
    if effort is not None:
        pressure, most = effort.pressure, most + effort.extra_steam
    pull, held = charts.greatest_pull(speed=speed, pressure=pressure, steam=most)
    limit = held
    if held == "steam":
        limit = performance.supply.binding.name if effort is None else "stored heat"
    coefficient = adhesion_coefficient(coefficient_at_rest=CONDITIONS[rail].coefficient, speed=speed)
    by_rail = charts.friction + float(
        adhesive_pull(adhesive_mass=performance.adhesive_mass, coefficient=coefficient)
    )
    if pull > by_rail:
        pull, limit = by_rail, "adhesion"
    steam, cutoff = charts.steam_and_cutoff_for(pull=pull, speed=speed, pressure=pressure)
    if limit == "cylinders":
        cutoff = _shortest_for(performance, pull, speed, pressure)
    wheel = pull - charts.friction
    return CurvePoint(
        speed=speed,
        indicated_pull=pull,
        wheel_pull=wheel,
        drawbar_pull=wheel - engine_resistance_at(engine, speed),
        cutoff=cutoff,
        steam=steam,
        fuel=min(
            performance.supply.fuel_for(steam + engine.auxiliaries.steady), performance.supply.firing_greatest
        ),
        limit=limit,
        pressure_end=None if effort is None else effort.pressure_end,
    )


def _shortest_for(performance: Performance, pull: float, speed: float, pressure: float) -> float:
    """The shortest cutoff of the map that gives the greatest pull: a longer one only chokes the exhaust."""
    charts = performance.map
    for cutoff in charts.cutoffs:
        if charts.pull_at(speed=speed, cutoff=float(cutoff), pressure=pressure) >= pull * (1 - 1e-9):
            return float(cutoff)
    return float(charts.cutoffs[-1])
