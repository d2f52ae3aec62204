"""A day as a train graph: distance over time, one panel for each line, with the layovers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import FixedLocator, FuncFormatter, MultipleLocator

from locosim.model import Excursion, Route
from locosim.planning.day import DayAnswer, LegAnswer
from locosim.planning.station_times import line_chainage
from locosim.plot.figure import COLORS, STYLES, TEXT_BOX, axis_label, new_figure
from locosim.units import number

HOUR = 3600.0  # [s]
HOUR_STEPS = (0.25, 0.5, 1, 2, 3, 6)  # between labels of the time axis [h]
MAX_LABELS = 10
NAME_GAP = 0.045  # least distance of two station names, over the height of a panel
PANEL_HEIGHT = 3.6  # [in]
MAX_COLUMNS = 5  # of the legend


class _Panel(NamedTuple):
    """One line with the legs that run over it."""

    route: Route
    legs: list[LegAnswer]


def plot_day(answer: DayAnswer) -> Figure:
    """Draw the legs and layovers of a day, distance along each line over the time of day."""
    panels = _panels(answer)
    figure = new_figure(9.0, 1.1 + PANEL_HEIGHT * len(panels))
    axes = figure.subplots(len(panels), 1, sharex=True, squeeze=False)[:, 0]
    engines = {leg.leg.engine: i for i, leg in reversed(list(enumerate(answer.legs)))}
    order = {engine: i for i, engine in enumerate(sorted(engines, key=lambda name: engines[name]))}
    for panel_axes, panel in zip(axes, panels, strict=True):
        line_panel(panel_axes, panel.route, panel.legs, order)
    _time_axis(axes[-1], answer)
    axes[0].set_title(_title(answer), loc="left")
    _legend(figure, answer, order)
    return figure


def _title(answer: DayAnswer) -> str:
    """Name and verdict of the day, with the rules of its own findings that give the verdict."""
    return f"{answer.day.name}: {', '.join([answer.verdict.upper(), *answer.worst_rules])}"


def _panels(answer: DayAnswer) -> list[_Panel]:
    """The lines of a day in order of the legs, each once."""
    panels: list[_Panel] = []
    for leg in answer.legs:
        route = leg.leg.excursion.route
        known = next((p for p in panels if p.route.stations == route.stations), None)
        if known is None:
            panels.append(_Panel(route, [leg]))
        else:
            known.legs.append(leg)
    return panels


def line_panel(axes: Axes, route: Route, legs: Sequence[LegAnswer], order: dict[str, int]) -> Axes:
    """Draw the legs over one line; the colors are those of the engines.

    Args:
        axes: Where to draw.
        route: The line.
        legs: Legs that run over it.
        order: Number of each engine.
    """
    for leg in legs:
        color = COLORS[order[leg.leg.engine] % len(COLORS)]
        if leg.layover is not None:
            _draw_layover(axes, leg, color)
        if leg.answer is None:
            _draw_booked(axes, leg)
        else:
            _draw_run(axes, leg, color)
    _station_axis(axes, route)
    return axes


def _draw_run(axes: Axes, leg: LegAnswer, color: str) -> None:
    """Draw the run of a leg, with its booked times and its number."""
    if leg.answer is None:
        return
    journey = leg.answer.journey
    excursion = journey.excursion
    # Both times of each node, so that a stop is a level line.
    times = np.column_stack((journey.time, journey.departure_time)).ravel()[1:]
    places = np.repeat(journey.chainage, 2)[1:]
    style = STYLES[0] if excursion.engine_facing == "stack_first" else STYLES[1]
    shown = [_place(excursion, float(chainage)) for chainage in places]
    axes.plot(times / HOUR, shown, color=color, linestyle=style, linewidth=1.7)
    booked = _booked(excursion)
    axes.plot([t / HOUR for t, _ in booked], [y for _, y in booked], "o", color=color, markersize=3.2)
    middle = len(times) // 2
    axes.annotate(
        f"{leg.number} {leg.verdict}",
        (float(times[middle]) / HOUR, shown[middle]),
        xytext=(9, 0),
        textcoords="offset points",
        fontsize=8.5,
        color=color,
        va="center",
        bbox=TEXT_BOX,
    )
    if not journey.arrived:
        axes.plot(float(times[-1]) / HOUR, shown[-1], "x", color=COLORS[1], markersize=9, markeredgewidth=2)


def _draw_layover(axes: Axes, leg: LegAnswer, color: str) -> None:
    """Draw a layover: a bar while there is work, and a line while there is none."""
    layover = leg.layover
    if layover is None:
        return
    excursion = leg.leg.excursion
    y = _place(excursion, excursion.route_as_run.station(leg.leg.origin).chainage)
    worked = layover.arrive + layover.work
    axes.plot([layover.arrive / HOUR, layover.departure / HOUR], [y, y], color=color, linewidth=0.9)
    axes.plot(
        [layover.arrive / HOUR, worked / HOUR],
        [y, y],
        color=color,
        alpha=0.4,
        linewidth=6,
        solid_capstyle="butt",
    )


def _draw_booked(axes: Axes, leg: LegAnswer) -> None:
    """Draw the booked times of a leg that was not run."""
    booked = _booked(leg.leg.excursion)
    axes.plot(
        [t / HOUR for t, _ in booked],
        [y for _, y in booked],
        "o:",
        color="#888888",
        markersize=3.2,
        linewidth=1.2,
    )
    t, y = booked[len(booked) // 2]
    axes.annotate(
        f"{leg.number} not run",
        (t / HOUR, y),
        xytext=(9, 0),
        textcoords="offset points",
        fontsize=8.5,
        color="#666666",
        va="center",
        bbox=TEXT_BOX,
    )


def _booked(excursion: Excursion) -> list[tuple[float, float]]:
    """Booked times of an excursion on the clock [s], with their places."""
    line = excursion.route_as_run
    found = [(excursion.departure, _place(excursion, line.station(excursion.stops[0].station).chainage))]
    for stop in excursion.stops[1:]:
        place = _place(excursion, line.station(stop.station).chainage)
        found += [(time, place) for time in (stop.arrive, stop.depart) if time is not None]
    return found


def _place(excursion: Excursion, chainage: float) -> float:
    """Milepost of a chainage in the direction of travel, in the reader's units."""
    return float(number(line_chainage(excursion, chainage), "distance"))


