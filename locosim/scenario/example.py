"""The example railway: the files of the Larkspur Valley Railway, written into a folder of the user's."""

from __future__ import annotations

import glob
import os
import platform
import shutil
from pathlib import Path

from locosim.errors import LocosimError, OutputExists, system_reason

# In an installed wheel, and in a clone.
_PACKAGE = Path(__file__).resolve().parents[1]
SOURCES = (_PACKAGE / "example", _PACKAGE.parent / "scenarios")


def example_files() -> Path:
    """The folder with the example files of this installation.

    Raises:
        LocosimError: This installation has none.
    """
    for folder in SOURCES:
        if (folder / "excursions").is_dir():
            return folder
    raise LocosimError("the example railway is missing from this installation; install locosim again")


def write_example(folder: str | Path) -> Path:
    """Write the example railway into a new folder, whole or not at all.

    Args:
        folder: The folder to create.

    Returns:
        The folder.

    Raises:
        OutputExists: It exists.
        LocosimError: It cannot be written.
    """
    target, source = Path(folder), example_files()
    if os.path.lexists(target):
        raise OutputExists(f"{target}: exists; name a folder that does not exist yet")
    begun = f".{target.name[:40]}.{platform.node()}."
    beside = target.parent / f"{begun}{os.getpid()}.tmp"
    try:
        _remove_left(target.parent, begun)
        beside.mkdir()
        for file in sorted(source.rglob("*")):
            copy = beside / file.relative_to(source)
            if file.is_dir():
                copy.mkdir()
            elif file.is_file():
                copy.write_bytes(file.read_bytes())
        beside.rename(target)
    except (OSError, ValueError) as error:
        raise LocosimError(f"{target}: cannot be written: {system_reason(error)}") from None
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return target


def _remove_left(folder: Path, begun: str) -> None:
    """Remove what killed processes of this machine left of the same folder."""
    if os.name != "posix":
        return  # there a process cannot be asked for without ending it
    for left in folder.glob(f"{glob.escape(begun)}*.tmp"):
        number = left.name.removeprefix(begun).removesuffix(".tmp")
        if number.isascii() and number.isdigit() and not _runs(int(number)):
            shutil.rmtree(left, ignore_errors=True)


def _runs(process: int) -> bool:
    """Whether a process of this machine runs."""
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:  # it is another user's
        return True
    return process != os.getpid()
