"""Measure this machine and write docs/performance.md: `python -m docs.build.performance`, some minutes.

The times are of use only where nothing else runs meanwhile: the page says how busy the machine was.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from pathlib import Path

from docs.build.performance import measures
from docs.build.performance.page import Figures, page
from docs.build.performance.sweep import sweeps

PAGE = measures.ROOT / "docs" / "performance.md"
EXAMPLES = (
    *(
        f"{command} scenarios/excursions/{name}.toml"
        for command in ("check", "load")
        for name in measures.EXCURSIONS
    ),
    "curve scenarios/engines/teasel.toml",
)
COMMANDS = {
    "python -c pass": ("-c", "pass"),
    "locosim --help": ("-m", "locosim", "--help"),
    **{f"locosim {example}": ("-m", "locosim", *example.split()) for example in EXAMPLES},
}


def main() -> None:
    """Measure and write the page."""
    busy, begun = os.getloadavg()[0], time.perf_counter()

    def said(what: str) -> None:
        print(f"{time.perf_counter() - begun:5.0f} s  {what}", file=sys.stderr)

    said("one run, compiled, in plain Python, in C and by a solver")
    kernel, plain, in_c = measures.kernel_times(200), measures.plain_times(), measures.time_in_c(200)
    if in_c is None:
        said("there is no gcc: the loop in C is left out")
    solver = measures.by_solver()
    said("growth with the length of the line")
    by_length = measures.times_by_length()
    said("similar checks")
    similar = measures.similar_checks()
    said("batches and a risk")
    batches, risks = measures.batch_times(), measures.risk_times()
    said("a million kilometers")
    with tempfile.TemporaryDirectory() as folder:
        swept = sweeps(Path(folder), measures.SCENARIOS)
    said("benchmarks of tests/speed")
    benchmarks = measures.benchmark_times()
    said("commands")
    commands = {name: measures.command_time(command) for name, command in COMMANDS.items()}
    first_check = measures.first_check_time()
    figures = Figures(
        busy=busy,
        kernel=kernel,
        plain=plain,
        in_c=in_c,
        solver=solver,
        by_length=by_length,
        similar=similar,
        batches=batches,
        risks=risks,
        sweeps=swept,
        benchmarks=benchmarks,
        commands=commands,
        first_check=first_check,
    )
    PAGE.write_text(page(figures), encoding="utf-8")
    said(f"wrote {PAGE.relative_to(measures.ROOT)}")


if __name__ == "__main__":
    main()
