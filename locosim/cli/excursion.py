"""The commands that take an excursion file: check and run."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from locosim.cli.app import app
from locosim.cli.first_run import journey_compiled_alongside
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
def check(
    excursion: ExcursionFile,
    change: Changes = None,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    everything: Annotated[bool, typer.Option("--all", help="Show every clear finding.")] = False,
    remedies: Annotated[
        bool, typer.Option("--remedies/--no-remedies", help="Run remedies for findings that are not clear.")
    ] = True,
    plot: PlotFile = None,
    report: Annotated[
        Path | None,
        typer.Option("--report", help="Also write an HTML report, such as report.html.", show_default=False),
    ] = None,
    force: Force = False,
) -> None:
    """Check an excursion: verdict, findings, remedies.

    The exit status is 1 where the verdict is stop, and 2 where a file has a problem.

    Example: locosim check excursion.toml --change rail=wet --report report.html
    """
    output = Output("check", units, json, force, plot=plot, html=report)
    from locosim.compiled import first_run
    from locosim.engine.performance import compute_excursion_performance
    from locosim.loading import load_excursion
    from locosim.planning.answer import check_excursion

    requested = load_excursion(excursion, changes=change or ())
    with OptionTexts().error_context(excursion):
        if first_run() and requested.method == "cycle":
            with journey_compiled_alongside(excursion):
                compute_excursion_performance(requested)
        answer = check_excursion(requested, remedies=remedies)
    output.write(answer, everything=everything)
    if answer.verdict == "stop":
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
    """Run an excursion: times, water, fuel and balances.

    The train runs to its booked times, not ahead of them, as in the check.
    The exit status is 1 where the train does not arrive, and 2 where a file has a problem.

    Example: locosim run excursion.toml --csv run.csv --plot run.png
    """
    output = Output("run", units, json, force, plot=plot, csv=csv)
    from locosim.engine.performance import compute_excursion_performance
    from locosim.journey.run import run_to_timetable
    from locosim.loading import load_excursion

    requested = load_excursion(excursion, changes=change or ())
    with OptionTexts().error_context(excursion):
        journey = run_to_timetable(requested, compute_excursion_performance(requested))
    output.write(journey)
    if not journey.arrived:
        raise typer.Exit(1)
