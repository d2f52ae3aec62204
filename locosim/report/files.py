"""Files a command writes: never over one that is there, unless told so."""

from __future__ import annotations

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
        LocosimError: The folder is not there, the path is a folder, or a picture has an unknown suffix.
    """
    if path.is_dir():
        raise LocosimError(f"{path}: is a folder; name a file in it")
    if not path.parent.is_dir():
        raise LocosimError(f"{path}: the folder {path.parent} is not there; make it first or name another")
    if path.exists() and not force:
        raise OutputExists(f"{path}: is there already; choose another name, or add --force to overwrite it")


def may_draw(path: Path, *, force: bool) -> None:
    """Check a picture's suffix, then as `may_write`."""
    if path.suffix.lower() not in PICTURES:
        raise LocosimError(
            f"{path}: a plot is written as {', '.join(PICTURES)}; name the file for example plot.png"
        )
    may_write(path, force=force)
