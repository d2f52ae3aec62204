"""The command about loads: load."""

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

MASS_STEPS = {Units.metric: "1 tonne", Units.british: "1 long_ton"}
US_MASS_STEP = "1 short_ton"


@app.command()
def load(
    excursion: ExcursionFile,
    change: Changes = None,
    vehicle: Annotated[
        str | None,
        typer.Option(
            "--vehicle",
            help="Name of the vehicles of the train whose number is varied; the cars it has most of if omitted.",
            show_default=False,
        ),
    ] = None,
    by_mass: Annotated[
        bool, typer.Option("--by-mass", help="Keep the cars and vary what all of them are loaded with.")
    ] = False,
    mass_step: Annotated[
        str | None,
        typer.Option(
            "--mass-step",
            help='Step of the mass, such as "5 short_ton"; 1 short ton, long ton or tonne if omitted.',
            show_default=False,
        ),
    ] = None,
    verdict: Annotated[
        str, typer.Option("--verdict", help="Worst verdict that is accepted: clear or tight.")
    ] = "clear",
    conditions: Annotated[
        bool,
        typer.Option("--conditions/--no-conditions", help="Repeat it by section and under other conditions."),
    ] = True,
    rail: Annotated[
        list[str] | None,
        typer.Option(
            "--rail", help="Rail condition to repeat it for; repeatable; wet if omitted.", show_default=False
        ),
    ] = None,
    temperature: Annotated[
        list[str] | None,
        typer.Option(
            "--temperature",
            help='Air temperature to repeat it for, such as "20 degF"; repeatable; 14 and 95 degF if omitted.',
            show_default=False,
        ),
    ] = None,
    heating_value: Annotated[
        list[str] | None,
        typer.Option(
            "--heating-value",
            help='Heating value of the coal to repeat for, such as "11500 Btu/lb"; repeatable; poor coal if omitted.',
            show_default=False,
        ),
    ] = None,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    csv: CsvFile = None,
    force: Force = False,
) -> None:
    """Largest load of an excursion, by section and condition.

    The exit status is 1 where no load will do, and 2 where a file has a problem.

    Example: locosim load excursion.toml --vehicle coach --verdict tight --rail wet --rail frost
    """
    output = Output("load", units, json, force, plot=plot, csv=csv)
    texts = OptionTexts(
        vehicle=vehicle,
        verdict=verdict,
        rail=rail,
        mass_step=mass_step or (MASS_STEPS.get(units, US_MASS_STEP) if by_mass else None),
        temperature=temperature,
        heating_value=heating_value,
    )
    step = texts.optional_quantity("mass_step", "kg")
    temperatures, values = texts.quantities("temperature", "K"), texts.quantities("heating_value", "J/kg")
    from locosim.loading import load_excursion
    from locosim.planning.load import LoadQuestion, find_load

    requested = load_excursion(excursion, changes=change or ())
    with texts.error_context(excursion):
        rating = find_load(
            requested,
            LoadQuestion(
                vehicle=vehicle,
                by_mass=by_mass,
                mass_step=step,
                verdict=verdict,
                conditions=conditions,
                rails=tuple(rail or ()),
                temperatures=temperatures,
                heating_values=values,
            ),
        )
    output.write(rating)
    if rating.whole.number is None:
        raise typer.Exit(1)
