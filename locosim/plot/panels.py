"""The panels of a run, each a function of an axes, the journey and the reader's units."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes

from locosim.constants import ATMOSPHERE
from locosim.journey.run import LIMITS, Journey
from locosim.physics.traction.adhesion import adhesion_coefficient, adhesive_pull
from locosim.physics.types import Floats
from locosim.plot.figure import COLOURS, axis_label
from locosim.units import number

LEGEND: dict[str, Any] = {"loc": "upper right", "fontsize": 8, "borderaxespad": 0.1}
ROOM = 1.28  # of the greatest value, so that the legend stands above the lines


def shown(value: Any, kind: str, system: str) -> Any:
    """Convert a number or an array to the reader's units."""
    return number(value, kind, system)


def along(journey: Journey, chainage: float, system: str) -> float:
    """Distance of a chainage from the start."""
    return float(shown(chainage - float(journey.chainage[0]), "distance", system))


def distances(journey: Journey, system: str) -> Floats:
    """Distance of the nodes from the start."""
    return np.asarray(shown(journey.chainage - journey.chainage[0], "distance", system))


def _steps(values: Floats) -> Floats:
    """Values of steps laid on the nodes, for a stepped line."""
    return np.concatenate([values, values[-1:]]) if len(values) else np.zeros(1)


def _greatest(*values: Floats | float) -> float:
    """Greatest of several values and arrays, at least a little above 0."""
    return max(1e-9, *(float(np.max(v, initial=0.0)) for v in values))


def _filled(axes: Axes, x: Floats, y: Floats, to: float, **look: Any) -> None:
    """Fill between a line and a level, with the corners of the line only: fills are not thinned by the library."""
    slope = np.diff(y) / np.maximum(np.diff(x), 1e-12)
    turns = np.abs(np.diff(slope)) > 1e-6 * (1.0 + np.abs(slope[1:]))
    keep = np.concatenate([[True], turns, [True]]) if len(x) > 1 else np.ones(len(x), dtype=bool)
    axes.fill_between(x[keep], y[keep], to, linewidth=0, **look)


def speed(axes: Axes, journey: Journey, system: str) -> Axes:
    """Speed and what the line allows."""
    x = distances(journey, system)
    allowed = shown(journey.top_speed, "speed", system)
    _filled(axes, x, allowed, 0.0, color="#000000", alpha=0.08, label="allowed, braking included")
    axes.plot(x, shown(journey.speed, "speed", system), color=COLOURS[0], label="run")
    axes.set_ylim(0, ROOM * _greatest(allowed))
    axes.set_ylabel(axis_label("speed", "speed", system))
    axes.legend(ncols=2, **LEGEND)
    return axes


def holder(axes: Axes, journey: Journey, system: str) -> Axes:
    """What held the pull in each step, one row for each."""
    x = distances(journey, system)
    codes = sorted(set(map(int, journey.limit)))
    for row, code in enumerate(codes):
        inside = np.concatenate([[False], journey.limit == code, [False]]).astype(int)
        first, last = np.flatnonzero(np.diff(inside) == 1), np.flatnonzero(np.diff(inside) == -1)
        spans = [(float(x[a]), float(x[b] - x[a])) for a, b in zip(first, last, strict=True)]
        axes.broken_barh(spans, (row - 0.35, 0.7), color=COLOURS[code % len(COLOURS)], linewidth=0.6)
    axes.set_yticks(range(len(codes)), [LIMITS[code] for code in codes], fontsize=8)
    axes.set_ylim(len(codes) - 0.4, -0.6)
    axes.set_ylabel("held by")
    axes.grid(visible=False, axis="y")
    return axes


def profile(axes: Axes, journey: Journey, system: str) -> Axes:
    """Height of the rail above the start."""
    line = journey.excursion.line
    places, heights = [line.start], [0.0]
    for start, end, grade in line.grade_pieces():
        places.append(end)
        heights.append(heights[-1] + grade * (end - start))
    height = np.interp(journey.chainage, places, heights)
    x = distances(journey, system)
    rise = np.asarray(shown(height - height[0], "length", system))
    low, high = float(np.min(rise)), float(np.max(rise))
    _filled(axes, x, rise, low, color=COLOURS[4], alpha=0.25)
    axes.plot(x, rise, color=COLOURS[4])
    axes.set_ylim(low, high + 0.12 * max(high - low, 1.0))
    axes.set_ylabel(axis_label("rise", "length", system))
    return axes


def pull(axes: Axes, journey: Journey, system: str) -> Axes:
    """Pull at the rim and what the rail holds; brake below zero."""
    x = distances(journey, system)
    net = np.maximum(journey.pull - journey.performance.map.friction, 0.0)
    middle = 0.5 * (journey.speed[:-1] + journey.speed[1:])
    coefficient = adhesion_coefficient(coefficient_at_rest=journey.adhesion, speed=middle)
    holds = adhesive_pull(adhesive_mass=journey.performance.adhesive_mass, coefficient=coefficient)
    lines: list[tuple[str, Floats, dict[str, Any]]] = [
        ("pull at the rim", net, {"color": COLOURS[0]}),
        ("the rail holds", np.asarray(holds), {"color": COLOURS[5], "linestyle": ":", "linewidth": 1.1}),
    ]
    if np.any(journey.assist_pull > 0.0):
        lines.append(("assistance", journey.assist_pull, {"color": COLOURS[2], "linestyle": "-."}))
    for name, values, look in lines:
        axes.step(x, shown(_steps(values), "force", system), where="post", label=name, **look)
    brake = shown(_steps(-journey.brake), "force", system)
    _filled(axes, x, brake, 0.0, step="post", color=COLOURS[1], alpha=0.7, label="brake")
    axes.axhline(0.0, color="#000000", linewidth=0.6)
    top = shown(_greatest(net, journey.assist_pull, np.asarray(holds)), "force", system)
    low = shown(_greatest(journey.brake), "force", system)
    axes.set_ylim(-1.05 * low, 1.35 * top + 0.15 * low)
    axes.set_ylabel(axis_label("pull", "force", system))
    axes.legend(ncols=4, **LEGEND)
    return axes


