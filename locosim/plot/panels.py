"""The panels of a run, each a function of an axes and the journey."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes

from locosim.constants import ATMOSPHERE
from locosim.journey.result import LIMITS, Journey
from locosim.physics.traction.adhesion import adhesion_limited_effort, adhesion_speed_factors
from locosim.physics.types import Floats
from locosim.plot.figure import COLORS, axis_label
from locosim.units import number

LEGEND: dict[str, Any] = {"loc": "upper right", "fontsize": 8, "borderaxespad": 0.1}
PANEL_WIDTH = 640.0  # narrowest width of the panels of the picture [pt]
LEGEND_HEADROOM = 1.28  # top of the axis over the maximum, so that the legend is above the lines


def distance_from_start(journey: Journey, chainage: float) -> float:
    """Distance of a chainage from the start, in the reader's units."""
    return float(number(chainage - float(journey.chainage[0]), "distance"))


def distances(journey: Journey) -> Floats:
    """Distance of the nodes from the start, in the reader's units."""
    return np.asarray(number(journey.chainage - journey.chainage[0], "distance"))


def line_end(journey: Journey) -> float:
    """Chainage of the last stop, which a run that ends early does not reach [m]."""
    excursion = journey.excursion
    last = excursion.route_as_run.station(excursion.stops[-1].station).chainage
    return max(last, float(journey.chainage[-1]))


def line_length(journey: Journey) -> float:
    """Distance from the start to the last stop, in the reader's units."""
    return max(distance_from_start(journey, line_end(journey)), 1e-6)


def shade_not_reached(axes: Axes, journey: Journey) -> Axes:
    """Shade the part of the line that the train does not reach."""
    if not journey.arrived:
        end = distance_from_start(journey, float(journey.chainage[-1]))
        axes.axvspan(
            end, line_length(journey), facecolor="none", edgecolor="#000000", alpha=0.12, hatch="///", linewidth=0.0,
            zorder=0,
        )  # fmt: skip
        axes.axvline(end, color=COLORS[1], linewidth=1.0, linestyle="--")
    return axes


def _step_values(values: Floats) -> Floats:
    """Values of steps repeated at the last node, for a stepped line."""
    return np.concatenate([values, values[-1:]]) if len(values) else np.zeros(1)


def _max_value(*values: Floats | float) -> float:
    """Maximum of several values and arrays, at least slightly above 0."""
    return max(1e-9, *(float(np.max(v, initial=0.0)) for v in values))


def fill(axes: Axes, x: Floats, y: Floats, to: float, **style: Any) -> None:
    """Fill between a line and a level, using only its corners, because matplotlib does not simplify fills."""
    slope = np.diff(y) / np.maximum(np.diff(x), 1e-12)
    corners = np.abs(np.diff(slope)) > 1e-6 * (1.0 + np.abs(slope[1:]))
    keep = np.concatenate([[True], corners, [True]]) if len(x) > 1 else np.ones(len(x), dtype=bool)
    axes.fill_between(x[keep], y[keep], to, linewidth=0, **style)


def speed(axes: Axes, journey: Journey) -> Axes:
    """Speed and allowed speed."""
    x = distances(journey)
    allowed = number(journey.allowed_speed, "speed")
    fill(axes, x, allowed, 0.0, color="#000000", alpha=0.08, label="allowed, with braking")
    axes.plot(x, number(journey.speed, "speed"), color=COLORS[0], label="run")
    axes.set_ylim(0, LEGEND_HEADROOM * _max_value(allowed))
    axes.set_ylabel(axis_label("speed", "speed"))
    axes.legend(ncols=2, **LEGEND)
    return axes


