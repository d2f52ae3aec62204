"""Lines of a variation: a panel for each column over one input, and a line for each value of another."""

from __future__ import annotations

import math
import textwrap
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from locosim.physics.types import Floats
from locosim.planning.finding import STOP, TIGHT
from locosim.plot.figure import COLORS, STYLES, TEXT_BOX, new_figure
from locosim.plot.variation_axes import (
    HATCHES,
    MAX_PANELS,
    add_title,
    axis_of_input,
    axis_range,
    categories,
    cell_edges,
    column_label,
    format_axis,
    is_number,
    shown_values,
    text_columns,
    value_name,
)
from locosim.studies.vary import Variation

WIDTH, PANEL, STRIP = 8.6, 2.1, 0.32  # of the picture, height of a panel and of a line of texts [in]
VERDICT_FILLS = {TIGHT: "#f2e2a8", STOP: "#e3b7a4"}
MARKERS = {"clear": "o", TIGHT: "^", STOP: "X", None: "o"}


def line_panels(variation: Variation, *, along: int) -> Figure:
    """A panel for each column over one input; a line for each value of the other one."""
    groups = _groups(variation, along)
    numbers = [i for i in range(len(variation.columns)) if is_number(variation, i)][:MAX_PANELS]
    texts = text_columns(variation)
    heights = [PANEL] * len(numbers) + [0.5 + STRIP * len(categories(variation, i)) for i in texts]
    figure = new_figure(WIDTH, 1.0 + sum(heights))
    panels = figure.subplots(len(heights), 1, sharex=True, height_ratios=heights, squeeze=False)[:, 0]
    places = axis_of_input(panels[-1].xaxis, variation.inputs[along])
    for panel, place in zip(panels, numbers, strict=False):
        _line_panel(panel, variation, place, places, groups)
    for panel, place in zip(panels[len(numbers) :], texts, strict=True):
        _text_panel(panel, variation, place, places, groups)
    for panel in panels[:-1]:
        panel.tick_params(labelbottom=False)
    if len(groups) == 1:
        for panel in panels:
            _shade_verdicts(panel, variation, places)
    edges = cell_edges(np.sort(places))
    panels[-1].set_xlim(edges[0], edges[-1])
    add_title(figure, variation)
    other = "" if len(groups) == 1 else variation.inputs[1 - along].path
    _line_legend(panels[0], variation, groups, other)
    figure.align_ylabels(panels)
    return figure


def _groups(variation: Variation, along: int) -> list[tuple[str, list[int]]]:
    """Rows of each line, in order of the input along the axis, with the value of the other input."""
    if len(variation.inputs) == 1:
        return [("", list(range(len(variation.rows))))]
    other = 1 - along
    shape = tuple(len(each.texts) for each in variation.inputs)
    rows = np.arange(len(variation.rows)).reshape(shape)
    return [
        (value_name(text), [int(i) for i in (rows[:, k] if along == 0 else rows[k, :])])
        for k, text in enumerate(variation.inputs[other].texts)
    ]


def _line_panel(
    axes: Axes, variation: Variation, place: int, places: Floats, groups: list[tuple[str, list[int]]]
) -> None:
    values = shown_values(variation, place)
    order = np.argsort(places, kind="stable")
    dotted = variation.inputs[0].numbers is None and len(groups) == 1
    for k, (_, rows) in enumerate(groups):
        color, style = COLORS[k % len(COLORS)], STYLES[k % len(STYLES)]
        y = values[rows]
        axes.plot(
            places[order], y[order], color=color, linestyle=":" if dotted else style, linewidth=1.0 if dotted else 1.5
        )  # fmt: skip
        for verdict, marker in MARKERS.items():
            chosen = [i for i, row in enumerate(rows) if variation.rows[row].verdict == verdict]
            axes.plot(
                places[chosen], y[chosen], linestyle="", marker=marker, color=color, markersize=6,
                markeredgecolor="#ffffff", markeredgewidth=0.6,
            )  # fmt: skip
    finite = values[np.isfinite(values)]
    if not finite.size:
        axes.text(0.5, 0.5, "no value", transform=axes.transAxes, ha="center", va="center", bbox=TEXT_BOX)
        axes.set_yticks([])
    else:
        low, high = axis_range(finite, variation.columns[place])
        axes.set_ylim(low, high)
        format_axis(axes.yaxis, variation.columns[place], low, high)
        if low < 0.0 < high:
            axes.axhline(0.0, color="#000000", linewidth=0.8)
    axes.set_ylabel(column_label(variation.columns[place]))
    _mark_missing(axes, variation, places, groups, values)


