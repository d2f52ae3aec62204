"""Time one run compiled, in plain Python and by a general solver, and print a table.

    python tests/speed/compare.py

Ratios compare within one run of the script; times are those of the machine.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

TESTS = Path(__file__).parents[1]
for folder in (TESTS, TESTS / "speed", TESTS / "journey", TESTS.parent):
    sys.path.insert(0, str(folder))


def least(call: Callable[[], Any], times: int) -> float:
    """Shortest time of a call over some repetitions, after a warm-up [s]."""
    call()
    found = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        found.append(time.perf_counter() - start)
    return min(found)


def kernel_times(times: int) -> tuple[float, float]:
    """Shortest times of the 200 km run with a transient and with a steady boiler [s]."""
    import trials
    from long_line import two_hundred_kilometres

    from locosim.journey.run import run_prepared, with_rehearsal
    from locosim.journey.setup.prepare import prepare

    excursion = two_hundred_kilometres()
    performance = trials.performance(excursion)
    transient = with_rehearsal(prepare(excursion, performance, transient_boiler=True))
    steady = prepare(excursion, performance, transient_boiler=False)
    return least(lambda: run_prepared(transient), times), least(lambda: run_prepared(steady), times)


def by_solver() -> tuple[float, float, float]:
    """The same run with a steady boiler by the reference of tests/journey: its time, and both arrivals [s]."""
    import trials
    from continuous import run_continuous
    from long_line import two_hundred_kilometres

    from locosim.journey.run import run_journey

    excursion = two_hundred_kilometres()
    performance = trials.performance(excursion)
    start = time.perf_counter()
    arrivals = run_continuous(excursion, performance)
    took = time.perf_counter() - start
    return (
        took,
        arrivals[-1].time,
        run_journey(excursion, performance, transient_boiler=False).stops[-1].arrive,
    )


def main() -> None:
    """Print the table; with the word `plain`, only the times of this process."""
    if sys.argv[1:] == ["plain"]:
        print(*kernel_times(5))
        return
    plain = subprocess.run(
        [sys.executable, __file__, "plain"],
        env={**os.environ, "LOCOSIM_PURE_PYTHON": "1"},
        capture_output=True,
        text=True,
        check=True,
    )
    rows = {"compiled": kernel_times(200), "plain Python": tuple(map(float, plain.stdout.split()))}
    solver, reference, arrived = by_solver()
    base_transient, base_steady = rows["compiled"]
    print(f"{'200 km':<16}{'transient boiler':>18}{'ratio':>8}{'steady boiler':>16}{'ratio':>8}")
    for name, (transient, steady) in rows.items():
        print(
            f"{name:<16}{1e3 * transient:>15.2f} ms{transient / base_transient:>8.0f}"
            f"{1e3 * steady:>13.2f} ms{steady / base_steady:>8.0f}"
        )
    print(f"{'solve_ivp':<16}{'':>26}{1e3 * solver:>13.0f} ms{solver / base_steady:>8.0f}")
    start = 36000.0
    print(
        f"arrival by solve_ivp {reference - start:.3f} s after the start, by the kernel {arrived - start:.3f} s"
    )


if __name__ == "__main__":
    main()
