"""The command economy."""

from __future__ import annotations

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


@app.command(epilog="Example: locosim economy excursion.toml --plot card.png --csv card.csv")
def economy(
    excursion: ExcursionFile,
    change: Changes = None,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    csv: CsvFile = None,
    force: Force = False,
) -> None:
    """Driving with the least fuel for the booked times, against the everyday driving, with a card for the crew.

    Where no plan is better once it is run with the boiler, the everyday driving is shown.
    """
    output = Output("economy", units, json, force, plot=plot, csv=csv)
    from locosim.loading import load_excursion
    from locosim.planning.economy import find_economy

    requested = load_excursion(excursion, changes=change or ())
    with OptionTexts().error_context(excursion):
        found = find_economy(requested)
    output.write(found)
