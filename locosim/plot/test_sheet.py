"""The differences between a test sheet and what locosim computes, as bars."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from locosim.engine.test_sheet.sheet_comparison import SheetComparison, SheetLine
from locosim.plot.figure import COLORS, new_figure


def plot_sheet(comparison: SheetComparison) -> Figure:
    """Draw computed over printed for each reading, without and with keys set from the sheet."""
    lines = comparison.lines
    figure = new_figure(8.5, 1.8 + 0.42 * max(len(lines), 1))
    axes = figure.subplots()
    place = np.arange(len(lines), dtype=float)[::-1]
    series = [("computed", [_percent(line, line.computed) for line in lines])]
    if comparison.anchors:
        series.append(
            ("computed, keys set from the sheet", [_percent(line, line.anchored) for line in lines])
        )
    for i, (name, values) in enumerate(series):
        axes.barh(place + 0.2 - 0.4 * i, values, height=0.36, color=COLORS[i], label=name)
    axes.axvline(0.0, color="#000000", linewidth=0.8)
    axes.set_yticks(
        place, [f"{line.label}: {line.reading.replace('_', ' ')}" for line in lines], fontsize=8.5
    )
    axes.grid(visible=False, axis="y")
    axes.set_ylim(-0.7, max(len(lines), 1) - 0.3)
    axes.set_xlabel("computed less printed [%]; steam temperature [K]")
    axes.legend(loc="lower center", bbox_to_anchor=(0.4, 1.0), ncols=2, fontsize=8.5)
    return figure


def _percent(line: SheetLine, value: float | None) -> float:
    """Difference to draw; 0 where nothing is computed."""
    if value is None:
        return 0.0
    if line.reading == "steam_temperature":
        return value - line.printed
    return 100.0 * (value / line.printed - 1.0)
