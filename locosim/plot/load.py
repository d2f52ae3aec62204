"""The largest loads as bars: over all, by section and by condition."""

from __future__ import annotations

import textwrap

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from locosim.planning.load import LoadRating
from locosim.planning.load_search import LargestLoad
from locosim.plot.figure import COLORS, axis_label, new_figure
from locosim.units import number, show

BAR, NAME_WIDTH = 0.34, 26  # height of a bar [in]; characters of a line of a name


def plot_load(rating: LoadRating) -> Figure:
    """Draw the trailing mass of every load, with the rule that the next larger load fails."""
    groups = [
        ("as planned", (rating.whole,), COLORS[0]),
        ("by section", rating.sections, COLORS[2]),
        ("by condition", rating.conditions, COLORS[1]),
    ]
    loads = [(load, color) for _, each, color in groups for load in each]
    figure = new_figure(8.5, 1.5 + BAR * (len(loads) + 1))
    axes = figure.subplots()
    accepted = "clear" if rating.verdict == "clear" else "not worse than tight"
    count = "" if rating.varied.vehicle is None else f"number ({rating.varied.what}), and "
    axes.set_title(
        f"Largest load, check {accepted}: {rating.excursion.name}\n"
        f"at the bars: {count}what the next larger load fails by",
        loc="left",
        fontsize=10,
    )
    load_bars(axes, rating, loads)
    return figure


def load_bars(axes: Axes, rating: LoadRating, loads: list[tuple[LargestLoad, str]]) -> Axes:
    """Draw a bar for each load, the first at the top."""
    count = len(loads)
    top = max((load.mass or 0.0 for load, _ in loads), default=0.0)
    top = float(number(top or rating.excursion.train.mass, "mass"))
    for row, (load, color) in enumerate(loads):
        value = float(number(load.mass or 0.0, "mass"))
        axes.barh(count - row, value, height=0.7, color=color)
        inside = value > 0.6 * top
        axes.text(
            value + (-0.01 if inside else 0.01) * top,
            count - row,
            _bar_text(rating, load),
            ha="right" if inside else "left",
            va="center",
            fontsize=8,
            color="#ffffff" if inside else "#000000",
            bbox=None if inside else {"facecolor": "#ffffff", "edgecolor": "none", "pad": 1.0},
            zorder=3,
        )
    axes.set_yticks(
        [count - row for row in range(count)],
        [textwrap.fill(_name(load), NAME_WIDTH) for load, _ in loads],
        fontsize=8.5,
    )
    whole = rating.whole.mass
    if whole is not None:
        axes.axvline(float(number(whole, "mass")), color="#000000", linewidth=0.8, linestyle="--")
    axes.grid(visible=False, axis="y")
    axes.set_ylim(0.4, count + 0.6)
    axes.set_xlim(0.0, 1.05 * top)
    axes.set_xlabel(axis_label("largest trailing mass", "mass"))
    return axes


def _name(load: LargestLoad) -> str:
    return load.name if load.fact is None else f"{load.name} {show(*load.fact)}"


def _bar_text(rating: LoadRating, load: LargestLoad) -> str:
    """Number of vehicles and the rule of the limit."""
    if load.number is None:
        why = load.limit.rule if load.limit is not None else load.note
        return f"none: {textwrap.shorten(why, 60, placeholder='…')}"
    count = f"{load.number}: " if rating.varied.vehicle is not None else ""
    return f"{count}{load.limit.rule if load.limit is not None else 'no larger one'}"