def _mark_missing(
    axes: Axes, variation: Variation, places: Floats, groups: list[tuple[str, list[int]]], values: Floats
) -> None:
    """Mark what has no value at the lower edge: a dash, or `not computed`."""
    for i, place in enumerate(places):
        rows = [each[i] for _, each in groups]
        if not all(math.isnan(values[row]) for row in rows):
            continue
        text = "not computed" if all(variation.rows[row].problem for row in rows) else "no value"
        axes.text(
            place, 0.03, text, transform=axes.get_xaxis_transform(), rotation=90, fontsize=7, ha="center", va="bottom",
            bbox=TEXT_BOX,
        )  # fmt: skip


def _text_panel(
    axes: Axes, variation: Variation, place: int, places: Floats, groups: list[tuple[str, list[int]]]
) -> None:
    """A column of texts: a line of its own for each text."""
    names, values = categories(variation, place), variation.column_values(place)
    spread, edges = 0.5 / len(groups), cell_edges(np.sort(places))
    reach = 0.3 * float(np.diff(edges).min())
    for k, (_, rows) in enumerate(groups):
        for i, row in enumerate(rows):
            if values[row] is None:
                continue
            height = names.index(str(values[row])) + (k - 0.5 * (len(groups) - 1)) * spread
            at = float(places[i])
            axes.plot([at - reach, at + reach], [height, height], linewidth=2.2, **_line_style(k))
    axes.set_yticks(range(len(names)), [textwrap.shorten(name, 22, placeholder="…") for name in names])
    axes.set_ylim(len(names) - 0.4, -0.6)
    axes.set_ylabel(column_label(variation.columns[place], width=14))


def _shade_verdicts(axes: Axes, variation: Variation, places: Floats) -> None:
    """Shade the cells of values whose verdict is tight or stop."""
    order = np.argsort(places, kind="stable")
    edges = cell_edges(places[order])
    for k, row in enumerate(order):
        verdict = variation.rows[row].verdict
        if verdict in VERDICT_FILLS:
            axes.axvspan(
                edges[k], edges[k + 1], facecolor=VERDICT_FILLS[verdict], edgecolor="#00000030", hatch=HATCHES[verdict],
                linewidth=0.0, zorder=0, alpha=0.6,
            )  # fmt: skip


def _line_style(number: int) -> dict[str, Any]:
    """Color and style of a line by its number."""
    return {"color": COLORS[number % len(COLORS)], "linestyle": STYLES[number % len(STYLES)]}


def _line_legend(axes: Axes, variation: Variation, groups: list[tuple[str, list[int]]], title: str) -> None:
    """Name the lines by the values of the other input, whose path is the title, and the marks by their verdict."""
    handles: list[Any] = []
    if len(groups) > 1:
        handles += [Line2D([], [], label=name, **_line_style(k)) for k, (name, _) in enumerate(groups)]
    verdicts = {row.verdict for row in variation.rows} - {None}
    for verdict in ("clear", TIGHT, STOP):
        if verdict in verdicts:
            handles.append(
                Line2D(
                    [], [], color=COLORS[5], linestyle="", marker=MARKERS[verdict], label=f"check {verdict}"
                )
            )
    if len(handles) > 1 or (handles and len(groups) > 1):
        axes.legend(
            handles=handles, loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=min(7, len(handles)), fontsize=8,
            title=title or None, title_fontsize=8, alignment="left",
        )  # fmt: skip
