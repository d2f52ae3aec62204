"""The first run after an installation or an update: the program is compiled once, by two processes."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def journey_compiled_alongside(excursion: Path) -> Iterator[None]:
    """Context in which another process compiles the journey, where it was never compiled; it has ended afterward.

    It checks the excursion by the handbook, which needs the journey and not the cylinder cycle.

    Args:
        excursion: Path of the excursion file.
    """
    command = [sys.executable, "-m", "locosim", "check", str(excursion)]
    other = subprocess.Popen(
        [*command, "--change", "method=handbook", "--no-remedies"],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
    )
    try:
        yield
        other.wait()
    finally:
        other.kill()
        other.wait()
