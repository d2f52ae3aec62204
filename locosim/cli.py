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


class NegativeNumberCommand(TyperCommand):
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


class FileKind(StrEnum):
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
JsonOption = Annotated[bool, typer.Option("--json", help="Write JSON in SI instead of text.")]
UnitsOption = Annotated[Units, typer.Option("--units", help="Units of texts and plots.")]
PlotFile = Annotated[
    Path | None,
    typer.Option("--plot", help="Also draw a picture, as plot.png; or .svg, .pdf.", show_default=False),
]
CsvFile = Annotated[
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
MethodOption = Annotated[
    Method,
    typer.Option(
        "--method", help="Compute the engine from its cylinders and boiler, or by published averages."
    ),
]
RailOption = Annotated[
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
        "--fuel", help="Fuel: bituminous, subbituminous, anthracite, wood or oil.", show_default=False
    ),
]
HeatingValue = Annotated[
    str | None,
    typer.Option(
        "--heating-value", help='Gross heating value as fired, as "12800 Btu/lb".', show_default=False
    ),
]
SpeedArgument = Annotated[str, typer.Argument(help='Speed with its unit, as "40 mph".', show_default=False)]
Force = Annotated[bool, typer.Option("--force", help="Overwrite files that exist.")]
_CHANGE_HELP = "A what-if, as key=value with a key of the file{}; may be repeated. Example{}."
Changes = Annotated[
    list[str] | None,
    typer.Option(
        "--change",
        help=_CHANGE_HELP.format(
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
        help=_CHANGE_HELP.format("", ': "boiler.working_pressure_gauge=180 psi"'),
        show_default=False,
    ),
]
# The options and arguments a user writes, by the names the library has for them.
_OPTION_NAMES = {
    "step": "--step",
    "duration": "--effort",
    "rail": "--rail",
    "speed": "speed",
    "cutoff": "cutoff",
    "throttle": "--throttle",
    "effort": "--tractive-effort",
    "pressure": "--pressure",
    "kind": "--fuel",
    "heating_value": "--heating-value",
}


@app.command()
def check(
    excursion: ExcursionFile,
    change: Changes = None,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    everything: Annotated[bool, typer.Option("--all", help="Show every clear finding.")] = False,
    plot: PlotFile = None,
    report: ReportFile = None,
    force: Force = False,
) -> None:
    """Judge an excursion: verdict, findings, remedies."""
    _check_outputs(force, plot=plot, report=report)
    from locosim.planning.check import run_and_check
    from locosim.planning.contingencies import run_contingencies
    from locosim.planning.latest_departure import latest_departure
    from locosim.scenario import load_excursion

    requested = load_excursion(excursion, change or ())
    with _error_context(excursion):
        result = run_and_check(requested)
        contingencies = run_contingencies(result)
        latest = latest_departure(requested, result.journey.performance)
    if json:
        from locosim.report.json.journey import check_json

        _print(check_json(result, contingencies, latest))
    else:
        from locosim.report.text.check import check_text

        _print(check_text(result, contingencies, latest, units, everything=everything))
    if plot is not None:
        from locosim.plot.run import plot_run

        _draw(plot, plot_run(result.journey, units, result.findings), force=force)
    if report is not None:
        from locosim.engine.speed_curve import evenly_spaced_speeds, speed_curve
        from locosim.plot.engine import plot_curve
        from locosim.plot.figure import figure_bytes, panel_span
        from locosim.plot.run import plot_run
        from locosim.report.html.check import check_html

        performance = result.journey.performance
        points = speed_curve(performance, speeds=evenly_spaced_speeds(performance, 1.0), rail=requested.rail)
        run_figure = plot_run(result.journey, units, result.findings)
        run_svg = figure_bytes(run_figure, ".svg")
        page = check_html(
            result,
            contingencies,
            latest,
            units,
            run_svg=run_svg,
            run_panel_span=panel_span(run_figure),
            engine_svg=figure_bytes(plot_curve(performance, points, requested.rail, units), ".svg"),
        )
        _write(report, page.encode(), force=force)
    if result.verdict == "stop":
        raise typer.Exit(1)


@app.command()
def run(
    excursion: ExcursionFile,
    change: Changes = None,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    csv: CsvFile = None,
    force: Force = False,
) -> None:
    """Run an excursion: times, water, fuel and balances."""
    _check_outputs(force, plot=plot, csv=csv)
    from locosim.engine.performance import compute_excursion_performance
    from locosim.journey.run import run_journey
    from locosim.scenario import load_excursion

    requested = load_excursion(excursion, change or ())
    with _error_context(excursion):
        journey = run_journey(requested, compute_excursion_performance(requested), transient_boiler=True)
    if json:
        from locosim.report.json.journey import run_json

        _print(run_json(journey))
    else:
        from locosim.report.text.run import run_text

        _print(run_text(journey, units))
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
    rail: RailOption = "dry",
    step: Annotated[str, typer.Option(help='Step of speed, as "10 km/h".')] = "5 mph",
    effort: Annotated[
        str, typer.Option(help='Length of the short effort paid from stored heat, as "5 minute".')
    ] = "10 minute",
    fuel: FuelKind = None,
    heating_value: HeatingValue = None,
    method: MethodOption = Method.cycle,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    force: Force = False,
) -> None:
    """Tractive effort and power against speed, with the limiting factor."""
    _check_outputs(force, plot=plot)
    from locosim.engine.boiler.by_heat_balance import make_fuel
    from locosim.engine.boiler.stored_heat import short_efforts
    from locosim.engine.performance import compute_performance
    from locosim.engine.speed_curve import effort_curve, evenly_spaced_speeds, speed_curve
    from locosim.scenario import load_locomotive

    wanted, lasting = _parse_option(step, "m/s", "step"), _parse_option(effort, "s", "duration")
    value = _heating_value(heating_value)
    option_texts = {
        "step": step,
        "duration": effort,
        "rail": rail,
        "kind": fuel,
        "heating_value": heating_value,
    }
    with _error_context(engine, option_texts):
        locomotive = load_locomotive(engine, change or ())
        burned_fuel = make_fuel(locomotive, kind=fuel, heating_value=value)
        performance = compute_performance(locomotive, method=method, fuel=burned_fuel)
        speeds = evenly_spaced_speeds(performance, wanted)
        points = speed_curve(performance, speeds=speeds, rail=rail)
        short = short_efforts(performance.locomotive, performance.supply, duration=lasting)
        both = short, effort_curve(performance, speeds=speeds, efforts=short, rail=rail)
    if json:
        from locosim.report.json.journey import curve_json

        _print(curve_json(performance, points, rail, both))
    else:
        from locosim.report.text.engine import curve_text

        _print(curve_text(performance, points, rail, units, both))
    if plot is not None:
        from locosim.plot.engine import plot_curve

        _draw(plot, plot_curve(performance, points, rail, units, short), force=force)


