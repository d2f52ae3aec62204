"""Try mutants: run the tests that reach each, mirrored room first, quickest first, until one fails."""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from functools import partial
from itertools import takewhile
from pathlib import Path

from tests.mutation.mutants import ROOT, Mutant
from tests.mutation.processes import TIMED_OUT, Ended, run_tests
from tests.mutation.reach import PURE, TestFile, room
from tests.mutation.stored import cache_for, is_compiled, touches_compiled

BUDGET = 30.0  # processor time of the test files chosen for one mutant, beyond which no more are added [s]
LEAST_FILES = 3
# Holds figures to the theory pages, which are written by hand with their sources; what it alone finds is counted apart.
PAGES = "tests/test_theory_docs.py"
FAILED = re.compile(r"^(?:FAILED|ERROR) (\S+)", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Tried:
    """What became of a mutant: killed, stated on a page written by hand, survived or unreached; and by which test."""

    mutant: Mutant
    outcome: str
    by: str
    seconds: float

    def line(self) -> str:
        """As one line of JSON."""
        return json.dumps(asdict(self))


def try_all(
    mutants: Sequence[Mutant], reach: Sequence[TestFile], *, work: Path, jobs: int
) -> Iterator[Tried]:
    """Try mutants in their order.

    Args:
        mutants: Those to try.
        reach: What each test file runs.
        work: Folder with the cache of the source without a fault; each job copies its tree there.
        jobs: Mutants tried at once.
    """
    with ProcessPoolExecutor(jobs) as pool:
        yield from pool.map(partial(_try_one, reach=reach, work=work), mutants)


def tests_for(mutant: Mutant, reach: Sequence[TestFile]) -> list[TestFile]:
    """Test files that reach a mutant, those of its own room first, each room's quickest first, within the budget.

    A fault outside functions is reached on import; then those files count that run some function of its file.
    """
    if mutant.function:
        lines = set(range(mutant.line, mutant.end_line + 1)) | {mutant.statement}
        found = [each for each in reach if lines & each.lines.get(mutant.file, frozenset())]
        if is_compiled(
            mutant.file
        ):  # the run in plain Python ends too early to see all that its own tests reach
            folder = f"tests/{mutant.file.rpartition('/')[0]}/"
            found = [each for each in reach if each in found or each.path.startswith(folder)]
    else:
        least = min((len(each.lines[mutant.file]) for each in reach if mutant.file in each.lines), default=0)
        found = [each for each in reach if len(each.lines.get(mutant.file, ())) > least]
        found = found or [each for each in reach if mutant.file in each.lines]
    found.sort(key=lambda each: (-_nearness(each.path, mutant.file), each.seconds))
    chosen, seconds = [], 0.0
    for each in found:
        if len(chosen) < LEAST_FILES or seconds + each.seconds <= BUDGET:
            chosen.append(each)
            seconds += each.seconds
    return chosen


def _nearness(test: str, file: str) -> int:
    """How many folders a test file and a source file share; a name that recurs, and published values count more."""
    above, below = test.split("/")[1:-1], file.split("/")[:-1]
    shared = sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(above, below, strict=False)))
    stem = file.split("/")[-1].removesuffix(".py")
    return shared + 2 * (stem in test.split("/")[-1]) + (above == ["published"] and below[0] == "physics")


def _try_one(mutant: Mutant, *, reach: Sequence[TestFile], work: Path) -> Tried:
    chosen = tests_for(mutant, reach)
    if not chosen:
        return Tried(mutant, "unreached", "", 0.0)
    job = work / f"job-{os.getpid()}"
    tree = job / "tree"
    if not tree.exists():
        copy_tree(ROOT, tree)
    source = tree / "locosim" / mutant.file
    whole = source.read_text(encoding="utf-8")
    source.write_text(mutant.applied(whole), encoding="utf-8")
    try:
        cache_for(mutant.file, tree, work / "cache", job / "cache")
        return _outcome(mutant, chosen, job)
    finally:
        source.write_text(whole, encoding="utf-8")
        shutil.rmtree(job / "cache", ignore_errors=True)


def _outcome(mutant: Mutant, chosen: Sequence[TestFile], job: Path) -> Tried:
    """Run the chosen files: faults of compiled functions first in plain Python, where that is quick."""
    runs = [(False, list(chosen))]
    if touches_compiled(mutant.file) and not mutant.file.startswith(("physics/cylinder", "engine/")):
        plain = [each for each in chosen if room(each.path) in PURE and "cylinder" not in each.path]
        runs = [(True, plain), (False, list(chosen))]
    seconds = 0.0
    for pure, files in runs:
        if not files:
            continue
        limit = 60.0 + 5.0 * sum(each.seconds for each in files)
        ended = run_tests(
            [each.path for each in files], tree=job / "tree", cache=job / "cache", log=job / "log", pure=pure,
            seconds=limit, each=20.0 if pure else None,
        )  # fmt: skip
        seconds += ended.seconds
        killer = _killer(ended, job / "log")
        if killer:
            return Tried(mutant, "killed", killer + (" in plain Python" if pure else ""), seconds)
    ended = run_tests([PAGES], tree=job / "tree", cache=job / "cache", log=job / "log", seconds=120.0)
    seconds += ended.seconds
    killer = _killer(ended, job / "log")
    if killer:
        return Tried(mutant, "stated", killer, seconds)
    return Tried(mutant, "survived", f"{len(chosen)} test files", seconds)


def _killer(ended: Ended, log: Path) -> str:
    """The test that failed, or another word for why the mutant is dead; nothing if it lives.

    Raises:
        RuntimeError: pytest itself failed.
    """
    if ended.status == 0:
        return ""
    if ended.status == TIMED_OUT:
        return "out of time, or the process died"
    text = log.read_text(encoding="utf-8", errors="replace")
    if ended.status not in (1, 2):
        raise RuntimeError(f"pytest ended with {ended.status}\n{text[-3000:]}")
    found = FAILED.search(text)
    return found[1] if found else text[-300:]


def copy_tree(source: Path, tree: Path) -> None:
    """Copy the source and its tests, without what git and runs leave."""
    shutil.copytree(
        source, tree, ignore=shutil.ignore_patterns(".git", ".*_cache", ".hypothesis", ".benchmarks")
    )
