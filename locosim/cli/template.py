"""The command that creates template files."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from locosim.cli.app import app


class FileKind(StrEnum):
    """Kinds of template file."""

    engine = "engine"
    train = "train"
    route = "route"
    excursion = "excursion"


@app.command()
def new(
    kind: Annotated[FileKind, typer.Argument(help="Kind of file.", show_default=False)],
    file: Annotated[Path, typer.Argument(help="File to create, such as engine.toml.", show_default=False)],
) -> None:
    """Create a template file: every key explained, with an example."""
    from locosim.scenario.template import write_template

    typer.echo(f"wrote {write_template(kind, file)}", err=True)