@app.command(cls=NegativeNumberCommand)
def cutoff(
    engine: EngineFile,
    speed: SpeedArgument,
    change: EngineChanges = None,
    throttle: Annotated[
        list[str] | None,
        typer.Option("--throttle", help='Opening, as "50 %"; may be repeated.', show_default=False),
    ] = None,
    effort: Annotated[
        str | None,
        typer.Option(
            "--tractive-effort", help='Pull wanted at the rim, as "20000 lbf": finds the cheapest way to it.'
        ),
    ] = None,
    fuel: FuelKind = None,
    heating_value: HeatingValue = None,
    method: MethodOption = Method.cycle,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    force: Force = False,
) -> None:
    """Tractive effort, steam and fuel at each cutoff, at one speed."""
    _check_outputs(force, plot=plot)
    from locosim.engine.boiler.by_heat_balance import make_fuel
    from locosim.engine.cutoff_table import cutoff_table, options_for_effort
    from locosim.engine.performance import compute_performance
    from locosim.scenario import load_locomotive

    opened = throttle or []
    at, openings = (
        _parse_option(speed, "m/s", "speed"),
        tuple(_parse_option(text, "", "throttle") for text in opened),
    )
    wanted = None if effort is None else _parse_option(effort, "N", "effort")
    value = _heating_value(heating_value)
    option_texts = {"speed": speed, "effort": effort, "throttle": " and ".join(opened) or None}
    with _error_context(engine, option_texts | {"kind": fuel, "heating_value": heating_value}):
        locomotive = load_locomotive(engine, change or ())
        burned_fuel = make_fuel(locomotive, kind=fuel, heating_value=value)
        performance = compute_performance(locomotive, method=method, fuel=burned_fuel)
        points = [p for r in openings or (1.0,) for p in cutoff_table(performance, speed=at, throttle=r)]
        choice = None
        if wanted is not None:
            choice = options_for_effort(performance, speed=at, effort=wanted, throttle_openings=openings)
    if json:
        from locosim.report.json.journey import cutoff_json

        _print(cutoff_json(performance, points, at, choice))
    else:
        from locosim.report.text.engine import cutoff_text

        _print(cutoff_text(performance, points, at, units, choice))
    if plot is not None:
        from locosim.plot.engine import plot_cutoff

        _draw(plot, plot_cutoff(performance, points, at, units), force=force)


