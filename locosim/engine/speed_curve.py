"""Tractive effort over speed with the limit at each speed, sustained or for a short effort."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from locosim.compiled import in_python
from locosim.constants import MPH
from locosim.engine.boiler.stored_heat import ShortEffort
from locosim.engine.own_resistance import engine_resistance_at_speed
from locosim.engine.performance import Performance
from locosim.errors import Fault, OutOfRange
from locosim.frozen import frozen
from locosim.model import Locomotive
from locosim.physics.traction.adhesion import adhesion_limited_effort, adhesion_speed_factor
from locosim.physics.traction.rail_conditions import ADHESION_BY_RAIL_CONDITION, rail_adhesion_coefficient

USUAL_SPEED = 30 * MPH  # at which an engine is looked at if nothing else is asked [m/s]
USUAL_STEPS = (5 * MPH, 2 * MPH, 1 * MPH, 0.5 * MPH)  # of speed; the largest that gives enough points [m/s]
FEWEST_STEPS, FEWEST_SPEEDS = 5, 3


@frozen
class CurvePoint:
    """Performance at one speed.

    Attributes:
        speed: Train speed [m/s].
        indicated_effort: Indicated tractive effort at the rim [N].
        rim_effort: The same less machine friction [N].
        drawbar_pull: Drawbar pull behind the tender on straight level track [N].
        cutoff: Fraction of the stroke [1].
        steam: Steam to the cylinders [kg/s].
        fuel: Fuel for that and the auxiliaries, up to the sustained firing rate [kg/s]; stored heat supplies the rest.
        limit: What limits the tractive effort: `adhesion`, `cylinders`, `stored heat`, or the boiler's limit by name.
        final_pressure: Absolute pressure at the end of a short effort [Pa]; None for the sustained curve.
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
        """Indicated power [W]."""
        return self.indicated_effort * self.speed

    @property
    def drawbar_power(self) -> float:
        """Drawbar power [W]."""
        return self.drawbar_pull * self.speed


def usual_speed(speed: float, *engines: Locomotive) -> float:
    """A usual speed [m/s], or the permitted speed of the slowest engine where that is lower."""
    return min(speed, *(each.max_speed or speed for each in engines))


def usual_speeds(speeds: Sequence[float], engine: Locomotive) -> tuple[float, ...]:
    """Those of the usual speeds that an engine is permitted [m/s]; thirds of its own where these are too few."""
    permitted = tuple(speed for speed in speeds if speed <= usual_speed(speed, engine))
    if engine.max_speed is None or len(permitted) >= FEWEST_SPEEDS:
        return permitted
    return tuple(engine.max_speed * n / FEWEST_SPEEDS for n in range(1, FEWEST_SPEEDS + 1))


def evenly_spaced_speeds(performance: Performance, step: float | None = None) -> tuple[float, ...]:
    """Speeds from rest to the end of the map or the permitted speed of the engine, in even steps.

    Args:
        performance: The engine.
        step: Step of speed [m/s]; 5 mph if omitted, or less for an engine so slow that there would be few.

    Raises:
        OutOfRange: A step that is not above 0, or so small that there would be over a thousand speeds.
    """
    top = performance.map.max_speed
    if performance.locomotive.max_speed is not None:
        top = min(top, performance.locomotive.max_speed)
    if step is None:
        step = next((each for each in USUAL_STEPS if FEWEST_STEPS * each <= top), top / FEWEST_STEPS)
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
    """Largest tractive effort at each speed within adhesion, cylinders and sustained evaporation.

    Args:
        performance: The engine.
        speeds: Train speeds [m/s].
        rail: Rail condition, such as `dry` or `wet`.

    Returns:
        One point per speed.

    Raises:
        OutOfRange: A speed outside the map, or a rail condition that is not known.
    """
    return tuple(curve_point(performance, speed, rail) for speed in speeds)


