"""The commands about a line: route show, make, smooth, reverse, join and cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from locosim.cli.app import app
from locosim.cli.options import (
    CsvFile,
    Force,
    JsonOption,
    OptionTexts,
    Output,
    PlotFile,
    Units,
    UnitsOption,
    change_option,
)

if TYPE_CHECKING:
    from locosim.model import Route
    from locosim.survey.made_route import MadeRoute

TRAIN_LENGTHS = {  # for the ruling grade, if none are given
    Units.us: ("500 ft", "1000 ft", "2000 ft", "4000 ft"),
    Units.british: ("500 ft", "1000 ft", "2000 ft", "4000 ft"),
    Units.metric: ("150 m", "300 m", "600 m", "1200 m"),
}
LOWEST_SPEED = {Units.metric: "15 km/h"}
US_LOWEST_SPEED = "10 mph"

route_app = typer.Typer(
    help="Show a line, or make one from a track or other lines.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
app.add_typer(route_app, name="route")

RouteFile = Annotated[
    Path, typer.Argument(help="Route file, such as line.toml; `new` creates one.", show_default=False)
]
RouteChanges = Annotated[
    list[str] | None,
    change_option("the file", "speed_limit=40 mph"),
]
ToFile = Annotated[
    Path,
    typer.Option(
        "--to",
        help="Route file to write, such as new.toml; its profile and curves are CSV files beside it.",
        show_default=False,
    ),
]
NameOption = Annotated[
    str | None, typer.Option("--name", help="Name of the line written.", show_default=False)
]
SmoothOption = Annotated[
    str | None,
    typer.Option(
        "--smooth",
        help='Length over which heights are smoothed, such as "600 ft", or "0 ft"; suited to the heights if omitted.',
        show_default=False,
    ),
]


@route_app.command(epilog='Example: locosim route show line.toml --train-length "800 ft" --plot line.png')
def show(
    route: RouteFile,
    change: RouteChanges = None,
    train_length: Annotated[
        list[str] | None,
        typer.Option(
            "--train-length",
            help='Length of train for the ruling grade, such as "800 ft"; repeatable. Momentum is for the shortest.',
            show_default=False,
        ),
    ] = None,
    ruling_grade: Annotated[
        str | None,
        typer.Option(
            "--ruling-grade",
            help='Grade that the engine is loaded for, such as "1.2 %"; if omitted, the lowest that momentum allows.',
            show_default=False,
        ),
    ] = None,
    entry_speed: Annotated[
        str | None,
        typer.Option(
            "--entry-speed",
            help='Highest speed of the train, such as "35 mph"; the speed limits if omitted.',
            show_default=False,
        ),
    ] = None,
    lowest_speed: Annotated[
        str | None,
        typer.Option(
            "--lowest-speed",
            help='Lowest speed on a momentum grade, such as "12 mph"; 10 mph, or 15 km/h in metric, if omitted.',
            show_default=False,
        ),
    ] = None,
    everything: Annotated[bool, typer.Option("--all", help="List every curve.")] = False,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    csv: CsvFile = None,
    force: Force = False,
) -> None:
    """Grades, momentum, curves, and gaps in its data.

    Ruling grade by train length, grades climbed by momentum, curve speeds, roughness of the heights, and what the
    file does not give.
    """
    output = Output("route show", units, json, force, plot=plot, csv=csv)
    texts = OptionTexts(
        lengths=train_length or TRAIN_LENGTHS[units],
        ruling=ruling_grade,
        entry_speed=entry_speed,
        min_speed=lowest_speed or LOWEST_SPEED.get(units, US_LOWEST_SPEED),
    )
    lengths = texts.quantities("lengths", "m")
    from locosim.scenario import load_route
    from locosim.survey.examination import examine_route

    line = load_route(route, change or ())
    if not train_length:  # those that are too long for a short line are left out
        lengths = tuple(each for each in lengths if each < line.end - line.start) or (line.end - line.start,)
    with texts.error_context(route):
        found = examine_route(
            line,
            lengths=lengths,
            entry_speed=texts.optional_quantity("entry_speed", "m/s"),
            min_speed=texts.quantity("min_speed", "m/s"),
            ruling=texts.optional_quantity("ruling", "grade"),
        )
    output.write(found, everything=everything)


@route_app.command(
    epilog='Example: locosim route make track.gpx --speed-limit "40 mph" --to line.toml --plot line.png'
)
def make(
    points: Annotated[
        Path,
        typer.Argument(
            help="Track as .gpx, or heights as .csv with the columns chainage and elevation.",
            show_default=False,
        ),
    ],
    to: ToFile,
    speed_limit: Annotated[
        str,
        typer.Option(
            "--speed-limit", help='Speed limit of the line, such as "40 mph"; no file of points has it.'
        ),
    ],
    name: NameOption = None,
    track: Annotated[
        str | None,
        typer.Option(
            "--track", help="Track of a GPX file that has several, by name or number.", show_default=False
        ),
    ] = None,
    smooth: SmoothOption = None,
    curve_window: Annotated[
        str | None,
        typer.Option(
            "--curve-window",
            help='Length over which curvature is taken, such as "500 ft"; suited to the positions if omitted.',
            show_default=False,
        ),
    ] = None,
    max_grade: Annotated[str, typer.Option("--max-grade", help="Steepest grade of the line.")] = "5 %",
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    force: Force = False,
) -> None:
    """Make a line from a track (GPX) or from heights.

    Waypoints become stations, curves come from the positions, and what smoothing changed is stated.
    """
    output = _checked_output(to, units, json, force, plot)
    texts = OptionTexts(speed_limit=speed_limit, smoothing=smooth, window=curve_window, max_grade=max_grade)
    from locosim.scenario.points import read_points
    from locosim.survey.tracing import Tracing, route_from_heights, route_from_trace

    read = read_points(points, track)
    with texts.error_context(points):
        tracing = Tracing(
            name=name or read.name,
            speed_limit=texts.quantity("speed_limit", "m/s"),
            smoothing=texts.optional_quantity("smoothing", "m"),
            window=texts.optional_quantity("window", "m"),
            max_grade=texts.quantity("max_grade", "grade"),
            references=(f"made from {points.name}, SHA-256 {read.provenance.files[0].sha256}",),
        )
        if read.trace is not None:
            made = route_from_trace(read.trace, tracing)
        else:
            made = route_from_heights(read.heights, tracing)
    made = replace(made, route=replace(made.route, provenance=read.provenance))
    _write(made, f"route make from {points.name}", to, output, units, force=force)


@route_app.command(epilog='Example: locosim route smooth line.toml --smooth "900 ft" --to smooth.toml')
def smooth(
    route: RouteFile,
    to: ToFile,
    smooth: SmoothOption = None,
    max_grade: Annotated[
        str | None, typer.Option("--max-grade", help='Steepest grade of the line, such as "2.2 %".')
    ] = None,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    force: Force = False,
) -> None:
    """Smooth the heights of a line.

    Both ends keep their height, and the change is stated.
    """
    output = _checked_output(to, units, json, force, plot)
    texts = OptionTexts(smoothing=smooth, max_grade=max_grade)
    from locosim.survey.editing import smooth_route

    line = _loaded(route)
    with texts.error_context(route):
        made = smooth_route(
            line,
            length=texts.optional_quantity("smoothing", "m"),
            max_grade=texts.optional_quantity("max_grade", "grade"),
        )
    _write(made, f"route smooth from {route.name}", to, output, units, force=force)


@route_app.command(epilog="Example: locosim route reverse line.toml --to back.toml")
def reverse(
    route: RouteFile,
    to: ToFile,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    force: Force = False,
) -> None:
    """Turn a line around.

    Chainages are counted from the other end.
    """
    output = _checked_output(to, units, json, force, plot)
    from locosim.survey.editing import reverse_route

    _write(reverse_route(_loaded(route)), f"route reverse from {route.name}", to, output, units, force=force)


@route_app.command(epilog="Example: locosim route join first.toml second.toml --to whole.toml")
def join(
    routes: Annotated[
        list[Path],
        typer.Argument(help="Route files, in the order the train passes them.", show_default=False),
    ],
    to: ToFile,
    name: NameOption = None,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    force: Force = False,
) -> None:
    """Join lines end to end.

    Each begins where the one before ends, and the chainage of the first continues.
    """
    output = _checked_output(to, units, json, force, plot)
    from locosim.survey.editing import join_routes

    made = join_routes([_loaded(each) for each in routes], name=name)
    _write(made, f"route join from {', '.join(each.name for each in routes)}", to, output, units, force=force)


@route_app.command(
    epilog='Example: locosim route cut line.toml --start "Tarn Hollow" --end "45 mile 50 chain" --to part.toml'
)
def cut(
    route: RouteFile,
    to: ToFile,
    start: Annotated[
        str | None,
        typer.Option("--start", help="Station or chainage where the part begins.", show_default=False),
    ] = None,
    end: Annotated[
        str | None, typer.Option("--end", help="Station or chainage where it ends.", show_default=False)
    ] = None,
    name: NameOption = None,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    force: Force = False,
) -> None:
    """Cut a part out of a line; it keeps its chainages."""
    output = _checked_output(to, units, json, force, plot)
    from locosim.survey.editing import cut_route

    line = _loaded(route)
    texts = OptionTexts(start=start, end=end)
    with texts.error_context(route):
        made = cut_route(line, start=_place(line, texts, "start"), end=_place(line, texts, "end"))
    if name:
        made = replace(made, route=replace(made.route, name=name))
    _write(made, f"route cut from {route.name}", to, output, units, force=force)


def _place(line: Route, texts: OptionTexts, key: str) -> float | None:
    """Chainage of a station or a chainage as the user wrote it; None if omitted."""
    text = texts.text(key)
    if text is None:
        return None
    if not any(sign.isdigit() for sign in text) or text in (each.name for each in line.stations):
        return line.station(text).chainage
    return texts.quantity(key, "m")


def _loaded(path: Path) -> Route:
    from locosim.scenario import load_route

    return load_route(path)


def _checked_output(to: Path, units: Units, json: bool, force: bool, plot: Path | None) -> Output:
    """The output of a command that writes a line, after a check that every file can be written."""
    from locosim.report.output_files import check_outputs_writable
    from locosim.scenario.route_file import route_file_names

    files: Sequence[Path] = route_file_names(to)
    check_outputs_writable({f"--to ({each.name})": (each, ()) for each in files}, force=force)
    return Output("route make", units, json, force, plot=plot)


def _write(made: MadeRoute, how: str, to: Path, output: Output, units: Units, *, force: bool) -> None:
    """Write a line as files, and what was done to standard output."""
    from locosim import __version__
    from locosim.report.output_files import write
    from locosim.scenario.route_file import route_files
    from locosim.units import unit_system

    with unit_system(units):
        files = route_files(made.route, to, [f"Written by locosim {__version__}, {how}."])
    for path, content in files.items():
        write(path, content, force=force)
    output.write(made)
    for path in files:
        typer.echo(f"wrote {path}", err=True)
