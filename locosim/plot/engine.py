"""The speed curve and the cutoff table as pictures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from locosim.engine.boiler.stored_heat import ShortEffort
from locosim.engine.command_results import CutoffTable, SpeedCurve
from locosim.engine.cutoff_table import CutoffPoint, group_by_throttle
from locosim.engine.speed_curve import CurvePoint, effort_curve, speed_curve
from locosim.plot.figure import COLORS, STYLES, TEXT_BOX, axis_label, group_thousands, new_figure
from locosim.units import number, show, show_percent

CURVE_POINTS = 161  # speeds of a plotted curve


def plot_curve(curve: SpeedCurve) -> Figure:
    """Draw tractive effort above and power below over speed, with the limiting factors along the top."""
    performance, rail = curve.performance, curve.rail
    speeds = tuple(map(float, np.linspace(curve.points[0].speed, curve.points[-1].speed, CURVE_POINTS)))
    points = speed_curve(performance, speeds=speeds, rail=rail)
    figure = new_figure(8.5, 8.0)
    pull, power = figure.subplots(2, 1, sharex=True, height_ratios=[3, 2])
    effort_over_speed(pull, points)
    power_over_speed(power, points)
    pull.set_title("top: limiting factor", loc="right", fontsize=8.5)
    if curve.efforts:
        short = effort_curve(performance, speeds=speeds, efforts=curve.efforts, rail=rail)
        add_effort(pull, power, short, curve.efforts[0])
    pull.set_title(
        f"{performance.locomotive.name}: sustained, {rail} rail, method {performance.method}", loc="left"
    )
    return figure


def effort_over_speed(axes: Axes, points: Sequence[CurvePoint]) -> Axes:
    """Tractive effort at the wheel rim and at the drawbar over speed, with the limiting factor of each band."""
    speed = [number(p.speed, "speed") for p in points]
    curves = (
        ("at the wheel rim", [p.rim_effort for p in points]),
        ("at the drawbar, level tangent track", [p.drawbar_pull for p in points]),
    )
    for i, (name, values) in enumerate(curves):
        _plot_line(axes, i, name, speed, values, "force")
    top = max(number(p.rim_effort, "force") for p in points) * 1.18
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
    axes.set_ylabel(axis_label("tractive effort", "force"))
    axes.set_xlim(0, speed[-1])
    axes.legend(loc="best")
    return axes


def _plot_line(
    axes: Axes, place: int, name: str, speed: Sequence[float], values: Sequence[float], kind: str
) -> None:
    """Plot one curve over speed, in the color and line style of its place in the panel."""
    shown = [number(v, kind) for v in values]
    axes.plot(speed, shown, color=COLORS[place], linestyle=STYLES[place], label=name)


def add_effort(pull: Axes, power: Axes, points: Sequence[CurvePoint], effort: ShortEffort) -> None:
    """Add drawbar pull and power of a short effort to both panels."""
    speed = [number(p.speed, "speed") for p in points]
    name = f"drawbar, short effort of {effort.duration / 60:g} minutes"
    for axes, kind, values in (
        (pull, "force", [p.drawbar_pull for p in points]),
        (power, "power", [p.drawbar_power for p in points]),
    ):
        _plot_line(axes, 2, name, speed, values, kind)
    pull.legend(loc="best")
    power.legend(loc="best")


def limit_bands(points: Sequence[CurvePoint]) -> list[tuple[int, int, str]]:
    """Runs of points with the same limiting factor: first, end and its name."""
    bands = []
    first = 0
    for i in range(1, len(points) + 1):
        if i == len(points) or points[i].limit != points[first].limit:
            bands.append((first, i, points[first].limit))
            first = i
    return bands


def power_over_speed(axes: Axes, points: Sequence[CurvePoint]) -> Axes:
    """Indicated and drawbar power over speed."""
    speed = [number(p.speed, "speed") for p in points]
    curves = (
        ("indicated", [p.indicated_power for p in points]),
        ("drawbar, level tangent track", [p.drawbar_power for p in points]),
    )
    for i, (name, values) in enumerate(curves):
        _plot_line(axes, i, name, speed, values, "power")
    axes.set_ylim(bottom=0)
    group_thousands(axes)
    axes.set_ylabel(axis_label("power", "power"))
    axes.set_xlabel(axis_label("speed", "speed"))
    axes.legend(loc="best")
    return axes


def plot_cutoff(cutoffs: CutoffTable) -> Figure:
    """Draw tractive effort, steam and steam rate over cutoff, one line for each throttle opening."""
    performance = cutoffs.performance
    figure = new_figure(8.5, 9.0)
    panels = figure.subplots(3, 1, sharex=True)
    shown: list[tuple[str, str, Callable[[CutoffPoint], float]]] = [
        ("tractive effort at the rim", "force", lambda p: p.rim_effort),
        ("steam", "steam_rate", lambda p: p.steam),
        ("steam rate", "specific_steam_consumption", lambda p: p.steam_per_work),
    ]
    groups = group_by_throttle(cutoffs.points)
    for i, (axes, (name, kind, of)) in enumerate(zip(panels, shown, strict=True)):
        _cutoff_panel(axes, groups, kind, of, i)
        axes.set_ylabel(axis_label(name, kind))
    limit = number(performance.sustained_cylinder_steam, "steam_rate")
    panels[1].axhline(limit, color=COLORS[5], linestyle="--", linewidth=1)
    name = f"sustained for the cylinders, limited by the {performance.supply.binding.name}"
    # Where the last cutoff needs more, its lines leave the space below the limit at the right free.
    below = groups[0][-1].steam > performance.sustained_cylinder_steam
    place: dict[str, Any] = {"xytext": (4, 4), "ha": "left", "va": "bottom"}
    if below:
        place = {"xytext": (-4, -4), "ha": "right", "va": "top"}
    panels[1].annotate(
        name, (1.0 if below else 0.0, limit), xycoords=("axes fraction", "data"), textcoords="offset points",
        fontsize=8.5, bbox=TEXT_BOX, **place,
    )  # fmt: skip
    panels[-1].set_xlabel("cutoff [% of stroke]")
    panels[0].set_title(
        f"{performance.locomotive.name} at {show(cutoffs.speed, 'speed')}, method {performance.method}",
        loc="left",
    )
    return figure


def _cutoff_panel(
    axes: Axes,
    groups: Sequence[Sequence[CutoffPoint]],
    kind: str,
    of: Callable[[CutoffPoint], float],
    color: int,
) -> None:
    """Draw one quantity over cutoff; a single line has the color of its panel."""
    tops = []
    for i, points in enumerate(groups):
        values = [number(of(point), kind) for point in points]
        tops += [value for value in values if np.isfinite(value)]
        axes.plot(
            [100 * point.cutoff for point in points],
            values,
            color=COLORS[color if len(groups) == 1 else i % len(COLORS)],
            linestyle=STYLES[i % len(STYLES)],
            marker="o",
            markersize=3.5,
            label=f"throttle {show_percent(points[0].throttle)}",
        )
    if max(tops, default=0.0) > 0.0:
        axes.set_ylim(0, 1.08 * max(tops))
        group_thousands(axes)
    elif not tops:  # at rest, or where no cutoff gives power
        axes.set_yticks([])
        axes.annotate("no power", (0.5, 0.5), xycoords="axes fraction", ha="center", va="center")
    if len(groups) > 1:
        axes.legend(loc="best")
