"""Tractive effort, steam and fuel at each cutoff, at one speed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from locosim.engine.performance import Performance, cycle_layout, min_cycle_speed
from locosim.engine.plausibility import naming_implausible_inputs
from locosim.engine.si_text import format_force, format_speed
from locosim.errors import Fault, OutOfRange
from locosim.model import Locomotive
from locosim.physics.cylinder.valve_gear import mid_gear_cutoff, valve_events
from locosim.physics.types import Floats

if TYPE_CHECKING:
    from locosim.engine.cylinders.layout import CycleLayout

DEFAULT_THROTTLE_OPENINGS = (
    1.0,
    0.75,
    0.5,
    0.35,
    0.25,
)  # tried when a pull is wanted and no opening is named


@dataclass(frozen=True, slots=True, kw_only=True)
class ValveEvents:
    """The valve at one cutoff: mean of both ends, piston places as fractions of the stroke.

    Attributes:
        lead: Opening at dead center [m].
        opening: Greatest opening of the steam port, no wider than the port [m].
        admission: Stroke still to go when the steam port opens [1].
        cutoff: Stroke gone when it closes [1].
        release: Stroke gone when the exhaust opens [1].
        compression: Stroke still to go when the exhaust closes [1].
    """

    lead: float
    opening: float
    admission: float
    cutoff: float
    release: float
    compression: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CutoffPoint:
    """One cutoff at one speed; figures are not numbers where the cylinders give no power and do not settle.

    Attributes:
        speed: Train speed [m/s].
        throttle: Opening of the throttle [1].
        cutoff: Fraction of the stroke [1].
        indicated_effort: At the rim [N].
        rim_effort: At the rim, less machine friction [N].
        steam: Steam to the cylinders [kg/s].
        fuel: Fuel for that and the auxiliaries [kg/s]; held at the top of the table where the boiler cannot follow.
        back_pressure: In the exhaust passage, above atmosphere [Pa]; by the handbook the mean of the return stroke.
        steam_share: Steam over what the boiler keeps up [1]; above 1 only for a short effort.
        chest_pressure: Absolute, in the steam chest [Pa]; None by the handbook.
        steam_temperature: Of the steam as it leaves the boiler [K]; None by the handbook.
        wall_condensation_share: Steam that condenses on the walls over steam admitted [1]; None by the handbook.
        events: The valve; None where no gear is given and the method needs none.
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
    """Each 5 % between the shortest and the longest cutoff of the gear, these two among them."""
    first, last = float(performance.map.cutoffs[0]), float(performance.map.cutoffs[-1])
    inner = [0.05 * n for n in range(1, 20) if first + 1e-6 < 0.05 * n < last - 1e-6]
    return (first, *inner, last)


def group_by_throttle(points: Sequence[CutoffPoint]) -> list[list[CutoffPoint]]:
    """Points parted by throttle opening, in the order they come."""
    found: dict[float, list[CutoffPoint]] = {}
    for point in points:
        found.setdefault(point.throttle, []).append(point)
    return list(found.values())


def cutoff_table(
    performance: Performance, *, speed: float, cutoffs: tuple[float, ...] = (), throttle: float = 1.0
) -> tuple[CutoffPoint, ...]:
    """What each cutoff gives and costs at one speed and full boiler pressure.

    By the cycle each point is computed; by the handbook, and slower than the cycle's slowest turn, it is read from
    the map.

    Args:
        performance: The engine.
        speed: Train speed [m/s].
        cutoffs: Cutoffs wanted [1]; left out, each 5 % between the shortest and the longest of the gear.
        throttle: Opening of the throttle, above 0 to 1 [1].

    Returns:
        One point per cutoff.

    Raises:
        OutOfRange: A speed or cutoff beyond the map, or an opening the method does not cover.
    """
    wanted = cutoffs or default_cutoffs(performance)
    slowest = min_cycle_speed(performance.locomotive)
    for cutoff in wanted:  # the map says what is beyond it
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
    """Points by the cycle."""
    from locosim.engine.cylinders.operating_points import operating_points

    engine = cycle_layout(performance.locomotive)
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
            rim_effort=float(found.effort[i]) - performance.map.friction,
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
    """Temperature of the steam; boiling temperature without a superheater [K]."""
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
        rim_effort=effort - performance_map.friction,
        steam=steam,
        back_pressure=performance_map.back_pressure_at(speed=speed, cutoff=cutoff, pressure=pressure),
        events=valve_events_at(performance, cutoff),
        **_fuel_and_steam_share(performance, steam),
    )


