"""Workers: outcomes in order, whatever becomes of a worker."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from ast import literal_eval
from functools import partial
from pathlib import Path

import pytest

from locosim.errors import LocosimError, OutOfRange
from locosim.studies.workers import ENDED, run_each


def square(number: int) -> int:
    if number == 3:
        raise LocosimError("three is refused")
    if number == 5:
        raise KeyError("five")
    return number**2


def killed_once(mark: Path, number: int) -> int:
    """Square of a number; the first worker that is given 7 dies."""
    if number == 7 and not mark.exists():
        mark.touch()
        os._exit(9)
    return number**2


def always_killed(number: int) -> int:
    if number == 4:
        os._exit(9)
    return number


@pytest.mark.parametrize("jobs", [1, 2])
def test_outcomes_are_in_order_and_errors_stop_nothing(jobs):
    outcomes = list(run_each(square, range(40), jobs=jobs, chunk=3))
    assert [each.value for each in outcomes] == [None if k in (3, 5) else k * k for k in range(40)]
    assert outcomes[3].problem == "three is refused"
    assert outcomes[5].problem == "a defect of locosim, please report it: KeyError: 'five'"
    assert not any(each.problem for k, each in enumerate(outcomes) if k not in (3, 5))


def test_items_are_taken_as_they_are_needed():
    taken = []
    outcomes = run_each(square, (taken.append(k) or k for k in range(10_000)), jobs=2, chunk=2)
    next(outcomes)
    assert len(taken) <= 20
    outcomes.close()


def test_a_killed_worker_loses_nothing(tmp_path):
    outcomes = list(run_each(partial(killed_once, tmp_path / "mark"), range(20), jobs=2, chunk=4))
    assert [each.value for each in outcomes] == [k * k for k in range(20)]


def test_an_item_that_always_kills_its_worker_becomes_a_problem():
    outcomes = list(run_each(always_killed, range(9), jobs=2, chunk=3))
    assert [each.value for each in outcomes] == [0, 1, 2, 3, None, 5, 6, 7, 8]
    assert outcomes[4].problem == ENDED


def test_less_than_one_job_is_refused():
    with pytest.raises(OutOfRange, match="jobs must be at least 1, found 0"):
        next(run_each(square, [1], jobs=0))


def test_a_script_without_the_guard_is_told_what_to_write(tmp_path):
    script = tmp_path / "script.py"
    script.write_text(
        "from math import sqrt\nfrom locosim.studies.workers import run_each\n"
        "print(list(run_each(sqrt, range(4), jobs=2)))\n"
    )
    ran = subprocess.run([sys.executable, script], capture_output=True, text=True, timeout=120)
    assert 'call this under `if __name__ == "__main__":`' in ran.stderr
    assert ran.returncode == 1


FORKED = """
import os
from contextlib import nullcontext
from pathlib import Path
from locosim.side_by_side import answering_side_by_side
from locosim.studies.workers import run_each

computed = []

def look(number):
    if number == 5 and not Path("killed").exists():
        Path("killed").touch()
        os._exit(9)
    return number, len(computed)

if __name__ == "__main__":
    computed.append("by the parent")
    with {context}():
        print([each.value for each in run_each(look, range(1, 9), jobs=2, chunk=1, fork=True)])
"""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="forks on Linux only")
@pytest.mark.parametrize("context", ["answering_side_by_side", "nullcontext"])
def test_a_program_may_ask_for_workers_that_have_what_it_has_computed(tmp_path, context):
    """One is killed: those that replace it are not forked, as the parent then has several threads."""
    (tmp_path / "script.py").write_text(FORKED.format(context=context))
    ran = subprocess.run(
        [sys.executable, "script.py"],
        capture_output=True,
        text=True,
        timeout=120,
        cwd=tmp_path,
        env=os.environ | {"OPENBLAS_NUM_THREADS": "1"},
    )
    assert ran.returncode == 0, ran.stderr
    found = literal_eval(ran.stdout)
    assert [number for number, _ in found] == list(range(1, 9))
    assert found[0][1] == (1 if context == "answering_side_by_side" else 0)
    assert found[-1][1] == 0


@pytest.mark.parametrize("context", ["answering_side_by_side", "nullcontext"])
def test_workers_end_with_a_parent_that_is_killed(tmp_path, context):
    script = tmp_path / "script.py"
    script.write_text(
        "import time\nfrom contextlib import nullcontext\n"
        "from locosim.side_by_side import answering_side_by_side\n"
        "from locosim.studies.workers import run_each\n"
        "if __name__ == '__main__':\n"
        f"    with {context}():\n"
        "        for each in run_each(time.sleep, [0.0, 0.0, 600.0, 600.0], jobs=2, chunk=1, fork=True):\n"
        "            print('.', flush=True)\n"
    )
    parent = subprocess.Popen(
        [sys.executable, script],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"OPENBLAS_NUM_THREADS": "1"},
    )
    assert parent.stdout is not None
    parent.stdout.readline()
    workers = _children(parent.pid)
    assert workers
    parent.kill()
    parent.wait()
    parent.stdout.close()
    deadline = time.monotonic() + 20
    while any(_runs(pid) for pid in workers) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert not [pid for pid in workers if _runs(pid)]


def _children(pid: int) -> list[int]:
    return [
        int(status.parent.name)
        for status in Path("/proc").glob("[0-9]*/status")
        if f"\nPPid:\t{pid}\n" in _text(status)
    ]


def _runs(pid: int) -> bool:
    text = _text(Path(f"/proc/{pid}/status"))
    return bool(text) and "\nState:\tZ" not in text


def _text(path: Path) -> str:
    try:
        return path.read_text()
    except OSError:
        return ""
