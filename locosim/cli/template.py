"""The command that creates template files, and the files of the example railway."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from locosim.cli.app import app
from locosim.cli.options import Units


class FileKind(StrEnum):
    """Kinds of template file, and the example railway."""

    engine = "engine"
    train = "train"
    route = "route"
    excursion = "excursion"
    day = "day"
    example = "example"


@app.command()
def new(
    kind: Annotated[FileKind, typer.Argument(help="Kind of file.", show_default=False)],
    file: Annotated[
        Path,
        typer.Argument(
            help="File to create, such as engine.toml; for the example, a folder.", show_default=False
        ),
    ],
    units: Annotated[
        Units, typer.Option("--units", help="Units of the examples, defaults and ranges of a template.")
    ] = Units.us,
) -> None:
    """Create a template file, every key explained, or the files of the example railway.

    Every key can be written in any unit of its kind, whatever the units of the template. `example` writes the
    Larkspur Valley Railway, which is invented: engines, trains, lines and excursions.

    Example: locosim new engine engine.toml --units metric

    Example: locosim new example scenarios
    """
    if kind is FileKind.example:
        from locosim.scenario.example import write_example

        typer.echo(f"wrote {write_example(file)}", err=True)
        return
    from locosim.scenario.template import write_template

    typer.echo(f"wrote {write_template(kind, file, units)}", err=True)
