"""Consists compared as bars: margin, time, water, fuel and cost side by side."""

from __future__ import annotations

import textwrap
from collections.abc import Callable

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from locosim.constants import HOUR
from locosim.planning.consists import Consist, ConsistTable
from locosim.plot.figure import COLORS, axis_label, new_figure
from locosim.units import number

BAR, NAME_WIDTH = 0.42, 24  # height of a row [in]; characters of a line of a name
VERDICT_COLORS = {"clear": COLORS[2], "tight": "#d9a400", "stop": COLORS[1]}
MARGIN_SHOWN = 1.0  # a larger margin, on either side, is drawn as this


def plot_consists(compared: ConsistTable) -> Figure:
    """Draw a row of bars for each consist; the color is its verdict."""
    panels: list[tuple[str, Callable[[Consist], float | None]]] = [
        ("least margin [%]", _margin),
        ("time [h]", lambda each: None if each.time is None else each.time / HOUR),
        (axis_label("water", "water"), lambda each: _shown(each.water, "water")),
        (axis_label("fuel", "small_mass"), lambda each: _shown(each.fuel, "small_mass")),
    ]
    if compared.prices.given:
        panels.append(("cost", lambda each: each.cost))
    count = len(compared.consists)
    figure = new_figure(10.0, 1.7 + BAR * count)
    axes = figure.subplots(1, len(panels), sharey=True)
    for place, (name, value) in zip(axes, panels, strict=True):
        consist_bars(place, compared, value)
        place.set_xlabel(name)
    axes[0].axvline(0.0, color="#000000", linewidth=0.8)
    axes[0].set_yticks(
        [count - row for row in range(count)],
        [_name(each) for each in compared.consists],
        fontsize=8.5,
    )
    lines = [each.route_as_run.name for each in compared.excursions[:1]]
    figure.suptitle(f"Consists by {compared.order}{f': {lines[0]}' if lines else ''}", x=0.01, ha="left")
    return figure


def consist_bars(axes: Axes, compared: ConsistTable, value: Callable[[Consist], float | None]) -> Axes:
    """Draw one bar for each consist, the first at the top; a dash where there is no value."""
    count = len(compared.consists)
    for row, each in enumerate(compared.consists):
        found = value(each)
        if found is None:
            axes.text(0.0, count - row, " -", va="center", fontsize=9)
            continue
        axes.barh(count - row, found, height=0.7, color=VERDICT_COLORS.get(each.verdict or "", COLORS[5]))
        if value is _margin and each.worst is not None and each.worst.margin < -MARGIN_SHOWN:
            axes.text(
                found,
                count - row,
                f" {100.0 * each.worst.margin:.0f}",
                va="center",
                fontsize=8,
                color="#ffffff",
            )
    axes.grid(visible=False, axis="y")
    axes.set_ylim(0.4, count + 0.6)
    return axes


def _margin(each: Consist) -> float | None:
    return None if each.worst is None else 100.0 * min(max(each.worst.margin, -MARGIN_SHOWN), MARGIN_SHOWN)


def _shown(value: float | None, kind: str) -> float | None:
    return None if value is None else float(number(value, kind))


def _name(each: Consist) -> str:
    return f"{textwrap.fill(each.name, NAME_WIDTH)}\n{each.verdict or 'not checked'}"
