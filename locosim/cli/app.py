"""The program: its name, version and errors."""

from __future__ import annotations

import errno
import os
import sys
from typing import Annotated

import typer

from locosim.errors import LocosimError

app = typer.Typer(
    help="Steam locomotive performance: tractive effort, power, boiler limits, and checks of proposed excursions.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


def _version(requested: bool) -> None:
    if requested:
        from locosim import __version__

        typer.echo(f"locosim {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", help="Show the version and exit.", callback=_version, is_eager=True)
    ] = False,
) -> None:
    pass


def main() -> None:
    """Run the command line; a user error ends with its message and exit status 2."""
    # Of the optimizer of numba: 3, its default, takes a sixth longer to compile, and no run was faster.
    os.environ.setdefault("NUMBA_OPT", "1")
    try:
        app()
    except LocosimError as error:
        typer.echo(f"error: {_printable(str(error))}", err=True)
        sys.exit(2)
    except OSError as error:
        if error.filename is not None or error.errno == errno.EPIPE:
            raise  # only standard output has no file name, and a reader that stops reading is no error
        typer.echo(f"error: the result cannot be written: {(error.strerror or str(error)).lower()}", err=True)
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # or Python tries to flush again at exit, and complains
        sys.exit(2)


def _printable(text: str) -> str:
    """Escape the characters that could control the terminal."""
    return "".join(sign if sign.isprintable() or sign == "\n" else repr(sign)[1:-1] for sign in text)
