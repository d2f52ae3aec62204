"""Computing times: one run in several languages, growth with length and cases, checks, and the start of a process."""

from __future__ import annotations

import json
import math
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from itertools import count
from pathlib import Path
from typing import Any, NamedTuple

from locosim.model import Excursion

ROOT = Path(__file__).resolve().parents[3]
TESTS = ROOT / "tests"
SCENARIOS = ROOT / "scenarios"
for folder in (TESTS / "journey", TESTS / "speed", TESTS):
    sys.path.insert(0, str(folder))

EXCURSIONS = ("spring_special", "harvest_excursion", "winter_freight", "summit_express")
LENGTHS = (25e3, 50e3, 100e3, 200e3, 400e3)  # of the lines along which growth is seen [m]
CASES = (25, 50, 100, 200)  # rows of the batches
SIMILAR = 40  # similar checks of each excursion
SAMPLES = (400, 2000)  # of a risk


class Spent(NamedTuple):
    """Time of a call."""

    wall: float  # [s]
    processor: float  # of this process and those it started [s]


class SimilarChecks(NamedTuple):
    """Processor time of checks that are each begun from one base."""

    excursion: str
    length: float  # of the run [m]
    least: float  # [s]
    mean: float  # [s]


def least(call: Callable[[], Any], times: int) -> float:
    """Shortest wall time of a call over some repetitions, after one to warm up [s]."""
    call()
    found = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        found.append(time.perf_counter() - start)
    return min(found)


def spent(call: Callable[[], Any]) -> Spent:
    """Wall and processor time of a call."""

    def processor() -> float:
        used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
        return sum(each.ru_utime + each.ru_stime for each in used)

    wall, before = time.perf_counter(), processor()
    call()
    return Spent(time.perf_counter() - wall, processor() - before)


def growth_exponent(sizes: Sequence[float], times: Sequence[float]) -> float:
    """Exponent of the power law closest to some times by size, by least squares of the logarithms [1]."""
    x, y = ([math.log(value) for value in values] for values in (sizes, times))
    middle_x, middle_y = sum(x) / len(x), sum(y) / len(y)
    rise = sum((a - middle_x) * (b - middle_y) for a, b in zip(x, y, strict=True))
    return rise / sum((a - middle_x) ** 2 for a in x)


def kernel_times(times: int) -> tuple[float, float]:
    """Shortest times of the 200 km run with the boiler simulated, and with steady pressure [s]."""
    import trials
    from long_line import two_hundred_kilometres

    from locosim.journey.run import run_prepared, with_rehearsal
    from locosim.journey.setup.prepare import prepare

    excursion = two_hundred_kilometres()
    performance = trials.performance(excursion)
    transient = with_rehearsal(prepare(excursion, performance, transient_boiler=True))
    steady = prepare(excursion, performance)
    return least(lambda: run_prepared(transient), times), least(lambda: run_prepared(steady), times)


def plain_times() -> tuple[float, float]:
    """The same in plain Python, in a process of its own [s]."""
    code = "from docs.build.performance.measures import kernel_times; print(*kernel_times(2))"
    environment = {**os.environ, "LOCOSIM_PURE_PYTHON": "1"}
    found = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env=environment, capture_output=True, text=True, check=True
    )
    transient, steady = map(float, found.stdout.split())
    return transient, steady


def time_in_c(times: int) -> float | None:
    """Shortest time of the 200 km run with steady pressure by the loop in C [s]; None where there is no gcc."""
    import trials
    from in_c import build, steady_run_in_c
    from long_line import two_hundred_kilometres

    from locosim.journey.setup.prepare import prepare

    excursion = two_hundred_kilometres()
    with tempfile.TemporaryDirectory() as folder:
        library = build(Path(folder))
        if library is None:
            return None
        return least(steady_run_in_c(library, prepare(excursion, trials.performance(excursion))), times)


def by_solver() -> tuple[float, float, float]:
    """The same run by scipy's solver on the reference of tests/journey: its time, its arrival and the kernel's [s]."""
    import trials
    from continuous import run_continuous
    from long_line import two_hundred_kilometres

    from locosim.journey.run import run_journey

    excursion = two_hundred_kilometres()
    performance = trials.performance(excursion)
    start = time.perf_counter()
    arrivals = run_continuous(excursion, performance)
    took = time.perf_counter() - start
    journey = run_journey(excursion, performance)
    return took, arrivals[-1].time - excursion.departure, journey.stops[-1].arrive - excursion.departure


def times_by_length() -> dict[str, list[float]]:
    """Shortest time of each part of a journey along lines of `LENGTHS` [s]."""
    from long_line import along_a_line

    found: dict[str, list[float]] = {}
    for length in LENGTHS:
        for name, call in _parts_of_a_journey(along_a_line(length)).items():
            found.setdefault(name, []).append(least(call, 12))
    return found


