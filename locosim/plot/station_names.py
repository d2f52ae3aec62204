"""Station names over the panels of a run."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from matplotlib.axes import Axes

from locosim.journey.result import Journey
from locosim.physics.types import Floats
from locosim.plot.panels import PANEL_WIDTH, distance_from_start, line_end, line_length

NAME_ANGLE = 55  # of station names [°]
NAME_SPACING = 13.5  # between station names, so that lines of type at `NAME_ANGLE` do not touch [pt]
CHARACTER = 3.2  # width of a character of a name, along the panels [pt]
FREE_MARGIN = 30.0  # what a name may stand out without narrowing the panels [pt]
LEADER = 12.0  # height of the line from a station to its name [pt]
LEADER_STYLE: dict[str, Any] = {
    "arrowstyle": "-", "linewidth": 0.6, "color": "#000000", "alpha": 0.45, "shrinkA": 0, "shrinkB": 0, "patchA": None,
    "relpos": (0.0, 0.0),
}  # fmt: skip


class Label(NamedTuple):
    """A name over the panels.

    Attributes:
        place: Distance of the station from the start, in the reader's units.
        name: Its name.
        stops: Whether the train stops there.
    """

    place: float
    name: str
    stops: bool


def stations(journey: Journey) -> list[Label]:
    """Each station from the first stop to the last, in order of travel."""
    start, end = float(journey.chainage[0]), line_end(journey)
    stops = {stop.station for stop in journey.excursion.stops}
    return [
        Label(distance_from_start(journey, s.chainage), s.name, s.name in stops)
        for s in journey.excursion.route_as_run.stations
        if start - 1 <= s.chainage <= end + 1
    ]


def mark_stations(axes: Axes, journey: Journey) -> Axes:
    """Write station names slanted above an axes, moved apart where they would touch, each with a line to its place.

    Where there is no room for all, names of stations without a stop are left out, the closest to a neighbor first.
    """
    labels = _with_room(stations(journey), int(PANEL_WIDTH / NAME_SPACING))
    scale = (PANEL_WIDTH - _overhang(labels, line_length(journey))) / line_length(journey)
    moved = spread(np.array([label.place * scale for label in labels]), NAME_SPACING) / scale
    for label, x in zip(labels, moved, strict=True):
        axes.annotate(
            label.name, (label.place, 1.0), xycoords=("data", "axes fraction"),
            xytext=((x - label.place) * scale, LEADER), textcoords="offset points", rotation=NAME_ANGLE,
            rotation_mode="anchor", ha="left", va="center", fontsize=8.5,
            fontweight="bold" if label.stops else "normal",
            arrowprops=LEADER_STYLE,
        )  # fmt: skip
    return axes


def _overhang(labels: Sequence[Label], length: float) -> float:
    """How far the names stand out beyond the right end of the panels, which are narrower by as much [pt]."""
    ends = [label.place * PANEL_WIDTH / length + CHARACTER * len(label.name) for label in labels]
    return min(max(*ends, PANEL_WIDTH + FREE_MARGIN) - PANEL_WIDTH - FREE_MARGIN, 0.4 * PANEL_WIDTH)


def _with_room(labels: list[Label], most: int) -> list[Label]:
    """The labels for which there is room; stops stay."""
    left = list(labels)
    while len(left) > max(most, 1):
        passing = [i for i in range(1, len(left) - 1) if not left[i].stops]
        if not passing:
            return left[:1] + left[len(left) - most + 1 :]
        left.pop(min(passing, key=lambda i: left[i + 1].place - left[i - 1].place))
    return left


def spread(places: Floats, spacing: float) -> Floats:
    """Places moved apart to a spacing, in order, with the least sum of squares of the shifts.

    Groups that touch are joined and set around the mean of their places.
    """
    groups: list[tuple[float, int]] = []  # mean of places less their offsets in the group, and number
    for k, place in enumerate(places):
        groups.append((float(place) - spacing * k, 1))
        while len(groups) > 1 and groups[-2][0] > groups[-1][0]:
            (mean, number_after), (before, number_before) = groups.pop(), groups.pop()
            total = number_before + number_after
            groups.append(((before * number_before + mean * number_after) / total, total))
    means = np.concatenate([np.full(count, mean) for mean, count in groups]) if groups else np.zeros(0)
    return np.asarray(means + spacing * np.arange(len(places)))
