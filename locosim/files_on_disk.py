"""Files written whole or not at all, and the files that a command reads."""

from __future__ import annotations

import contextlib
import os
import secrets
import shutil
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
    """Open a file that is written whole or not at all: it gets its name when all of it has been written.

    An overwritten file keeps its permissions. A write that fails, is interrupted or is killed leaves the old file as it
    was and no other; where the system has no files without a name, a kill leaves a temporary one beside it.

    Args:
        path: The file; a link is replaced, not followed.
        new: Whether the file must not exist yet, even if another process creates it meanwhile.

    Raises:
        FileExistsError: `new`, and the file exists.
        OSError: The file cannot be written.
    """
    mode = path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask()
    nameless = _open_nameless(path.parent)
    if nameless is None:
        with _writing_beside(path, mode, new=new) as file:
            yield file
        return
    with os.fdopen(nameless, "w+b") as file:
        yield file
        file.flush()
        os.fchmod(nameless, mode)
        try:
            _name_nameless(nameless, path, new=new)
        except FileExistsError:
            raise
        except OSError:  # such as a file system without links
            file.seek(0)
            with _writing_beside(path, mode, new=new) as copy:
                shutil.copyfileobj(file, copy)


def _open_nameless(folder: Path) -> int | None:
    """Open a file without a name, which is gone when its process is; None where the system has none."""
    if not hasattr(os, "O_TMPFILE") or not os.path.isdir("/proc/self/fd"):
        return None
    try:
        return os.open(folder, os.O_TMPFILE | os.O_RDWR, 0o600)
    except OSError:  # such as a file system without them; what else is wrong, the next attempt says
        return None


def _name_nameless(handle: int, path: Path, *, new: bool) -> None:
    """Give a file without a name its name; the old file of that name goes, unless it must be new."""
    source = f"/proc/self/fd/{handle}"
    try:
        os.link(source, path, src_dir_fd=handle, follow_symlinks=True)
        return
    except FileExistsError:
        if new:
            raise
    temporary = path.with_name(_temporary_name(path))  # only for the moment between these two calls
    os.link(source, temporary, src_dir_fd=handle, follow_symlinks=True)
    try:
        temporary.replace(path)
    finally:
        with contextlib.suppress(OSError):
            temporary.unlink()


def _temporary_name(path: Path) -> str:
    return f".{path.name[:40]}.{secrets.token_hex(6)}.tmp"


@contextlib.contextmanager
def _writing_beside(path: Path, mode: int, *, new: bool) -> Iterator[IO[bytes]]:
    """Open a temporary file beside a file, which takes its name at the end."""
    temporary = path.with_name(_temporary_name(path))
    handle = os.open(temporary, os.O_CREAT | os.O_EXCL | os.O_WRONLY | getattr(os, "O_BINARY", 0), 0o600)
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
