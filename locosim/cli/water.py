"""The command for water and fuel stops."""

from __future__ import annotations

from typing import Annotated

import typer

from locosim.cli.app import app
from locosim.cli.options import (
    Changes,
    CsvFile,
    ExcursionFile,
    Force,
    JsonOption,
    OptionTexts,
    Output,
    PlotFile,
    Units,
    UnitsOption,
)


@app.command()
def water(
    excursion: ExcursionFile,
    closed: Annotated[
        list[str] | None,
        typer.Option(
            "--closed",
            help='Station whose water and fuel are out of use, such as "Tarn Hollow"; repeatable.',
            show_default=False,
        ),
    ] = None,
    change: Changes = None,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    csv: CsvFile = None,
    force: Force = False,
) -> None:
    """Find the least set of water and coal stops.

    The places are the stations with a water_rate or a fuel_rate. What the file takes at its stops is left out; the
    stops stay. Where the places do not suffice, the stretches in which a stop must lie are shown.
    The exit status is 1 where they do not suffice, and 2 where a file has a problem.

    Example: locosim water excursion.toml --closed "Tarn Hollow" --plot water.png
    """
    output = Output("water", units, json, force, plot=plot, csv=csv)
    from locosim.loading import load_excursion
    from locosim.planning.water_stops import plan_water_stops

    requested = load_excursion(excursion, changes=change or ())
    with OptionTexts().error_context(excursion):
        found = plan_water_stops(requested, closed=closed or ())
    output.write(found)
    if found.least.best is None:
        raise typer.Exit(1)
