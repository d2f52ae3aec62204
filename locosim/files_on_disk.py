"""Files written whole or not at all, and the files that a command reads."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import IO

_read: set[tuple[int, int]] | None = None  # device and number of each file read, which links cannot hide


@contextlib.contextmanager
def noting_reads() -> Iterator[None]:
    """Context of a command: no output overwrites a file that was read in it."""
    global _read
    before, _read = _read, set()
    try:
        yield
    finally:
        _read = before


def note_read(path: Path) -> None:
    """Note that a file was read, if a command runs."""
    if _read is not None:
        with contextlib.suppress(OSError):
            found = path.stat()
            _read.add((found.st_dev, found.st_ino))


def was_read(path: Path) -> bool:
    """Whether the command has read a file, by this or another name."""
    try:
        found = path.stat()
    except OSError:
        return False
    return (found.st_dev, found.st_ino) in (_read or ())


def write_whole(path: Path, content: bytes, *, new: bool = False) -> None:
    """Write a file whole or not at all; arguments and errors as for `writing_whole`."""
    with writing_whole(path, new=new) as file:
        file.write(content)


@contextlib.contextmanager
def writing_whole(path: Path, *, new: bool = False) -> Iterator[IO[bytes]]:
    """Open a file that is written whole or not at all: a temporary file beside it takes its name at the end.

    An overwritten file keeps its permissions. A write that fails or is interrupted leaves the old file as it was and no
    temporary file.

    Args:
        path: The file; a link is replaced, not followed.
        new: Whether the file must not exist yet, even if another process creates it meanwhile.

    Raises:
        FileExistsError: `new`, and the file exists.
        OSError: The file cannot be written.
    """
    mode = path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask()
    handle, name = tempfile.mkstemp(suffix=".tmp", prefix=f".{path.name[:40]}.", dir=path.parent)
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            yield file
        temporary.chmod(mode)
        if new:
            _name_new(temporary, path)
        else:
            temporary.replace(path)
    finally:
        with contextlib.suppress(OSError):
            temporary.unlink()


def _name_new(temporary: Path, path: Path) -> None:
    """Give a file its name where no other file has it."""
    try:
        path.hardlink_to(temporary)
    except FileExistsError:
        raise
    except OSError:  # a file system without links
        path.touch(exist_ok=False)
        temporary.replace(path)


def _umask() -> int:
    """The umask of the process; it can be read only by setting it."""
    current = os.umask(0)
    os.umask(current)
    return current
