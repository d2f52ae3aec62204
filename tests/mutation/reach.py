"""Which test files run which lines, and how long each takes; and the branches that all of them run.

Each test file runs in a process of its own, so that no result kept by an earlier one hides a line. Coverage cannot see
compiled code: files that reach compiled functions run once more in plain Python, each test for a few seconds at most.
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path

import coverage

from tests.mutation.mutants import ROOT
from tests.mutation.processes import run_tests

# Tests of behavior, which may kill a mutant: no pages, no commands, nothing that asks how the source is written.
BEHAVIOR = (
    "physics", "engine", "journey", "planning", "laws", "model", "published", "odd", "validation", "library", "report",
    "studies", "survey",
)  # fmt: skip
NOT_BEHAVIOR = ("tests/validation/test_validation.py",)  # compares with pages that a program writes
PURE = ("physics", "journey")  # these reach the compiled functions
NOT_MEASURED = ("fuzz", "kills", "speed", "mutation")  # they run commands as processes, or time them
PURE_SECONDS = 2.0
PURE_FILE_SECONDS = 120.0
FILE_SECONDS = 600.0
NO_TESTS = 5  # status of pytest


@dataclass(frozen=True, slots=True)
class TestFile:
    """A test file: processor time [s], and the lines of each source file that it runs."""

    __test__ = False
    path: str
    seconds: float
    lines: dict[str, frozenset[int]]


def test_files() -> list[str]:
    """Test files that are measured, those of behavior first."""
    found = sorted(path.relative_to(ROOT).as_posix() for path in (ROOT / "tests").rglob("test_*.py"))
    kept = [path for path in found if room(path) not in NOT_MEASURED]
    return sorted(kept, key=lambda path: (not is_behavior(path), path))


def is_behavior(path: str) -> bool:
    """Whether a test file may kill mutants."""
    return room(path) in BEHAVIOR and path not in NOT_BEHAVIOR


def measure(folder: Path, cache: Path, jobs: int, *, everything: bool) -> None:
    """Run the test files that have not yet been measured in this folder as they are.

    Args:
        folder: For one file of data and one of time for each test file and way of running.
        cache: Folder of machine code and maps.
        jobs: Files that run at once.
        everything: All test files, for the branches; else those of behavior.
    """
    folder.mkdir(parents=True, exist_ok=True)
    files = [path for path in test_files() if everything or is_behavior(path)]
    tasks = [(path, pure) for path in files for pure in ((False, True) if room(path) in PURE else (False,))]
    tasks = [task for task in tasks if not _time_file(folder, *task).exists()]
    with ProcessPoolExecutor(jobs) as pool:
        for path, pure, seconds in pool.map(partial(_measure_one, folder, cache), tasks):
            print(f"{seconds:7.1f} s  {path}{' in plain Python' if pure else ''}", flush=True)


def _measure_one(folder: Path, cache: Path, task: tuple[str, bool]) -> tuple[str, bool, float]:
    path, pure = task
    time_file = _time_file(folder, path, pure)
    ended = run_tests(
        [path], tree=ROOT, cache=cache, log=time_file.with_suffix(".log"), pure=pure,
        seconds=PURE_FILE_SECONDS if pure else FILE_SECONDS, each=PURE_SECONDS if pure else FILE_SECONDS,
        data_file=time_file.with_suffix(".coverage"),
    )  # fmt: skip
    time_file.write_text(json.dumps({"seconds": ended.seconds, "status": ended.status}), encoding="ascii")
    return path, pure, ended.seconds


def _time_file(folder: Path, path: str, pure: bool) -> Path:
    """File for the time of a test file, named by the content of it and of the source as well."""
    content = _source_digest() + (ROOT / path).read_bytes()
    name = path.removesuffix(".py").replace("/", ".")
    return folder / f"{name}{'.pure' if pure else ''}.{hashlib.sha256(content).hexdigest()[:12]}.json"


@cache
def _source_digest() -> bytes:
    found = hashlib.sha256()
    for path in sorted((ROOT / "locosim").rglob("*.py")):
        found.update(path.read_bytes())
    return found.digest()


def read_reach(folder: Path) -> list[TestFile]:
    """What each test file of behavior reaches, quickest first; processor time is that of the compiled run.

    Raises:
        SystemExit: A test file fails without a fault.
    """
    found = []
    for path in filter(is_behavior, test_files()):
        measured = json.loads(_time_file(folder, path, False).read_text(encoding="ascii"))
        if measured["status"] not in (0, NO_TESTS):
            raise SystemExit(f"{path} fails without a fault, so it can judge none; mend it first")
        seconds = measured["seconds"]
        lines: defaultdict[str, set[int]] = defaultdict(set)
        for pure in (False, True):
            data = _time_file(folder, path, pure).with_suffix(".coverage")
            if data.exists():
                for file, ran in _lines(data):
                    lines[file] |= ran
        found.append(TestFile(path, seconds, {file: frozenset(ran) for file, ran in lines.items()}))
    return sorted(found, key=lambda each: each.seconds)


def _lines(path: Path) -> Iterable[tuple[str, set[int]]]:
    data = coverage.CoverageData(str(path))
    data.read()
    for file in data.measured_files():
        yield Path(file).relative_to(ROOT / "locosim").as_posix(), set(data.lines(file) or ())


def report(folder: Path) -> None:
    """Print the branch coverage of each room and of the package, and the lines and branches that nothing runs."""
    whole = coverage.Coverage(data_file=str(folder / "all.coverage"), branch=True, config_file=False)
    whole.exclude("if TYPE_CHECKING:")
    tasks = [(path, pure) for path in test_files() for pure in (False, True)]
    found = [_time_file(folder, *task).with_suffix(".coverage") for task in tasks]
    whole.combine([str(path) for path in found if path.exists()], keep=True)
    rooms: defaultdict[str, list[int]] = defaultdict(lambda: [0, 0, 0, 0])
    for path in sorted((ROOT / "locosim").rglob("*.py")):
        numbers = whole._analyze(str(path)).numbers
        name = path.relative_to(ROOT / "locosim").parts
        for room in (name[0] if len(name) > 1 else "top", *_judged_room(name), "all"):
            counted = (
                numbers.n_statements,
                numbers.n_executed,
                numbers.n_branches,
                numbers.n_executed_branches,
            )
            rooms[room] = [a + b for a, b in zip(rooms[room], counted, strict=True)]
    print(f"{'room':<22}{'statements':>12}{'run':>9}{'branches':>10}{'run':>9}{'both':>9}")
    for room, (statements, ran, branches, taken) in sorted(rooms.items()):
        both = (ran + taken) / max(statements + branches, 1)
        print(
            f"{room:<22}{statements:>12}{ran / max(statements, 1):>9.1%}{branches:>10}"
            f"{taken / max(branches, 1):>9.1%}{both:>9.1%}"
        )
    with (folder / "missing.txt").open("w", encoding="utf-8") as file:
        whole.report(show_missing=True, skip_covered=True, file=file)


def _judged_room(name: tuple[str, ...]) -> list[str]:
    return ["journey/kernel"] if name[:2] == ("journey", "kernel") else []


def room(path: str) -> str:
    """The folder of the tests in which a test file is."""
    parts = path.split("/")
    return parts[1] if len(parts) > 2 else ""
