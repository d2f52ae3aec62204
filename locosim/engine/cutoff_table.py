"""Tractive effort, steam and fuel at each cutoff, at one speed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from locosim.engine.cylinders.speed_range import min_cycle_speed
from locosim.engine.performance import Performance, cycle_layout
from locosim.engine.plausibility import naming_implausible_inputs
from locosim.engine.si_text import format_force, format_speed
from locosim.errors import Fault, OutOfRange
from locosim.frozen import frozen
from locosim.model import Locomotive
from locosim.physics.types import Floats

if TYPE_CHECKING:
    from locosim.engine.cylinders.layout import CycleLayout

# Throttle openings tried for a tractive effort when none is given.
DEFAULT_THROTTLE_OPENINGS = (1.0, 0.75, 0.5, 0.35, 0.25)


@frozen
class ValveEvents:
    """Valve events at one cutoff: mean of both ends, piston positions as fractions of the stroke.

    Attributes:
        lead: Opening at dead center; None for poppet valves [m].
        opening: Maximum opening of the steam port, limited to the width of the port; None for poppet valves [m].
        admission: Stroke remaining when the steam port opens: preadmission [1].
        cutoff: Stroke completed when it closes [1].
        release: Stroke completed when the exhaust opens [1].
        compression: Stroke remaining when the exhaust closes [1].
    """

    lead: float | None
    opening: float | None
    admission: float
    cutoff: float
    release: float
    compression: float


@frozen
class CutoffPoint:
    """One cutoff at one speed; figures are NaN where the cylinders give no power and the cycle does not converge.

    Attributes:
        speed: Train speed [m/s].
        throttle: Throttle opening [1].
        cutoff: Fraction of the stroke [1].
        indicated_effort: Indicated tractive effort at the rim [N].
        rim_effort: The same less machine friction [N].
        steam: Steam to the cylinders [kg/s].
        fuel: Fuel for that and the auxiliaries [kg/s]; the end of the table where the boiler cannot make the steam.
        back_pressure: In the exhaust passage, above atmosphere [Pa]; by the handbook the mean of the return stroke.
        steam_share: Steam for cylinders and auxiliaries over sustained evaporation [1]; above 1 only for a short
            effort.
        chest_pressure: Absolute pressure in the steam chest [Pa]; None by the handbook.
        steam_temperature: Steam temperature leaving the boiler [K]; None by the handbook.
        wall_condensation_share: Steam that condenses on the walls over steam admitted [1]; None by the handbook.
        events: Valve events; None where no gear is given and the method needs none.
    """

    speed: float
    throttle: float
    cutoff: float
    indicated_effort: float
    rim_effort: float
    steam: float
    fuel: float
    back_pressure: float
    steam_share: float
    chest_pressure: float | None = None
    steam_temperature: float | None = None
    wall_condensation_share: float | None = None
    events: ValveEvents | None = None

    @property
    def indicated_power(self) -> float:
        """Power in the cylinders [W]."""
        return self.indicated_effort * self.speed

    @property
    def steam_per_work(self) -> float:
        """Steam over indicated work [kg/J]."""
        return self.steam / self.indicated_power if self.indicated_power > 0.0 else float("inf")

    @property
    def fuel_per_distance(self) -> float:
        """Fuel over distance run [kg/m]."""
        return self.fuel / self.speed if self.speed > 0.0 else float("inf")


def default_cutoffs(performance: Performance) -> tuple[float, ...]:
    """Every 5 % between the shortest and the longest cutoff of the map, with both ends [1]."""
    first, last = float(performance.map.cutoffs[0]), float(performance.map.cutoffs[-1])
    inner = [0.05 * n for n in range(1, 20) if first + 1e-6 < 0.05 * n < last - 1e-6]
    return (first, *inner, last)


def group_by_throttle(points: Sequence[CutoffPoint]) -> list[list[CutoffPoint]]:
    """Points grouped by throttle opening, in their order."""
    found: dict[float, list[CutoffPoint]] = {}
    for point in points:
        found.setdefault(point.throttle, []).append(point)
    return list(found.values())


def cutoff_table(
    performance: Performance, *, speed: float, cutoffs: tuple[float, ...] = (), throttle: float = 1.0
) -> tuple[CutoffPoint, ...]:
    """Tractive effort, steam and fuel at each cutoff, at one speed and full boiler pressure.

    By the cycle each point is computed. By the handbook, and below the lowest speed of the cycle, it is read from
    the map.

    Args:
        performance: The engine.
        speed: Train speed [m/s].
        cutoffs: Cutoffs [1]; none for every 5 % between the shortest and the longest of the map.
        throttle: Throttle opening, above 0 to 1 [1].

    Returns:
        One point per cutoff.

    Raises:
        OutOfRange: A speed or cutoff outside the map, or an opening the method does not cover.
    """
    wanted = cutoffs or default_cutoffs(performance)
    slowest = min_cycle_speed(performance.locomotive)
    for cutoff in wanted:  # raises outside the map
        performance.map.effort_at(
            speed=speed, cutoff=cutoff, pressure=performance.locomotive.boiler.absolute_pressure
        )
    if performance.method == "cycle" and speed >= slowest:
        return _points_by_cycle(performance, speed, wanted, throttle)
    if throttle != 1.0:
        raise OutOfRange(
            f"a throttle opening of {100 * throttle:.3g} % needs method = 'cycle' and a speed of at least "
            f"{format_speed(slowest)}"
        )
    return tuple(_point_from_map(performance, speed, cutoff) for cutoff in wanted)


def _points_by_cycle(
    performance: Performance, speed: float, cutoffs: tuple[float, ...], throttle: float
) -> tuple[CutoffPoint, ...]:
    """Points computed by the cycle."""
    from locosim.engine.cylinders.operating_points import operating_points

    engine = cycle_layout(performance.locomotive, performance.assumptions)
    with naming_implausible_inputs(performance.locomotive):
        found = operating_points(
            engine,
            speeds=np.full(len(cutoffs), speed),
            cutoffs=np.array(cutoffs),
            pressures=performance.locomotive.boiler.absolute_pressure,
            throttle=throttle,
        )
    return tuple(
        CutoffPoint(
            speed=speed,
            throttle=throttle,
            cutoff=cutoff,
            indicated_effort=float(found.effort[i]),
            rim_effort=float(performance.map.rim_effort(float(found.effort[i]))),
            steam=float(found.steam[i]),
            back_pressure=float(found.back_pressure[i]),
            chest_pressure=float(found.chest_pressure[i]),
            steam_temperature=float(_steam_temperature_leaving_boiler(engine, found.steam_temperature)[i]),
            wall_condensation_share=float(found.wall_condensation_share[i]),
            events=valve_events_at(performance, cutoff),
            **_fuel_and_steam_share(performance, float(found.steam[i])),
        )
        for i, cutoff in enumerate(cutoffs)
    )


def _steam_temperature_leaving_boiler(engine: CycleLayout, temperature: Floats) -> Floats:
    """Steam temperature; saturation temperature without a superheater [K]."""
    if engine.locomotive.boiler.superheater is not None:
        return temperature
    return np.full_like(temperature, engine.design.saturation_temperature)


def _point_from_map(performance: Performance, speed: float, cutoff: float) -> CutoffPoint:
    """A point read from the map."""
    performance_map = performance.map
    pressure = performance.locomotive.boiler.absolute_pressure
    effort = performance_map.effort_at(speed=speed, cutoff=cutoff, pressure=pressure)
    steam = performance_map.steam_at(speed=speed, cutoff=cutoff, pressure=pressure)
    return CutoffPoint(
        speed=speed,
        throttle=1.0,
        cutoff=cutoff,
        indicated_effort=effort,
        rim_effort=float(performance_map.rim_effort(effort)),
        steam=steam,
        back_pressure=performance_map.back_pressure_at(speed=speed, cutoff=cutoff, pressure=pressure),
        events=valve_events_at(performance, cutoff),
        **_fuel_and_steam_share(performance, steam),
    )


def _fuel_and_steam_share(performance: Performance, steam: float) -> dict[str, float]:
    """Fuel, and share of the sustained evaporation, for a steam rate to the cylinders in kg/s."""
    total_steam = steam + performance.locomotive.auxiliaries.continuous_demand
    return {
        "fuel": performance.supply.firing_rate_for(total_steam),
        "steam_share": total_steam / performance.supply.sustained,
    }


def valve_events_at(performance: Performance, cutoff: float) -> ValveEvents | None:
    """Valve events of the first engine unit at a cutoff [1]; None by the handbook where no gear is given."""
    unit = performance.locomotive.engine_units[0]
    if unit.gear_of(unit.cylinders[0]) is None and performance.method != "cycle":
        return None
    return locomotive_valve_events(performance.locomotive, cutoff)


def locomotive_valve_events(locomotive: Locomotive, cutoff: float) -> ValveEvents | None:
    """Valve events of the first engine unit at a cutoff.

    Args:
        locomotive: The engine.
        cutoff: Fraction of the stroke [1].

    Returns:
        The events; None where the gear gives no cutoff so short.
    """
    from locosim.engine.cylinders.valve_events import events_of_ends, lead_at_cutoff
    from locosim.engine.cylinders.valves import first_valves

    cylinder, poppets = first_valves(locomotive)
    ends = events_of_ends(cylinder, poppets, cutoff)
    if ends is None:
        return None
    front, back = ends
    sliding = poppets is None
    return ValveEvents(
        lead=lead_at_cutoff(cylinder, cutoff) if sliding else None,
        opening=min(front.steam_opening, cylinder.port_width) if sliding else None,
        admission=0.5 * (front.admission + back.admission),
        cutoff=0.5 * (front.cutoff + back.cutoff),
        release=0.5 * (front.release + back.release),
        compression=0.5 * (front.compression + back.compression),
    )


def _unreachable_effort(
    unreachable: Sequence[tuple[float, float]], effort: float, speed: float
) -> OutOfRange:
    """Error for a tractive effort that no opening gives, with the nearest efforts.

    Args:
        unreachable: Throttle openings [1], and the nearest effort each gives [N].
        effort: Effort wanted [N].
        speed: Train speed [m/s].
    """
    below = max(((given, opening) for opening, given in unreachable if given < effort), default=None)
    above = min(((given, opening) for opening, given in unreachable if given > effort), default=None)
    clauses, figures = [], {"found": effort}
    if below is not None:
        figures["most"] = below[0]
        most = "{most}" if below[0] > 0.0 else "nothing over machine friction"
        clauses.append(f"the most is {most} with the throttle open {100 * below[1]:.3g} %")
    if above is not None:
        figures["least"] = above[0]
        clauses.append(f"the shortest cutoff gives {{least}} with the throttle open {100 * above[1]:.3g} %")
    text = f"no cutoff gives {{found}} at {format_speed(speed)}: {'; '.join(clauses)}"
    fault = Fault("effort", text, "N", figures)
    return OutOfRange(
        text.format_map({name: format_force(value) for name, value in figures.items()}), [fault]
    )


@frozen
class PullOptions:
    """Combinations of throttle and cutoff that give a tractive effort, with the most economical one.

    Attributes:
        effort: Tractive effort at the rim, after machine friction [N].
        points: One for each throttle opening that gives it.
        most_economical: The point with the least steam, and so the least fuel.
        unreachable: Openings that do not give it [1], each with the most it gives, or the least where that is too
            much [N].
    """

    effort: float
    points: tuple[CutoffPoint, ...]
    most_economical: CutoffPoint
    unreachable: tuple[tuple[float, float], ...]


def options_for_effort(
    performance: Performance, *, speed: float, effort: float, throttle_openings: tuple[float, ...] = ()
) -> PullOptions:
    """Find the cutoff that gives a tractive effort at each throttle opening, and the most economical of them.

    Args:
        performance: The engine.
        speed: Train speed [m/s].
        effort: Tractive effort at the rim, after machine friction, above 0 [N].
        throttle_openings: Openings to try [1]; none for full to a quarter by the cycle, full by the handbook. Where
            those give too much even at the shortest cutoff, the throttle is eased there, by the cycle.

    Raises:
        OutOfRange: An effort that no opening gives, or a speed or opening the method does not cover.
    """
    if not effort > 0.0:
        raise OutOfRange.by(
            [Fault("effort", "must be above {least}, found {found}", "N", {"least": 0.0, "found": effort})]
        )
    openings = throttle_openings or (DEFAULT_THROTTLE_OPENINGS if performance.method == "cycle" else (1.0,))
    points: list[CutoffPoint] = []
    unreachable: list[tuple[float, float]] = []
    for opening in openings:
        found = _cutoff_or_nearest_effort(performance, speed, effort, opening)
        if found.cutoff is None:
            unreachable.append((opening, found.nearest_effort))
        else:
            points += cutoff_table(performance, speed=speed, cutoffs=(found.cutoff,), throttle=opening)
    if not points and not throttle_openings and performance.method == "cycle":
        points += _eased_at_shortest_cutoff(performance, speed, effort)
    if not points:
        raise _unreachable_effort(unreachable, effort, speed)
    return PullOptions(
        effort=effort,
        points=tuple(points),
        most_economical=min(points, key=lambda point: point.steam),
        unreachable=tuple(unreachable),
    )


def _eased_at_shortest_cutoff(
    performance: Performance, speed: float, effort: float
) -> tuple[CutoffPoint, ...]:
    """The point with the throttle eased at the shortest cutoff; none where that cannot give the effort.

    The opening is read from the map, then corrected by the secant of two points computed near it.
    """
    performance_map, shortest = performance.map, float(performance.map.cutoffs[0])
    pressure = performance.locomotive.boiler.absolute_pressure
    indicated = effort + performance_map.friction
    most = performance_map.effort_at(speed=speed, cutoff=shortest, pressure=pressure)
    if speed < min_cycle_speed(performance.locomotive) or not indicated < most:
        return ()

    def at(opening: float) -> CutoffPoint:
        return cutoff_table(performance, speed=speed, cutoffs=(shortest,), throttle=opening)[0]

    setting = performance_map.setting_for(effort=indicated, speed=speed, pressure=pressure)
    first, second = at(min(1.05 * setting.throttle, 0.99)), at(min(1.10 * setting.throttle, 1.0))
    for _ in range(3):
        slope = (second.rim_effort - first.rim_effort) / (second.throttle - first.throttle)
        opening = second.throttle + (effort - second.rim_effort) / slope
        if not 0.0 < opening <= 1.0 or opening == second.throttle:
            return ()
        first, second = second, at(opening)
        if abs(second.rim_effort - effort) < 1e-3 * indicated:
            return (second,)
    return ()


class _CutoffSearch(NamedTuple):
    """Cutoff that gives an effort [1], or None with the nearest effort [N]."""

    cutoff: float | None
    nearest_effort: float


def _cutoff_or_nearest_effort(
    performance: Performance, speed: float, effort: float, throttle: float
) -> _CutoffSearch:
    """Search the cutoffs at one throttle opening, up to the one of greatest effort."""
    table = [
        point
        for point in cutoff_table(performance, speed=speed, throttle=throttle)
        if not math.isnan(point.rim_effort)
    ]
    if not table:
        return _CutoffSearch(None, 0.0)
    efforts = np.array([point.rim_effort for point in table])
    best = int(np.argmax(efforts))
    if not efforts[0] <= effort <= efforts[best]:
        return _CutoffSearch(None, float(efforts[best] if effort > efforts[best] else efforts[0]))
    cutoffs = [point.cutoff for point in table[: best + 1]]
    return _CutoffSearch(float(np.interp(effort, efforts[: best + 1], cutoffs)), effort)
