"""Files a command writes: whole or not at all, and never over an existing file without --force."""

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
    """Check that a file can be written, before its content is computed.

    Args:
        path: The file.
        force: Overwrite an existing file.
        suffixes: Suffixes allowed; any if omitted.

    Raises:
        OutputExists: The file exists and `force` is not set.
        LocosimError: The path has another suffix or is not a regular file, or its folder does not exist or is not
            writable.
    """
    if suffixes and path.suffix.lower() not in suffixes:
        raise LocosimError(
            f"{path}: must end in {', '.join(suffixes)}; write for example {path.stem or 'file'}{suffixes[0]}"
        )
    target = _resolve_target(path)
    if not target.parent.is_dir():
        raise LocosimError(
            f"{path}: the folder {target.parent} does not exist; create it first or name another"
        )
    if not os.access(target.parent, os.W_OK | os.X_OK):
        raise LocosimError(f"{path}: the folder {target.parent} is not writable; name another")
    if target.exists() and not force:
        raise OutputExists(f"{path}: already exists; choose another name, or add --force to overwrite it")


def _resolve_target(path: Path) -> Path:
    """Path of the file itself, links followed.

    Raises:
        LocosimError: The path is not a regular file.
    """
    if path.is_dir():
        raise LocosimError(f"{path}: is a folder; name a file in it")
    if path.exists() and not path.is_file():
        raise LocosimError(f"{path}: is not a regular file and is not overwritten; name another")
    if path.is_symlink() and not path.exists():
        raise LocosimError(f"{path}: is a broken link; remove it, or name another file")
    return path.resolve() if path.is_symlink() else path


def check_outputs_writable(outputs: Mapping[str, tuple[Path | None, Sequence[str]]], *, force: bool) -> None:
    """Check every file a command is to write, as `check_writable` does, and that no two are the same.

    Args:
        outputs: For each option, its file, or None, and the suffixes allowed.
        force: Overwrite an existing file.

    Raises:
        OutputExists: A file exists and `force` is not set.
        LocosimError: A file cannot be written, or two options name the same file.
    """
    named: dict[Path, str] = {}
    for option, (path, _) in outputs.items():
        if path is None:
            continue
        other = named.setdefault(path.resolve(), option)
        if other != option:
            raise LocosimError(f"{path}: is named by both {other} and {option}; give each its own file")
    for path, suffixes in outputs.values():
        if path is not None:
            check_writable(path, force=force, suffixes=suffixes)


def write(path: Path, content: bytes, *, force: bool) -> None:
    """Write a file whole or not at all: a temporary file beside it is renamed at the end.

    A link stays a link; the file it points to is written. An overwritten file keeps its permissions.

    Args:
        path: The file.
        content: Content of the file.
        force: Overwrite an existing file.

    Raises:
        OutputExists: The file exists and `force` is not set.
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
    """The umask of the process; it can be read only by setting it."""
    current = os.umask(0)
    os.umask(current)
    return current