def cutoff(axes: Axes, journey: Journey, system: str) -> Axes:
    """Cutoff; nothing where the regulator is shut."""
    shut = np.where(journey.cutoff > 0.0, 100.0 * journey.cutoff, np.nan)
    axes.step(distances(journey, system), _steps(shut), where="post", color=COLOURS[3])
    axes.set_ylim(0, 95)
    axes.set_ylabel("cutoff\n[% of stroke]")
    return axes


def pressure(axes: Axes, journey: Journey, system: str) -> Axes:
    """Boiler pressure by gauge, with the working pressure and the floor of the check."""
    gauge = shown(journey.pressure - ATMOSPHERE, "pressure", system)
    working = journey.performance.locomotive.boiler.working_pressure_gauge
    floor = shown(journey.excursion.criteria.pressure_least * working, "pressure", system)
    top = shown(working, "pressure", system)
    axes.plot(distances(journey, system), gauge, color=COLOURS[1], label="pressure")
    axes.axhline(top, color=COLOURS[5], linewidth=0.9, label="working pressure")
    axes.axhline(floor, color=COLOURS[5], linewidth=0.9, linestyle="--", label="least by the check")
    low, high = min(float(np.min(gauge)), floor), max(float(np.max(gauge)), top)
    axes.set_ylim(low - 0.12 * (high - low), high + 0.4 * (high - low))
    axes.set_ylabel(axis_label("gauge\npressure", "pressure", system))
    axes.legend(ncols=3, **LEGEND)
    return axes


def water_level(axes: Axes, journey: Journey, system: str) -> Axes:
    """Water over the crown sheet and in the glass, tilted by grade and acceleration."""
    x = distances(journey, system)
    least = shown(journey.excursion.criteria.crown_cover_least, "small_length", system)
    cover = shown(_steps(journey.crown_cover), "small_length", system)
    glass = shown(_steps(journey.glass), "small_length", system)
    axes.step(x, cover, where="post", color=COLOURS[0], label="over the crown sheet")
    axes.step(x, glass, where="post", color=COLOURS[2], linewidth=0.7, label="in the glass")
    axes.axhline(least, color=COLOURS[5], linewidth=0.9, linestyle="--", label="least cover by the check")
    low, high = (
        min(0.0, float(np.min(cover)), float(np.min(glass))),
        max(float(np.max(cover)), float(np.max(glass))),
    )
    axes.set_ylim(low, high + 0.4 * (high - low))
    axes.set_ylabel(axis_label("water", "small_length", system))
    axes.legend(ncols=3, **LEGEND)
    return axes


def steam(axes: Axes, journey: Journey, system: str) -> Axes:
    """Steam to the cylinders, steam the fire makes, and what the boiler keeps up."""
    x = distances(journey, system)
    supply = journey.performance.supply
    axes.step(
        x, shown(_steps(journey.steam), "steam_rate", system), where="post", color=COLOURS[0], linewidth=1.1,
        label="to the cylinders",
    )  # fmt: skip
    highest = [journey.steam, np.array([journey.performance.cylinder_steam])]
    if journey.live_boiler:
        made = np.interp(journey.firing, supply.firing, supply.steam)
        highest.append(made)
        axes.plot(
            x, shown(made, "steam_rate", system), color=COLOURS[1], linestyle="--", label="made by the fire"
        )
    limit = shown(journey.performance.cylinder_steam, "steam_rate", system)
    axes.axhline(limit, color=COLOURS[5], linewidth=0.9, linestyle=":", label="kept up for the cylinders")
    axes.set_ylim(0, ROOM * shown(_greatest(*highest), "steam_rate", system))
    axes.set_ylabel(axis_label("steam", "steam_rate", system))
    axes.legend(ncols=3, **LEGEND)
    return axes


def tender(axes: Axes, journey: Journey, system: str) -> Axes:
    """Water carried, water cars among it, on the left; fuel on the right; the reserves asked for."""
    excursion, x = journey.excursion, distances(journey, system)
    carrier, criteria = excursion.locomotive.tender, excursion.criteria
    water = axes.plot(x, shown(journey.tender_water, "water", system), color=COLOURS[0], label="water, left")
    reserve = shown(criteria.water_reserve * 1000.0 * carrier.water_capacity, "water", system)
    water.append(axes.axhline(reserve, color=COLOURS[0], linewidth=0.9, linestyle=":", label="water reserve"))
    axes.set_ylim(0, 1.35 * shown(_greatest(journey.tender_water), "water", system))
    axes.set_ylabel(axis_label("water", "water", system))

    right = axes.twinx()
    fuel = right.plot(
        x, shown(journey.tender_fuel, "mass", system), color=COLOURS[4], linestyle="--", label="fuel, right"
    )
    reserve = shown(criteria.fuel_reserve * carrier.fuel_capacity, "mass", system)
    fuel.append(
        right.axhline(reserve, color=COLOURS[4], linewidth=0.9, linestyle=(0, (1, 3)), label="fuel reserve")
    )
    right.set_ylim(0, 1.35 * shown(_greatest(journey.tender_fuel), "mass", system))
    right.set_ylabel(axis_label("fuel", "mass", system))
    right.grid(visible=False)
    right.spines["right"].set_visible(True)
    axes.legend(handles=[*water, *fuel], ncols=4, **LEGEND)
    return axes
