"""Kills of commands, and what is left on disk after each."""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SPRING = "scenarios/excursions/spring_special.toml"
ENGINE = "scenarios/engines/campion.toml"
LINE = "scenarios/routes/quernby_line.toml"

# Commands that write, with their outputs in the folder `out`.
COMMANDS: tuple[tuple[str, ...], ...] = (
    ("check", SPRING, "--no-remedies", "--report", "out/a.html", "--plot", "out/a.svg"),
    ("run", SPRING, "--csv", "out/a.csv", "--plot", "out/a.png"),
    ("timetable", SPRING, "--to", "out/a.toml", "--csv", "out/a.csv"),
    ("load", SPRING, "--csv", "out/a.csv"),
    ("water", SPRING, "--csv", "out/a.csv"),
    ("route", "reverse", LINE, "--to", "out/a.toml"),
    ("curve", ENGINE, "--plot", "out/a.svg"),
    ("new", "engine", "out/a.toml"),
    ("new", "example", "out/example"),
    ("vary", SPRING, "train.vehicles[1].count=4:8", "--csv", "out/a.csv"),
    ("batch", "--excursion", SPRING, "--values", "train.vehicles[1].count=4:9", "--values", "rail=dry,wet",
     "--output", "out/a.csv"),
    ("risk", SPRING, "--samples", "20", "--csv", "out/a.csv"),
)  # fmt: skip


@dataclass
class Killed:
    """What one kill left.

    Attributes:
        in_time: Whether the command was killed before its end.
        whole: Outputs that are there, equal to those of an unbroken command.
        absent: Outputs that are not there.
        faults: What must not be.
    """

    in_time: bool
    whole: int = 0
    absent: int = 0
    faults: list[str] = field(default_factory=list)


def kill_at_random(folder: Path, kills: int, seed: int) -> Iterator[Killed]:
    """Kill commands in turn at random moments of their time, then repeat each to its end.

    Args:
        folder: An empty folder.
        kills: Number of kills.
        seed: Seed of the moments.
    """
    chance = random.Random(seed)
    known: dict[tuple[str, ...], tuple[float, dict[str, bytes]]] = {}
    for number in range(kills):
        command = COMMANDS[number % len(COMMANDS)]
        place = folder / str(number)
        if command not in known:
            _lay_out(folder / "unbroken")
            begin = time.monotonic()
            _start(command, folder / "unbroken").wait()
            known[command] = (time.monotonic() - begin, _files(folder / "unbroken" / "out"))
            shutil.rmtree(folder / "unbroken")
        taken, unbroken = known[command]
        yield _kill_once(command, place, taken * chance.uniform(0.02, 1.0), unbroken)
        shutil.rmtree(place)


def _lay_out(place: Path) -> None:
    (place / "out").mkdir(parents=True)
    shutil.copytree(ROOT / "scenarios", place / "scenarios")


def _start(command: tuple[str, ...], place: Path) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", "locosim", *command],
        cwd=place,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])},
    )


def _kill_once(command: tuple[str, ...], place: Path, moment: float, unbroken: dict[str, bytes]) -> Killed:
    """Kill a command and all its processes at a moment [s], look at what is left, and repeat it."""
    _lay_out(place)
    inputs = _files(place / "scenarios")
    program = _start(command, place)
    in_time = False
    try:
        program.wait(timeout=moment)
    except subprocess.TimeoutExpired:
        in_time = True
        os.killpg(program.pid, signal.SIGKILL)
        program.wait()
    killed = Killed(in_time)
    name = " ".join(command)
    for file, content in unbroken.items():
        found = place / "out" / file
        if not found.exists():
            killed.absent += 1
        elif found.read_bytes() == content:
            killed.whole += 1
        else:
            killed.faults.append(f"{name}: {file} is half-written after a kill at {moment:.2f} s")
    repeat = _start((*command, *(["--force"] if _may_force(command) else [])), place)
    repeat.wait()
    left = {
        file: content
        for file, content in _files(place / "out").items()
        if not file.rpartition("/")[2].startswith(".")
    }
    if killed.absent and left != unbroken:
        differing = sorted(key for key in left.keys() | unbroken.keys() if left.get(key) != unbroken.get(key))
        killed.faults.append(f"{name}: a repeat after a kill at {moment:.2f} s differs in {differing}")
    if _files(place / "scenarios") != inputs:
        killed.faults.append(f"{name}: an input was changed")
    return killed


def _may_force(command: tuple[str, ...]) -> bool:
    """Whether the repeat needs to overwrite; a batch goes on by itself, and `new` never overwrites."""
    return command[0] not in ("new", "batch")


def _files(folder: Path) -> dict[str, bytes]:
    """Content of every file below a folder, by its path."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
