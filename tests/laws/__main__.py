"""Count broken laws of the verdict over random pairs of excursions, and shrink each kind to its smallest case.

Example: `python -m tests.laws --pairs 5000 --seed 1`
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parent)]


def main() -> None:
    """Run the pairs and print the counts."""
    from counting import count_broken, shrink

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pairs", type=int, default=500, help="pairs to run")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--shrink", action="store_true", help="shrink one case of each kind of broken law")
    parser.add_argument("--only", help="shrink only rules with this in their name")
    asked = parser.parse_args()
    begun = time.process_time()
    found = count_broken(pairs=asked.pairs, seed=asked.seed)
    spent = time.process_time() - begun
    pairs = sum(found.pairs.values())
    print(
        f"{found.excursions} excursions, {pairs} pairs, of which {found.stalled} stall; {spent:.0f} s of CPU"
    )
    print(f"broken laws: {sum(found.broken.values())}")
    for kind, count in found.broken.most_common():
        overdrawn = ", steam allowance over 1" if kind.overdrawn else ""
        before, after = found.worst[kind]
        print(
            f"{count:5d} of {found.pairs[kind.change]:5d}  {kind.change}{overdrawn}: {kind.rule}, "
            f"worst {before:.3f} to {after:.3f}"
        )
        if asked.shrink and (asked.only is None or asked.only in kind.rule):
            print(f"       {shrink(kind, found.examples[kind])}", flush=True)
    print(f"apart, not alike: {sum(found.apart.values())}")
    for kind, count in found.apart.most_common():
        print(f"{count:5d} of {found.pairs[kind.change]:5d}  {kind.change}: {kind.rule}")


if __name__ == "__main__":
    main()
