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

from tests.fuzz.strategies import bundled

ROOT = Path(__file__).resolve().parents[2]
SPRING = "excursions/spring_special.toml"
SMALL = "odd/garden.toml"
ENGINE = "odd/wren.toml"
LINE = "odd/line.toml"
HANDBOOK = ("--method", "handbook")

# Each command, with all its outputs in the folder `out`. Most take the small railway of the fuzz, as it is quick.
COMMANDS: tuple[tuple[str, ...], ...] = (
    ("check", SPRING, "--no-remedies", "--report", "out/a.html", "--plot", "out/a.svg"),
    ("run", SPRING, "--csv", "out/a.csv", "--plot", "out/a.png"),
    ("day", "odd/day.toml", "--csv", "out/a.csv", "--plot", "out/a.svg"),
    ("load", SMALL, "--no-conditions", "--csv", "out/a.csv", "--plot", "out/a.svg"),
    ("consists", SMALL, "--consists", "odd/consists.csv", "--csv", "out/a.csv", "--plot", "out/a.svg"),
    ("vary", SPRING, "train.vehicles[1].count=4:8", "--csv", "out/a.csv", "--plot", "out/a.pdf"),
    ("batch", "--excursion", SPRING, "--values", "train.vehicles[1].count=4:9", "--values", "rail=dry,wet",
     "--output", "out/a.csv", "--plot", "out/a.svg"),
    ("timetable", SMALL, "--to", "out/a.toml", "--csv", "out/a.csv", "--plot", "out/a.svg"),
    ("economy", SMALL, "--csv", "out/a.csv", "--plot", "out/a.svg"),
    ("water", SMALL, "--csv", "out/a.csv", "--plot", "out/a.svg"),
    ("helper", SMALL, "--csv", "out/a.csv", "--plot", "out/a.svg"),
    ("risk", SMALL, "--samples", "20", "--jobs", "1", "--csv", "out/a.csv", "--plot", "out/a.svg"),
    ("curve", ENGINE, *HANDBOOK, "--plot", "out/a.svg"),
    ("cutoff", ENGINE, "6 mph", *HANDBOOK, "--plot", "out/a.svg"),
    ("rating", ENGINE, *HANDBOOK, "--csv", "out/a.csv", "--plot", "out/a.svg"),
    ("diagram", ENGINE, "6 mph", "50 %", "--plot", "out/a.svg"),
    ("boiler", ENGINE, *HANDBOOK, "--plot", "out/a.svg"),
    ("compare", ENGINE, "odd/bracken.toml", *HANDBOOK, "--plot", "out/a.svg"),
    ("test-sheet", "engines/teasel.toml", "--plot", "out/a.svg"),
    ("fit", "logs/spring_special.csv", SPRING, "--to", "out/a.toml", "--csv", "out/a.csv", "--plot", "out/a.svg"),
    ("new", "engine", "out/a.toml"),
    ("new", "example", "out/example"),
    ("route show", LINE, "--csv", "out/a.csv", "--plot", "out/a.svg"),
    ("route make", "tracks/quarry_branch.gpx", "--speed-limit", "20 mph", "--to", "out/a.toml", "--plot", "out/a.svg"),
    ("route smooth", "routes/quernby_line.toml", "--to", "out/a.toml", "--plot", "out/a.svg"),
    ("route reverse", LINE, "--to", "out/a.toml", "--plot", "out/a.svg"),
    ("route join", LINE, "routes/quernby_line.toml", "--to", "out/a.toml", "--plot", "out/a.svg"),
    ("route cut", LINE, "--to", "out/a.toml", "--start", "Gate", "--plot", "out/a.svg"),
)  # fmt: skip


def words(command: tuple[str, ...]) -> list[str]:
    """The arguments of a command; its name may be two words."""
    return [*command[0].split(), *command[1:]]


def on_small_railway(command: tuple[str, ...]) -> list[str]:
    """Arguments for a quick run: the small railway, but for `fit`, and no picture where there is another output."""
    outputs = [word for word in command if word.startswith("out/")]
    at = command.index("--plot") if "--plot" in command and len(outputs) > 1 else len(command)
    replaced = SPRING if command[0] == "fit" else SMALL  # a log belongs to its run
    return [word.replace(SPRING, replaced) for word in words((*command[:at], *command[at + 2 :]))]


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
            lay_out(folder / "unbroken")
            begin = time.monotonic()
            _start(command, folder / "unbroken").wait()
            known[command] = (time.monotonic() - begin, _files(folder / "unbroken" / "out"))
            shutil.rmtree(folder / "unbroken")
        taken, unbroken = known[command]
        yield _kill_once(command, place, taken * chance.uniform(0.02, 1.0), unbroken)
        shutil.rmtree(place)


def lay_out(place: Path) -> None:
    """Write the railway and an empty folder `out` into a folder."""
    (place / "out").mkdir(parents=True)
    for name, text in bundled().items():
        (place / name).parent.mkdir(parents=True, exist_ok=True)
        (place / name).write_text(text, encoding="utf-8")


def _start(command: tuple[str, ...], place: Path) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", "locosim", *words(command)],
        cwd=place,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])},
    )


def _kill_once(command: tuple[str, ...], place: Path, moment: float, unbroken: dict[str, bytes]) -> Killed:
    """Kill a command and all its processes at a moment [s], look at what is left, and repeat it."""
    lay_out(place)
    inputs = _inputs(place)
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
    killed.faults += [
        f"{name}: left {file} after a kill at {moment:.2f} s" for file in _left(place, unbroken)
    ]
    repeat = _start((*command, *(["--force"] if _may_force(command) else [])), place)
    repeat.wait()
    left = _files(place / "out")
    if killed.absent and left != unbroken:
        differing = sorted(key for key in left.keys() | unbroken.keys() if left.get(key) != unbroken.get(key))
        killed.faults.append(f"{name}: a repeat after a kill at {moment:.2f} s differs in {differing}")
    if _inputs(place) != inputs:
        killed.faults.append(f"{name}: an input was changed")
    return killed


def _left(place: Path, unbroken: dict[str, bytes]) -> list[str]:
    """Files that a kill left, but for what the next command goes on with or clears: a journal, and a folder half-made.

    Where the system has no files without a name, a kill leaves temporary ones.
    """
    found = [file for file in _files(place / "out") if file not in unbroken and not file.endswith(".journal")]
    return [file for file in found if hasattr(os, "O_TMPFILE") and not file.startswith(".example.")]


def _inputs(place: Path) -> dict[str, bytes]:
    return {file: content for file, content in _files(place).items() if not file.startswith("out/")}


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
