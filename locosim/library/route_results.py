"""Functions and results for a line: examined, made from points, smoothed, reversed, joined, cut and written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from locosim import __version__
from locosim.library.quantities import Quantity, quantity
from locosim.library.table import DEFAULT_UNITS, Column, Result, column
from locosim.model import Route
from locosim.report.output_files import check_outputs_writable, write
from locosim.scenario.points import read_points
from locosim.scenario.route_file import route_file_names, route_files
from locosim.survey.editing import cut_route as cut
from locosim.survey.editing import join_routes as join
from locosim.survey.editing import reverse_route as reverse
from locosim.survey.editing import smooth_route as smooth
from locosim.survey.examination import MIN_SPEED, RouteExamination, examine_route, line_pieces
from locosim.survey.made_route import MadeRoute
from locosim.survey.momentum_grades import MomentumGrades
from locosim.survey.roughness import Roughness, Smoothing
from locosim.survey.ruling import RulingGrade
from locosim.survey.tracing import MAX_GRADE, Tracing, route_from_heights, route_from_trace
from locosim.units import unit_system

TRAIN_LENGTHS = (150.0, 300.0, 600.0, 1200.0)  # for the ruling grade, if none are given [m]


def _track_chart(route: Route) -> Sequence[Column]:
    """Columns with one row for each piece of one grade, one curve and one speed limit."""
    pieces = line_pieces(route)
    return [
        column("from", "distance", pieces, lambda p: p.start),
        column("to", "distance", pieces, lambda p: p.end),
        column("height", "length", pieces, lambda p: p.height),
        column("grade", "ratio", pieces, lambda p: p.grade),
        column("radius", "length", pieces, lambda p: p.radius),
        column("superelevation", "small_length", pieces, lambda p: p.superelevation),
        column("speed limit", "speed", pieces, lambda p: p.speed_limit),
    ]


class RouteResult(Result[RouteExamination]):
    """A line examined: a table of its pieces, ruling grades, momentum grades, roughness and what is missing."""

    command = "route show"

    @property
    def rows(self) -> tuple[RulingGrade, ...]:
        """Ruling grades by train length, in SI."""
        return self.content.ruling

    @property
    def momentum(self) -> MomentumGrades:
        """Momentum grades, in SI."""
        return self.content.momentum

    @property
    def roughness(self) -> Roughness:
        """Roughness of the heights, in SI."""
        return self.content.roughness

    @property
    def missing(self) -> tuple[str, ...]:
        """What the description does not give, one sentence each."""
        return self.content.missing

    @property
    def method(self) -> None:
        """None: no engine is computed."""

    def title(self) -> str:
        """Name of the line."""
        return f"{self.content.route.name}: track chart"

    def columns(self) -> Sequence[Column]:
        """One row for each piece of one grade, one curve and one speed limit."""
        return _track_chart(self.content.route)


class MadeRouteResult(Result[MadeRoute]):
    """A line that was made, with a table of its pieces and a statement of what was done."""

    command = "route make"

    @property
    def route(self) -> Route:
        """The line, in SI."""
        return self.content.route

    @property
    def smoothing(self) -> Smoothing | None:
        """What smoothing changed, in SI; None where heights were not smoothed."""
        return self.content.smoothing

    @property
    def method(self) -> None:
        """None: no engine is computed."""

    def title(self) -> str:
        """Name of the line."""
        return f"{self.content.route.name}: track chart"

    def columns(self) -> Sequence[Column]:
        """One row for each piece of one grade, one curve and one speed limit."""
        return _track_chart(self.content.route)


def show_route(
    route: Route,
    *,
    train_lengths: Sequence[Quantity] = TRAIN_LENGTHS,
    ruling_grade: Quantity | None = None,
    entry_speed: Quantity | None = None,
    lowest_speed: Quantity = MIN_SPEED,
) -> RouteResult:
    """Examine a line: grades, ruling grade, momentum, curves, roughness of its data, and what is missing.

    Args:
        route: The line.
        train_lengths: Lengths of train for the ruling grade, texts with a unit or numbers in m; momentum is for the
            shortest.
        ruling_grade: Grade that the engine is loaded for; the lowest that momentum allows when left out.
        entry_speed: Highest speed of the train; the speed limits when left out.
        lowest_speed: Lowest speed on a momentum grade.

    Raises:
        UnitError: A quantity without a unit that fits.
        OutOfRange: A train longer than the line, or a speed or grade that is not allowed.
    """
    return RouteResult(
        examine_route(
            route,
            lengths=[quantity(each, "m", "train_lengths") for each in train_lengths],
            ruling=_optional(ruling_grade, "grade", "ruling_grade"),
            entry_speed=_optional(entry_speed, "m/s", "entry_speed"),
            min_speed=quantity(lowest_speed, "m/s", "lowest_speed"),
        )
    )


def _optional(given: Quantity | None, unit: str, name: str) -> float | None:
    return None if given is None else quantity(given, unit, name)


def make_route(
    path: str | Path,
    *,
    speed_limit: Quantity,
    name: str | None = None,
    track: str | None = None,
    smooth_over: Quantity | None = None,
    curve_window: Quantity | None = None,
    max_grade: Quantity = MAX_GRADE,
) -> MadeRouteResult:
    """Make a line from a recorded track or from heights by chainage.

    Args:
        path: A .gpx file, or a .csv file with the columns chainage and elevation.
        speed_limit: Speed limit of the line, a text with its unit or a number in m/s.
        name: Name of the line; that of the track or the file when left out.
        track: Name or number of the track, where a file has several.
        smooth_over: Length over which heights are smoothed, 0 for none; suited to the heights when left out.
        curve_window: Length over which curvature is taken; suited to the positions when left out.
        max_grade: Steepest grade of the line.

    Raises:
        ScenarioError: With every problem of the file.
        UnitError: A quantity without a unit that fits.
        OutOfRange: Points without heights or too short a line, or a value that is not allowed.
    """
    read = read_points(path, track)
    tracing = Tracing(
        name=name or read.name,
        speed_limit=quantity(speed_limit, "m/s", "speed_limit"),
        smoothing=_optional(smooth_over, "m", "smooth_over"),
        window=_optional(curve_window, "m", "curve_window"),
        max_grade=quantity(max_grade, "grade", "max_grade"),
        references=(f"made from {Path(path).name}, SHA-256 {read.provenance.files[0].sha256}",),
    )
    if read.trace is not None:
        made = route_from_trace(read.trace, tracing)
    else:
        made = route_from_heights(read.heights, tracing)
    return MadeRouteResult(replace(made, route=replace(made.route, provenance=read.provenance)))


def smooth_route(
    route: Route, *, smooth_over: Quantity | None = None, max_grade: Quantity | None = None
) -> MadeRouteResult:
    """Smooth the heights of a line; both ends keep theirs, unless the bound on the grade moves them.

    Args:
        route: The line.
        smooth_over: Length over which heights are smoothed, 0 for none; suited to the heights when left out.
        max_grade: Steepest grade of the line; not bounded when left out.

    Raises:
        UnitError: A quantity without a unit that fits.
        OutOfRange: A value that is not allowed.
    """
    length, steepest = _optional(smooth_over, "m", "smooth_over"), _optional(max_grade, "grade", "max_grade")
    return MadeRouteResult(smooth(route, length=length, max_grade=steepest))


def reverse_route(route: Route) -> MadeRouteResult:
    """Turn a line around; its chainages are counted from the other end.

    Args:
        route: The line.

    Raises:
        OutOfRange: Never for a line that was read from a file.
    """
    return MadeRouteResult(reverse(route))


def join_routes(routes: Sequence[Route], *, name: str | None = None) -> MadeRouteResult:
    """Join lines, each beginning where the one before ends; the chainage of the first continues.

    Args:
        routes: The lines, at least two, in the order in which a train passes them.
        name: Name of the joined line; the names of the lines when left out.

    Raises:
        OutOfRange: Lines that cannot be joined; the message says why.
    """
    return MadeRouteResult(join(routes, name=name))


def cut_route(route: Route, *, start: Quantity | None = None, end: Quantity | None = None) -> MadeRouteResult:
    """Cut a part out of a line; it keeps its chainages.

    Args:
        route: The line.
        start: Chainage where the part begins, a text with its unit or a number in m, or the name of a station.
        end: Chainage or station where it ends.

    Raises:
        UnitError: A text that is neither a station nor a quantity with a unit that fits.
        OutOfRange: A part that is not on the line or has fewer than two stations.
    """
    return MadeRouteResult(cut(route, start=_place(route, start, "start"), end=_place(route, end, "end")))


def _place(route: Route, given: Quantity | None, name: str) -> float | None:
    """Chainage of a place."""
    if isinstance(given, str) and given in {station.name for station in route.stations}:
        return route.station(given).chainage
    return _optional(given, "m", name)


def write_route(
    route: Route, path: str | Path, *, units: str = DEFAULT_UNITS, overwrite: bool = False
) -> tuple[Path, ...]:
    """Write a line as a route file, with its profile and curves as CSV files beside it.

    Args:
        route: The line.
        path: The route file, ending in .toml.
        units: `us`, `metric` or `british`.
        overwrite: Replace files that exist.

    Returns:
        The files written.

    Raises:
        OutputExists: A file exists and `overwrite` is not set.
        LocosimError: A file cannot be written.
        UnitError: Units that are not known.
    """
    names = route_file_names(Path(path))
    check_outputs_writable({each.name: (each, ()) for each in names}, force=overwrite)
    with unit_system(units):
        files = route_files(route, Path(path), [f"Written by locosim {__version__}."])
    for each, content in files.items():
        write(each, content, force=overwrite)
    return tuple(files)
