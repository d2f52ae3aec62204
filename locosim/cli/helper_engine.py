"""The command for helper engines."""

from __future__ import annotations

from enum import StrEnum
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
    OptionTexts,
    Output,
    PlotFile,
    Units,
    UnitsOption,
)


class Place(StrEnum):
    """Where a helper is coupled."""

    front = "front"
    rear = "rear"


@app.command()
def helper(
    excursion: ExcursionFile,
    engine: Annotated[
        Path | None,
        typer.Option(
            "--engine",
            help="Engine file of the helper; if omitted, the first helper of the file, or one like the train engine.",
            show_default=False,
        ),
    ] = None,
    place: Annotated[
        Place | None,
        typer.Option("--place", help="Where the helper is coupled; front if omitted.", show_default=False),
    ] = None,
    change: Changes = None,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    csv: CsvFile = None,
    force: Force = False,
) -> None:
    """Find where help is needed, and what a helper does.

    The excursion is run without helpers. Where that stops for want of pull or steam, the answer is the least pull with
    its mileposts, the shortest stretch between two stations over which the helper suffices, the water and coal of the
    helper with its run back light, and doubling the hill instead.
    The exit status is 1 where help is needed and the helper does not suffice, and 2 where a file has a problem.

    Example: locosim helper excursion.toml --engine helper.toml --place rear --plot helper.png
    """
    output = Output("helper", units, json, force, plot=plot, csv=csv)
    from locosim.loading import load_engine, load_excursion
    from locosim.planning.helper_plan import plan_helper

    requested = load_excursion(excursion, changes=change or ())
    locomotive = load_engine(engine) if engine is not None else None
    with OptionTexts().error_context(excursion):
        plan = plan_helper(requested, locomotive=locomotive, place=place)
    output.write(plan)
    if plan.needed and plan.service is None:
        raise typer.Exit(1)