def effort_curve(
    performance: Performance, *, speeds: tuple[float, ...], efforts: Sequence[ShortEffort], rail: str = "dry"
) -> tuple[CurvePoint, ...]:
    """Largest tractive effort at each speed for a short effort, with the pressure drop that gives most.

    Args:
        performance: The engine.
        speeds: Train speeds [m/s].
        efforts: Extra steam from stored heat, for several pressure drops.
        rail: Rail condition, such as `dry` or `wet`.

    Returns:
        One point per speed.

    Raises:
        OutOfRange: A speed outside the map, or a rail condition that is not known.
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
    """One point of the speed curve.

    Args:
        performance: The engine.
        speed: Train speed [m/s].
        rail: Rail condition, such as `dry` or `wet`.
        short_effort: Extra steam from stored heat; None for the sustained curve.

    Raises:
        OutOfRange: A speed outside the map, or a rail condition that is not known.
    """
    performance_map, engine = performance.map, performance.locomotive
    pressure = engine.boiler.absolute_pressure if short_effort is None else short_effort.pressure
    effort, limit = _limited_effort(performance, speed, rail, short_effort)
    setting = performance_map.setting_for(effort=effort, speed=speed, pressure=pressure)
    steam, cutoff = setting.steam, setting.cutoff
    if limit == "cylinders":
        cutoff = _min_cutoff_for(performance, effort, speed, pressure)
    rim_effort = float(performance_map.rim_effort(effort))
    return CurvePoint(
        speed=speed,
        indicated_effort=effort,
        rim_effort=rim_effort,
        drawbar_pull=rim_effort - engine_resistance_at_speed(engine, speed),
        cutoff=cutoff,
        steam=steam,
        fuel=min(
            performance.supply.firing_rate_for(steam + engine.auxiliaries.continuous_demand),
            performance.supply.max_firing,
        ),
        limit=limit,
        final_pressure=None if short_effort is None else short_effort.final_pressure,
    )


def _limited_effort(
    performance: Performance, speed: float, rail: str, short_effort: ShortEffort | None
) -> tuple[float, str]:
    """Largest indicated tractive effort [N] at a speed in m/s, and the name of its limit."""
    pressure, steam = performance.locomotive.boiler.absolute_pressure, performance.sustained_cylinder_steam
    if short_effort is not None:
        pressure, steam = short_effort.pressure, steam + short_effort.extra_steam
    adhesion = _adhesion_limit(performance, speed, rail)
    effort, limit = performance.map.max_effort(speed=speed, pressure=pressure, steam=steam)
    if effort > adhesion:
        return adhesion, "adhesion"
    if limit == "steam":
        limit = performance.supply.binding.name if short_effort is None else "stored heat"
    return effort, limit


def _adhesion_limit(performance: Performance, speed: float, rail: str) -> float:
    """Indicated tractive effort at which the drivers slip [N]; speed in m/s."""
    if rail not in ADHESION_BY_RAIL_CONDITION:
        raise OutOfRange.by(
            [Fault("rail", f"must be one of {', '.join(ADHESION_BY_RAIL_CONDITION)}, found {rail!r}")]
        )
    coefficient = rail_adhesion_coefficient(condition=rail) * in_python(adhesion_speed_factor)(speed)
    by_rail = adhesion_limited_effort(mass_on_drivers=performance.mass_on_drivers, coefficient=coefficient)
    return float(performance.map.indicated_effort(by_rail))


def _min_cutoff_for(performance: Performance, effort: float, speed: float, pressure: float) -> float:
    """Shortest cutoff of the map that gives the largest tractive effort; a longer one only chokes the exhaust."""
    performance_map = performance.map
    for cutoff in performance_map.cutoffs:
        if performance_map.effort_at(speed=speed, cutoff=float(cutoff), pressure=pressure) >= effort * (
            1 - 1e-9
        ):
            return float(cutoff)
    return float(performance_map.cutoffs[-1])