def _fuel_and_steam_share(performance: Performance, steam: float) -> dict[str, float]:
    """Fuel, and share of the boiler's steam, for a steam rate to the cylinders in kg/s."""
    total_steam = steam + performance.locomotive.auxiliaries.continuous_demand
    return {
        "fuel": performance.supply.firing_rate_for(total_steam),
        "steam_share": total_steam / performance.supply.sustained,
    }


def valve_events_at(performance: Performance, cutoff: float) -> ValveEvents | None:
    """The valve of the first engine unit at a cutoff [1]; None by the handbook where no gear is given."""
    if performance.locomotive.engine_units[0].valve_gear is None and performance.method != "cycle":
        return None
    return locomotive_valve_events(performance.locomotive, cutoff)


def locomotive_valve_events(locomotive: Locomotive, cutoff: float) -> ValveEvents | None:
    """The valve of the first engine unit at a cutoff; None where mid gear gives a longer one.

    Args:
        locomotive: The engine.
        cutoff: Fraction of the stroke [1].
    """
    from locosim.engine.cylinders.layout import first_cylinder

    of = first_cylinder(locomotive)
    if cutoff < mid_gear_cutoff(lap=of.lap, lead=of.lead):
        return None
    front, back = valve_events(
        cutoff=cutoff, lap=of.lap, lead=of.lead, exhaust_lap=of.exhaust_lap, rod_ratio=of.rod_ratio
    )
    return ValveEvents(
        lead=of.lead,
        opening=min(front.steam_opening, of.port_width),
        admission=0.5 * (front.admission + back.admission),
        cutoff=0.5 * (front.cutoff + back.cutoff),
        release=0.5 * (front.release + back.release),
        compression=0.5 * (front.compression + back.compression),
    )


def _unreachable_effort(
    unreachable: Sequence[tuple[float, float]], effort: float, speed: float
) -> OutOfRange:
    """Make the error of a pull [N] that no opening gives, with what comes nearest to it.

    Args:
        unreachable: Openings, and what each gives instead [1, N].
        effort: Pull wanted [N].
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
        clauses.append(f"even the shortest gives {{least}} with the throttle open {100 * above[1]:.3g} %")
    text = f"no cutoff gives {{found}} at {format_speed(speed)}: {', and further open '.join(clauses)}"
    fault = Fault("effort", text, "N", figures)
    return OutOfRange(
        text.format_map({name: format_force(value) for name, value in figures.items()}), [fault]
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PullOptions:
    """Ways to give a wanted pull, the one that takes least fuel marked.

    Attributes:
        effort: Pull wanted at the rim, machine friction overcome [N].
        points: One for each throttle opening that gives it.
        most_economical: The point that takes least steam, and so least fuel.
        unreachable: Openings that do not give it: the most they give, or the least where that is too much [N].
    """

    effort: float
    points: tuple[CutoffPoint, ...]
    most_economical: CutoffPoint
    unreachable: tuple[tuple[float, float], ...]


def options_for_effort(
    performance: Performance, *, speed: float, effort: float, throttle_openings: tuple[float, ...] = ()
) -> PullOptions:
    """Find the cutoff that gives a pull at each throttle opening, and which of them is the cheapest.

    Args:
        performance: The engine.
        speed: Train speed [m/s].
        effort: Pull wanted at the rim, machine friction overcome [N].
        throttle_openings: Openings to try [1]; left out, from full to a quarter by the cycle, full by the handbook.

    Raises:
        OutOfRange: A pull that no opening gives.
    """
    if not effort > 0.0:
        raise OutOfRange.by(
            [Fault("effort", "must be above {least}, found {found}", "N", {"least": 0.0, "found": effort})]
        )
    openings = throttle_openings or (DEFAULT_THROTTLE_OPENINGS if performance.method == "cycle" else (1.0,))
    points: list[CutoffPoint] = []
    unreachable: list[tuple[float, float]] = []
    for opening in openings:
        table = [
            p
            for p in cutoff_table(performance, speed=speed, throttle=opening)
            if not math.isnan(p.rim_effort)
        ]
        if not table:
            unreachable.append((opening, 0.0))
            continue
        pulls = np.array([p.rim_effort for p in table])
        best = int(np.argmax(pulls))
        if not pulls[0] <= effort <= pulls[best]:
            unreachable.append((opening, float(pulls[best] if effort > pulls[best] else pulls[0])))
            continue
        cutoff = float(np.interp(effort, pulls[: best + 1], [p.cutoff for p in table[: best + 1]]))
        points += cutoff_table(performance, speed=speed, cutoffs=(cutoff,), throttle=opening)
    if not points:
        raise _unreachable_effort(unreachable, effort, speed)
    return PullOptions(
        effort=effort,
        points=tuple(points),
        most_economical=min(points, key=lambda p: p.steam),
        unreachable=tuple(unreachable),
    )
