"""Kill commands at random moments: `python -m tests.kills --kills 200 --seed 1`."""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from pathlib import Path

from tests.kills.killed import COMMANDS, Killed, kill_at_random


def main() -> None:
    """Kill commands, print the counts, and end with status 1 where a file was half-written or a repeat differed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    counts: Counter[str] = Counter()
    faults: list[str] = []
    with tempfile.TemporaryDirectory() as folder:
        for killed in kill_at_random(Path(folder), options.kills, options.seed):
            _count(killed, counts)
            faults += killed.faults
    print(
        f"{options.kills} kills over {len(COMMANDS)} commands, seed {options.seed}: {dict(sorted(counts.items()))}"
    )
    for fault in faults:
        print(fault)
    raise SystemExit(1 if faults else 0)


def _count(killed: Killed, counts: Counter[str]) -> None:
    counts["killed before the end" if killed.in_time else "ended before the kill"] += 1
    counts["files whole after the kill"] += killed.whole
    counts["files absent after the kill"] += killed.absent
    counts["faults"] += len(killed.faults)


if __name__ == "__main__":
    main()
