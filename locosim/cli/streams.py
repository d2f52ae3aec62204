"""Standard streams: opened where they are closed, and given up where nobody reads."""

from __future__ import annotations

import os
import sys

import typer


def open_standard_streams() -> None:
    """Open closed standard streams on the null device, or the next file opened would take their place."""
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)


def say(text: str) -> None:
    """Write a result to standard output; a reader that stops reading changes neither files nor exit status."""
    try:
        typer.echo(text)
        sys.stdout.flush()
    except BrokenPipeError:
        stop_writing()


def stop_writing() -> None:
    """Send the rest of standard output nowhere: its reader is gone or its disk is full."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
