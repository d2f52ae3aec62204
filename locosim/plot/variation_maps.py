"""Maps of a variation: a panel for each column over both inputs, as contours or as cells."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine
from matplotlib.patches import Patch, Rectangle
from matplotlib.patheffects import withStroke
from matplotlib.ticker import FuncFormatter, MaxNLocator

from locosim.physics.types import Floats
from locosim.planning.finding import STOP, TIGHT
from locosim.plot.figure import TEXT_BOX, new_figure
from locosim.plot.variation_axes import (
    HATCHES,
    MAX_PANELS,
    TIME_STEPS,
    add_title,
    axis_of_input,
    axis_range,
    categories,
    cell_edges,
    column_label,
    is_number,
    number_text,
    shown_values,
    text_columns,
)
from locosim.studies.vary import AnyColumn, Variation

MAX_LABELED_CELLS = 140  # with more, the figures are left out and the colors remain
COLOR_MAP = "cividis"  # even in lightness, and the same to color-blind readers
EDGE = "#c1440e"  # around a region of one verdict
CATEGORY_HATCHES = ("", "///", "...", "xx", "\\\\\\", "++", "oo", "--")
CATEGORY_FILLS = ("#ffffff", "#cfd8df", "#eadfc0", "#b9c9a8", "#d8c2d4", "#bcd3d6", "#e2b9a2", "#dddddd")


def map_panels(variation: Variation, *, contours: bool) -> Figure:
    """A panel for each column over both inputs."""
    chosen = [i for i in range(len(variation.columns)) if is_number(variation, i)][:MAX_PANELS]
    texts = [i for i in text_columns(variation) if 1 <= len(categories(variation, i)) <= len(CATEGORY_FILLS)]
    has_verdict = any(row.verdict for row in variation.rows)
    count = len(chosen) + len(texts)
    columns = 1 if count == 1 else 2
    lines = math.ceil(count / columns)
    figure = new_figure(6.4 if columns == 1 else 11.0, 0.9 + 3.6 * lines)
    layout = figure.get_layout_engine()
    if isinstance(layout, ConstrainedLayoutEngine):
        layout.set(wspace=0.06, hspace=0.06)
    panels = figure.subplots(lines, columns, squeeze=False).ravel()
    for panel, place in zip(panels, [*chosen, *texts], strict=False):
        x = axis_of_input(panel.xaxis, variation.inputs[0])
        y = axis_of_input(panel.yaxis, variation.inputs[1])
        if place in texts:
            _category_cells(panel, variation, place, x, y)
        elif contours:
            _contours(figure, panel, variation, place, x, y)
        else:
            _number_cells(figure, panel, variation, place, x, y)
        panel.set_title(column_label(variation.columns[place], width=40), fontsize=9.5, loc="left")
        panel.grid(visible=False)
    for panel in panels[count:]:
        panel.set_axis_off()
    add_title(figure, variation)
    if has_verdict:
        _region_legend(figure, variation)
    return figure


def _grid(values: Any, x: Floats, y: Floats) -> tuple[Any, Floats, Floats]:
    """Values as an array of shape (y, x), with both axes rising."""
    table = np.array(values, dtype=object).reshape(len(x), len(y)).T
    table = table[np.argsort(y, kind="stable")][:, np.argsort(x, kind="stable")]
    return table, np.sort(x), np.sort(y)


def _contours(figure: Figure, axes: Axes, variation: Variation, place: int, x: Floats, y: Floats) -> None:
    column = variation.columns[place]
    table, xs, ys = _grid(shown_values(variation, place), x, y)
    values = np.ma.masked_invalid(table.astype(float))
    finite = values.compressed()
    axes.set_xlim(xs[0], xs[-1])
    axes.set_ylim(ys[0], ys[-1])
    axes.set_facecolor("#e8e8e8")
    if not finite.size or not _spread(finite):
        text = "no value" if not finite.size else f"{number_text(float(finite[0]), column, 0.0)} everywhere"
        axes.text(0.5, 0.5, text, transform=axes.transAxes, ha="center", va="center", bbox=TEXT_BOX)
    elif min(values.shape) >= 2:
        span = float(finite.max() - finite.min())
        levels = _levels(finite, column)
        filled = axes.contourf(xs, ys, values, levels=levels, cmap=COLOR_MAP, alpha=0.9)
        lines = axes.contour(xs, ys, values, levels=levels, colors="#000000", linewidths=0.6)
        for name in axes.clabel(lines, fmt=lambda value: number_text(value, column, span), fontsize=7.5):
            name.set_path_effects([withStroke(linewidth=2.0, foreground="#ffffff")])
        bar = figure.colorbar(filled, ax=axes, pad=0.02)
        bar.ax.yaxis.set_major_formatter(FuncFormatter(lambda value, _: number_text(value, column, span)))
    _regions(axes, variation, x, y)


def _spread(values: Floats) -> bool:
    return float(values.max() - values.min()) > 1e-9 * max(1.0, float(np.abs(values).max()))


def _levels(values: Floats, column: AnyColumn) -> Floats:
    """About eight round levels from the least to the greatest value."""
    low, high = float(values.min()), float(values.max())
    if column.kind in ("time", "clock"):
        step = next((each for each in TIME_STEPS if (high - low) / each <= 9), TIME_STEPS[-1])
        first, last = math.floor(low / step), math.ceil(high / step)
        return np.arange(first, last + 1, dtype=float) * step
    return np.asarray(MaxNLocator(nbins=9).tick_values(low, high), dtype=float)


def _number_cells(figure: Figure, axes: Axes, variation: Variation, place: int, x: Floats, y: Floats) -> None:
    """Cells colored by a value, with the value in each."""
    column = variation.columns[place]
    table, xs, ys = _grid(shown_values(variation, place), x, y)
    values = table.astype(float)
    finite = values[np.isfinite(values)]
    limits = Normalize(*axis_range(finite, column)) if finite.size else Normalize(0.0, 1.0)
    span = float(np.ptp(finite)) if finite.size else 0.0
    colors = ScalarMappable(limits, COLOR_MAP)
    axes.set_facecolor("#e8e8e8")
    axes.pcolormesh(
        cell_edges(xs), cell_edges(ys), np.ma.masked_invalid(values), norm=limits, cmap=COLOR_MAP, alpha=0.9
    )
    if values.size <= MAX_LABELED_CELLS:
        for (row, col), value in np.ndenumerate(values):
            red, green, blue, _ = colors.to_rgba(value) if math.isfinite(value) else (1.0, 1.0, 1.0, 1.0)
            dark = 0.3 * red + 0.6 * green + 0.1 * blue < 0.5
            axes.text(
                float(xs[col]), float(ys[row]), number_text(float(value), column, span), ha="center", va="center",
                fontsize=8, color="#ffffff" if dark else "#000000",
            )  # fmt: skip
    bar = figure.colorbar(colors, ax=axes, pad=0.02)
    bar.ax.yaxis.set_major_formatter(FuncFormatter(lambda value, _: number_text(value, column, span)))
    _regions(axes, variation, x, y)


def _regions(axes: Axes, variation: Variation, x: Floats, y: Floats) -> None:
    """Hatch the cells whose verdict is tight or stop, and those that could not be computed, with an edge around."""
    names = [("problem" if row.problem else row.verdict) for row in variation.rows]
    table, xs, ys = _grid(names, x, y)
    _hatched_cells(axes, table, xs, ys, {TIGHT: HATCHES[TIGHT], STOP: HATCHES[STOP], "problem": "xx"})


def _cell(left: Floats, low: Floats, row: int, col: int) -> tuple[tuple[float, float], float, float]:
    """Corner, width and height of a cell."""
    corner = (float(left[col]), float(low[row]))
    return corner, float(left[col + 1]) - corner[0], float(low[row + 1]) - corner[1]


def _hatched_cells(axes: Axes, table: Any, xs: Floats, ys: Floats, hatches: dict[str, str]) -> None:
    left, low = cell_edges(xs), cell_edges(ys)
    for (row, col), name in np.ndenumerate(table):
        if name in hatches:
            axes.add_patch(
                Rectangle(
                    *_cell(left, low, row, col),
                fill=False,
                    hatch=hatches[name], edgecolor="#00000055", linewidth=0.0,
                )
            )  # fmt: skip
        for other, line in (
            ((row, col + 1), ([left[col + 1]] * 2, [low[row], low[row + 1]])),
            ((row + 1, col), ([left[col], left[col + 1]], [low[row + 1]] * 2)),
        ):
            if other[0] < table.shape[0] and other[1] < table.shape[1] and table[other] != name:
                axes.plot(*line, color="#ffffff", linewidth=3.2, solid_capstyle="butt")
                axes.plot(*line, color=EDGE, linewidth=1.6, solid_capstyle="butt")


def _category_cells(axes: Axes, variation: Variation, place: int, x: Floats, y: Floats) -> None:
    """Cells of a column of texts, each text with a fill and a hatch of its own."""
    names = categories(variation, place)
    table, xs, ys = _grid(variation.column_values(place), x, y)
    left, low = cell_edges(xs), cell_edges(ys)
    for (row, col), name in np.ndenumerate(table):
        if name is None:
            continue
        k = names.index(name)
        axes.add_patch(
            Rectangle(
                *_cell(left, low, row, col),
                facecolor=CATEGORY_FILLS[k], hatch=CATEGORY_HATCHES[k], edgecolor="#00000060", linewidth=0.4,
            )
        )  # fmt: skip
    axes.set_xlim(left[0], left[-1])
    axes.set_ylim(low[0], low[-1])
    handles = [
        Patch(facecolor=CATEGORY_FILLS[k], hatch=CATEGORY_HATCHES[k], edgecolor="#00000060", label=name)
        for k, name in enumerate(names)
    ]
    axes.legend(
        handles=handles,
        loc="upper center",
        bbox_to_anchor=(0.5, -0.14),
        ncols=4,
        fontsize=8,
        handleheight=1.4,
    )


def _region_legend(figure: Figure, variation: Variation) -> None:
    names = {"problem" if row.problem else row.verdict for row in variation.rows}
    hatches = {"clear": "", TIGHT: HATCHES[TIGHT], STOP: HATCHES[STOP], "problem": "xx"}
    words = {"problem": "not computed"}
    handles = [
        Patch(facecolor="#ffffff", hatch=hatch, edgecolor="#000000", label=words.get(name, f"check {name}"))
        for name, hatch in hatches.items()
        if name in names
    ]
    figure.legend(
        handles=handles, loc="outside upper right", ncols=len(handles), fontsize=8, handleheight=1.4
    )
