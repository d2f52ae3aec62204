"""The command about road logs: fit."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from locosim.cli.app import app
from locosim.cli.options import (
    Changes,
    CsvFile,
    ExcursionFile,
    Force,
    JsonOption,
    Output,
    PlotFile,
    Units,
    UnitsOption,
)


@app.command(
    epilog="Example: locosim fit log.csv excursion.toml --constant car_rolling --constant machine_friction_share "
    "--to fitted.toml --plot fit.png"
)
def fit(
    log: Annotated[
        Path,
        typer.Argument(
            help="Road log as CSV: time or elapsed, place or speed, and throttle, cutoff, pressure, brake, "
            "tender_water and fuel_fired where noted.",
            show_default=False,
        ),
    ],
    excursion: ExcursionFile,
    constant: Annotated[
        list[str] | None,
        typer.Option(
            "--constant",
            help="Constant to fit; repeatable: car_rolling, car_air, car_mass, resistance_factor, headwind, "
            "machine_friction, machine_friction_share, steam_rate_factor, unburned_factor or heating_value. If "
            "omitted, those that such a log usually shows.",
            show_default=False,
        ),
    ] = None,
    change: Changes = None,
    to: Annotated[
        Path | None,
        typer.Option(
            "--to",
            help="Also write an excursion file with the fitted constants, such as fitted.toml.",
            show_default=False,
        ),
    ] = None,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    csv: CsvFile = None,
    force: Force = False,
) -> None:
    """Constants of an engine and its train from a road log, with intervals.

    The log is compared with the model where the throttle is shut, or wide open at a noted cutoff. What the log cannot
    tell apart is refused, with the kind of log that would. The exit status is 2 then, and where a file has a problem.
    """
    from locosim.report.output_files import check_outputs_writable, write

    check_outputs_writable({"--to": (to, (".toml",))}, force=force)
    output = Output("fit", units, json, force, plot=plot, csv=csv)
    from locosim.errors import OutOfRange
    from locosim.loading import load_excursion
    from locosim.scenario.road_log import read_road_log
    from locosim.studies.fit import fit_log

    requested = load_excursion(excursion, changes=change or ())
    noted = read_road_log(log)
    try:
        found = fit_log(noted, requested, constant or ())
    except OutOfRange as wrong:
        raise OutOfRange(f"{log}: {wrong}", wrong.faults) from wrong
    if to is not None:
        from locosim.scenario.excursion_file import excursion_file

        comment = f"Written by locosim fit from {excursion.name} and the road log {log.name}."
        changes = [*(change or ()), *found.changes]
        write(to, excursion_file(excursion, changes, found.fitted, to, [comment]), force=force)
    output.write(found)
    if to is not None:
        typer.echo(f"wrote {to}", err=True)
