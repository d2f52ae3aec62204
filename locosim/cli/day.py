"""The command that takes a day file: day."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

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


@app.command()
def day(
    file: Annotated[
        Path, typer.Argument(help="Day file, such as day.toml; `new` creates one.", show_default=False)
    ],
    change: Annotated[
        list[str] | None,
        change_option("the file or of a file it names", "legs[2].excursion.rail=wet"),
    ] = None,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    everything: Annotated[bool, typer.Option("--all", help="Show every clear finding.")] = False,
    plot: PlotFile = None,
    csv: CsvFile = None,
    force: Force = False,
) -> None:
    """Check a day of several legs, there and back.

    Time, water and fuel are carried from leg to leg, through turning, switching and standing between them.
    The exit status is 1 where the verdict is stop, and 2 where a file has a problem.

    Example: locosim day day.toml --change legs[2].layover.turn=wye --plot day.png
    """
    output = Output("day", units, json, force, plot=plot, csv=csv)
    from locosim.loading import load_day
    from locosim.planning.day import check_day
    from locosim.planning.day_remedies import with_day_remedies

    requested = load_day(file, changes=change or ())
    with OptionTexts().error_context(file):
        answer = with_day_remedies(check_day(requested))
    output.write(answer, everything=everything)
    if answer.verdict == "stop":
        raise typer.Exit(1)
