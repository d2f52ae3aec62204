"""A batch as a picture: the verdicts of a grid as a map, of few rows as bars, of many rows sorted by margin."""

from __future__ import annotations

import textwrap

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from locosim.planning.finding import VERDICTS
from locosim.plot.consists import MARGIN_SHOWN, VERDICT_COLORS
from locosim.plot.figure import new_figure
from locosim.studies.batch import Batch
from locosim.studies.batch_rows import BatchRow, ChangedRows, Grid
from locosim.studies.records import Record

MAX_GRID = (40, 16)  # rows and columns of a map that can be read
MAX_BARS = 40
NAME_WIDTH = 34  # characters of a line of a name
NOT_CHECKED = "not checked"
MARGIN_LABEL = f"least margin, cut at ±{100 * MARGIN_SHOWN:.0f} % [%]"
_COLORS = {**VERDICT_COLORS, NOT_CHECKED: "#bdbdbd"}


def plot_batch(batch: Batch) -> Figure:
    """Draw the verdict and the margin of each row."""
    rows = batch.rows.rows if isinstance(batch.rows, ChangedRows) else batch.rows
    if isinstance(rows, Grid):
        down = rows.files_count()
        across = len(rows) // down
        if min(down, across) > 1 and down <= MAX_GRID[0] and across <= MAX_GRID[1]:
            return _plot_map(batch, rows, down, across)
    return _plot_bars(batch) if len(batch.records) <= MAX_BARS else _plot_sorted(batch)


def _plot_map(batch: Batch, grid: Grid, down: int, across: int) -> Figure:
    """Draw a cell for each row: files downward, conditions and values across."""
    figure = new_figure(2.9 + 1.25 * across, 1.7 + 0.46 * down)
    axes = figure.subplots()
    for index, _, record in batch.each():
        y, x = divmod(index - 1, across)
        verdict, margin = _verdict(batch, record), _margin(batch, record)
        axes.add_patch(
            Rectangle((x, y), 1, 1, facecolor=_COLORS[verdict], edgecolor="#ffffff", linewidth=1.5)
        )
        figures = verdict if margin is None else f"{verdict}: {_rule(batch, record)}\n{_shown(record, batch)}"
        axes.text(x + 0.5, y + 0.5, figures, ha="center", va="center", fontsize=8, color=_ink(verdict))
    axes.set_xlim(0, across)
    axes.set_ylim(down, 0)
    names = [grid.labels(x)[1] for x in range(across)]
    axes.set_xticks(
        [x + 0.5 for x in range(across)], [textwrap.fill(name, 16) for name in names], fontsize=8.5
    )
    axes.xaxis.tick_top()
    names = [grid.labels(y * across)[0] for y in range(down)]
    axes.set_yticks([y + 0.5 for y in range(down)], [_wrapped(name) for name in names], fontsize=8.5)
    axes.tick_params(length=0)
    axes.grid(visible=False)
    for spine in axes.spines.values():
        spine.set_visible(False)
    figure.suptitle(f"{batch.name}: verdict and least margin", x=0.01, ha="left")
    return figure


def _plot_bars(batch: Batch) -> Figure:
    """Draw a bar for each row, in their order."""
    count = len(batch.records)
    figure = new_figure(9.0, 1.6 + 0.32 * count)
    axes = figure.subplots()
    names = []
    for index, row, record in batch.each():
        verdict, margin = _verdict(batch, record), _margin(batch, record)
        names.append(_name(row, verdict))
        if margin is None:
            axes.text(0.0, index, " -", va="center", fontsize=9)
        else:
            axes.barh(index, 100.0 * margin, height=0.7, color=_COLORS[verdict])
    axes.axvline(0.0, color="#000000", linewidth=0.8)
    axes.set_ylim(count + 0.6, 0.4)
    axes.set_yticks(range(1, count + 1), names, fontsize=8.5)
    axes.set_xlabel(MARGIN_LABEL)
    axes.grid(visible=False, axis="y")
    _add_legend(axes, batch)
    figure.suptitle(f"{batch.name}: least margin of each row", x=0.01, ha="left")
    return figure


def _plot_sorted(batch: Batch) -> Figure:
    """Draw the margins of all rows in order of size, with the number of each verdict."""
    figure = new_figure(9.0, 4.6)
    axes = figure.subplots()
    found = sorted(
        (margin, VERDICTS.index(verdict))
        for verdict, margin in ((_verdict(batch, r), _margin(batch, r)) for r in batch.records)
        if margin is not None and verdict in VERDICTS
    )
    margins = np.array([100.0 * margin for margin, _ in found])
    verdicts = np.array([verdict for _, verdict in found])
    size = min(max(300.0 / max(len(found), 1), 2.0), 6.0)
    for at, verdict in enumerate(VERDICTS):
        chosen = np.flatnonzero(verdicts == at)
        axes.plot(
            chosen + 1,
            margins[chosen],
            ".",
            markersize=size,
            color=_COLORS[verdict],
            rasterized=len(found) > 5000,
        )
    axes.axhline(0.0, color="#000000", linewidth=0.8)
    axes.set_xlabel("rows with this margin or less")
    axes.set_ylabel(MARGIN_LABEL)
    axes.xaxis.set_major_formatter(lambda value, _: f"{value:,.10g}")
    _add_legend(axes, batch)
    figure.suptitle(f"{batch.name}: least margin of {len(found):,} rows", x=0.01, ha="left")
    return figure


def _add_legend(axes: Axes, batch: Batch) -> None:
    """Name the colors, with the number of rows of each verdict."""
    verdicts = [_verdict(batch, record) for record in batch.records]
    names = [name for name in (*VERDICTS, NOT_CHECKED) if name in verdicts]
    handles = [
        Line2D(
            [], [], linestyle="", marker="s", color=_COLORS[name], label=f"{name}: {verdicts.count(name):,}"
        )
        for name in names
    ]
    axes.legend(
        handles=handles,
        loc="lower right",
        bbox_to_anchor=(1.0, 1.0),
        ncols=len(names),
        handletextpad=0.2,
        columnspacing=1.2,
    )


def _verdict(batch: Batch, record: Record) -> str:
    at = batch.result("verdict")
    return NOT_CHECKED if not record.values or at is None else str(record.values[at])


def _margin(batch: Batch, record: Record) -> float | None:
    """Margin of a row as drawn; None where there is none."""
    at = batch.result("margin")
    found = record.values[at] if record.values and at is not None else None
    return None if found is None else min(max(float(found), -MARGIN_SHOWN), MARGIN_SHOWN)


def _rule(batch: Batch, record: Record) -> str:
    at = batch.result("rule")
    return "" if at is None else str(record.values[at])


def _shown(record: Record, batch: Batch) -> str:
    """Margin of a row in percent."""
    at = batch.result("margin")
    return "" if at is None else f"{100 * float(record.values[at] or 0.0):+,.0f} %"


def _name(row: BatchRow, verdict: str) -> str:
    return _wrapped(row.label) if verdict in VERDICTS else f"{_wrapped(row.label)} ({verdict})"


def _wrapped(name: str) -> str:
    return textwrap.shorten(name, 2 * NAME_WIDTH, placeholder=" ...") if len(name) > 2 * NAME_WIDTH else name


def _ink(verdict: str) -> str:
    return "#ffffff" if verdict in ("stop", "clear") else "#000000"