def _station_axis(axes: Axes, route: Route) -> None:
    """Station names at the left, and mileposts at the right."""
    places = [float(number(station.chainage, "distance")) for station in route.stations]
    low, high = places[0], places[-1]
    room = 0.04 * (high - low)
    axes.set_ylim(low - room, high + room)
    names = [
        station.name if i == 0 or place - places[i - 1] > NAME_GAP * (high - low) else ""
        for i, (station, place) in enumerate(zip(route.stations, places, strict=True))
    ]
    axes.yaxis.set_major_locator(FixedLocator(places))
    axes.set_yticks(places, names)
    right = axes.secondary_yaxis("right")
    right.set_ylabel(axis_label("milepost", "distance"))


def _time_axis(axes: Axes, answer: DayAnswer) -> None:
    """The time of day, with a line for each ten minutes where there is room."""
    low, high = axes.get_xlim()
    for step in HOUR_STEPS:
        if (high - low) / step <= MAX_LABELS:
            break
    axes.xaxis.set_major_locator(MultipleLocator(step))
    if high - low <= MAX_LABELS:
        axes.xaxis.set_minor_locator(MultipleLocator(1 / 6))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda hours, _: _clock(hours)))
    for each in axes.figure.axes:
        each.grid(visible=True, axis="x", which="minor", alpha=0.18, linewidth=0.4)
    axes.set_xlabel("time of day")


def _clock(hours: float) -> str:
    minutes = round(60 * hours)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _legend(figure: Figure, answer: DayAnswer, order: dict[str, int]) -> None:
    """Engines by color, and what the lines and marks mean."""
    marks = [Line2D([], [], color=COLORS[i % len(COLORS)], label=engine) for engine, i in order.items()]
    gray = "#555555"
    facings = {leg.leg.excursion.facing for leg in answer.legs} - {"stack first"}
    if facings:
        marks.append(Line2D([], [], color=gray, linestyle="--", label=" or ".join(sorted(facings))))
    marks.append(Line2D([], [], color=gray, marker="o", linestyle="", markersize=3.2, label="booked"))
    if len(answer.legs) > 1:
        marks.append(Line2D([], [], color=gray, alpha=0.4, linewidth=6, label="work in a layover"))
    figure.legend(handles=marks, loc="outside upper right", ncols=min(len(marks), MAX_COLUMNS), fontsize=8)
