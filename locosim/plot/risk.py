"""The risk of an excursion: lateness over all samples, how often each finding fails, and what drives the margin."""

from __future__ import annotations

import textwrap

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter

from locosim.plot.figure import COLORS, STYLES, new_figure
from locosim.studies.failure_statistics import Probability
from locosim.studies.risk import FailureMode, Risk

MAX_STATIONS, MAX_FINDINGS, MAX_DRIVERS = 4, 10, 8
NAME_WIDTH = 30  # characters of a line of a name
BAR = 0.3  # height of a bar with its gap [in]
MINUTE = 60.0
TAIL = 0.005  # share of the samples left out at each end of the axis of lateness


def plot_risk(risk: Risk) -> Figure:
    """Draw lateness, probabilities of failure and drivers below each other."""
    modes = shown_modes(risk)
    driven, drivers = shown_drivers(risk)
    heights = [2.9, BAR * (len(modes) + 2.6), BAR * (max(len(drivers), 1) + 2.6)]
    figure = new_figure(8.5, sum(heights) + 0.7)
    top, middle, bottom = figure.subplots(3, 1, height_ratios=heights)
    found = risk.plan.probability
    figure.suptitle(
        f"{risk.excursion.name}\n{found.count:,} of {found.samples:,} samples fail, seed {risk.seed}",
        x=0.01,
        ha="left",
        fontsize=11,
    )
    lateness(top, risk)
    failures(middle, modes)
    influences(bottom, risk, driven, drivers)
    return figure


def timed_modes(risk: Risk) -> list[FailureMode]:
    """Arrivals and departures that are shown: the last of the line, and those that fail most often."""
    order = {stop.station: number for number, stop in enumerate(risk.excursion.stops)}
    timed = [mode for mode in risk.modes if mode.rule == "time" and mode.place in order]
    timed.sort(key=lambda mode: (-mode.probability.count, -order[mode.place]))
    return sorted(timed[:MAX_STATIONS], key=lambda mode: order[mode.place])


def lateness(axes: Axes, risk: Risk) -> Axes:
    """Share of the samples that are later than each time, at some stations; margins where no time is booked."""
    modes = timed_modes(risk)
    if not modes:
        return least_margin(axes, risk)
    limit = risk.excursion.criteria.max_lateness
    late = np.concatenate([mode.values[np.isfinite(mode.values)] for mode in modes])
    low, high = (float(edge) for edge in np.quantile(late, [TAIL, 1.0 - TAIL]))
    low, high = min(low, -0.2 * limit), min(max(high, 2.0 * limit), 6.0 * limit)
    for number, mode in enumerate(modes):
        judged = np.sort(mode.values[np.isfinite(mode.values)])
        # A train that does not get there is later than any time.
        share = (len(mode.values) - np.arange(1, len(judged) + 1)) / len(mode.values)
        axes.step(
            np.concatenate([[low], judged, [high]]) / MINUTE,
            100.0 * np.concatenate([[1.0], share, share[-1:]]),
            where="post",
            color=COLORS[number % len(COLORS)],
            linestyle=STYLES[number % len(STYLES)],
            label=mode.place,
        )
    axes.axvline(limit / MINUTE, color="#000000", linewidth=0.9, linestyle="--")
    axes.set_yscale("log")
    axes.set_ylim(50.0 / len(risk.verdicts), 130.0)  # down to half a sample
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axes.text(
        limit / MINUTE,
        110.0,
        f" {limit / MINUTE:g} min allowed",
        ha="left",
        va="top",
        fontsize=8,
        color="#000000",
    )
    axes.set_xlim(low / MINUTE, high / MINUTE)
    axes.set_xlabel("late by more than [min]; a train that does not get there counts")
    axes.set_ylabel("samples [%]")
    axes.set_title("Lateness", loc="left", fontsize=10)
    axes.legend(fontsize=8, loc="best")
    return axes


