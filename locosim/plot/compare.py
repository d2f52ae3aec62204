"""Two engines in one picture: drawbar pull and power over speed, and the effect of each change."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from locosim.engine.comparison import ChangeEffect, ComparedEngine, Comparison
from locosim.engine.speed_curve import CurvePoint, speed_curve
from locosim.plot.figure import COLORS, STYLES, axis_label, group_thousands, new_figure
from locosim.units import number, show

CURVE_POINTS = 121  # speeds of a plotted curve
MIN_BAR = 2e-3  # smallest change that has a bar
EFFECTS = (
    ("starting tractive effort", "start"),
    ("drawbar power", "power"),
    ("fuel per drawbar work", "fuel"),
)


def plot_compare(comparison: Comparison) -> Figure:
    """Draw drawbar pull, drawbar power, and bars for each change."""
    bars = len(_visible_changes(comparison)) + 1 if comparison.changes else 0
    heights = [2.6, 2.3] + ([0.5 + 0.42 * bars] if bars else [])
    figure = new_figure(8.5, 1.2 + sum(heights))
    panels = figure.subplots(len(heights), 1, height_ratios=heights)
    sides = (comparison.first, comparison.second)
    curves = [_curve(side, comparison) for side in sides]
    for axes, kind, name in ((panels[0], "force", "drawbar pull"), (panels[1], "power", "drawbar power")):
        curve_panel(axes, sides, curves, kind, name)
    panels[0].set_title(
        f"Sustained, {comparison.rail} rail, method {comparison.first.performance.method}", loc="left"
    )
    if bars:
        change_effect_panel(panels[2], comparison)
    return figure


def _visible_changes(comparison: Comparison) -> list[ChangeEffect]:
    """Changes with a bar that is visible."""
    return [
        effect
        for effect in comparison.changes
        if any(abs(value or 0.0) >= MIN_BAR for value in (effect.start, effect.power, effect.fuel))
    ]


def _curve(side: ComparedEngine, comparison: Comparison) -> Sequence[CurvePoint]:
    """Sustained curve with a fine step, up to the highest speed compared."""
    speeds = np.linspace(0.0, comparison.first.rows[-1].speed, CURVE_POINTS)
    return speed_curve(side.performance, speeds=tuple(map(float, speeds)), rail=comparison.rail)


def curve_panel(
    axes: Axes,
    sides: Sequence[ComparedEngine],
    curves: Sequence[Sequence[CurvePoint]],
    kind: str,
    name: str,
) -> Axes:
    """Drawbar pull or power of both engines over speed."""
    top = 0.0
    for i, (side, points) in enumerate(zip(sides, curves, strict=True)):
        values = [
            number(max(p.drawbar_pull if kind == "force" else p.drawbar_power, 0.0), kind) for p in points
        ]
        top = max(top, *values)
        axes.plot(
            [number(p.speed, "speed") for p in points],
            values,
            color=COLORS[i],
            linestyle=STYLES[i],
            label=f"{'AB'[i]}: {side.performance.locomotive.name}",
        )
    axes.set_ylim(0, 1.1 * top)
    axes.set_xlim(left=0)
    axes.set_xlabel(axis_label("speed", "speed"))
    axes.set_ylabel(axis_label(name, kind))
    group_thousands(axes)
    if kind == "force":  # the panel below has the same lines
        axes.legend(loc="upper right")
    return axes


def change_effect_panel(axes: Axes, comparison: Comparison) -> Axes:
    """Draw a group of bars for each change, all changes together last."""
    rows = [*_visible_changes(comparison), comparison.combined]
    place = np.arange(len(rows), dtype=float)[::-1]
    for i, (name, key) in enumerate(EFFECTS):
        values = [100 * (getattr(effect, key) or 0.0) for effect in rows]
        axes.barh(place + 0.26 * (1 - i), values, height=0.24, color=COLORS[i], label=name)
    axes.axvline(0.0, color="#000000", linewidth=0.8)
    axes.set_yticks(place, [effect.label for effect in rows], fontsize=8.5)
    axes.grid(visible=False, axis="y")
    axes.set_ylim(-0.6, len(rows) - 0.4)
    axes.set_xlabel(
        f"change from A, each applied alone; power and fuel at {show(comparison.speed, 'speed')} [%]"
    )
    axes.legend(loc="lower center", bbox_to_anchor=(0.4, 1.0), ncols=3, fontsize=8.5)
    return axes