def limiting_factor(axes: Axes, journey: Journey) -> Axes:
    """Limiting factor at each step, one row for each."""
    x = distances(journey)
    codes = sorted(set(map(int, journey.limit)))
    for row, code in enumerate(codes):
        inside = np.concatenate([[False], journey.limit == code, [False]]).astype(int)
        first, last = np.flatnonzero(np.diff(inside) == 1), np.flatnonzero(np.diff(inside) == -1)
        spans = [(float(x[a]), float(x[b] - x[a])) for a, b in zip(first, last, strict=True)]
        axes.broken_barh(spans, (row - 0.35, 0.7), color=COLORS[code % len(COLORS)], linewidth=0.6)
    axes.set_yticks(range(len(codes)), [LIMITS[code] for code in codes], fontsize=8)
    axes.set_ylim(len(codes) - 0.4, -0.6)
    axes.set_ylabel("limited by")
    axes.grid(visible=False, axis="y")
    return axes


def pull(axes: Axes, journey: Journey) -> Axes:
    """Tractive effort at the rim and adhesion limit; brake force below zero."""
    x = distances(journey)
    net = np.maximum(journey.performance.map.rim_effort(journey.effort), 0.0)
    middle = 0.5 * (journey.speed[:-1] + journey.speed[1:])
    coefficient = journey.adhesion * adhesion_speed_factors(middle)
    adhesion_limit = adhesion_limited_effort(
        mass_on_drivers=journey.performance.mass_on_drivers, coefficient=coefficient
    )
    lines: list[tuple[str, Floats, dict[str, Any]]] = [
        ("tractive effort at the rim", net, {"color": COLORS[0]}),
        (
            "adhesion limit",
            np.asarray(adhesion_limit),
            {"color": COLORS[5], "linestyle": ":", "linewidth": 1.1},
        ),
    ]
    if np.any(journey.helper_effort > 0.0):
        lines.append(("helpers", journey.helper_effort, {"color": COLORS[2], "linestyle": "-."}))
    for name, values, style in lines:
        axes.step(x, number(_step_values(values), "force"), where="post", label=name, **style)
    brake = number(_step_values(-journey.brake), "force")
    fill(axes, x, brake, 0.0, step="post", color=COLORS[1], alpha=0.7, label="brake")
    axes.axhline(0.0, color="#000000", linewidth=0.6)
    top = number(_max_value(net, journey.helper_effort, np.asarray(adhesion_limit)), "force")
    low = number(_max_value(journey.brake), "force")
    axes.set_ylim(-1.05 * low, 1.35 * top + 0.15 * low)
    axes.set_ylabel(axis_label("tractive effort", "force"))
    axes.legend(ncols=4, **LEGEND)
    return axes


def cutoff(axes: Axes, journey: Journey) -> Axes:
    """Cutoff; blank where the throttle is shut."""
    shown = np.where(journey.cutoff > 0.0, 100.0 * journey.cutoff, np.nan)
    axes.step(distances(journey), _step_values(shown), where="post", color=COLORS[3])
    axes.set_ylim(0, 95)
    axes.set_ylabel("cutoff\n[% of stroke]")
    return axes


def pressure(axes: Axes, journey: Journey) -> Axes:
    """Gauge pressure of the boiler, with the working pressure and the minimum allowed."""
    gauge = number(journey.pressure - ATMOSPHERE, "pressure")
    working = journey.performance.locomotive.boiler.working_pressure_gauge
    floor = number(journey.excursion.criteria.min_boiler_pressure * working, "pressure")
    top = number(working, "pressure")
    axes.plot(distances(journey), gauge, color=COLORS[1], label="pressure")
    axes.axhline(top, color=COLORS[5], linewidth=0.9, label="working pressure")
    axes.axhline(floor, color=COLORS[5], linewidth=0.9, linestyle="--", label="minimum allowed")
    low, high = min(float(np.min(gauge)), floor), max(float(np.max(gauge)), top)
    axes.set_ylim(low - 0.12 * (high - low), high + 0.4 * (high - low))
    axes.set_ylabel(axis_label("gauge\npressure", "pressure"))
    axes.legend(ncols=3, **LEGEND)
    return axes