def least_margin(axes: Axes, risk: Risk) -> Axes:
    """Share of the samples whose least margin is below each margin."""
    margins = np.sort(risk.plan.margins[np.isfinite(risk.plan.margins)])
    axes.step(
        100.0 * margins,
        100.0 * np.arange(1, len(margins) + 1) / max(len(margins), 1),
        where="post",
        color=COLORS[0],
    )
    axes.axvline(0.0, color="#000000", linewidth=0.9, linestyle="--")
    if len(margins):
        low, high = np.quantile(margins, [TAIL, 1.0 - TAIL])
        axes.set_xlim(100.0 * min(float(low), -0.1), 100.0 * max(float(high), 0.1))
    axes.set_ylim(0.0, 100.0)
    axes.set_xlabel("least margin of all findings below [%]")
    axes.set_ylabel("samples [%]")
    axes.set_title("Least margin; below 0 the plan fails", loc="left", fontsize=10)
    return axes


def shown_modes(risk: Risk) -> list[FailureMode]:
    """The whole plan, and the findings that fail most often."""
    return [risk.plan, *risk.failing[: MAX_FINDINGS - 1]]


def failures(axes: Axes, modes: list[FailureMode]) -> Axes:
    """Draw how often each finding fails, with the interval."""
    count = len(modes)
    top = 100.0 * max(mode.probability.high for mode in modes)
    for row, mode in enumerate(modes):
        found, place = mode.probability, count - row
        share = 100.0 * found.estimate
        axes.barh(place, share, height=0.62, color=COLORS[0] if row == 0 else COLORS[1])
        axes.plot([100.0 * found.low, 100.0 * found.high], [place, place], color="#000000", linewidth=1.1)
        axes.text(100.0 * found.high + 0.012 * top, place, _count(found), va="center", fontsize=8)
    _name_rows(axes, [mode.name for mode in modes])
    axes.set_xlim(0.0, 1.18 * top)
    axes.set_xlabel("samples in which it fails [%], with the interval at 95 % confidence")
    axes.set_title("Failures", loc="left", fontsize=10)
    return axes


def _count(found: Probability) -> str:
    return f"{found.count:,}" if found.count else f"none of {found.samples:,}"


def shown_drivers(risk: Risk) -> tuple[FailureMode, list[int]]:
    """What is driven, and the numbers of the inputs with the largest shares of its variance.

    It is whether the whole plan fails, or where no input stands out there, the margin of the most frequent failure.
    """
    for mode in (risk.plan, *risk.failing):
        telling = [number for number, each in enumerate(mode.drivers) if each.share_low > 0.0]
        if telling:
            return mode, sorted(telling, key=lambda number: -mode.drivers[number].share)[:MAX_DRIVERS]
    return risk.plan, []


def influences(axes: Axes, risk: Risk, mode: FailureMode, numbers: list[int]) -> Axes:
    """Draw shares of the variance of a margin, each with its interval and the rank correlation."""
    name = f"the margin of {mode.name}" if mode.by_margin else f"whether the {mode.name} fails"
    axes.set_title(f"What drives {name}", loc="left", fontsize=10)
    axes.set_xlabel("share of the variance [%], with its interval; beside it the rank correlation")
    if not numbers:
        axes.text(0.5, 0.5, "no single input", ha="center", va="center", transform=axes.transAxes, fontsize=9)
        axes.set_yticks([])
        axes.set_xlim(0.0, 100.0)
        return axes
    top = 100.0 * max(mode.drivers[number].share_high for number in numbers)
    for row, number in enumerate(numbers):
        driver, place = mode.drivers[number], len(numbers) - row
        axes.barh(place, 100.0 * driver.share, height=0.62, color=COLORS[2])
        axes.plot(
            [100.0 * driver.share_low, 100.0 * driver.share_high],
            [place, place],
            color="#000000",
            linewidth=1.1,
        )
        axes.text(
            100.0 * driver.share_high + 0.012 * top,
            place,
            f"{driver.rank_correlation:+.2f}",
            va="center",
            fontsize=8,
        )
    _name_rows(axes, [risk.inputs.inputs[number].label for number in numbers])
    axes.set_xlim(0.0, 1.12 * top)
    return axes


def _name_rows(axes: Axes, names: list[str]) -> None:
    count = len(names)
    axes.set_yticks(
        [count - row for row in range(count)],
        [textwrap.shorten(name, NAME_WIDTH + 14, placeholder="…") for name in names],
        fontsize=8.5,
    )
    axes.grid(visible=False, axis="y")
    axes.set_ylim(0.4, count + 0.6)
