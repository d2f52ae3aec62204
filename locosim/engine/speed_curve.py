"""Pull over speed, with the limit that binds named at each: kept up, or for a short effort."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from locosim.engine.boiler.stored_heat import ShortEffort
from locosim.engine.own_resistance import engine_resistance_at_speed
from locosim.engine.performance import Performance
from locosim.errors import Fault, OutOfRange
from locosim.physics.traction.adhesion import adhesion_limited_effort, adhesion_speed_factor
from locosim.physics.traction.rail_conditions import ADHESION_BY_RAIL_CONDITION, rail_adhesion_coefficient


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePoint:
    """What the engine can do at one speed.

    Attributes:
        speed: Train speed [m/s].
        indicated_effort: At the rim, from the pressure in the cylinders [N].
        rim_effort: At the rim, less machine friction [N].
        drawbar_pull: Behind the tender on straight level track [N].
        cutoff: Fraction of the stroke [1].
        steam: Steam to the cylinders [kg/s].
        fuel: Fuel for that and the auxiliaries [kg/s]; what the fire cannot follow is paid from stored heat.
        limit: What holds the pull: adhesion, cylinders, or the limit of the boiler by name.
        final_pressure: Absolute pressure at the end of a short effort [Pa]; None where it is kept up.
    """

    speed: float
    indicated_effort: float
    rim_effort: float
    drawbar_pull: float
    cutoff: float
    steam: float
    fuel: float
    limit: str
    final_pressure: float | None = None

    @property
    def indicated_power(self) -> float:
        """Power in the cylinders [W]."""
        return self.indicated_effort * self.speed

    @property
    def drawbar_power(self) -> float:
        """Power behind the tender [W]."""
        return self.drawbar_pull * self.speed


def evenly_spaced_speeds(performance: Performance, step: float) -> tuple[float, ...]:
    """Speeds from rest to the end of the map or of what the engine is passed for, in even steps.

    Args:
        performance: The engine.
        step: Step of speed [m/s].

    Raises:
        OutOfRange: A step that is not above 0, or so small that there would be over a thousand.
    """
    top = performance.map.max_speed
    if performance.locomotive.max_speed is not None:
        top = min(top, performance.locomotive.max_speed)
    if not top / 1000 <= step <= top:
        fault = Fault(
            "step",
            "must be between {least} and {most} for this engine, found {found}",
            "m/s",
            {"least": top / 1000, "most": top, "found": step},
        )
        raise OutOfRange.by([fault])
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
            key=lambda point: point.indicated_effort,
        )
        for speed in speeds
    )


def curve_point(
    performance: Performance, speed: float, rail: str, short_effort: ShortEffort | None = None
) -> CurvePoint:
    """One point of the speed curve, sustained or for a short effort; speed in m/s.

    Raises:
        OutOfRange: A speed beyond the map, or a rail condition that is not known.
    """
    if rail not in ADHESION_BY_RAIL_CONDITION:
        raise OutOfRange.by(
            [Fault("rail", f"must be one of {', '.join(ADHESION_BY_RAIL_CONDITION)}, found {rail!r}")]
        )
    performance_map, engine = performance.map, performance.locomotive
    pressure, most = engine.boiler.absolute_pressure, performance.sustained_cylinder_steam
    if short_effort is not None:
        pressure, most = short_effort.pressure, most + short_effort.extra_steam
    effort, limiter = performance_map.max_effort(speed=speed, pressure=pressure, steam=most)
    limit = limiter
    if limiter == "steam":
        limit = performance.supply.binding.name if short_effort is None else "stored heat"
    coefficient = rail_adhesion_coefficient(condition=rail) * adhesion_speed_factor(speed)
    adhesion_limit = performance_map.friction + float(
        adhesion_limited_effort(mass_on_drivers=performance.mass_on_drivers, coefficient=coefficient)
    )
    if effort > adhesion_limit:
        effort, limit = adhesion_limit, "adhesion"
    steam, cutoff = performance_map.steam_and_cutoff_for(effort=effort, speed=speed, pressure=pressure)
    if limit == "cylinders":
        cutoff = _min_cutoff_for(performance, effort, speed, pressure)
    wheel = effort - performance_map.friction
    return CurvePoint(
        speed=speed,
        indicated_effort=effort,
        rim_effort=wheel,
        drawbar_pull=wheel - engine_resistance_at_speed(engine, speed),
        cutoff=cutoff,
        steam=steam,
        fuel=min(
            performance.supply.firing_rate_for(steam + engine.auxiliaries.continuous_demand),
            performance.supply.max_firing,
        ),
        limit=limit,
        final_pressure=None if short_effort is None else short_effort.final_pressure,
    )


def _min_cutoff_for(performance: Performance, effort: float, speed: float, pressure: float) -> float:
    """The shortest cutoff of the map that gives the greatest pull: a longer one only chokes the exhaust."""
    performance_map = performance.map
    for cutoff in performance_map.cutoffs:
        if performance_map.effort_at(speed=speed, cutoff=float(cutoff), pressure=pressure) >= effort * (
            1 - 1e-9
        ):
            return float(cutoff)
    return float(performance_map.cutoffs[-1])
