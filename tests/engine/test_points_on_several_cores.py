"""Points of the cycle computed by threads: before a fork, in a child, in a thread pool and in a new process."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from locosim.compiled import available
from locosim.engine.cylinders.layout import build_cycle_layout
from locosim.engine.cylinders.operating_points import operating_points
from locosim.physics.cylinder.solver import converge_some_points
from locosim.scenario import load_locomotive
from locosim.studies.workers import run_each

ROOT = Path(__file__).parents[2]


def efforts(name: str) -> list[float]:
    """Efforts of a few points of an engine [N]."""
    engine = build_cycle_layout(load_locomotive(ROOT / "scenarios" / "engines" / f"{name}.toml"))
    pressure = engine.locomotive.boiler.absolute_pressure
    grid = {
        "speeds": np.linspace(2.0, 20.0, 6),
        "cutoffs": 0.4,
        "pressures": pressure,
        "temperatures": np.full(6, 600.0),
    }
    return operating_points(engine, **grid).effort.tolist()


def efforts_and_compilations(name: str) -> tuple[list[float], int]:
    """The same, with how often this process has compiled the cycle."""
    found = efforts(name)
    return found, sum(converge_some_points.from_python.stats.cache_misses.values())


SCRIPT = """
import os, time
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from test_points_on_several_cores import efforts
from locosim.side_by_side import answer_each, answering_side_by_side
alone = efforts("teasel")
with ThreadPoolExecutor(2) as threads:
    print(list(threads.map(efforts, ["teasel"] * 2)) == [alone] * 2)
while len(os.listdir("/proc/self/task")) > 1:  # a thread that was joined may end a moment later
    time.sleep(0.01)
with answering_side_by_side():
    found = answer_each([lambda: (efforts("teasel"), time.sleep(0.1), os.getpid())] * 6)
print(all(each == alone for each, *_ in found), len({process for *_, process in found}) > 1)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="a process forks only on Linux")
def test_a_process_that_has_run_threads_forks_and_its_children_run_threads() -> None:
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT],
        env={**os.environ, "PYTHONPATH": f"{ROOT}:{Path(__file__).parent}", "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True, text=True, check=False, timeout=300,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    several = len(os.sched_getaffinity(0)) > 1
    assert done.stdout.split() == ["True", "True", str(several)]


def test_a_new_process_loads_what_another_has_compiled() -> None:
    if not available:
        pytest.skip("numba is not in use here")
    alone = efforts("teasel")
    for outcome in run_each(efforts_and_compilations, ["teasel"] * 2, jobs=2, chunk=1):
        assert outcome.value == (alone, 0), outcome.problem
