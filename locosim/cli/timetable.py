"""The command timetable."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

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

if TYPE_CHECKING:
    from locosim.planning.timetable import TimetableRequest


class Sharing(StrEnum):
    """Ways to share the recovery."""

    least_fuel = "least-fuel"
    even = "even"


@app.command(
    epilog='Example: locosim timetable excursion.toml --recovery "8 %" --to booked.toml --plot graph.png'
)
def timetable(
    excursion: ExcursionFile,
    recovery: Annotated[
        str,
        typer.Option(
            "--recovery",
            help='Recovery, as a share of the least running time or a time: "5 %" or "8 minute".',
        ),
    ] = "5 %",
    step: Annotated[
        str, typer.Option("--step", help='Booked times are multiples of it: "1 minute" or "30 s".')
    ] = "1 minute",
    sharing: Annotated[
        Sharing, typer.Option("--sharing", help="Share the recovery where it saves most fuel, or evenly.")
    ] = Sharing.least_fuel,
    to: Annotated[
        Path | None,
        typer.Option(
            "--to",
            help="Also write an excursion file with the booked times, such as booked.toml.",
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
    """A timetable: least running times, recovery, stops, passing times, earliest and latest departures.

    Booked times of the file are not used; its first departure, its dwells and its work at stops are. The exit status
    is 1 where the verdict is stop, and 2 where a file has a problem.
    """
    from locosim.report.output_files import check_outputs_writable, write

    check_outputs_writable({"--to": (to, (".toml",))}, force=force)
    output = Output("timetable", units, json, force, plot=plot, csv=csv)
    texts = OptionTexts(recovery=recovery, step=step)
    from locosim.loading import load_excursion
    from locosim.planning.timetable_search import compute_timetable
    from locosim.scenario.excursion_file import excursion_file

    requested = load_excursion(excursion, changes=change or ())
    with texts.error_context(excursion):
        found = compute_timetable(requested, _request(texts, sharing))
    if to is not None:
        comment = f"Written by locosim timetable from {excursion.name}, recovery {recovery}, step {step}."
        write(to, excursion_file(excursion, change or (), found.excursion, to, [comment]), force=force)
    output.write(found)
    if to is not None:
        typer.echo(f"wrote {to}", err=True)
    if found.answer.verdict == "stop":
        raise typer.Exit(1)


def _request(texts: OptionTexts, sharing: Sharing) -> TimetableRequest:
    """What the options ask for; a recovery without a unit or in percent is a share."""
    from locosim.planning.timetable import TimetableRequest

    text = texts.text("recovery") or ""
    is_share = "%" in text or text.replace(".", "").strip().isdigit()
    return TimetableRequest(
        recovery=texts.quantity("recovery", "") if is_share else 0.0,
        recovery_time=None if is_share else texts.quantity("recovery", "s"),
        step=texts.quantity("step", "s"),
        sharing=sharing.name,
    )
