"""Try damaged and odd inputs: `python -m tests.fuzz --cases 100000 --seed 1`."""

from __future__ import annotations

import argparse
import tempfile
import time
from collections import Counter
from hashlib import sha256
from pathlib import Path

from hypothesis import HealthCheck, Phase, given, seed, settings

from tests.fuzz.judge import Bench
from tests.fuzz.strategies import FuzzCase, cases

AT_ONCE = 1000  # cases of one Hypothesis run, each with a seed of its own
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
    slowest, seen, ends = 0.0, set[str](), time.monotonic() + options.max_time
    judged_before: set[bytes] = set()  # Hypothesis repeats parts of cases, and so whole ones

    def judge(case: FuzzCase) -> None:
        nonlocal slowest
        if time.monotonic() > ends or counts["cases"] >= options.cases:
            return
        digest = sha256(case.text().encode()).digest()
        if digest in judged_before:
            return
        judged_before.add(digest)
        judged = bench.judge(case)
        slowest = max(slowest, judged.cpu_time)
        counts.update(["cases", f"status {judged.status}"])
        if judged.faults:
            counts["faults"] += 1
            if judged.faults[0][-150:] not in seen:
                seen.add(judged.faults[0][-150:])
                _keep(case, judged.faults, options.to)

    part = 0
    while counts["cases"] < options.cases and time.monotonic() < ends:
        run_examples(judge, options.seed * 1_000_003 + part, AT_ONCE)
        part += 1
    return counts, slowest


def _keep(case: FuzzCase, faults: list[str], folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{sha256(case.text().encode()).hexdigest()[:12]}.json"
    path.write_text(case.text(), encoding="utf-8")
    print(f"{path.name}: {[word[:80] for word in case.arguments]}\n    {'; '.join(faults)}", flush=True)


def run_examples(judge: object, number: int, count: int, whole_runs: int = 1) -> None:
    """Draw cases by Hypothesis from a seed and call a function with each."""
    drawn = settings(
        max_examples=count, database=None, deadline=None, phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    seed(number)(drawn(given(case=cases(whole_runs))(lambda case: judge(case))))()  # type: ignore[operator]


if __name__ == "__main__":
    main()
