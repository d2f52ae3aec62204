"""Pictures of what an engine can do."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from locosim.engine.boiler.stored_heat import ShortEffort
from locosim.engine.cutoff_table import CutoffPoint, group_by_throttle
from locosim.engine.performance import Performance
from locosim.engine.speed_curve import CurvePoint, effort_curve, speed_curve
from locosim.plot.figure import COLORS, STYLES, axis_label, group_thousands, new_figure
from locosim.units import number, show, show_percent

CURVE_POINTS = 161  # speeds of a drawn curve


def plot_curve(
    performance: Performance,
    points: Sequence[CurvePoint],
    rail: str,
    system: str,
    efforts: Sequence[ShortEffort] = (),
) -> Figure:
    """Pull above, power below, over speed; the limit that binds is written along the pull.

    Args:
        performance: The engine.
        points: Points of the table; the picture covers the same speeds, more finely.
        rail: Condition of the rail.
        system: Units, `us`, `metric` or `british`.
        efforts: A short effort to draw beside what is sustained, by falls of pressure.
    """
    fine = tuple(map(float, np.linspace(points[0].speed, points[-1].speed, CURVE_POINTS)))
    points = speed_curve(performance, speeds=fine, rail=rail)
    figure = new_figure(8.5, 8.0)
    pull, power = figure.subplots(2, 1, sharex=True, height_ratios=[3, 2])
    effort_over_speed(pull, points, system)
    power_over_speed(power, points, system)
    if efforts:
        short = effort_curve(performance, speeds=fine, efforts=efforts, rail=rail)
        add_effort(pull, power, short, efforts[0], system)
    pull.set_title(
        f"{performance.locomotive.name}: sustained, {rail} rail, method {performance.method}", loc="left"
    )
    return figure


def effort_over_speed(axes: Axes, points: Sequence[CurvePoint], system: str) -> Axes:
    """Wheel and drawbar pull over speed, with bands for the limit that binds."""
    speed = [number(p.speed, "speed", system) for p in points]
    curves = (
        ("at the wheel rim", [p.rim_effort for p in points]),
        ("at the drawbar, level track", [p.drawbar_pull for p in points]),
    )
    for i, (name, values) in enumerate(curves):
        _plot_line(axes, i, name, speed, values, "force", system)
    top = max(number(p.rim_effort, "force", system) for p in points) * 1.18
    for first, last, name in limit_bands(points):
        begin, end = speed[first], speed[min(last, len(speed) - 1)]
        axes.axvline(begin, color="#000000", alpha=0.4, linewidth=0.8)
        upright = end - begin < 0.12 * (speed[-1] - speed[0])
        axes.annotate(
            name, (begin, top), xytext=(1 if upright else 3, -3), textcoords="offset points",
            ha="left", va="top", fontsize=8 if upright else 8.5, rotation=90 if upright else 0,
        )  # fmt: skip
    axes.set_ylim(0, top)
    group_thousands(axes)
    axes.set_ylabel(axis_label("tractive effort", "force", system))
    axes.set_xlim(0, speed[-1])
    axes.legend(loc="best")
    return axes


def _plot_line(
    axes: Axes, place: int, name: str, speed: Sequence[float], values: Sequence[float], kind: str, system: str
) -> None:
    """One curve over speed, in the colour and line of its place in the panel."""
    shown = [number(v, kind, system) for v in values]
    axes.plot(speed, shown, color=COLORS[place], linestyle=STYLES[place], label=name)


def add_effort(
    pull: Axes, power: Axes, points: Sequence[CurvePoint], effort: ShortEffort, system: str
) -> None:
    """Drawbar pull and power of a short effort, drawn into both panels."""
    speed = [number(p.speed, "speed", system) for p in points]
    name = f"drawbar, for {effort.duration / 60:g} minutes"
    for axes, kind, values in (
        (pull, "force", [p.drawbar_pull for p in points]),
        (power, "power", [p.drawbar_power for p in points]),
    ):
        _plot_line(axes, 2, name, speed, values, kind, system)
    pull.legend(loc="best")
    power.legend(loc="best")


def limit_bands(points: Sequence[CurvePoint]) -> list[tuple[int, int, str]]:
    """Runs of points held by the same limit: first, last and its name."""
    bands = []
    first = 0
    for i in range(1, len(points) + 1):
        if i == len(points) or points[i].limit != points[first].limit:
            bands.append((first, i, points[first].limit))
            first = i
    return bands


def power_over_speed(axes: Axes, points: Sequence[CurvePoint], system: str) -> Axes:
    """Indicated and drawbar power over speed."""
    speed = [number(p.speed, "speed", system) for p in points]
    curves = (
        ("indicated", [p.indicated_power for p in points]),
        ("drawbar, level track", [p.drawbar_power for p in points]),
    )
    for i, (name, values) in enumerate(curves):
        _plot_line(axes, i, name, speed, values, "power", system)
    axes.set_ylim(bottom=0)
    group_thousands(axes)
    axes.set_ylabel(axis_label("power", "power", system))
    axes.set_xlabel(axis_label("speed", "speed", system))
    axes.legend(loc="best")
    return axes


def plot_cutoff(performance: Performance, points: Sequence[CutoffPoint], speed: float, system: str) -> Figure:
    """Pull, steam and steam per work over cutoff at one speed, a line for each throttle opening."""
    figure = new_figure(8.5, 9.0)
    panels = figure.subplots(3, 1, sharex=True)
    shown: list[tuple[str, str, Callable[[CutoffPoint], float]]] = [
        ("tractive effort at the rim", "force", lambda p: p.rim_effort),
        ("steam", "steam_rate", lambda p: p.steam),
        ("steam per indicated work", "specific_steam_consumption", lambda p: p.steam_per_work),
    ]
    tables = group_by_throttle(points)
    for i, (axes, (name, kind, of)) in enumerate(zip(panels, shown, strict=True)):
        tops = []
        for j, rows in enumerate(tables):
            values = [number(of(p), kind, system) for p in rows]
            tops += [v for v in values if np.isfinite(v)]
            axes.plot(
                [100 * p.cutoff for p in rows],
                values,
                color=COLORS[i if len(tables) == 1 else j % len(COLORS)],
                linestyle=STYLES[j % len(STYLES)],
                marker="o",
                markersize=3.5,
                label=f"throttle {show_percent(rows[0].throttle)}",
            )
        axes.set_ylabel(axis_label(name, kind, system))
        if max(tops, default=0.0) > 0.0:
            axes.set_ylim(0, 1.08 * max(tops))
            group_thousands(axes)
        elif not tops:  # at rest, or where no cutoff gives power
            axes.set_yticks([])
            axes.annotate("no power", (0.5, 0.5), xycoords="axes fraction", ha="center", va="center")
        if len(tables) > 1:
            axes.legend(loc="best")
    limit = number(performance.sustained_cylinder_steam, "steam_rate", system)
    panels[1].axhline(limit, color=COLORS[5], linestyle="--", linewidth=1)
    panels[1].annotate(
        f"kept up by the boiler ({performance.supply.binding.name})", (100 * points[0].cutoff, limit),
        xytext=(0, 4), textcoords="offset points", ha="left", fontsize=8.5,
    )  # fmt: skip
    panels[-1].set_xlabel("cutoff [% of stroke]")
    panels[0].set_title(
        f"{performance.locomotive.name} at {show(speed, 'speed', system)}, method {performance.method}",
        loc="left",
    )
    return figure