@app.command(cls=NegativeNumberCommand)
def diagram(
    engine: EngineFile,
    speed: SpeedArgument,
    cutoff: Annotated[str, typer.Argument(help='Cutoff, as "30 %".', show_default=False)],
    change: EngineChanges = None,
    throttle: Annotated[str, typer.Option(help='Opening of the throttle, as "50 %".')] = "100 %",
    pressure: Annotated[
        str | None,
        typer.Option(
            "--pressure", help='Boiler pressure by gauge, as "180 psi"; working pressure when left out.'
        ),
    ] = None,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    force: Force = False,
) -> None:
    """Indicator diagram, and tractive effort over one revolution."""
    _check_outputs(force, plot=plot)
    from locosim.engine.indicator_diagram import indicator_diagram
    from locosim.scenario import load_locomotive

    at, share = _parse_option(speed, "m/s", "speed"), _parse_option(cutoff, "", "cutoff")
    opening = _parse_option(throttle, "", "throttle")
    gauge = None if pressure is None else _parse_option(pressure, "Pa", "pressure")
    option_texts = {"speed": speed, "cutoff": cutoff, "throttle": throttle, "pressure": pressure}
    with _error_context(engine, option_texts):
        made = load_locomotive(engine, change or ())
        result = indicator_diagram(made, speed=at, cutoff=share, throttle=opening, pressure_gauge=gauge)
    if json:
        from locosim.report.json.engine import diagram_json

        _print(diagram_json(result))
    else:
        from locosim.report.text.diagram import diagram_text

        _print(diagram_text(result, units))
    if plot is not None:
        from locosim.plot.diagram import plot_diagram

        _draw(plot, plot_diagram(result, units), force=force)


@app.command()
def boiler(
    engine: EngineFile,
    change: EngineChanges = None,
    fuel: FuelKind = None,
    heating_value: HeatingValue = None,
    method: MethodOption = Method.cycle,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    force: Force = False,
) -> None:
    """Evaporation, efficiency and limits of the boiler by firing rate."""
    _check_outputs(force, plot=plot)
    from locosim.engine.boiler.boiler_table import PLOT_STEP, boiler_table
    from locosim.engine.boiler.by_heat_balance import make_fuel
    from locosim.scenario import load_locomotive
    from locosim.units import si

    value = _heating_value(heating_value)
    step = si("100 kg/m^2/hour" if units is Units.metric else "20 lb/ft^2/hour", "kg/m^2/s")
    with _error_context(engine, {"kind": fuel, "heating_value": heating_value}):
        locomotive = load_locomotive(engine, change or ())
        burned_fuel = make_fuel(locomotive, kind=fuel, heating_value=value)
        found = boiler_table(locomotive, method=method, fuel=burned_fuel, step=step)
    if json:
        from locosim.report.json.engine import boiler_json

        _print(boiler_json(found))
    else:
        from locosim.report.text.boiler import boiler_text

        _print(boiler_text(found, units))
    if plot is not None:
        from locosim.plot.boiler import plot_boiler

        fine = boiler_table(locomotive, method=method, fuel=burned_fuel, step=PLOT_STEP)
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
    rail: RailOption = "dry",
    fuel: FuelKind = None,
    heating_value: HeatingValue = None,
    method: MethodOption = Method.cycle,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    force: Force = False,
) -> None:
    """Two engines side by side, change by change."""
    _check_outputs(force, plot=plot)
    from locosim.engine.boiler.by_heat_balance import make_fuel
    from locosim.engine.comparison import compare_engines
    from locosim.scenario import load_locomotive

    at, value = _parse_option(speed, "m/s", "speed"), _heating_value(heating_value)
    option_texts = {"speed": speed, "rail": rail, "kind": fuel, "heating_value": heating_value}
    with _error_context(f"{engine_a} or {engine_b}", option_texts):
        one, other = load_locomotive(engine_a), load_locomotive(engine_b, change or ())
        burned_fuel = make_fuel(one, kind=fuel, heating_value=value) if fuel or value else None
        comparison = compare_engines(one, other, speed=at, rail=rail, method=method, fuel=burned_fuel)
    if json:
        from locosim.report.json.engine import compare_json

        _print(compare_json(comparison))
    else:
        from locosim.report.text.compare import compare_text

        _print(compare_text(comparison, units))
    if plot is not None:
        from locosim.plot.compare import plot_compare

        _draw(plot, plot_compare(comparison, units), force=force)


