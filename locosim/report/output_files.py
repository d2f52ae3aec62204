"""Files a command writes: never over one that is there, unless told so."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

from locosim.errors import LocosimError, OutputExists

IMAGE_SUFFIXES = (".png", ".svg", ".pdf")
HTML_SUFFIXES = (".html", ".htm")
CSV_SUFFIXES = (".csv",)


def check_writable(path: Path, *, force: bool, suffixes: Sequence[str] = ()) -> None:
    """Check that a file can be written, before the work for it is done.

    Args:
        path: The file.
        force: Overwrite what is there.
        suffixes: Those that say what it will hold; any when left out.

    Raises:
        OutputExists: The file is there and `force` is not set.
        LocosimError: The path has another suffix, is a folder or no ordinary file, or its folder is not there or may
            not be written to.
    """
    if suffixes and path.suffix.lower() not in suffixes:
        raise LocosimError(
            f"{path}: is written as {', '.join(suffixes)}; name the file for example {path.stem or 'file'}{suffixes[0]}"
        )
    target = _resolve_target(path)
    if not target.parent.is_dir():
        raise LocosimError(f"{path}: the folder {target.parent} is not there; make it first or name another")
    if not os.access(target.parent, os.W_OK | os.X_OK):
        raise LocosimError(f"{path}: the folder {target.parent} may not be written to; name another")
    if target.exists() and not force:
        raise OutputExists(f"{path}: is there already; choose another name, or add --force to overwrite it")


def _resolve_target(path: Path) -> Path:
    """The file itself, where the path is a link to it.

    Raises:
        LocosimError: There is something else than an ordinary file.
    """
    if path.is_dir():
        raise LocosimError(f"{path}: is a folder; name a file in it")
    if path.exists() and not path.is_file():
        raise LocosimError(f"{path}: is no ordinary file, and is not written over; name another")
    if path.is_symlink() and not path.exists():
        raise LocosimError(f"{path}: is a link to nothing; remove it, or name another file")
    return path.resolve() if path.is_symlink() else path


def check_outputs_writable(wanted: Mapping[str, tuple[Path | None, Sequence[str]]], *, force: bool) -> None:
    """Check all files a command is to write, as `check_writable`, and that no two are one.

    Args:
        wanted: By the option that names it, each file, if wanted, with its suffixes.
        force: Overwrite what is there.

    Raises:
        OutputExists: A file is there and `force` is not set.
        LocosimError: A file cannot be written, or two options name one.
    """
    named: dict[Path, str] = {}
    for option, (path, _) in wanted.items():
        if path is None:
            continue
        other = named.setdefault(path.resolve(), option)
        if other != option:
            raise LocosimError(f"{path}: is named by {other} and by {option}; give each a file of its own")
    for path, suffixes in wanted.values():
        if path is not None:
            check_writable(path, force=force, suffixes=suffixes)


def write(path: Path, content: bytes, *, force: bool) -> None:
    """Write a whole file or nothing: into a neighbour first, which then takes the name.

    A link stays, and the file it leads to is written. A file that is overwritten keeps its permissions.

    Args:
        path: The file.
        content: What it is to hold.
        force: Overwrite what is there.

    Raises:
        OutputExists: The file is there and `force` is not set.
        LocosimError: The file cannot be written.
    """
    check_writable(path, force=force)
    target = _resolve_target(path)
    try:
        mode = target.stat().st_mode & 0o777 if target.exists() else 0o666 & ~_umask()
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name[:100]}.")
        temporary = Path(name)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
            temporary.chmod(mode)
            temporary.replace(target)
        except OSError:
            temporary.unlink(missing_ok=True)
            raise
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise LocosimError(f"{path}: cannot be written: {reason}; name a file elsewhere") from error


def _umask() -> int:
    """What the user's files are made without; it can be read only by setting it."""
    now = os.umask(0)
    os.umask(now)
    return now