def water_level(axes: Axes, journey: Journey) -> Axes:
    """Water over the crown sheet and in the water glass, with the tilt from grade and acceleration."""
    x = distances(journey)
    minimum = number(journey.excursion.criteria.min_crown_sheet_cover, "small_length")
    cover = number(_step_values(journey.crown_cover), "small_length")
    glass = number(_step_values(journey.glass_reading), "small_length")
    axes.step(x, cover, where="post", color=COLORS[0], label="over the crown sheet")
    axes.step(x, glass, where="post", color=COLORS[2], linewidth=0.7, label="in the water glass")
    axes.axhline(
        minimum, color=COLORS[5], linewidth=0.9, linestyle="--", label="minimum over the crown sheet"
    )
    low, high = (
        min(0.0, float(np.min(cover)), float(np.min(glass))),
        max(float(np.max(cover)), float(np.max(glass))),
    )
    axes.set_ylim(low, high + 0.4 * (high - low))
    axes.set_ylabel(axis_label("water", "small_length"))
    axes.legend(ncols=3, **LEGEND)
    return axes


def steam(axes: Axes, journey: Journey) -> Axes:
    """Steam to the cylinders, steam generated by the fire, and the sustained evaporation left for the cylinders."""
    x = distances(journey)
    supply = journey.performance.supply
    axes.step(
        x, number(_step_values(journey.steam), "steam_rate"), where="post", color=COLORS[0], linewidth=1.1,
        label="to the cylinders",
    )  # fmt: skip
    highest = [journey.steam, np.array([journey.performance.sustained_cylinder_steam])]
    if journey.transient_boiler:
        generated = np.interp(journey.firing, supply.firing_rates, supply.steam)
        highest.append(generated)
        axes.plot(
            x,
            number(generated, "steam_rate"),
            color=COLORS[1],
            linestyle="--",
            label="generated by the fire",
        )
    limit = number(journey.performance.sustained_cylinder_steam, "steam_rate")
    axes.axhline(limit, color=COLORS[5], linewidth=0.9, linestyle=":", label="sustained for the cylinders")
    axes.set_ylim(0, LEGEND_HEADROOM * number(_max_value(*highest), "steam_rate"))
    axes.set_ylabel(axis_label("steam", "steam_rate"))
    axes.legend(ncols=3, **LEGEND)
    return axes


def tender(axes: Axes, journey: Journey) -> Axes:
    """Water carried, in the tender and water cars, on the left; fuel on the right; and the required reserves."""
    excursion, x = journey.excursion, distances(journey)
    carrier, criteria = excursion.locomotive.tender, excursion.criteria
    water = axes.plot(x, number(journey.tender_water, "water"), color=COLORS[0], label="water, left")
    reserve = number(criteria.water_reserve * 1000.0 * carrier.water_capacity, "water")
    water.append(axes.axhline(reserve, color=COLORS[0], linewidth=0.9, linestyle=":", label="water reserve"))
    axes.set_ylim(0, 1.35 * number(_max_value(journey.tender_water), "water"))
    axes.set_ylabel(axis_label("water", "water"))

    right = axes.twinx()
    fuel = right.plot(
        x, number(journey.tender_fuel, "mass"), color=COLORS[4], linestyle="--", label="fuel, right"
    )
    reserve = number(criteria.fuel_reserve * carrier.fuel_capacity, "mass")
    fuel.append(
        right.axhline(reserve, color=COLORS[4], linewidth=0.9, linestyle=(0, (1, 3)), label="fuel reserve")
    )
    right.set_ylim(0, 1.35 * number(_max_value(journey.tender_fuel), "mass"))
    right.set_ylabel(axis_label("fuel", "mass"))
    right.grid(visible=False)
    right.spines["right"].set_visible(True)
    axes.legend(handles=[*water, *fuel], ncols=4, **LEGEND)
    return axes
