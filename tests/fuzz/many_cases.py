"""Many cases drawn from a seed, judged by one process or shared by several."""

from __future__ import annotations

import argparse
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path

from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from tests.fuzz.commands import command_cases
from tests.fuzz.judge import Bench
from tests.fuzz.strategies import FuzzCase, reading_cases, run_cases

AT_ONCE = 1000  # cases of one Hypothesis run, each with a seed of its own
KEPT_OF_ONE_MESSAGE = 10  # two causes can end in one message
CORPUS = Path(__file__).resolve().parent / "corpus"


@dataclass
class Tally:
    """What came of the cases of one process or of all."""

    counts: Counter[str] = field(default_factory=Counter)
    messages: Counter[str] = field(default_factory=Counter)
    cpu_time: float = 0.0  # s of the slowest case
    memory: int = 0  # bytes, the most that one process had

    def add(self, other: Tally) -> None:
        """Add the cases of another process."""
        self.counts += other.counts
        self.cpu_time, self.memory = max(self.cpu_time, other.cpu_time), max(self.memory, other.memory)


def judge_share(options: argparse.Namespace, job: int) -> Tally:
    """Judge the cases that fall to one of the processes that the options of the command ask for."""
    tally, ends = Tally(), time.monotonic() + options.max_time

    def judge(case: FuzzCase) -> None:
        judged = bench.judge(case)
        tally.cpu_time, tally.memory = max(tally.cpu_time, judged.cpu_time), max(tally.memory, judged.memory)
        tally.counts.update(["cases", f"status {judged.status}"])
        if judged.faults:
            tally.counts["faults"] += 1
            tally.messages.update([judged.faults[0][-150:]])
            if tally.messages[judged.faults[0][-150:]] <= KEPT_OF_ONE_MESSAGE:
                _keep(case, judged.faults, options.to)
        if tally.counts["cases"] % 5000 == 0:
            print(f"process {job + 1}: {dict(sorted(tally.counts.items()))}", flush=True)

    count = (options.cases + job) // options.jobs  # over all jobs, just so many cases
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder) / "railway")
        for_each_case(judge, options.seed, count, ends=ends, share=(job, options.jobs))
    return tally


def _keep(case: FuzzCase, faults: list[str], folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{sha256(case.text().encode()).hexdigest()[:12]}.json"
    path.write_text(case.text(), encoding="utf-8")
    print(f"{path.name}: {[word[:80] for word in case.arguments]}\n    {'; '.join(faults)}", flush=True)


def for_each_case(
    judge: Callable[[FuzzCase], None],
    number: int,
    count: int,
    *,
    whole_runs: int = 2,
    ends: float = float("inf"),
    share: tuple[int, int] = (0, 1),
) -> None:
    """Draw cases by Hypothesis from a seed until so many that differ were judged, or a time [s] has come.

    A share (k, n) judges only the cases that fall to number k of n processes, so that no two judge the same case.
    """
    job, jobs = share
    judged: set[bytes] = set()  # Hypothesis repeats parts of cases, and so whole ones

    def judge_new(case: FuzzCase) -> None:
        digest = sha256(case.text().encode()).digest()
        if int.from_bytes(digest) % jobs != job:
            return
        if len(judged) < count and time.monotonic() < ends and digest not in judged:
            judged.add(digest)
            judge(case)

    part = job
    while len(judged) < count and time.monotonic() < ends:
        draws = min(AT_ONCE, 20 + 3 * jobs * (count - len(judged)) // 2)
        each_drawn(cases(whole_runs), number * 1_000_003 + part, draws, judge_new)
        part += jobs


def each_drawn(
    strategy: st.SearchStrategy[FuzzCase], number: int, count: int, use: Callable[[FuzzCase], None]
) -> None:
    """Call a function with so many cases of a strategy, drawn from a seed."""
    drawn = settings(
        max_examples=count, database=None, deadline=None, phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    seed(number)(drawn(given(case=strategy)(lambda case: use(case))))()


def cases(whole_runs: int) -> st.SearchStrategy[FuzzCase]:
    """Return all cases: a command for one file read, and that many in 400 a whole run of the example railway."""
    # Whole runs by middle numbers: Hypothesis draws the ends of the range far more often than the others.
    return st.integers(0, 399).flatmap(
        lambda drawn: (
            run_cases()
            if 200 <= drawn < 200 + whole_runs
            else (command_cases() if drawn % 2 else reading_cases())
        )
    )
