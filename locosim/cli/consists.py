"""The command about several consists: consists."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from locosim.cli.app import app
from locosim.cli.options import (
    Changes,
    CsvFile,
    Force,
    JsonOption,
    OptionTexts,
    Output,
    PlotFile,
    Units,
    UnitsOption,
)


@app.command()
def consists(
    excursions: Annotated[
        list[Path],
        typer.Argument(help="Excursion files on one line, a row for each.", show_default=False),
    ],
    consists: Annotated[
        Path | None,
        typer.Option(
            "--consists",
            help="CSV file of consists that change the first excursion: headings are keys, such as "
            "name,locomotive,train.",
            show_default=False,
        ),
    ] = None,
    change: Changes = None,
    fuel_price: Annotated[
        str | None,
        typer.Option("--fuel-price", help='Price of fuel, such as "160/short_ton".', show_default=False),
    ] = None,
    water_price: Annotated[
        str | None,
        typer.Option("--water-price", help='Price of water, such as "6/1000 us_gallon".', show_default=False),
    ] = None,
    time_price: Annotated[
        str | None,
        typer.Option(
            "--time-price", help='Price of engine and crew, such as "240/hour".', show_default=False
        ),
    ] = None,
    sort: Annotated[
        str, typer.Option("--sort", help="Order: verdict, time, water, fuel, cost or mass.")
    ] = "verdict",
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    csv: CsvFile = None,
    force: Force = False,
) -> None:
    """Several engines and trains on one line, side by side.

    A consist with a problem keeps its row, and the rest goes on.
    The exit status is 1 where all are stop or have a problem, and 2 where nothing could be computed.

    Example: locosim consists special.toml --consists consists.csv --fuel-price 160/short_ton --sort cost
    """
    output = Output("consists", units, json, force, plot=plot, csv=csv)
    texts = OptionTexts(fuel_price=fuel_price, water_price=water_price, time_price=time_price, order=sort)
    from locosim.planning.consists import Prices, compare_consists

    prices = Prices(
        fuel=texts.price("fuel_price", "kg"),
        water=texts.price("water_price", "m^3"),
        time=texts.price("time_price", "s"),
    )
    from locosim.library.consist_results import read_proposed

    proposed = read_proposed(excursions, table=consists, changes=change or ())
    with texts.error_context("consists"):
        compared = compare_consists(proposed, prices=prices, order=sort)
    output.write(compared)
    if all(each.verdict in (None, "stop") for each in compared.consists):
        raise typer.Exit(1)
