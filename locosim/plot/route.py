"""A line examined, and a line made, as pictures."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from locosim.model import Route
from locosim.plot.figure import COLORS, STYLES, TEXT_BOX, axis_label, new_figure
from locosim.survey.examination import CurveSpeed, RouteExamination, line_pieces
from locosim.survey.heights import Heights, heights_of
from locosim.survey.made_route import CurvatureFitted, MadeRoute
from locosim.units import label, number, scale, show, show_number

LEGEND: dict[str, Any] = {"loc": "upper right", "fontsize": 8, "borderaxespad": 0.1}
MIN_LABELED = 0.012  # of the line, a stretch shorter than which has no room for its grade
MAX_LEVEL_NAMES = 8  # of stations, written level; more are written upright
AVERAGED = 300.0  # over which given grades are drawn [m]
HEADROOM = 0.35  # of the height of the profile, above it for the names of stations and the grades


def plot_route(found: RouteExamination) -> Figure:
    """Draw the profile with the grades written on it, speeds, and curves over the chainage."""
    figure = new_figure(11, 9)
    panels = figure.subplots(3, 1, sharex=True, height_ratios=(2.2, 1, 1))
    profile_panel(panels[0], found)
    speed_panel(panels[1], found)
    curve_panel(panels[2], found.route)
    _finish(panels, found.route)
    return figure


def _finish(panels: Any, route: Route) -> None:
    panels[-1].set_xlabel(axis_label("milepost" if label("distance") == "mi" else "distance", "distance"))
    panels[-1].set_xlim(number(route.start, "distance"), number(route.end, "distance"))
    panels[0].set_title(route.name, loc="left", pad=10)


def _distance(chainage: Any) -> Any:
    return number(chainage, "distance")


def profile_panel(axes: Axes, found: RouteExamination) -> Axes:
    """Heights of the rail, with the mean grade of each stretch, momentum grades and stations."""
    heights = heights_of(found.route)
    shown = np.asarray(number(heights.height, "length"))
    low, high = float(np.min(shown)), float(np.max(shown))
    span = max(high - low, 1.0)
    axes.fill_between(
        _distance(heights.chainage), shown, low - 0.05 * span, color=COLORS[4], alpha=0.25, linewidth=0
    )
    axes.plot(_distance(heights.chainage), shown, color=COLORS[4])
    axes.set_ylim(low - 0.05 * span, high + HEADROOM * span)
    for stretch in found.stretches:
        axes.axvline(_distance(stretch.end), ymax=0.04, color=COLORS[5], linewidth=0.7)
        if stretch.end - stretch.start < MIN_LABELED * (found.route.end - found.route.start):
            continue
        middle = (stretch.start + stretch.end) / 2
        axes.annotate(
            _grade_text(stretch.grade),
            (_distance(middle), number(float(heights.at(middle)), "length")),
            xytext=(0, 7),
            textcoords="offset points",
            rotation=90,
            fontsize=7,
            ha="center",
            va="bottom",
            bbox=TEXT_BOX,
        )
    for each in found.momentum.stretches:
        on = np.linspace(each.start, each.slowest_place, 60)
        axes.plot(_distance(on), number(heights.at(on), "length"), color=COLORS[1], linewidth=2.2)
    if found.momentum.stretches:
        axes.plot([], [], color=COLORS[1], linewidth=2.2, label="climbed by momentum")
        axes.legend(loc="lower right", fontsize=8, frameon=True, facecolor="white", edgecolor="none")
    _stations(axes, found.route)
    given = found.route.profile[0].elevation is not None
    axes.set_ylabel(axis_label("elevation" if given else "elevation\nfrom start of line", "length"))
    return axes


def _grade_text(grade: float) -> str:
    """Grade of a stretch, with its sign where it falls."""
    if abs(grade) < 5e-5:
        return "level"
    unit = label("grade")
    return show_number(grade, "grade") + (f" {unit}" if unit in ("%", "‰") else "")


def _stations(axes: Axes, route: Route) -> None:
    """Names of the stations at the top, upright where there are many, with a line down."""
    upright = len(route.stations) > MAX_LEVEL_NAMES
    length, named_to = route.end - route.start, -np.inf
    for station in route.stations:
        place = _distance(station.chainage)
        axes.axvline(place, color=COLORS[5], linewidth=0.6, linestyle=":")
        if station.chainage - named_to < MIN_LABELED * length:
            continue  # its name would lie on the one before
        named_to = station.chainage
        left = station.chainage > route.start + 0.85 * length
        axes.annotate(
            station.name, (place, 1.0), xycoords=("data", "axes fraction"), xytext=(-3 if left else 3, -2),
            textcoords="offset points", fontsize=8, va="top", ha="right" if left else "left", bbox=TEXT_BOX,
            rotation=90 if upright else 0,
        )  # fmt: skip


def speed_panel(axes: Axes, found: RouteExamination) -> Axes:
    """Speed limits, and the speeds that the superelevation of curves allows."""
    pieces = line_pieces(found.route)
    places = [_distance(pieces[0].start), *(_distance(piece.end) for piece in pieces)]
    limits = [number(piece.speed_limit, "speed") for piece in pieces]
    axes.stairs(limits, places, color=COLORS[0], baseline=None, label="speed limit")
    raised: list[CurveSpeed] = [each for each in found.curves if each.allowed_speed is not None]
    if raised:
        middles = [_distance((each.curve.start + each.curve.end) / 2) for each in raised]
        allowed = [number(each.allowed_speed, "speed") for each in raised]
        axes.plot(middles, allowed, "v", color=COLORS[1], markersize=4, label="allowed by superelevation")
    axes.set_ylim(0, 1.5 * max(limits))
    axes.set_ylabel(axis_label("speed", "speed"))
    axes.legend(ncols=2, **LEGEND)
    return axes


def curve_panel(axes: Axes, route: Route) -> Axes:
    """Curvature of the line, without its direction, which the file does not give; tunnels as a band."""
    pieces = line_pieces(route)
    places = [_distance(pieces[0].start), *(_distance(piece.end) for piece in pieces)]
    axes.stairs([_sharpness(piece.radius) for piece in pieces], places, color=COLORS[0], fill=True, alpha=0.6)
    for number_of_tunnel, tunnel in enumerate(route.tunnels):
        axes.axvspan(
            _distance(tunnel.start), _distance(tunnel.end), color=COLORS[5], alpha=0.2, linewidth=0,
            label="tunnel" if number_of_tunnel == 0 else None,
        )  # fmt: skip
    axes.set_ylim(bottom=0)
    axes.set_ylabel(_sharpness_label())
    if route.tunnels:
        axes.legend(**LEGEND)
    return axes


def _sharpness(radius: float | None) -> float:
    """Sharpness of a curve: its degree in US units, else a thousand over its radius; 0 for tangent track."""
    if radius is None:
        return 0.0
    if label("curve") == "°":
        return float(show_number(radius, "curve", 6).replace(",", ""))
    return 1000.0 / float(scale("length")[0] * radius)


def _sharpness_label() -> str:
    unit = label("curve")
    return "curve [°]" if unit == "°" else f"curve, 1000/radius [1/{label('length')}]"


def plot_made_route(made: MadeRoute) -> Figure:
    """Draw heights as given and as made, their difference, grades, and curvature with the curves found."""
    compared = made.before is not None
    rows = (3 if compared else 1) + 1
    figure = new_figure(11, 2.4 * rows + 0.8)
    panels = figure.subplots(rows, 1, sharex=True)
    after = heights_of(made.route)
    height_panel(panels[0], made.before, after)
    _stations(panels[0], made.route)
    if made.before is not None:
        change_panel(panels[1], made.before, after)
        grade_panel(panels[2], made.before, after)
    if made.curvature is not None:
        curvature_panel(panels[-1], made.curvature)
    else:
        curve_panel(panels[-1], made.route)
    _finish(panels, made.route)
    return figure


def height_panel(axes: Axes, before: Heights | None, after: Heights) -> Axes:
    """Heights as given and as made."""
    if before is not None:
        axes.plot(
            _distance(before.chainage),
            number(before.height, "length"),
            color=COLORS[1],
            linewidth=0.8,
            label="as given",
        )
    axes.plot(_distance(after.chainage), number(after.height, "length"), color=COLORS[0], label="as written")
    low, high = axes.get_ylim()
    axes.set_ylim(low, high + 0.2 * (high - low))
    axes.set_ylabel(axis_label("height", "length"))
    axes.legend(loc="lower right", fontsize=8, ncols=2)
    return axes


def change_panel(axes: Axes, before: Heights, after: Heights) -> Axes:
    """Change of the heights."""
    change = after.at(before.chainage) - before.height
    axes.plot(_distance(before.chainage), number(change, "length"), color=COLORS[0], linewidth=0.8)
    axes.axhline(0.0, color=COLORS[5], linewidth=0.6)
    axes.set_ylabel(axis_label("change of height", "length"))
    return axes


def grade_panel(axes: Axes, before: Heights, after: Heights) -> Axes:
    """Grades as given, averaged over a short length because errors of heights swamp them, and as written."""
    factor, unit = scale("grade")
    places = np.linspace(before.chainage[0], before.chainage[-1], 1500)
    low = np.maximum(places - AVERAGED / 2, before.chainage[0])
    high = np.minimum(places + AVERAGED / 2, before.chainage[-1])
    given = factor * (before.at(high) - before.at(low)) / (high - low)
    axes.plot(
        _distance(places),
        given,
        color=COLORS[1],
        linewidth=0.7,
        label=f"as given, over {show(AVERAGED, 'length')}",
    )
    axes.stairs(
        factor * after.grades, _distance(after.chainage), color=COLORS[0], baseline=None, linewidth=1.6, zorder=3,
        label="as written",
    )  # fmt: skip
    most = 1.8 * factor * max(float(np.max(np.abs(after.grades))), 1e-4)
    axes.set_ylim(-most, most)
    axes.set_ylabel(f"grade [{unit}]")
    axes.legend(ncols=2, **LEGEND)
    return axes


def curvature_panel(axes: Axes, fitted: CurvatureFitted) -> Axes:
    """Curvature along the points, and the curves written, positive to the left."""
    factor = 1000.0 / scale("length")[0]
    geometry = fitted.geometry
    axes.plot(
        _distance(geometry.chainage),
        factor * geometry.curvature,
        color=COLORS[1],
        linewidth=0.8,
        label="of the points",
    )
    for number_of_curve, curve in enumerate(fitted.curves):
        axes.plot(
            _distance(np.array([curve.start, curve.start, curve.end, curve.end])),
            [0.0, factor * curve.curvature, factor * curve.curvature, 0.0],
            color=COLORS[0], linewidth=1.2, linestyle=STYLES[0], label=None if number_of_curve else "written",
        )  # fmt: skip
    axes.set_ylabel(f"curvature, 1000/radius\n[1/{label('length')}]")
    axes.legend(ncols=2, **LEGEND)
    return axes
