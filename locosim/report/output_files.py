"""Files a command writes: whole or not at all, and never over an existing file without --force."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from locosim.errors import LocosimError, OutputExists, system_reason
from locosim.files_on_disk import was_read, writing_whole

IMAGE_SUFFIXES = (".png", ".svg", ".pdf")
HTML_SUFFIXES = (".html", ".htm")
CSV_SUFFIXES = (".csv",)
CHUNK = 1 << 20  # bytes of two files compared at a time


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
    with _path_errors(path):
        _check_target(path, _resolve_target(path), force=force)


def _check_target(path: Path, target: Path, *, force: bool) -> None:
    """Check the folder of a file, and that nothing is overwritten without `force`."""
    if not target.parent.is_dir():
        raise LocosimError(
            f"{path}: the folder {target.parent} does not exist; create it first or name another"
        )
    if not os.access(target.parent, os.W_OK | os.X_OK):
        raise LocosimError(f"{path}: the folder {target.parent} is not writable; name another")
    if was_read(target):
        raise LocosimError(f"{path}: is a file that this command reads, and is not overwritten; name another")
    if target.exists() and not force:
        raise _exists(path)


def _exists(path: Path) -> OutputExists:
    return OutputExists(f"{path}: already exists; choose another name, or add --force to overwrite it")


@contextmanager
def _path_errors(path: Path) -> Iterator[None]:
    """Report what the system refuses of a path, such as a name too long or links in a circle."""
    try:
        yield
    except OSError as error:
        raise LocosimError(
            f"{path}: cannot be written: {system_reason(error)}; name a file elsewhere"
        ) from error
    except RuntimeError as error:  # links in a circle, before Python 3.13
        raise LocosimError(f"{path}: is a link to itself; remove it, or name another file") from error


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
        with _path_errors(path):
            other = named.setdefault(path.resolve(), option)
        if other != option:
            raise LocosimError(f"{path}: is named by both {other} and {option}; give each its own file")
    for path, suffixes in outputs.values():
        if path is not None:
            check_writable(path, force=force, suffixes=suffixes)


def write(path: Path, content: bytes, *, force: bool, or_same: bool = False) -> None:
    """Write a file whole or not at all: a temporary file beside it is renamed at the end.

    A link stays a link; the file it points to is written. An overwritten file keeps its permissions.

    Args:
        path: The file.
        content: Content of the file.
        force: Overwrite an existing file.
        or_same: Leave an existing file that has this content, as one of a command that was stopped has.

    Raises:
        OutputExists: The file exists, `force` is not set, and it is not the same.
        LocosimError: The file cannot be written.
    """
    with writing(path, force=force, or_same=or_same) as file:
        file.write(content)


@contextmanager
def writing(path: Path, *, force: bool, or_same: bool = False) -> Iterator[IO[bytes]]:
    """Open a file that appears under its name when all of it has been written; arguments and errors as for `write`."""
    if or_same and not force and path.exists():
        with _finding_same(path) as file:
            yield file
        return
    check_writable(path, force=force)
    with _path_errors(path):
        target = _resolve_target(path)
        with writing_whole(target) as file:
            yield file


@contextmanager
def _finding_same(path: Path) -> Iterator[IO[bytes]]:
    """Open a file that is only compared with an existing one; raises OutputExists where they differ."""
    check_writable(path, force=True)
    with _path_errors(path), tempfile.TemporaryFile() as file, path.open("rb") as existing:
        yield file
        file.seek(0)
        while part := file.read(CHUNK):
            if part != existing.read(len(part)):
                break
        else:
            if not existing.read(1):
                return
    raise _exists(path)
