"""A road log beside the model as a picture: speed, errors, supplies, constants with intervals, and correlations."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from locosim.physics.types import Floats
from locosim.plot.figure import COLORS, axis_label, new_figure
from locosim.studies.log_fit import ComparedReadings, FittedConstant, LogFit
from locosim.units import label, number, show_number

WRITTEN_FROM = 12  # most constants whose correlations are written in the squares


def plot_fit(fit: LogFit) -> Figure:
    """Draw readings and errors over time, and below them the constants and their correlations."""
    count = len(fit.compared)
    heights = [part for _ in range(count) for part in (2.2, 1.3)]
    low = 1.1 + 0.45 * len(fit.constants)
    figure = new_figure(9.0, 0.9 + sum(heights) + low)
    upper, lower = figure.subfigures(2, 1, squeeze=False, height_ratios=[sum(heights), low])[:, 0]
    panels = upper.subplots(2 * count, 1, sharex=True, height_ratios=heights, squeeze=False)[:, 0]
    for k, each in enumerate(fit.compared):
        _readings_panel(panels[2 * k], fit, each)
        _errors_panel(panels[2 * k + 1], each)
    title = f"{fit.excursion.name}: road log {fit.laid.log.name} and the model"
    upper.suptitle(title, x=0.01, ha="left", fontsize=11)
    panels[-1].set_xlabel("time [h:min]")
    _clock_ticks(panels[-1], fit)
    left, right = lower.subplots(1, 2, width_ratios=[3, 1.6])
    _constants_panel(left, fit)
    _correlation_panel(right, fit)
    return figure


def _hours(times: Floats) -> Floats:
    return times / 3600.0


def _clock_ticks(axes: Axes, fit: LogFit) -> None:
    """Ticks of the time of day, a few in all."""
    times = fit.laid.log.time
    span = times[-1] - times[0]
    step = next((each for each in (300, 600, 900, 1800, 3600, 7200) if span / each <= 9), 14400)
    at = np.arange(np.ceil(times[0] / step) * step, times[-1] + 1, step)
    axes.set_xlim(times[0] / 3600, times[-1] / 3600)
    axes.set_xticks(at / 3600, [f"{int(t // 3600) % 24:02d}:{int(t // 60 % 60):02d}" for t in at])


def _readings_panel(axes: Axes, fit: LogFit, each: ComparedReadings) -> None:
    """What was logged as dots, the model as a line for each stretch."""
    kind = each.quantity
    if each.kind == "speed":
        # All of the log in gray, for what was left out.
        log = fit.laid.log
        axes.plot(
            _hours(log.time), number(log.speed, kind), color="#b5b5b5", linewidth=0.8, label="log, left out"
        )
    size = 1.6 if len(each.row) > 100 else 4.0
    axes.plot(
        _hours(each.time),
        number(each.logged, kind),
        "o",
        markersize=size,
        color=COLORS[0],
        label="log, in the fit",
    )
    for group in range(each.group_count):
        own = each.group == group
        axes.plot(
            _hours(each.time[own]), number(each.model[own], kind), color=COLORS[1], linewidth=1.3,
            label="model" if group == 0 else None,
        )  # fmt: skip
    axes.set_ylabel(axis_label({"water": "water left", "fuel": "fuel fired"}.get(each.kind, each.kind), kind))
    axes.legend(loc="lower right", bbox_to_anchor=(1.0, 0.98), borderaxespad=0.0, ncols=3, fontsize=8)
    if each.kind in ("speed", "fuel"):
        axes.set_ylim(bottom=0, top=1.02 * axes.get_ylim()[1])


def _errors_panel(axes: Axes, each: ComparedReadings) -> None:
    """Errors, with twice their spread."""
    kind = each.error_quantity
    spread = number(each.spread, kind)
    axes.axhspan(-2 * spread, 2 * spread, color=COLORS[0], alpha=0.10, linewidth=0)
    axes.axhline(0.0, color="#000000", linewidth=0.7)
    size = 1.6 if len(each.row) > 100 else 4.0
    axes.plot(_hours(each.time), number(each.error, kind), "o", markersize=size, color=COLORS[0])
    axes.set_ylabel(axis_label("log less\nmodel", kind))
    reach = 1.1 * max(float(np.max(np.abs(number(each.error, kind)))), 2.2 * spread)
    axes.set_ylim(-reach, reach)


def _constants_panel(axes: Axes, fit: LogFit) -> None:
    """Each constant with its interval, on the scale of its believable range."""
    for k, each in enumerate(fit.constants):
        place = len(fit.constants) - 1 - k
        width = each.believable_high - each.believable_low

        def share(value: float, low: float = each.believable_low, width: float = width) -> float:
            return (value - low) / width

        axes.barh(place, 1.0, left=0.0, height=0.5, color="#dfe6ea", zorder=0)
        axes.plot([share(each.low), share(each.high)], [place, place], color=COLORS[1], linewidth=2.5)
        axes.plot(share(each.value), place, "o", color=COLORS[1], markersize=6)
        axes.plot(share(each.before), place, "|", color=COLORS[5], markersize=14, markeredgewidth=1.6)
        axes.annotate(
            f"{_shown(each, each.value)} ({_shown(each, each.low)} to {_shown(each, each.high)})",
            (0.5, place + 0.27), ha="center", va="bottom", fontsize=8,
        )  # fmt: skip
    axes.set_yticks(
        range(len(fit.constants)), [_named(each) for each in reversed(fit.constants)], fontsize=8.5
    )
    axes.set_ylim(-0.6, len(fit.constants) - 0.2)
    axes.grid(visible=False)
    axes.set_xticks([0.0, 1.0], ["low end", "high end"])
    axes.set_xlabel(
        "believable range (gray), in the files (bar), fitted with 95 % interval (dot)", fontsize=8
    )


def _correlation_panel(axes: Axes, fit: LogFit) -> None:
    """Correlation of the errors of the constants as squares."""
    names = [each.name for each in fit.constants]
    axes.imshow(fit.correlation, cmap="RdBu", vmin=-1.6, vmax=1.6)
    if len(names) <= WRITTEN_FROM:
        for (row, column), value in np.ndenumerate(fit.correlation):
            axes.text(column, row, f"{value:+.2f}", ha="center", va="center", fontsize=8)
    axes.set_xticks(range(len(names)), [str(k + 1) for k in range(len(names))], fontsize=8)
    axes.set_yticks(range(len(names)), [str(k + 1) for k in range(len(names))], fontsize=8)
    axes.grid(visible=False)
    axes.set_title("correlation, in order\nfrom the top", fontsize=8.5)


def _shown(constant: FittedConstant, value: float) -> str:
    return show_number(value, constant.kind, constant.digits)


def _named(constant: FittedConstant) -> str:
    unit = label(constant.kind)
    return f"{constant.name} [{unit}]" if unit else constant.name