@app.command()
def new(
    kind: Annotated[FileKind, typer.Argument(help="What the file is to describe.", show_default=False)],
    file: Annotated[Path, typer.Argument(help="File to be made, as engine.toml.", show_default=False)],
) -> None:
    """Create a template file: every key explained, with an example."""
    from locosim.scenario.template import write_template

    made = write_template(kind, file)
    typer.echo(f"wrote {made}", err=True)


def _heating_value(text: str | None) -> float | None:
    return None if text is None else _parse_option(text, "J/kg", "heating_value")


def _print(text: str) -> None:
    typer.echo(text)


@contextmanager
def _error_context(source: object, option_texts: dict[str, str | None] | None = None) -> Iterator[None]:
    """Say what goes wrong in the work with the option it comes of, as the user wrote it, or else with the file."""
    try:
        yield
    except OutOfRange as wrong:
        from locosim.units import fault_message

        written = {key: text for key, text in (option_texts or {}).items() if text is not None}
        if not wrong.faults or any(fault.key not in written for fault in wrong.faults):
            raise OutOfRange(f"{source}: {wrong}", wrong.faults) from wrong
        said = [
            f"{_OPTION_NAMES[fault.key]}: {fault_message(fault, written[fault.key].replace(_MINUS, '-'))}"
            for fault in wrong.faults
        ]
        raise OutOfRange("; ".join(said), wrong.faults) from wrong


def _parse_option(text: str, unit: str, key: str) -> float:
    """Read the quantity of an option; what is wrong with it is said with its name."""
    from locosim.units import option_quantity

    return option_quantity(text.replace(_MINUS, "-"), unit, _OPTION_NAMES[key])


def _check_outputs(
    force: bool, plot: Path | None = None, report: Path | None = None, csv: Path | None = None
) -> None:
    """Refuse before any work is done what could not be written after it."""
    from locosim.report.output_files import (
        CSV_SUFFIXES,
        HTML_SUFFIXES,
        IMAGE_SUFFIXES,
        check_outputs_writable,
    )

    wanted = {
        "--plot": (plot, IMAGE_SUFFIXES),
        "--report": (report, HTML_SUFFIXES),
        "--csv": (csv, CSV_SUFFIXES),
    }
    check_outputs_writable(wanted, force=force)


def _write(path: Path, content: bytes, *, force: bool) -> None:
    from locosim.report.output_files import write

    write(path, content, force=force)
    typer.echo(f"wrote {path}", err=True)


def _draw(path: Path, figure: Figure, *, force: bool) -> None:
    from locosim.plot.figure import figure_bytes

    _write(path, figure_bytes(figure, path.suffix), force=force)


def _version(requested: bool) -> None:
    if requested:
        from locosim import __version__

        _print(f"locosim {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", help="Show the version and exit.", callback=_version, is_eager=True)
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
