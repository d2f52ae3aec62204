"""The command about inputs that are varied: vary."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from locosim.cli.app import app
from locosim.cli.options import (
    Changes,
    CsvFile,
    Force,
    FuelKind,
    HeatingValue,
    JsonOption,
    Method,
    Output,
    PlotFile,
    Units,
    UnitsOption,
)
from locosim.cli.progress_line import ProgressLine
from locosim.cli.streams import say
from locosim.errors import LocosimError

_EPILOG = (
    'Example: locosim vary excursion.toml "train.vehicles[1].count=4:12" rail=dry,wet --column verdict --column time'
    " --plot cars.png\n\n"
    'Example: locosim vary engine.toml "engine_units[*].valve_gear.lap=1:1 1/2:1/8 in" --cutoff "30 %"'
)


@app.command(epilog=_EPILOG)
def vary(
    file: Annotated[Path, typer.Argument(help="Excursion or engine file.", show_default=False)],
    inputs: Annotated[
        list[str] | None,
        typer.Argument(
            help='One or two inputs: a key as in --change, with a list or a range FIRST:LAST:STEP, as "rail=dry,wet", '
            '"boiler.grate_area=30:40:2 ft^2" or "departure=08:00 to 10:00 by 30 minute". Of an engine also speed, '
            "cutoff, throttle, rail, fuel and heating_value. Without one, the columns of the file are listed.",
            show_default=False,
        ),
    ] = None,
    column: Annotated[
        list[str] | None,
        typer.Option(
            "--column",
            help="Result to show, such as verdict, margin:steam, late:STATION or, of an engine, indicated power; "
            "repeatable; the usual columns if omitted.",
            show_default=False,
        ),
    ] = None,
    change: Changes = None,
    speed: Annotated[
        str | None,
        typer.Option("--speed", help="Speed of an engine alone; 30 mph if omitted.", show_default=False),
    ] = None,
    cutoff: Annotated[
        str | None,
        typer.Option("--cutoff", help='Cutoff of an engine alone, such as "30 %".', show_default=False),
    ] = None,
    throttle: Annotated[
        str | None,
        typer.Option(
            "--throttle", help='Throttle opening of an engine alone, such as "50 %".', show_default=False
        ),
    ] = None,
    rail: Annotated[
        str | None,
        typer.Option("--rail", help="Rail condition of an engine alone; dry if omitted.", show_default=False),
    ] = None,
    fuel: FuelKind = None,
    heating_value: HeatingValue = None,
    method: Annotated[
        Method | None,
        typer.Option("--method", help="Method of an engine alone; cycle if omitted.", show_default=False),
    ] = None,
    jobs: Annotated[
        int | None,
        typer.Option(
            "--jobs", help="Number of processes; as many as save time if omitted.", show_default=False
        ),
    ] = None,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    csv: CsvFile = None,
    force: Force = False,
) -> None:
    """One or two inputs over ranges or lists: any key of an excursion or an engine, any results.

    A row that cannot be computed keeps its problem, and the rest goes on.
    The exit status is 1 where every row is stop or has a problem, and 2 where nothing could be computed.
    """
    output = Output("vary", units, json, force, plot=plot, csv=csv)
    from locosim.library.vary_results import engine_conditions
    from locosim.studies.vary import columns_of
    from locosim.studies.vary import vary as compute_variation

    if not inputs:
        from locosim.report.text.vary import columns_text

        if json or plot or csv:
            raise LocosimError(
                'no input to vary; name one, as "rail=dry,wet". Without one, the columns of the file are listed as '
                "text, without --json, --plot or --csv"
            )
        say(columns_text(columns_of(file)))
        return
    given = {
        "speed": speed,
        "cutoff": cutoff,
        "throttle": throttle,
        "rail": rail,
        "fuel": fuel,
        "heating_value": heating_value,
        "method": None if method is None else method.value,
    }
    conditions = {name: text for name, text in given.items() if text is not None}
    with ProgressLine("rows") as line:
        found = compute_variation(
            file,
            inputs,
            columns=column or (),
            changes=change or (),
            conditions=engine_conditions(conditions) if conditions else None,
            jobs=jobs,
            report=line.show,
        )
    output.write(found)
    if all(row.problem or row.verdict == "stop" for row in found.rows):
        raise typer.Exit(1)
