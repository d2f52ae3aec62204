"""Try damaged and odd inputs: `python -m tests.fuzz --cases 100000 --seed 1`."""

from __future__ import annotations

import argparse
import tempfile
import time
from collections import Counter
from collections.abc import Callable
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


def main() -> None:
    """Judge cases, print counts, and end with status 1 where one failed; failed cases are written for the corpus."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--max-time", type=float, default=float("inf"), help="stop after so many seconds")
    parser.add_argument("--to", type=Path, default=CORPUS, help="folder for cases that failed")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        counts, slowest = _judge_all(Bench(Path(folder) / "railway"), options)
    print(f"seed {options.seed}: {dict(sorted(counts.items()))}, slowest {slowest:.1f} s of CPU time")
    raise SystemExit(1 if counts["faults"] else 0)


def _judge_all(bench: Bench, options: argparse.Namespace) -> tuple[Counter[str], float]:
    counts: Counter[str] = Counter()
    slowest, seen, ends = 0.0, Counter[str](), time.monotonic() + options.max_time

    def judge(case: FuzzCase) -> None:
        nonlocal slowest
        judged = bench.judge(case)
        slowest = max(slowest, judged.cpu_time)
        counts.update(["cases", f"status {judged.status}"])
        if judged.faults:
            counts["faults"] += 1
            seen.update([judged.faults[0][-150:]])
            if seen[judged.faults[0][-150:]] <= KEPT_OF_ONE_MESSAGE:
                _keep(case, judged.faults, options.to)
        if counts["cases"] % 5000 == 0:
            print(dict(sorted(counts.items())), flush=True)

    for_each_case(judge, options.seed, options.cases, ends=ends)
    return counts, slowest


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
    whole_runs: int = 1,
    ends: float = float("inf"),
) -> None:
    """Draw cases by Hypothesis from a seed until so many that differ were judged, or a time [s] has come."""
    judged: set[bytes] = set()  # Hypothesis repeats parts of cases, and so whole ones

    def judge_new(case: FuzzCase) -> None:
        digest = sha256(case.text().encode()).digest()
        if len(judged) < count and time.monotonic() < ends and digest not in judged:
            judged.add(digest)
            judge(case)

    part = 0
    while len(judged) < count and time.monotonic() < ends:
        draws = min(AT_ONCE, 20 + 3 * (count - len(judged)) // 2)
        each_drawn(cases(whole_runs), number * 1_000_003 + part, draws, judge_new)
        part += 1


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
    return st.integers(0, 399).flatmap(
        lambda drawn: (
            run_cases() if drawn < whole_runs else (command_cases() if drawn % 2 else reading_cases())
        )
    )


if __name__ == "__main__":
    main()
