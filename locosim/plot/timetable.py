"""A timetable as a picture: the train on distance and time, and the recovery of each section."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter

from locosim.journey.result import Journey
from locosim.planning.timetable import Timetable
from locosim.plot.figure import COLORS, axis_label, new_figure
from locosim.plot.panels import LEGEND, distances, line_length
from locosim.plot.station_names import mark_stations, stations
from locosim.units import number, scale, show

BAR_TEXT = 8  # type of the figures on bars [pt]


def plot_timetable(timetable: Timetable) -> Figure:
    """Draw the booked run and the run at full effort over distance, with the recovery and the fuel it saves."""
    figure = new_figure(11.0, 7.4)
    axes = figure.subplots(2, 1, sharex=True, height_ratios=(2.2, 1.0))
    _graph(axes[0], timetable)
    _recovery(axes[1], timetable)
    mark_stations(axes[0], timetable.journey)
    axes[1].set_xlim(0.0, line_length(timetable.journey))
    axes[1].set_xlabel(axis_label("distance from the start", "distance"))
    figure.align_ylabels(axes)
    figure.suptitle(
        f"{timetable.excursion.name}: timetable, recovery {show(timetable.recovery, 'time')}, "
        f"{timetable.answer.verdict.upper()}",
        x=0.01,
        ha="left",
    )
    return figure


def _graph(axes: Axes, timetable: Timetable) -> None:
    """Time against distance, the clock downward, as a train graph is read."""
    for journey, color, style, name in (
        (timetable.answer.full_effort, COLORS[1], "--", "full effort, waiting for booked departures"),
        (timetable.journey, COLORS[0], "-", "booked run"),
    ):
        x, time = _with_stops(journey)
        axes.plot(x, time, color=color, linestyle=style, label=name, linewidth=1.4)
    for station in stations(timetable.journey):
        axes.axvline(station.place, color="#000000", alpha=0.25 if station.stops else 0.1, linewidth=0.8)
    axes.yaxis.set_major_formatter(FuncFormatter(lambda hours, _: _hours_text(hours)))
    axes.invert_yaxis()
    axes.set_ylabel("clock [h:min]")
    axes.legend(loc="lower left", fontsize=LEGEND["fontsize"])


def _with_stops(journey: Journey) -> tuple[list[float], list[float]]:
    """Distance and clock [h] of a run, arrival and departure at each node."""
    x = np.repeat(distances(journey), 2)
    time = np.column_stack([journey.time, journey.departure_time]).ravel() / 3600.0
    return x.tolist(), time.tolist()


def _hours_text(hours: float) -> str:
    minutes = round(hours * 60.0)
    return f"{minutes // 60 % 24:02d}:{minutes % 60:02d}"


def _recovery(axes: Axes, timetable: Timetable) -> None:
    """Recovery of each section in minutes, with the fuel it saves."""
    at = 0.0
    factor, unit = scale("time")
    for section in timetable.sections:
        width = float(number(section.distance, "distance"))
        height = factor * section.recovery
        axes.bar(
            at,
            height,
            width=width,
            align="edge",
            color=COLORS[2],
            alpha=0.55,
            edgecolor=COLORS[5],
            linewidth=0.6,
        )
        axes.annotate(
            f"saves {show(section.fuel_saved, 'small_mass')}", (at + 0.5 * width, height), (0, 3),
            textcoords="offset points", ha="center", fontsize=BAR_TEXT,
        )  # fmt: skip
        at += width
    highest = max((factor * section.recovery for section in timetable.sections), default=1.0)
    axes.set_ylim(0.0, 1.3 * max(highest, 0.1))
    axes.set_ylabel(f"recovery [{unit}]")
