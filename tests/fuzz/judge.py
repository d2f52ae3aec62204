"""Run a case in this process and judge it."""

from __future__ import annotations

import io
import json
import os
import resource
import shutil
import sys
import time
import traceback
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from unittest import mock

from locosim.errors import LocosimError
from tests.fuzz.strategies import SCENARIOS, FuzzCase

MAX_CPU_TIME = 20.0  # s of one case; a cold check of a long line takes 5
MAX_GROWTH = 500e6  # bytes that one case may add to the memory
MAX_LEDGER_ERROR = 1e-6  # share of a ledger that may be missing
VERDICTS = {"clear", "tight", "stop"}


@dataclass
class Judged:
    """The status of a case, what is wrong with it, and its cost."""

    status: int
    faults: list[str] = field(default_factory=list)
    cpu_time: float = 0.0


class Bench:
    """A copy of the example railway in which cases run, one after another."""

    def __init__(self, folder: Path) -> None:
        """Copy the example railway to a folder that does not exist."""
        self.folder = folder
        shutil.copytree(SCENARIOS, folder)

    def judge(self, case: FuzzCase) -> Judged:
        """Run a case with its files in place, judge it, and put the files back."""
        for name, text in case.files.items():
            (self.folder / name).write_bytes(text.encode("utf-8", "replace"))
        before, memory, began = self._files(), _peak_memory(), time.process_time()
        home = Path.cwd()
        os.chdir(self.folder)
        try:
            status, output, error = _run(case.arguments)
        finally:
            os.chdir(home)
        judged = Judged(status, cpu_time=time.process_time() - began)
        judged.faults += _faults(status, output, error, case.arguments)
        if judged.cpu_time > MAX_CPU_TIME:
            judged.faults.append(f"took {judged.cpu_time:.0f} s")
        if _peak_memory() - memory > MAX_GROWTH:
            judged.faults.append(f"took {(_peak_memory() - memory) / 1e6:.0f} MB")
        judged.faults += self._touched(before, self._files(), case.arguments)
        for name in case.files:
            shutil.copyfile(SCENARIOS / name, self.folder / name)
        return judged

    def _files(self) -> dict[str, tuple[int, int]]:
        found = {}
        for path in self.folder.rglob("*"):
            if path.is_file():
                about = path.stat()
                found[str(path.relative_to(self.folder))] = (about.st_size, about.st_mtime_ns)
        return found

    def _touched(self, before: dict[str, Any], after: dict[str, Any], arguments: list[str]) -> list[str]:
        faults = [f"changed {name}" for name in before if after.get(name) != before[name]]
        for name in set(after) - set(before):
            if not ("--to" in arguments and Path(name).name.startswith("made")):
                faults.append(f"left {name}")
            (self.folder / name).unlink()
        return faults


def _peak_memory() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def _run(arguments: list[str]) -> tuple[int, str, str]:
    """Return the status, standard output and standard error of a case."""
    output, error = io.StringIO(), io.StringIO()
    with redirect_stdout(output), redirect_stderr(error):
        try:
            status = _read(arguments[1:]) if arguments[0] == "read" else _command(arguments)
        except Exception:
            error.write(traceback.format_exc(limit=-3))
            status = 70
    return status, output.getvalue(), error.getvalue()


def _command(arguments: list[str]) -> int:
    from locosim.cli import main

    with (
        mock.patch.object(sys, "argv", ["locosim", *arguments]),
        mock.patch.dict(os.environ, {"LOCOSIM_TRACEBACK": "1"}),
        mock.patch("signal.signal"),
    ):
        try:
            main()
        except SystemExit as end:
            return int(end.code or 0)
    return 0


def _read(arguments: list[str]) -> int:
    """Read a file of a kind, as its commands do before they compute."""
    from locosim import loading
    from locosim.scenario import consist_file, road_log
    from locosim.studies import batch_file

    kind, name, *changes = arguments
    readers: dict[str, Callable[[], object]] = {
        "engine": lambda: loading.load_engine(name, changes=changes),
        "train": lambda: loading.load_train(name, changes=changes),
        "route": lambda: loading.load_route(name, changes=changes),
        "excursion": lambda: loading.load_excursion(name, changes=changes),
        "day": lambda: loading.load_day(name, changes=changes),
        "consists": lambda: consist_file.read_consists(name, "excursions/spring_special.toml"),
        "log": lambda: road_log.read_road_log(name),
        "batch": lambda: batch_file.read_batch(name),
    }
    try:
        readers[kind]()
    except LocosimError as error:
        sys.stderr.write(str(error))
        return 2
    return 0


def _faults(status: int, output: str, error: str, arguments: list[str]) -> list[str]:
    if status not in (0, 1, 2) or "Traceback" in error + output:
        return [f"status {status}: {' | '.join(error.strip().splitlines()[-4:])[:600]}"]
    if status == 2:
        return [] if error.strip() else ["status 2 without a message"]
    if "--json" in arguments:
        return _json_faults(output)
    return []


def _json_faults(output: str) -> list[str]:
    try:
        found = json.loads(output, parse_constant=_refuse)
    except ValueError as error:
        return [f"JSON is not strict: {error}"]
    faults = []
    if "verdict" in found and found["verdict"] not in VERDICTS:
        faults.append(f"verdict {found['verdict']!r}")
    for name, missing in found.get("ledgers", {}).items():
        if abs(missing) > MAX_LEDGER_ERROR:
            faults.append(f"the ledger of {name} does not close: {missing:g}")
    return faults


def _refuse(word: str) -> float:
    raise ValueError(f"{word} is no JSON")
