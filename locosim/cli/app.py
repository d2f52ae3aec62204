"""The program: its name, version and errors."""

from __future__ import annotations

import atexit
import contextlib
import copy
import gc
import os
import signal
import sys
import traceback
from pathlib import Path
from typing import Annotated, NoReturn

import typer
from typer.models import CommandInfo

from locosim.cli.streams import open_standard_streams, stop_writing
from locosim.errors import LocosimError, system_reason
from locosim.files_on_disk import noting_reads
from locosim.side_by_side import answering_side_by_side

USER_ERROR = 2
INTERNAL_FAULT = 70  # as sysexits.h has it for software
INTERRUPTED = 130  # 128 and the number of the signal, as shells count

# The default of 700 looks through everything imported a dozen times before a check begins, and 100,000 once. Circular
# garbage of this many objects takes some 60 MB, and long commands are bounded by it as before.
OBJECTS_BEFORE_COLLECTION = 300_000

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
    context: typer.Context,
    version: Annotated[
        bool, typer.Option("--version", help="Show the version and exit.", callback=_version, is_eager=True)
    ] = False,
) -> None:
    context.with_resource(noting_reads())


def main() -> None:
    """Run the command line.

    Exit statuses are those of the command, 2 for an error that the user can correct, 70 for a fault of locosim itself,
    130 for an interrupt from the keyboard and 143 for a request to end.
    """
    # Of the optimizer of numba: 3, its default, takes a sixth longer to compile, and no run was faster.
    os.environ.setdefault("NUMBA_OPT", "1")
    # Threads for linear algebra, of which there is little, would keep a command from forking.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    gc.set_threshold(OBJECTS_BEFORE_COLLECTION)
    # As it ends, Python looks through all objects several times for circular garbage, which took a tenth of a second.
    atexit.register(gc.freeze)
    signal.signal(signal.SIGTERM, _end)
    open_standard_streams()
    try:
        if sys.stdout is None:
            raise LocosimError("standard output is closed; leave it open, or send it to /dev/null")
        with answering_side_by_side():
            with_command_asked_for(app)()
    except LocosimError as error:
        _fail(str(error), USER_ERROR)
    except OSError as error:
        if error.filename is not None:  # only standard output has no file name
            _report_fault(error)
        stop_writing()
        _fail(f"the result cannot be written: {system_reason(error)}", USER_ERROR)
    except KeyboardInterrupt:
        sys.exit(INTERRUPTED)
    except Exception as error:
        _report_fault(error)


def with_command_asked_for(program: typer.Typer) -> typer.Typer:
    """The program with only the command that its first word names, or all if it names none.

    Preparing the options of all commands takes longer than reading an excursion.
    """
    word = sys.argv[1] if len(sys.argv) > 1 else ""
    commands = [each for each in program.registered_commands if _command_name(each) == word]
    groups = [each for each in program.registered_groups if each.name == word]
    if not commands and not groups:
        return program
    asked = copy.copy(program)
    asked.registered_commands, asked.registered_groups = commands, groups
    return asked


def _command_name(command: CommandInfo) -> str:
    return command.name or (command.callback.__name__ if command.callback else "")


def _end(number: int, frame: object) -> None:
    """End in order when the system asks for it, so that no temporary file stays."""
    sys.exit(128 + number)


def _fail(message: str, status: int) -> NoReturn:
    """End with a message and a status."""
    if sys.stderr is not None:
        with contextlib.suppress(OSError):
            typer.echo(f"error: {_printable(message)}", err=True)
    sys.exit(status)


def _report_fault(error: Exception) -> NoReturn:
    """End after an error that is a fault of locosim, in one line; LOCOSIM_TRACEBACK=1 shows where it arose."""
    if os.environ.get("LOCOSIM_TRACEBACK") == "1":
        raise error
    place = traceback.extract_tb(error.__traceback__)[-1]
    _fail(
        f"a fault of locosim, not of your files: {type(error).__name__}: {str(error)[:200]} "
        f"({Path(place.filename).name}, line {place.lineno}). Please report it to the "
        "maintainers, with the command and its files; LOCOSIM_TRACEBACK=1 shows more.",
        INTERNAL_FAULT,
    )


def _printable(text: str) -> str:
    """Escape the characters that could control the terminal."""
    return "".join(sign if sign.isprintable() or sign == "\n" else repr(sign)[1:-1] for sign in text)
