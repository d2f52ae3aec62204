"""Test files run in child processes, forked from one that has loaded the libraries: starting costs next to nothing."""

from __future__ import annotations

import contextlib
import os
import resource
import signal
import sys
import time
import traceback
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import coverage
import hypothesis  # noqa: F401 - loaded once for all children
import iapws  # noqa: F401
import numba  # noqa: F401
import numpy as np  # noqa: F401
import pint  # noqa: F401
import pytest
import scipy.interpolate
import scipy.optimize  # noqa: F401
import seuif97  # noqa: F401

TIMED_OUT = -9
ENDS_BEFORE = 2.0  # tests that are skipped when slow begin no later than this part of the time of their file


@dataclass(frozen=True, slots=True)
class Ended:
    """How a child ended: the status of pytest, or `TIMED_OUT`, and its processor time [s]."""

    status: int
    seconds: float


class EachAtMost:
    """A plugin of pytest that ends each test, and what prepares it, after some seconds of processor time."""

    def __init__(self, seconds: float, total: float) -> None:
        self._seconds, self._total = seconds, total

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_setup(self) -> Iterator[None]:
        """Prepare a test with an alarm."""
        return (yield from self._with_alarm())

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_call(self) -> Iterator[None]:
        """Run a test with an alarm."""
        return (yield from self._with_alarm())

    def _with_alarm(self) -> Iterator[None]:
        def ring(*_: Any) -> None:
            pytest.skip("slow in plain Python")

        if time.process_time() > self._total:
            ring()
        signal.signal(signal.SIGPROF, ring)
        signal.setitimer(signal.ITIMER_PROF, self._seconds)
        try:
            return (yield)
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0.0)


def run_tests(
    files: Sequence[str],
    *,
    tree: Path,
    cache: Path,
    log: Path,
    pure: bool = False,
    seconds: float,
    each: float | None = None,
    data_file: Path | None = None,
) -> Ended:
    """Run test files in order until one fails.

    Args:
        files: Paths below the tree.
        tree: Folder of the source and its tests.
        cache: Folder of stored machine code and maps.
        log: File for what the tests print.
        pure: Without the compiler.
        seconds: Processor time after which the child is ended.
        each: Seconds after which each test is ended, as if skipped.
        data_file: For the branches that run, if wanted; then nothing stops at a failure.
    """
    child = os.fork()
    if child == 0:
        status = 70
        try:
            status = _in_child(files, tree, cache, log, pure, seconds, each, data_file)
        except BaseException:
            traceback.print_exc()
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(status)
    _, ended, used = os.wait4(child, 0)
    status = os.waitstatus_to_exitcode(ended)
    return Ended(TIMED_OUT if status < 0 else status, used.ru_utime + used.ru_stime)


def _in_child(
    files: Sequence[str], tree: Path, cache: Path, log: Path, pure: bool, seconds: float, each: float | None,
    data_file: Path | None,
) -> int:  # fmt: skip
    os.chdir(tree)
    os.environ.update(LOCOSIM_CACHE=str(cache), PYTHONPATH=f"{tree}:{tree / 'tests'}", PYTHONHASHSEED="0")
    os.environ["LOCOSIM_PURE_PYTHON"] = "1" if pure else "0"
    sys.path[:0] = [str(tree), str(tree / "tests")]
    for name in [name for name in sys.modules if name.split(".")[0] in ("locosim", "tests", "docs")]:
        del sys.modules[name]
    with contextlib.suppress(ValueError):
        resource.setrlimit(resource.RLIMIT_CPU, (int(seconds) + 1, int(seconds) + 2))
    output = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(output, 1)
    os.dup2(output, 2)
    options = ["-q", "-p", "no:xdist", "-p", "no:cacheprovider", "-p", "no:randomly", *files]
    options += ["-W", "ignore::pytest.PytestAssertRewriteWarning", "--no-header", "--tb=line"]
    plugins = [EachAtMost(each, seconds / ENDS_BEFORE)] if each else []
    if data_file is None:
        return int(pytest.main([*options, "-x"], plugins=plugins))
    measured = coverage.Coverage(
        data_file=str(data_file), branch=True, source=[str(tree / "locosim")], config_file=False
    )
    measured.start()
    try:
        return int(pytest.main(options, plugins=plugins))
    finally:
        measured.stop()
        measured.save()