def _parts_of_a_journey(excursion: Excursion) -> dict[str, Callable[[], Any]]:
    """Calls for the parts of a journey."""
    import trials

    from locosim.journey.result import build_journey
    from locosim.journey.run import run_journey, run_prepared, with_rehearsal
    from locosim.journey.setup.prepare import MAX_STEP, prepare

    performance = trials.performance(excursion)
    prepared = prepare(excursion, performance, transient_boiler=True)
    rehearsed = with_rehearsal(prepared)
    arrays, number = run_prepared(rehearsed), count(1)
    return {
        # Another longest step each time, so that nothing of the mesh is found again.
        "preparing the line": lambda: prepare(excursion, performance, step=MAX_STEP - 1e-9 * next(number)),
        "the fireman's forecast": lambda: with_rehearsal(prepared),
        "run with the boiler": lambda: run_prepared(rehearsed),
        "balances and result": lambda: build_journey(rehearsed, arrays),
        "whole journey": lambda: run_journey(
            excursion, performance, transient_boiler=True, step=MAX_STEP - 1e-9 * next(number)
        ),
    }


def similar_checks() -> list[SimilarChecks]:
    """Similar checks of the demonstration excursions."""
    from similar import similar_excursions

    from locosim.planning.bands import with_bands
    from locosim.planning.check import run_and_check
    from locosim.planning.checker import Checker
    from locosim.scenario import load_excursion

    found = []
    for name in EXCURSIONS:
        excursion = load_excursion(SCENARIOS / "excursions" / f"{name}.toml")
        base = with_bands(run_and_check(excursion))
        checker, times = Checker(base), []
        for changed in similar_excursions(excursion, SIMILAR + 4):
            start = time.process_time()
            checker.check(changed)
            times.append(time.process_time() - start)
        del times[:4]
        length = float(base.journey.distance)
        found.append(SimilarChecks(name, length, min(times), sum(times) / len(times)))
    return found


def batch_times() -> dict[tuple[int, int], Spent]:
    """Time of a batch by rows and jobs."""
    return {
        (rows, jobs): spent(lambda rows=rows, jobs=jobs: _batch(rows, jobs))
        for rows, jobs in [(CASES[0], 1), *((rows, 1) for rows in CASES), (CASES[-1], 2)]
    }


def _batch(rows: int, jobs: int) -> None:
    from locosim.studies.batch import run_batch
    from locosim.studies.batch_rows import Grid

    values = {"initial_water": tuple(f"{1.0 - 0.002 * k:g}" for k in range(rows))}
    grid = Grid((str(SCENARIOS / "excursions" / "spring_special.toml"),), values=values)
    run_batch(grid, name="times", jobs=jobs)


def risk_times() -> dict[tuple[int, int], Spent]:
    """Time of a risk of the spring special by samples and jobs."""
    return {key: _risk_time(*key) for key in ((SAMPLES[0], 1), (SAMPLES[0], 2), (SAMPLES[-1], 2))}


def _risk_time(samples: int, jobs: int) -> Spent:
    from locosim.scenario import load_excursion
    from locosim.studies.risk import find_risk

    excursion = load_excursion(
        SCENARIOS / "excursions" / "spring_special.toml", ("uncertainty=../uncertainty/autumn.toml",)
    )
    return spent(lambda: find_risk(excursion, samples=samples, jobs=jobs))


def benchmark_times() -> dict[str, float]:
    """Shortest time of each benchmark of tests/speed, by its name [s]."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "times.json"
        options = ["--benchmark-enable", "--benchmark-max-time=0.5", f"--benchmark-json={file}"]
        command = [sys.executable, "-m", "pytest", "-q", "-n", "0", "tests/speed/test_timings.py", *options]
        subprocess.run(command, cwd=ROOT, check=False, stdout=subprocess.DEVNULL)
        # A budget that is missed is status 1; the times are there all the same.
        read = json.loads(file.read_text(encoding="utf-8"))
    return {each["name"]: each["stats"]["min"] for each in read["benchmarks"]}


def command_time(command: Sequence[str], times: int = 3) -> Spent:
    """Shortest time of a command in a new process, after one to warm up."""
    _run_command(command)
    return min(spent(lambda: _run_command(command)) for _ in range(times))


def first_check_time() -> Spent:
    """Time of a check whose cache of machine code and maps is empty."""
    with tempfile.TemporaryDirectory() as folder:
        command = ("-m", "locosim", "check", "scenarios/excursions/spring_special.toml")
        return spent(lambda: _run_command(command, LOCOSIM_CACHE=folder))


def _run_command(command: Sequence[str], **variables: str) -> None:
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    subprocess.run(
        [sys.executable, *command],
        cwd=ROOT,
        env={**environment, **variables},
        check=False,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
