"""Try damaged and odd inputs: `python -m tests.fuzz --cases 100000 --seed 1`."""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context
from pathlib import Path

from tests.fuzz.many_cases import CORPUS, Tally, judge_share


def main() -> None:
    """Judge cases, print counts, and end with status 1 where one failed; failed cases are written for the corpus."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1, help="processes, of which no two judge the same case")
    parser.add_argument("--max-time", type=float, default=float("inf"), help="stop after so many seconds")
    parser.add_argument("--to", type=Path, default=CORPUS, help="folder for cases that failed")
    options = parser.parse_args()
    found = Tally()
    if options.jobs == 1:
        found.add(judge_share(options, 0))
    else:
        with ProcessPoolExecutor(options.jobs, mp_context=get_context("spawn")) as processes:
            for share in processes.map(partial(judge_share, options), range(options.jobs)):
                found.add(share)
    print(
        f"seed {options.seed}: {dict(sorted(found.counts.items()))}, slowest {found.cpu_time:.1f} s of CPU time, "
        f"at most {found.memory / 1e6:.0f} MB of memory"
    )
    raise SystemExit(1 if found.counts["faults"] else 0)


if __name__ == "__main__":
    main()
