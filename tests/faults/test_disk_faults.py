"""Full disks and folders that cannot be written: each command says so, and leaves nothing half-written."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.fuzz.judge import run_command
from tests.kills.killed import COMMANDS, lay_out, on_small_railway

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="limits disks as Unix does")


# `fit` takes seconds, and writes as `timetable` does.
COMMANDS_BY_NAME = {
    " ".join(command[:2]): on_small_railway(command) for command in COMMANDS if command[0] != "fit"
}
SEVERAL_OUTPUTS = [
    name for name in COMMANDS_BY_NAME if name.startswith(("timetable", "route reverse", "batch"))
]


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("faults") / "railway"
    lay_out(folder)
    return folder


@pytest.fixture
def disk(place: Path) -> Iterator[Path]:
    """A disk of 256 kB on the folder `out`."""
    with mounted(place / "out", "size=256k"):
        yield place / "out"


@contextmanager
def mounted(folder: Path, options: str) -> Iterator[None]:
    """Mount a small disk on a folder, or skip the test."""
    if not shutil.which("mount") or os.geteuid() != 0:
        pytest.skip("only the administrator may mount a disk")
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(folder)], capture_output=True, check=False
    )
    if done.returncode != 0:
        pytest.skip(f"no disk can be mounted here: {done.stderr.decode().strip()}")
    try:
        yield
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def run(arguments: list[str], place: Path) -> tuple[int, str]:
    """Status of a command in a folder, and what it says on standard error."""
    home = Path.cwd()
    os.chdir(place)
    try:
        status, _, error = run_command(arguments)
    finally:
        os.chdir(home)
    return status, error


def fill(disk: Path, left: int) -> Path:
    """Fill a disk but for so many bytes."""
    filler = disk / "filler"
    with filler.open("wb", buffering=0) as file:
        try:
            while True:
                file.write(bytes(4096))
        except OSError:
            pass
    os.truncate(filler, filler.stat().st_size - left)
    return filler


@pytest.mark.parametrize("name", COMMANDS_BY_NAME)
def test_a_full_disk_is_an_error_and_leaves_nothing(name: str, place: Path, disk: Path) -> None:
    filler = fill(disk, 0)
    status, error = run(COMMANDS_BY_NAME[name], place)
    assert status == 2
    assert "no space left on device" in error
    assert list(disk.iterdir()) == [filler]


@pytest.mark.parametrize("name", SEVERAL_OUTPUTS)
def test_of_several_outputs_each_is_whole_or_absent(name: str, place: Path, disk: Path) -> None:
    assert run(COMMANDS_BY_NAME[name], place)[0] in (0, 1)
    unbroken = {path.name: path.read_bytes() for path in disk.iterdir()}
    for left in range(4096, 4096 * 6, 4096):  # a tmpfs gives out pages
        for path in disk.iterdir():
            path.unlink()
        filler = fill(disk, left)
        status, error = run(COMMANDS_BY_NAME[name], place)
        filler.unlink()
        found = {path.name: path.read_bytes() for path in disk.iterdir() if path.suffix != ".journal"}
        assert found.items() <= unbroken.items()
        assert (status in (0, 1)) == (found == unbroken), error


FEW = [name for name in COMMANDS_BY_NAME if name.startswith(("run", "new", "route reverse", "batch"))]


@pytest.mark.parametrize("name", FEW)
def test_a_file_that_may_not_grow_is_an_error_and_leaves_nothing(name: str, place: Path) -> None:
    """As a full disk, for systems where none can be mounted: the system refuses to let a file grow."""
    import resource

    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, before[1]))
    try:
        status, error = run(COMMANDS_BY_NAME[name], place)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert status == 2, error
    assert "file too large" in error
    assert list((place / "out").iterdir()) == []


@pytest.mark.parametrize("name", COMMANDS_BY_NAME)
def test_a_folder_that_cannot_be_written_is_an_error(name: str, place: Path) -> None:
    with mounted(place / "out", "ro"):
        status, error = run(COMMANDS_BY_NAME[name], place)
        assert list((place / "out").iterdir()) == []
    assert status == 2, error
    assert "not writable" in error or "read-only file system" in error


def test_a_batch_goes_on_after_a_full_disk(place: Path, disk: Path) -> None:
    command = next(command for name, command in COMMANDS_BY_NAME.items() if name.startswith("batch"))
    assert run(command, place)[0] in (0, 1)
    unbroken = (disk / "a.csv").read_bytes()
    (disk / "a.csv").unlink()
    filler = fill(disk, 4096)  # room for the journal, which grows first, and not for the table
    status, error = run(command, place)
    assert status == 2
    assert "no space left on device" in error
    assert {path.name for path in disk.iterdir()} == {"filler", "a.csv.journal"}
    filler.unlink()
    assert run(command, place)[0] in (0, 1)
    assert {path.name: path.read_bytes() for path in disk.iterdir()} == {"a.csv": unbroken}
