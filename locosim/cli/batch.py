"""The command about many excursions: batch."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from locosim.cli.app import app
from locosim.cli.options import Changes, Force, JsonOption, Output, PlotFile, Units, UnitsOption
from locosim.cli.progress_line import ProgressLine
from locosim.errors import LocosimError

if TYPE_CHECKING:
    from locosim.studies.batch import Batch, Progress
    from locosim.studies.batch_rows import BatchRows

_Files = list[Path] | None


@app.command()
def batch(
    rows: Annotated[
        Path | None,
        typer.Argument(
            help="CSV file with a row for each case, or TOML file of a grid; omit it and give --excursion.",
            show_default=False,
        ),
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option(
            "--output",
            help="Table to write, such as cases.csv or cases.parquet; run again after a stop, the batch goes on.",
            show_default=False,
        ),
    ] = None,
    excursion: Annotated[
        _Files,
        typer.Option("--excursion", help="Excursion file of rows that name none; repeatable for a grid."),
    ] = None,
    engine: Annotated[_Files, typer.Option("--engine", help="Engine file of a grid; repeatable.")] = None,
    train: Annotated[_Files, typer.Option("--train", help="Train file of a grid; repeatable.")] = None,
    route: Annotated[_Files, typer.Option("--route", help="Route file of a grid; repeatable.")] = None,
    values: Annotated[
        list[str] | None,
        typer.Option(
            "--values",
            help='Key of a grid with a list or a range, as in `vary`: "rail=dry,wet", '
            '"train.vehicles[1].count=4:12:2"; repeatable.',
        ),
    ] = None,
    column: Annotated[
        list[str] | None,
        typer.Option(
            "--column",
            help="Result to show, such as verdict, late, pressure, margin:steam or arrival:STATION; repeatable.",
            show_default="verdict, margin, rule, place, time, water, fuel",
        ),
    ] = None,
    change: Changes = None,
    jobs: Annotated[
        int | None, typer.Option("--jobs", help="Number of processes.", show_default="all cores")
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option(
            "--cluster",
            help="Address of a Dask scheduler whose workers compute, such as tcp://10.0.0.5:8786.",
            show_default=False,
        ),
    ] = None,
    restart: Annotated[
        bool, typer.Option("--restart", help="Start over, although a journal of a stopped batch exists.")
    ] = False,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    force: Force = False,
) -> None:
    """Check many excursions: rows of a table, or all combinations of engines, trains, lines and conditions.

    A row with a problem keeps its place, and the rest goes on. After a stop, the same command goes on where it was.
    The exit status is 1 where all rows are stop or have a problem, and 2 where nothing could be computed.

    Example: locosim batch cases.csv --output cases_checked.csv --plot cases.png
    """
    from locosim.library.batch_results import (
        TableFile,
        all_rows_done,
        batch_rows,
        journal_left,
        running_batch,
    )
    from locosim.studies.batch import RESULTS
    from locosim.units import unit_system

    given = _rows(rows, (excursion, engine, train, route), values)
    found, name = batch_rows(given, excursion=str(excursion[0]) if excursion else "", changes=change or ())
    table = None if output is None else TableFile(path=output, overwrite=force, restart=restart)
    results = column or RESULTS
    line = ProgressLine("rows")
    try:
        with unit_system(units), journal_left(found, results, table) as left:
            goes_on = all_rows_done(found, left)
            written = Output("batch", units, json, force, or_same=goes_on, plot=plot)
            with running_batch(
                found,
                results,
                table,
                left=left,
                name=name,
                jobs=jobs,
                cluster=cluster,
                report=partial(_show, line),
            ) as content:
                line.end()
                if output is not None:
                    typer.echo(f"wrote {output}", err=True)
                written.write(content)
                runs = _any_row_runs(content)
    except KeyboardInterrupt:
        line.end()
        then = "" if output is None else "; the same command goes on from there"
        typer.echo(f"stopped after {line.done:,} of {len(found):,} rows{then}", err=True)
        raise typer.Exit(130) from None
    if not runs:
        raise typer.Exit(1)


def _rows(rows: Path | None, files: Sequence[_Files], values: list[str] | None) -> Path | BatchRows:
    """The file of the rows, or the grid of the options."""
    from locosim.studies.batch_file import grid_of_options

    excursions, *others = ([str(file) for file in each or ()] for each in files)
    if rows is not None:
        if any(others) or values or len(excursions) > 1:
            raise LocosimError(
                f"{rows} gives the rows; leave out --engine, --train, --route and --values, or give --excursion in "
                "place of the file"
            )
        return rows
    if not excursions:
        raise LocosimError(
            "no rows; name a CSV or TOML file of rows, or an excursion file with --excursion, and perhaps --engine, "
            "--train, --route and --values"
        )
    return grid_of_options(excursions, *others, values=values or ())


def _any_row_runs(batch: Batch) -> bool:
    """Whether a row is clear or tight."""
    at = batch.result("verdict")
    return any(record.values and (at is None or record.values[at] != "stop") for record in batch.records)


def _show(line: ProgressLine, progress: Progress) -> None:
    line.show(progress.done, progress.total, left=progress.left, problems=progress.problems)
