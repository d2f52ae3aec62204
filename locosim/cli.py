"""The command line: read, compute, render; nothing else."""

from __future__ import annotations

import errno
import os
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperCommand

from locosim.errors import LocosimError, OutOfRange

if TYPE_CHECKING:
    from locosim.plot.figure import Figure


class TakesNumbers(TyperCommand):
    """A command whose arguments may be numbers below 0, which are no options."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Read the words of the command line; a minus before a figure is written so that it starts no option."""
        return super().parse_args(ctx, [re.sub(r"^-(?=\.?\d)", _MINUS, word) for word in args])


_MINUS = "\N{MINUS SIGN}"  # as units read it too

app = typer.Typer(
    help="Steam locomotive performance: what she can start and haul, how fast, and whether the boiler keeps up.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


class Units(StrEnum):
    """Units a reader may ask for."""

    us = "us"
    metric = "metric"
    british = "british"


class Method(StrEnum):
    """Ways to compute an engine."""

    cycle = "cycle"
    handbook = "handbook"


class Kind(StrEnum):
    """Kinds of file that can be begun."""

    engine = "engine"
    train = "train"
    route = "route"
    excursion = "excursion"


ExcursionFile = Annotated[
    Path, typer.Argument(help="Excursion file, as excursion.toml; `new` begins one.", show_default=False)
]
EngineFile = Annotated[
    Path, typer.Argument(help="Engine file, as engine.toml; `new` begins one.", show_default=False)
]
AsJson = Annotated[bool, typer.Option("--json", help="Write JSON in SI instead of text.")]
InUnits = Annotated[Units, typer.Option("--units", help="Units of texts and plots.")]
PlotFile = Annotated[
    Path | None,
    typer.Option("--plot", help="Also draw a picture, as plot.png; or .svg, .pdf.", show_default=False),
]
TableFile = Annotated[
    Path | None,
    typer.Option(
        "--csv",
        help="Also write the samples for a spreadsheet, as run.csv; units in the headings.",
        show_default=False,
    ),
]
ReportFile = Annotated[
    Path | None,
    typer.Option(
        "--report", help="Also write all of it as one HTML file, as report.html.", show_default=False
    ),
]
ByMethod = Annotated[
    Method,
    typer.Option(
        "--method", help="Compute the engine from its cylinders and boiler, or by published averages."
    ),
]
OnRail = Annotated[
    str,
    typer.Option(
        "--rail",
        help="Condition of the rail: dry sanded, very dry, dry, wet washed, ordinary, moist, long grade, "
        "wet, greasy, half wet or frost.",
    ),
]
FuelKind = Annotated[
    str | None,
    typer.Option(
        "--fuel", help="Fuel: bituminous, sub_bituminous, anthracite, wood or oil.", show_default=False
    ),
]
HeatingValue = Annotated[
    str | None,
    typer.Option(
        "--heating-value", help='Gross heating value as fired, as "12800 Btu/lb".', show_default=False
    ),
]
AtSpeed = Annotated[str, typer.Argument(help='Speed with its unit, as "40 mph".', show_default=False)]
Force = Annotated[bool, typer.Option("--force", help="Overwrite files that exist.")]
_CHANGE = "A what-if, as key=value with a key of the file{}; may be repeated. Example{}."
Changes = Annotated[
    list[str] | None,
    typer.Option(
        "--change",
        help=_CHANGE.format(
            " or of a file it names",
            's: "train.vehicles[1].count=9", "locomotive.boiler.working_pressure_gauge=180 psi"',
        ),
        show_default=False,
    ),
]
EngineChanges = Annotated[
    list[str] | None,
    typer.Option(
        "--change",
        help=_CHANGE.format("", ': "boiler.working_pressure_gauge=180 psi"'),
        show_default=False,
    ),
]
# The options and arguments a user writes, by the names the library has for them.
_OPTIONS = {
    "step": "--step",
    "duration": "--effort",
    "rail": "--rail",
    "speed": "speed",
    "cutoff": "cutoff",
    "regulator": "--regulator",
    "pull": "--pull",
    "pressure": "--pressure",
    "kind": "--fuel",
    "heating_value": "--heating-value",
}


@app.command()
def check(
    excursion: ExcursionFile,
    change: Changes = None,
    units: InUnits = Units.us,
    json: AsJson = False,
    everything: Annotated[bool, typer.Option("--all", help="Show every clear finding.")] = False,
    plot: PlotFile = None,
    report: ReportFile = None,
    force: Force = False,
) -> None:
    """Judge an excursion: verdict, findings, remedies."""
    _may_write(force, plot=plot, report=report)
    from locosim.planning.check import check_excursion
    from locosim.planning.contingencies import try_failures
    from locosim.planning.latest_departure import latest_departure
    from locosim.scenario import load_excursion

    asked = load_excursion(excursion, change or ())
    with _about(excursion):
        result = check_excursion(asked)
        trials = try_failures(result)
        latest = latest_departure(asked, result.journey.performance)
    if json:
        from locosim.report.json.journey import check_json

        _say(check_json(result, trials, latest))
    else:
        from locosim.report.text.check import check_text

        _say(check_text(result, trials, latest, units, everything=everything))
    if plot is not None:
        from locosim.plot.run import plot_run

        _draw(plot, plot_run(result.journey, units, result.findings), force=force)
    if report is not None:
        from locosim.engine.speed_curve import even_speeds, speed_curve
        from locosim.plot.engine import plot_curve
        from locosim.plot.figure import figure_bytes, panel_span
        from locosim.plot.run import plot_run
        from locosim.report.html.check import check_html

        performance = result.journey.performance
        points = speed_curve(performance, speeds=even_speeds(performance, 1.0), rail=asked.rail)
        run_figure = plot_run(result.journey, units, result.findings)
        run_picture = figure_bytes(run_figure, ".svg")
        page = check_html(
            result,
            trials,
            latest,
            units,
            run_picture=run_picture,
            run_span=panel_span(run_figure),
            engine_picture=figure_bytes(plot_curve(performance, points, asked.rail, units), ".svg"),
        )
        _write(report, page.encode(), force=force)
    if result.verdict == "stop":
        raise typer.Exit(1)


@app.command()
def run(
    excursion: ExcursionFile,
    change: Changes = None,
    units: InUnits = Units.us,
    json: AsJson = False,
    plot: PlotFile = None,
    csv: TableFile = None,
    force: Force = False,
) -> None:
    """Run an excursion: times, water, fuel and the books."""
    _may_write(force, plot=plot, csv=csv)
    from locosim.engine.performance import performance_for
    from locosim.journey.run import run_journey
    from locosim.scenario import load_excursion

    asked = load_excursion(excursion, change or ())
    with _about(excursion):
        journey = run_journey(asked, performance_for(asked), live_boiler=True)
    if json:
        from locosim.report.json.journey import run_json

        _say(run_json(journey))
    else:
        from locosim.report.text.run import run_text

        _say(run_text(journey, units))
    if plot is not None:
        from locosim.plot.run import plot_run

        _draw(plot, plot_run(journey, units), force=force)
    if csv is not None:
        from locosim.report.csv import run_csv

        _write(csv, run_csv(journey, units).encode(), force=force)
    if not journey.arrived:
        raise typer.Exit(1)


@app.command()
def curve(
    engine: EngineFile,
    change: EngineChanges = None,
    rail: OnRail = "dry",
    step: Annotated[str, typer.Option(help='Step of speed, as "10 km/h".')] = "5 mph",
    effort: Annotated[
        str, typer.Option(help='Length of the short effort paid from stored heat, as "5 minute".')
    ] = "10 minute",
    fuel: FuelKind = None,
    heating_value: HeatingValue = None,
    method: ByMethod = Method.cycle,
    units: InUnits = Units.us,
    json: AsJson = False,
    plot: PlotFile = None,
    force: Force = False,
) -> None:
    """Pull and power over speed, and what holds them."""
    _may_write(force, plot=plot)
    from locosim.engine.boiler.by_heat_balance import fuel_of
    from locosim.engine.boiler.stored_heat import short_efforts
    from locosim.engine.performance import performance_of
    from locosim.engine.speed_curve import effort_curve, even_speeds, speed_curve
    from locosim.scenario import load_locomotive

    wanted, lasting = _read(step, "m/s", "step"), _read(effort, "s", "duration")
    value = _heating_value(heating_value)
    given = {"step": step, "duration": effort, "rail": rail, "kind": fuel, "heating_value": heating_value}
    with _about(engine, given):
        locomotive = load_locomotive(engine, change or ())
        burnt = fuel_of(locomotive, kind=fuel, heating_value=value)
        performance = performance_of(locomotive, method=method, fuel=burnt)
        speeds = even_speeds(performance, wanted)
        points = speed_curve(performance, speeds=speeds, rail=rail)
        short = short_efforts(performance.locomotive, performance.supply, duration=lasting)
        both = short, effort_curve(performance, speeds=speeds, efforts=short, rail=rail)
    if json:
        from locosim.report.json.journey import curve_json

        _say(curve_json(performance, points, rail, both))
    else:
        from locosim.report.text.engine import curve_text

        _say(curve_text(performance, points, rail, units, both))
    if plot is not None:
        from locosim.plot.engine import plot_curve

        _draw(plot, plot_curve(performance, points, rail, units, short), force=force)


@app.command(cls=TakesNumbers)
def cutoff(
    engine: EngineFile,
    speed: AtSpeed,
    change: EngineChanges = None,
    regulator: Annotated[
        list[str] | None,
        typer.Option("--regulator", help='Opening, as "50 %"; may be repeated.', show_default=False),
    ] = None,
    pull: Annotated[
        str | None,
        typer.Option("--pull", help='Pull wanted at the rim, as "20000 lbf": finds the cheapest way to it.'),
    ] = None,
    fuel: FuelKind = None,
    heating_value: HeatingValue = None,
    method: ByMethod = Method.cycle,
    units: InUnits = Units.us,
    json: AsJson = False,
    plot: PlotFile = None,
    force: Force = False,
) -> None:
    """What each cutoff gives and costs at one speed."""
    _may_write(force, plot=plot)
    from locosim.engine.boiler.by_heat_balance import fuel_of
    from locosim.engine.cutoff_table import cheapest_for_pull, cutoff_table
    from locosim.engine.performance import performance_of
    from locosim.scenario import load_locomotive

    opened = regulator or []
    at, openings = _read(speed, "m/s", "speed"), tuple(_read(text, "", "regulator") for text in opened)
    wanted = None if pull is None else _read(pull, "N", "pull")
    value = _heating_value(heating_value)
    given = {"speed": speed, "pull": pull, "regulator": " and ".join(opened) or None}
    with _about(engine, given | {"kind": fuel, "heating_value": heating_value}):
        locomotive = load_locomotive(engine, change or ())
        burnt = fuel_of(locomotive, kind=fuel, heating_value=value)
        performance = performance_of(locomotive, method=method, fuel=burnt)
        points = [p for r in openings or (1.0,) for p in cutoff_table(performance, speed=at, regulator=r)]
        choice = None
        if wanted is not None:
            choice = cheapest_for_pull(performance, speed=at, pull=wanted, regulators=openings)
    if json:
        from locosim.report.json.journey import cutoff_json

        _say(cutoff_json(performance, points, at, choice))
    else:
        from locosim.report.text.engine import cutoff_text

        _say(cutoff_text(performance, points, at, units, choice))
    if plot is not None:
        from locosim.plot.engine import plot_cutoff

        _draw(plot, plot_cutoff(performance, points, at, units), force=force)


@app.command(cls=TakesNumbers)
def diagram(
    engine: EngineFile,
    speed: AtSpeed,
    cutoff: Annotated[str, typer.Argument(help='Cutoff, as "30 %".', show_default=False)],
    change: EngineChanges = None,
    regulator: Annotated[str, typer.Option(help='Opening of the regulator, as "50 %".')] = "100 %",
    pressure: Annotated[
        str | None,
        typer.Option(
            "--pressure", help='Boiler pressure by gauge, as "180 psi"; working pressure when left out.'
        ),
    ] = None,
    units: InUnits = Units.us,
    json: AsJson = False,
    plot: PlotFile = None,
    force: Force = False,
) -> None:
    """Indicator diagram, and pull over the crank's turn."""
    _may_write(force, plot=plot)
    from locosim.engine.indicator_diagram import indicator
    from locosim.scenario import load_locomotive

    at, share = _read(speed, "m/s", "speed"), _read(cutoff, "", "cutoff")
    opening = _read(regulator, "", "regulator")
    gauge = None if pressure is None else _read(pressure, "Pa", "pressure")
    given = {"speed": speed, "cutoff": cutoff, "regulator": regulator, "pressure": pressure}
    with _about(engine, given):
        made = load_locomotive(engine, change or ())
        drawn = indicator(made, speed=at, cutoff=share, regulator=opening, pressure_gauge=gauge)
    if json:
        from locosim.report.json.engine import diagram_json

        _say(diagram_json(drawn))
    else:
        from locosim.report.text.diagram import diagram_text

        _say(diagram_text(drawn, units))
    if plot is not None:
        from locosim.plot.diagram import plot_diagram

        _draw(plot, plot_diagram(drawn, units), force=force)


@app.command()
def boiler(
    engine: EngineFile,
    change: EngineChanges = None,
    fuel: FuelKind = None,
    heating_value: HeatingValue = None,
    method: ByMethod = Method.cycle,
    units: InUnits = Units.us,
    json: AsJson = False,
    plot: PlotFile = None,
    force: Force = False,
) -> None:
    """What the boiler makes and loses over its firing."""
    _may_write(force, plot=plot)
    from locosim.engine.boiler.boiler_table import FINE_STEP, boiler_table
    from locosim.engine.boiler.by_heat_balance import fuel_of
    from locosim.scenario import load_locomotive
    from locosim.units import si

    value = _heating_value(heating_value)
    step = si("100 kg/m^2/hour" if units is Units.metric else "20 lb/ft^2/hour", "kg/m^2/s")
    with _about(engine, {"kind": fuel, "heating_value": heating_value}):
        locomotive = load_locomotive(engine, change or ())
        burnt = fuel_of(locomotive, kind=fuel, heating_value=value)
        found = boiler_table(locomotive, method=method, fuel=burnt, step=step)
    if json:
        from locosim.report.json.engine import boiler_json

        _say(boiler_json(found))
    else:
        from locosim.report.text.boiler import boiler_text

        _say(boiler_text(found, units))
    if plot is not None:
        from locosim.plot.boiler import plot_boiler

        fine = boiler_table(locomotive, method=method, fuel=burnt, step=FINE_STEP)
        _draw(plot, plot_boiler(fine, units), force=force)


@app.command()
def compare(
    engine_a: EngineFile,
    engine_b: EngineFile,
    change: Annotated[
        list[str] | None,
        typer.Option(
            "--change",
            help='A change to the second engine; may be repeated. Example: "boiler.working_pressure_gauge=12 bar".',
            show_default=False,
        ),
    ] = None,
    speed: Annotated[
        str, typer.Option(help='Speed at which each change is valued, as "60 km/h".')
    ] = "30 mph",
    rail: OnRail = "dry",
    fuel: FuelKind = None,
    heating_value: HeatingValue = None,
    method: ByMethod = Method.cycle,
    units: InUnits = Units.us,
    json: AsJson = False,
    plot: PlotFile = None,
    force: Force = False,
) -> None:
    """Two engines side by side, change by change."""
    _may_write(force, plot=plot)
    from locosim.engine.boiler.by_heat_balance import fuel_of
    from locosim.engine.comparison import compare_engines
    from locosim.scenario import load_locomotive

    at, value = _read(speed, "m/s", "speed"), _heating_value(heating_value)
    given = {"speed": speed, "rail": rail, "kind": fuel, "heating_value": heating_value}
    with _about(f"{engine_a} or {engine_b}", given):
        one, other = load_locomotive(engine_a), load_locomotive(engine_b, change or ())
        burnt = fuel_of(one, kind=fuel, heating_value=value) if fuel or value else None
        comparison = compare_engines(one, other, speed=at, rail=rail, method=method, fuel=burnt)
    if json:
        from locosim.report.json.engine import compare_json

        _say(compare_json(comparison))
    else:
        from locosim.report.text.compare import compare_text

        _say(compare_text(comparison, units))
    if plot is not None:
        from locosim.plot.compare import plot_compare

        _draw(plot, plot_compare(comparison, units), force=force)


@app.command()
def new(
    kind: Annotated[Kind, typer.Argument(help="What the file is to describe.", show_default=False)],
    file: Annotated[Path, typer.Argument(help="File to be made, as engine.toml.", show_default=False)],
) -> None:
    """Begin a file of your own: every key explained, with an example."""
    from locosim.scenario.template import write_starter

    made = write_starter(kind, file)
    typer.echo(f"wrote {made}", err=True)


def _heating_value(text: str | None) -> float | None:
    return None if text is None else _read(text, "J/kg", "heating_value")


def _say(text: str) -> None:
    typer.echo(text)


@contextmanager
def _about(source: object, given: dict[str, str | None] | None = None) -> Iterator[None]:
    """Say what goes wrong in the work with the option it comes of, as the user wrote it, or else with the file."""
    try:
        yield
    except OutOfRange as wrong:
        from locosim.units import worded

        written = {key: text for key, text in (given or {}).items() if text is not None}
        if not wrong.faults or any(fault.key not in written for fault in wrong.faults):
            raise OutOfRange(f"{source}: {wrong}", wrong.faults) from wrong
        said = [
            f"{_OPTIONS[fault.key]}: {worded(fault, written[fault.key].replace(_MINUS, '-'))}"
            for fault in wrong.faults
        ]
        raise OutOfRange("; ".join(said), wrong.faults) from wrong


def _read(text: str, unit: str, key: str) -> float:
    """Read the quantity of an option; what is wrong with it is said with its name."""
    from locosim.units import quantity

    return quantity(text.replace(_MINUS, "-"), unit, _OPTIONS[key])


def _may_write(
    force: bool, plot: Path | None = None, report: Path | None = None, csv: Path | None = None
) -> None:
    """Refuse before any work is done what could not be written after it."""
    from locosim.report.output_files import PAGES, PICTURES, TABLES, may_write_all

    wanted = {"--plot": (plot, PICTURES), "--report": (report, PAGES), "--csv": (csv, TABLES)}
    may_write_all(wanted, force=force)


def _write(path: Path, content: bytes, *, force: bool) -> None:
    from locosim.report.output_files import write

    write(path, content, force=force)
    typer.echo(f"wrote {path}", err=True)


def _draw(path: Path, figure: Figure, *, force: bool) -> None:
    from locosim.plot.figure import figure_bytes

    _write(path, figure_bytes(figure, path.suffix), force=force)


def _version(asked: bool) -> None:
    if asked:
        from locosim import __version__

        _say(f"locosim {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", help="Say the version and stop.", callback=_version, is_eager=True)
    ] = False,
) -> None:
    pass


def main() -> None:
    """Run the command line; an error of the user's ends with its message and exit status 2."""
    try:
        app()
    except LocosimError as error:
        typer.echo(f"error: {_printable(str(error))}", err=True)
        sys.exit(2)
    except OSError as error:
        if error.filename is not None or error.errno == errno.EPIPE:
            raise  # of standard output alone is no name known, and one who stops reading is no error
        typer.echo(f"error: the result cannot be written: {(error.strerror or str(error)).lower()}", err=True)
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # or Python tries once more at the end, and complains
        sys.exit(2)


def _printable(text: str) -> str:
    """Write out what could command the terminal."""
    return "".join(sign if sign.isprintable() or sign == "\n" else repr(sign)[1:-1] for sign in text)


if __name__ == "__main__":
    main()
