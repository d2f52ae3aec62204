"""The page docs/performance.md from measured times."""

from __future__ import annotations

import datetime
import os
import platform
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

from docs.build.performance.measures import (
    CASES,
    LENGTHS,
    SAMPLES,
    SIMILAR,
    SimilarChecks,
    Spent,
    growth_exponent,
)
from docs.build.performance.sweep import Sweep

BENCHMARKS = {
    "test_one_journey": "the 200 km journey: preparation, the fireman's forecast, run and balances",
    "test_one_drive_to_the_timetable": "driving the spring special to its booked times",
    "test_one_search_for_the_steam_need": "the steam need of the spring special",
    "test_one_check_with_the_engine_known": "a check of the spring special by the handbook: runs and all rules",
    "test_one_curve": "a speed curve of 51 points by the handbook",
    "test_one_handbook_map": "a handbook map of 8 pressures, 65 speeds and 25 cutoffs",
    "test_a_thousand_points_of_the_cycle": "a thousand operating points of the cylinder cycle, on all cores",
    "test_one_map_by_the_cycle": "a whole map by the cycle",
}
BUSY = 0.3  # load at the start, from which on the page warns


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What was measured.

    Attributes:
        busy: Load of the machine at the start [1].
        kernel: One run of 200 km, with the boiler simulated and with steady pressure [s].
        plain: The same in plain Python [s].
        in_c: The same with steady pressure in C [s]; None without gcc.
        solver: By scipy's solver: its time, and the running time by it and by the kernel [s].
        by_length: Time of each part of a journey at `LENGTHS` [s].
        similar: Similar checks.
        batches: Time of a batch by rows and jobs.
        risks: Time of a risk by samples and jobs.
        sweeps: Batches over many kilometers.
        benchmarks: Shortest time of each benchmark by name [s].
        commands: Time of each command.
        first_check: Time of a check with an empty cache.
    """

    busy: float
    kernel: tuple[float, float]
    plain: tuple[float, float]
    in_c: float | None
    solver: tuple[float, float, float]
    by_length: Mapping[str, Sequence[float]]
    similar: Sequence[SimilarChecks]
    batches: Mapping[tuple[int, int], Spent]
    risks: Mapping[tuple[int, int], Spent]
    sweeps: Sequence[Sweep]
    benchmarks: Mapping[str, float]
    commands: Mapping[str, Spent]
    first_check: Spent


def page(figures: Figures) -> str:
    """The whole page."""
    parts = (_head, _one_run, _length, _checks, _cases, _sweeps, _benchmarks, _commands, _tail)
    return "\n\n".join(part(figures) for part in parts) + "\n"


def milliseconds(seconds: float) -> str:
    """A time in milliseconds, with two figures or more."""
    value = 1e3 * seconds
    return f"{value:,.0f} ms" if value >= 100.0 else f"{value:.1f} ms" if value >= 10.0 else f"{value:.2g} ms"


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table; figures are to the right."""
    lines = [head, ["---", *["--:"] * (len(head) - 1)], *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def machine() -> str:
    """The machine, its system and the libraries that the times depend on."""
    lines = (
        Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
        if Path("/proc/cpuinfo").exists()
        else []
    )
    names = [line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")]
    libraries = ", ".join(f"{name} {version(name)}" for name in ("numpy", "scipy", "numba"))
    return (
        f"{os.cpu_count()} cores ({names[0] if names else platform.machine()}), {platform.system()} "
        f"{platform.release()}, Python {platform.python_version()}, {libraries}"
    )


def _head(figures: Figures) -> str:
    now = datetime.datetime.now(tz=datetime.UTC)
    warning = (
        f" Other work ran when the measuring began (load {figures.busy:.1f}): the times are too long."
        if figures.busy > BUSY
        else f" Hardly anything else ran (load {figures.busy:.1f})."
    )
    text = (
        f"This command makes the page, in some minutes. Figures of {now.day} {now:%B %Y}: {machine()}.{warning} Each "
        "time is the shortest of its repetitions where nothing else is said, because other work can only add to it. "
        "Ratios are of one run of the command, and transfer to other machines better than times."
    )
    return f"""# Computing times, and how they were measured

```sh
python -m docs.build.performance
```

{textwrap.fill(text, 120)}"""


def _one_run(figures: Figures) -> str:
    transient, steady = figures.kernel
    took, reference, computed = figures.solver
    rows = [
        ["compiled by numba", milliseconds(transient), "1", milliseconds(steady), "1"],
        [
            "the same source in plain Python",
            *(milliseconds(figures.plain[0]), f"{figures.plain[0] / transient:,.0f}"),
            *(milliseconds(figures.plain[1]), f"{figures.plain[1] / steady:,.0f}"),
        ],
        [
            "`scipy.integrate.solve_ivp`, DOP853, relative tolerance 1e-9",
            "",
            "",
            milliseconds(took),
            f"{took / steady:,.0f}",
        ],
    ]
    if figures.in_c is not None:
        ratio = f"{figures.in_c / steady:.2f}"
        rows.insert(
            1, ["the same loop in C, gcc -O3 -march=native", "", "", milliseconds(figures.in_c), ratio]
        )
    off = 100.0 * abs(computed - reference) / reference
    return f"""## One run of 200 kilometers

An invented line with 500 irregular grades, 17 speed limits and five stops, at each of which the tender is filled; about
3,800 steps of at most 60 m. Engine by the handbook method, map and line prepared before.

{table(["one call of the kernel", "boiler simulated", "ratio", "steady pressure", "ratio"], rows)}

The loop in C (`tests/speed/steady_run.c`) does the same steps, tables and records, and `tests/speed/test_in_c.py`
compares the results. It is left out where there is no gcc. The solver is the reference of
`tests/journey/test_against_solver.py`, where forces, limits and map are written independently: the train as a row of
vehicles, the speed limits as functions of location. Over the 200 km it runs {reference:,.2f} s and the kernel
{computed:,.2f} s, a difference of {off:.4f} %.
Compiled and plain runs agree to 1e-12 of the maximum of each array (`tests/test_compiled.py`)."""


def _length(figures: Figures) -> str:
    rows = [
        [name, *(milliseconds(took) for took in times), f"{growth_exponent(LENGTHS, times):.2f}"]
        for name, times in figures.by_length.items()
    ]
    head = ["", *(f"{length / 1e3:.0f} km" for length in LENGTHS), "exponent"]
    return f"""## Growth with the length of the line

Lines of one kind. The exponent is that of the power law closest to the five times: 1 is growth in proportion; below 1,
some of the time is the same whatever the length.

{table(head, rows)}"""


def _checks(figures: Figures) -> str:
    rows = [
        [
            each.excursion,
            f"{each.length / 1609.344:.0f} mi",
            *(milliseconds(each.least), milliseconds(each.mean), f"{1.0 / each.mean:,.0f}"),
        ]
        for each in figures.similar
    ]
    return f"""## Many similar checks

Processor time of `Checker(base).check(changed)`, by the cylinder cycle, of {SIMILAR} excursions changed in load and
number of cars, temperature and headwind, and an assumption. A check finds the steam need and the adhesion need, drives
to the booked times, runs at full effort and applies all rules.

{table(["excursion", "length", "least", "mean", "checks a second on one core"], rows)}"""


def _cases(figures: Figures) -> str:
    alone = [figures.batches[count, 1].processor for count in CASES]
    one, two = figures.batches[CASES[-1], 1], figures.batches[CASES[-1], 2]
    batches = [(f"batch of {count} rows", 1, figures.batches[count, 1]) for count in CASES]
    batches.append((f"batch of {CASES[-1]} rows", 2, two))
    risks = [(f"risk of {count:,} samples", jobs, took) for (count, jobs), took in figures.risks.items()]
    rows = [
        # The time of processes that still wait for work is not known.
        [what, str(jobs), f"{took.wall:.2f} s", f"{took.processor:.2f} s" if jobs == 1 else ""]
        for what, jobs, took in (*batches, *risks)
    ]
    risk_ratio = figures.risks[SAMPLES[0], 2].wall / figures.risks[SAMPLES[0], 1].wall
    return f"""## Growth with cases and cores

Whole checks of the spring special (39 miles) in a batch, and its risk with the inputs of
`scenarios/uncertainty/autumn.toml`. The processes of two jobs are started and load their machine code within the time.

{table(["", "jobs", "wall time", "processor time"], rows)}

Processor time by rows grows with the exponent {growth_exponent(CASES, alone):.2f}. Two jobs take
{two.wall / one.wall:.2f} of the wall time of one for the batch, and {risk_ratio:.2f} for the risk."""


def _sweeps(figures: Figures) -> str:
    rows = [
        [
            f"{each.rows:,}",
            f"{each.distance / 1e3:,.0f} km",
            f"{each.wall:.0f} s",
            f"{each.processor:.0f} s",
            f"{1e3 * each.processor / each.rows:.0f} ms",
            f"{each.memory / 1e6:.0f} MB",
        ]
        for each in figures.sweeps
    ]
    head = ["rows", "distance", "wall time", "processor time", "of a row", "most memory of a process"]
    return f"""## A million kilometers

`locosim batch --jobs 2` over invented lines of 200 km with three stops for water and coal, by rail, headwind, train and
water at the start (`docs/build/performance/sweep.py`). Memory that grew with the rows would show between the two.

{table(head, rows)}"""


def _benchmarks(figures: Figures) -> str:
    rows = [[text, milliseconds(figures.benchmarks[name])] for name, text in BENCHMARKS.items()]
    return f"""## Work around a run

```sh
pytest tests/speed --benchmark-enable
```

{table(["", "time"], rows)}

Without `--benchmark-enable` these are ordinary tests of the same calls. With it they enforce budgets: 5 ms for the
kernel, 2.5 s for the two of the cycle, 0.2 s or less for the rest; and those of commands in
`tests/speed/test_start_up.py`."""


def _commands(figures: Figures) -> str:
    rows = [
        [f"`{name}`", f"{took.wall:.2f} s", f"{took.processor:.2f} s"]
        for name, took in figures.commands.items()
    ]
    first = figures.first_check
    return f"""## Starting a process

With bytecode written and machine code in the cache, that is, from the second start on. The variable
`PYTHONDONTWRITEBYTECODE` must not be set, or imports take two to three times as long.

{table(["command", "wall time", "processor time"], rows)}

The first check of the spring special on a machine, with an empty cache, takes {first.wall:.1f} s of wall time and
{first.processor:.1f} s of processor time: compiling, and the maps of the engine.

`--help` imports none of numpy, scipy, matplotlib, pint and numba; `tests/speed/test_start_up.py` checks this in a new
process."""


def _tail(figures: Figures) -> str:
    return """## Where the time goes

- Reference counting took most of a run: when tuples of arrays pass from one compiled function to the next, numba counts
  every array in and out. The functions of a step are compiled without reference counts and inlined into their caller.
- The search for the cutoff of a step starts from that of the previous step.
- A division by what does not change in a loop is compiled to a multiplication. It changes at most the last digit.
- The limits ahead are one reversed running minimum over the nodes, not a Python loop.
- Most of a similar check is runs of the kernel. Its searches begin from those of the base and take the slope from
  their own trials; that no amount of steam suffices shows in two or three runs; the rehearsal of the booked run is that
  of its sections, joined; the pull in the couplers is computed only in the steps in which it can be the highest."""
