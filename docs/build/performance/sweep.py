"""A batch over a million kilometers of line: 5,000 trips over 25 invented lines of 200 km, 200 trips each."""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from pathlib import Path
from typing import NamedTuple

import numpy as np

LINES = 25
STATIONS = range(0, 201, 50)  # [km]
PARTS = (LINES // 5, LINES)  # lines of the two batches: whether memory grows shows between them


class Sweep(NamedTuple):
    """A batch of many trips."""

    distance: float  # of all trips [m]
    rows: int
    wall: float  # [s]
    processor: float  # of all its processes [s]
    memory: float  # most of one process [byte]


def sweep(folder: Path, lines: int, scenarios: Path) -> Sweep:
    """Write the lines and the grid into a folder, and run the batch on two cores as a command.

    Args:
        folder: An empty folder.
        lines: Number of lines.
        scenarios: Folder of the example railway, for engine and train.
    """
    for number in range(lines):
        _write_line(folder, number)
    (folder / "plan.toml").write_text(_plan(scenarios), encoding="utf-8")
    (folder / "grid.toml").write_text(_grid(lines), encoding="utf-8")
    begun, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    command = ["-m", "locosim", "batch", "grid.toml", "--output", "rows.csv", "--jobs", "2"]
    subprocess.run([sys.executable, *command], cwd=folder, check=True, capture_output=True)
    wall, after = time.perf_counter() - begun, resource.getrusage(resource.RUSAGE_CHILDREN)
    rows = (folder / "rows.csv").read_text(encoding="utf-8").count("\n") - 1
    processor = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    # The most of any process that this one started: measure each batch from a process of its own.
    return Sweep(1e3 * STATIONS[-1] * rows, rows, wall, processor, 1024.0 * after.ru_maxrss)


def sweeps(folder: Path, scenarios: Path) -> list[Sweep]:
    """The batches of `PARTS`, each in a process that measures only its own."""
    found = []
    for lines in PARTS:
        part = folder / str(lines)
        part.mkdir()
        code = (
            "import sys; from pathlib import Path; from docs.build.performance.sweep import sweep; "
            "print(*sweep(Path(sys.argv[1]), int(sys.argv[2]), Path(sys.argv[3])))"
        )
        ran = subprocess.run(
            [sys.executable, "-c", code, str(part), str(lines), str(scenarios)],
            cwd=Path(__file__).resolve().parents[3],
            check=True,
            capture_output=True,
            text=True,
        )
        distance, rows, *rest = ran.stdout.split()
        found.append(Sweep(float(distance), int(rows), *map(float, rest)))
    return found


def _write_line(folder: Path, number: int) -> None:
    """A line with another grade on each kilometer, up to 1 %, and a station on each 50 km."""
    grades = np.random.default_rng(number).normal(0.0, 0.35, STATIONS[-1]).clip(-1.0, 1.0)
    rows = [f"{kilometer},{grade:.2f}" for kilometer, grade in enumerate(grades)]
    profile = "\n".join(("chainage [km],grade [%]", *rows, f"{STATIONS[-1]},"))
    (folder / f"line{number:02d}.csv").write_text(f"{profile}\n", encoding="utf-8")
    stations = "".join(
        f'\n[[stations]]\nname = "S{at}"\nchainage = "{at} km"\nwater_rate = "60 m^3/hour"\n'
        'fuel_rate = "15 tonne/hour"\n'
        for at in STATIONS
    )
    (folder / f"line{number:02d}.toml").write_text(
        f'name = "Line {number}"\nprofile = "line{number:02d}.csv"\nspeed_limit = "70 km/h"\n'
        f'axle_load_limit = "22 tonne"\nreferences = ["invented"]\n{stations}',
        encoding="utf-8",
    )


def _plan(scenarios: Path) -> str:
    between = "".join(
        f'\n[[stops]]\nstation = "S{at}"\ntake_water = "fill"\ntake_fuel = "fill"\ndwell = "12 minute"\n'
        for at in STATIONS[1:-1]
    )
    return (
        f'name = "Sweep"\nlocomotive = "{scenarios}/engines/campion.toml"\n'
        f'train = "{scenarios}/trains/wooden_six.toml"\nroute = "line00.toml"\ndeparture = "08:00"\n'
        f'\n[[stops]]\nstation = "S0"\n{between}\n[[stops]]\nstation = "S{STATIONS[-1]}"\n'
        '\n[crew]\nhabit = "steady_steam"\nmax_speed = "60 km/h"\n'
    )


def _grid(lines: int) -> str:
    routes = ", ".join(f'"line{number:02d}.toml"' for number in range(lines))
    return (
        f'excursions = ["plan.toml"]\nroutes = [{routes}]\n\n[values]\nrail = ["dry", "wet"]\n'
        'weather.headwind = "0:18:2 mph"\n"train.vehicles[1].count" = [1, 2, 3, 4, 5]\ninitial_water = [1.0, 0.9]\n'
    )
