"""Try mutants: `python -m tests.mutation --mutants 300 --seed 1 --jobs 2`; with `--coverage`, count branches."""

from __future__ import annotations

import argparse
import math
import tempfile
import tomllib
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from tests.mutation import reach
from tests.mutation.mutants import ROOMS, Mutant, all_mutants, of_rooms, sample
from tests.mutation.trials_of_mutants import Tried, try_all

EQUIVALENT = Path(__file__).with_name("equivalent.toml")
LEAST_KILLED = 0.92


def main() -> None:
    """Measure what tests reach, then try mutants; end with status 1 where too many survive."""
    options = _options()
    with tempfile.TemporaryDirectory() as folder:
        work = options.work or Path(folder)
        reach.measure(work / "reach", work / "cache", options.jobs, everything=options.coverage)
        if options.coverage:
            reach.report(work / "reach")
            return
        files = all_mutants()
        equivalent = read_equivalent(EQUIVALENT, files)
        drawn = sample(of_rooms(files, options.rooms), options.mutants, options.seed)
        tried = []
        found = reach.read_reach(work / "reach")
        for each in try_all(drawn, found, work=work, jobs=options.jobs):
            if each.outcome == "survived" and key(each.mutant) in equivalent:
                each = Tried(each.mutant, "equivalent", equivalent[key(each.mutant)], each.seconds)
            tried.append(each)
            _print_one(each, len(tried))
            if options.log:
                with options.log.open("a", encoding="utf-8") as log:
                    log.write(each.line() + "\n")
    raise SystemExit(0 if summary(tried) >= LEAST_KILLED else 1)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--mutants", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--rooms", nargs="+", choices=ROOMS, default=ROOMS, help="draw from these rooms alone"
    )
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--work", type=Path, help="folder that keeps what is measured for the next time")
    parser.add_argument("--log", type=Path, help="file to which one line of JSON is added for each mutant")
    parser.add_argument(
        "--coverage", action="store_true", help="print the branch coverage of all tests and end"
    )
    return parser.parse_args()


def key(mutant: Mutant) -> tuple[str, str, str, str]:
    """What names a mutant in the list of equivalent ones; no line number, which moves."""
    return mutant.file, mutant.function, mutant.text, mutant.change


def read_equivalent(path: Path, files: dict[str, list[Mutant]]) -> dict[tuple[str, str, str, str], str]:
    """Mutants that no test can kill, each with its reason.

    Args:
        path: The list.
        files: All mutants there are.

    Raises:
        SystemExit: An entry is no mutant any more, or has no reason.
    """
    known = {key(mutant) for found in files.values() for mutant in found}
    listed = {}
    for entry in tomllib.loads(path.read_text(encoding="utf-8")).get("mutant", []):
        named = (entry["file"], entry["function"], entry["line"], entry["change"])
        if named not in known or not entry.get("reason", "").strip():
            raise SystemExit(f"{path.name}: {named} is no mutant of the source, or has no reason; remove it")
        listed[named] = entry["reason"]
    return listed


def _print_one(each: Tried, number: int) -> None:
    mutant = each.mutant
    print(
        f"{number:4d} {each.outcome:<10} {each.seconds:6.1f} s  {mutant.file}:{mutant.line} "
        f"{mutant.function}: {mutant.change}  [{each.by}]",
        flush=True,
    )


def summary(tried: Sequence[Tried]) -> float:
    """Print the counts and the share killed with its 95 % interval; equivalent mutants do not count."""
    counts = Counter(each.outcome for each in tried)
    total = len(tried) - counts["equivalent"]
    killed = counts["killed"]
    low, high = wilson(killed, total)
    share = killed / max(total, 1)
    print(
        f"{dict(counts)}: {share:.1%} of {total} killed by tests of behavior, 95 % interval {low:.1%} to {high:.1%}; "
        f"{(killed + counts['stated']) / max(total, 1):.1%} with figures on pages written by hand; "
        f"{sum(each.seconds for each in tried):.0f} s of processor time"
    )
    return share


def wilson(found: int, total: int, z: float = 1.96) -> tuple[float, float]:
    """The score interval of a share [Wilson 1927].

    Args:
        found: Number that have the property.
        total: Number of all.
        z: Quantile of the normal distribution.
    """
    if total == 0:
        return 0.0, 1.0
    share = found / total
    middle = (share + z * z / (2 * total)) / (1 + z * z / total)
    half = z / (1 + z * z / total) * math.sqrt(share * (1 - share) / total + z * z / (4 * total * total))
    return middle - half, middle + half


if __name__ == "__main__":
    main()
