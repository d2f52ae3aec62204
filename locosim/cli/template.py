"""The command that creates template files."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from locosim.cli.app import app
from locosim.cli.options import Units


class FileKind(StrEnum):
    """Kinds of template file."""

    engine = "engine"
    train = "train"
    route = "route"
    excursion = "excursion"
    day = "day"


@app.command()
def new(
    kind: Annotated[FileKind, typer.Argument(help="Kind of file.", show_default=False)],
    file: Annotated[Path, typer.Argument(help="File to create, such as engine.toml.", show_default=False)],
    units: Annotated[
        Units, typer.Option("--units", help="Units of its examples, defaults and ranges.")
    ] = Units.us,
) -> None:
    """Create a template file: every key explained, with an example.

    Every key can be written in any unit of its kind, whatever the units of the template.

    Example: locosim new engine engine.toml --units metric
    """
    from locosim.scenario.template import write_template

    typer.echo(f"wrote {write_template(kind, file, units)}", err=True)
