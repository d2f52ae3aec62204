"""Files a command writes: never over one that is there, unless told so."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from locosim.errors import LocosimError, OutputExists

PICTURES = (".png", ".svg", ".pdf")


def may_write(path: Path, *, force: bool) -> None:
    """Check that a file can be written, before the work for it is done.

    Args:
        path: The file.
        force: Overwrite what is there.

    Raises:
        OutputExists: The file is there and `force` is not set.
        LocosimError: The path is a folder, or its folder is not there or may not be written to.
    """
    if path.is_dir():
        raise LocosimError(f"{path}: is a folder; name a file in it")
    if not path.parent.is_dir():
        raise LocosimError(f"{path}: the folder {path.parent} is not there; make it first or name another")
    if not os.access(path.parent, os.W_OK | os.X_OK):
        raise LocosimError(f"{path}: the folder {path.parent} may not be written to; name another")
    if path.exists() and not force:
        raise OutputExists(f"{path}: is there already; choose another name, or add --force to overwrite it")


def may_draw(path: Path, *, force: bool) -> None:
    """Check a picture's suffix, then as `may_write`; an unknown suffix is a LocosimError too."""
    if path.suffix.lower() not in PICTURES:
        raise LocosimError(
            f"{path}: a plot is written as {', '.join(PICTURES)}; name the file for example plot.png"
        )
    may_write(path, force=force)


def write(path: Path, content: bytes, *, force: bool) -> None:
    """Write a whole file or nothing: into a neighbour first, which then takes the name.

    Args:
        path: The file.
        content: What it is to hold.
        force: Overwrite what is there.

    Raises:
        OutputExists: The file is there and `force` is not set.
        LocosimError: The file cannot be written.
    """
    may_write(path, force=force)
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        neighbour = Path(name)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
            neighbour.chmod(0o666 & ~_umask())
            neighbour.replace(path)
        except OSError:
            neighbour.unlink(missing_ok=True)
            raise
    except OSError as wrong:
        reason = (wrong.strerror or str(wrong)).lower()
        raise LocosimError(f"{path}: cannot be written: {reason}; name a file elsewhere") from wrong


def _umask() -> int:
    """What the user's files are made without; it can be read only by setting it."""
    now = os.umask(0)
    os.umask(now)
    return now
