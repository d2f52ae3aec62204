"""Imports and start-up time of a fresh process."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
HEAVY = ("numpy", "scipy", "matplotlib", "pint", "numba")
HELP = (
    "import sys\n"
    "from locosim.cli import main\n"
    "sys.argv = ['locosim', {words}]\n"
    "try:\n"
    "    main()\n"
    "except SystemExit as end:\n"
    "    assert not end.code, end.code\n"
    "print('HEAVY:', *[name for name in {heavy} if name in sys.modules])\n"
)


def fresh(*words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run a fresh interpreter from the root of the project, with bytecode in use."""
    kept = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    return subprocess.run(
        [sys.executable, *words],
        env={**kept, **environment},
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize("words", ["'--help'", "'--version'", "'check', '--help'", "'curve', '--help'"])
def test_help_imports_nothing_heavy(words: str) -> None:
    done = fresh("-c", HELP.format(words=words, heavy=HEAVY))
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-1] == "HEAVY:"


def test_a_heavy_import_would_be_found() -> None:
    done = fresh("-c", "import numpy\n" + HELP.format(words="'--version'", heavy=HEAVY))
    assert done.stdout.splitlines()[-1] == "HEAVY: numpy"


def shortest(*words: str, status: tuple[int, ...] = (0,), times: int = 5) -> float:
    """Shortest wall time of a process over some runs, after a warm-up [s]."""
    took = []
    for _ in range(times + 1):
        start = time.perf_counter()
        done = fresh("-c", "from locosim.cli import main; main()", *words)
        took.append(time.perf_counter() - start)
        assert done.returncode in status, done.stderr
    return min(took[1:])


@pytest.mark.speed
def test_help_is_quick(request: pytest.FixtureRequest) -> None:
    if not request.config.getoption("--benchmark-enable"):
        pytest.skip("a timing; run with --benchmark-enable")
    assert shortest("--help") < 0.3


@pytest.mark.speed
@pytest.mark.parametrize(
    "name", ["spring_special", "harvest_excursion", "winter_freight", "summit_express"]
)  # fmt: skip
@pytest.mark.parametrize(("command", "most"), [("check", 1.5), ("load", 1.0)])
def test_a_second_run_is_quick(command: str, most: float, name: str, request: pytest.FixtureRequest) -> None:
    if not request.config.getoption("--benchmark-enable"):
        pytest.skip("a timing; run with --benchmark-enable")
    assert shortest(command, f"scenarios/excursions/{name}.toml", status=(0, 1)) < most


@pytest.mark.speed
def test_the_first_check_is_quick(request: pytest.FixtureRequest, tmp_path: Path) -> None:
    if not request.config.getoption("--benchmark-enable"):
        pytest.skip("a timing; run with --benchmark-enable")
    took = []
    for times in range(2):  # other work on the machine only adds
        start = time.perf_counter()
        done = fresh(
            "-c", "from locosim.cli import main; main()", "check", "scenarios/excursions/spring_special.toml",
            LOCOSIM_CACHE=str(tmp_path / str(times)),
        )  # fmt: skip
        took.append(time.perf_counter() - start)
        assert done.returncode == 0, done.stderr
    assert min(took) < 12.0
