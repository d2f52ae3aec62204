"""The command about probabilities: risk."""

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
from locosim.cli.progress_line import ProgressLine


@app.command()
def risk(
    excursion: ExcursionFile,
    change: Changes = None,
    samples: Annotated[int, typer.Option("--samples", help="Number of samples.")] = 1000,
    seed: Annotated[int, typer.Option("--seed", help="Seed: the same one gives the same samples.")] = 1,
    jobs: Annotated[
        int | None,
        typer.Option("--jobs", help="Number of processes; all cores if omitted.", show_default=False),
    ] = None,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    csv: CsvFile = None,
    force: Force = False,
) -> None:
    """Probability that each finding fails, and what drives it.

    What cannot be known is drawn at random: rail, wind, temperature, coal, load, crew, and the assumptions from low to
    high. The excursion file says how, under [uncertainty].

    Example: locosim risk excursion.toml --samples 2000 --change "uncertainty.assumptions=chance" --plot risk.png
    """
    output = Output("risk", units, json, force, plot=plot, csv=csv)
    texts = OptionTexts()
    from locosim.loading import load_excursion
    from locosim.studies.risk import find_risk

    requested = load_excursion(excursion, changes=change or ())
    with texts.error_context(excursion), ProgressLine("samples") as line:
        found = find_risk(requested, samples=samples, seed=seed, jobs=jobs, report=line.show)
    output.write(found)
