"""The card for the crew as a picture: speed to drive over the profile, with where to shut off and brake."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from locosim.planning.crew_card import BRAKE, COAST, STEAM, CardEntry
from locosim.planning.economy import Economy
from locosim.plot.figure import COLORS, axis_label, new_figure
from locosim.plot.panels import LEGEND, LEGEND_HEADROOM, distance_from_start, distances, line_length
from locosim.plot.profile import profile
from locosim.plot.station_names import mark_stations, stations
from locosim.units import number, show, show_percent

TASK_COLORS = {STEAM: COLORS[1], COAST: COLORS[2], BRAKE: COLORS[5]}
TASK_LINES = {STEAM: "-", COAST: "--", BRAKE: ":"}  # told apart without color too


def plot_economy(economy: Economy) -> Figure:
    """Draw the speed to drive with steam, shut off and brakes, the cutoff, and the profile."""
    figure = new_figure(11.0, 7.6)
    axes = figure.subplots(3, 1, sharex=True, height_ratios=(1.6, 1.1, 0.8))
    _speed(axes[0], economy)
    profile(axes[1], economy.journey)
    _cutoff(axes[2], economy)
    for ax in axes:
        for station in stations(economy.journey):
            ax.axvline(station.place, color="#000000", alpha=0.25 if station.stops else 0.1, linewidth=0.8)
    mark_stations(axes[0], economy.journey)
    axes[-1].set_xlim(0.0, line_length(economy.journey))
    axes[-1].set_xlabel(axis_label("distance from the start", "distance"))
    figure.align_ylabels(axes)
    figure.suptitle(f"{economy.excursion.name}: {_title(economy)}", x=0.01, ha="left")
    return figure


def _title(economy: Economy) -> str:
    if economy.refused:
        return "card of the everyday driving, which no plan betters"
    fuel = show(economy.planned_fuel, "small_mass")
    return f"card for the least fuel, {fuel}, {show_percent(economy.saving)} less than everyday driving"


def _speed(axes: Axes, economy: Economy) -> None:
    """Speed of the everyday driving, and that of the card in the color and line of what the engineer does."""
    everyday, journey = economy.everyday, economy.journey
    axes.plot(
        distances(everyday), number(everyday.speed, "speed"), color="#000000", alpha=0.35, linewidth=0.9,
        label="everyday driving",
    )  # fmt: skip
    x, speed = distances(journey), number(journey.speed, "speed")
    named: set[str] = set()
    for entry in economy.card:
        inside = _inside(economy, entry)
        axes.plot(
            x[inside], speed[inside], color=TASK_COLORS[entry.task], linewidth=2.0,
            linestyle=TASK_LINES[entry.task],
            label=None if entry.task in named else entry.task,
        )  # fmt: skip
        if entry.task == COAST:
            axes.plot(x[inside][:1], speed[inside][:1], marker="v", color=TASK_COLORS[COAST], markersize=6)
        named.add(entry.task)
    axes.set_ylim(0.0, LEGEND_HEADROOM * float(np.max(number(everyday.allowed_speed, "speed"))))
    axes.set_ylabel(axis_label("speed", "speed"))
    axes.legend(ncols=4, **LEGEND)


def _inside(economy: Economy, entry: CardEntry) -> slice:
    chainage = economy.journey.chainage
    first, last = (int(np.searchsorted(chainage, at - 0.01)) for at in (entry.start, entry.end))
    return slice(first, last + 1)


def _cutoff(axes: Axes, economy: Economy) -> None:
    """Usual range of the cutoff in each entry with steam."""
    journey = economy.journey
    for entry in economy.card:
        if entry.cutoff is None:
            continue
        low, high = (float(number(value, "ratio")) for value in entry.cutoff)
        start, end = (distance_from_start(journey, at) for at in (entry.start, entry.end))
        axes.fill_between([start, end], low, high, color=COLORS[0], alpha=0.35, linewidth=0)
        axes.plot([start, end], [high, high], color=COLORS[0], linewidth=1.0)
    axes.set_ylim(0.0, 1.05 * axes.get_ylim()[1])  # a full cutoff stays off the edge
    axes.set_ylabel(axis_label("usual\ncutoff", "ratio"))
