"""Run a case in this process and judge it."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import resource
import sys
import time
import tomllib
import traceback
from collections.abc import Callable, Iterator
from contextlib import redirect_stderr, redirect_stdout, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from unittest import mock

from typer.main import get_command

from locosim.errors import LocosimError
from tests.fuzz.strategies import EXCURSIONS, SMALL_EXCURSIONS, FuzzCase, bundled

MAX_CPU_TIME = 20.0  # s of one case; a cold check of a long line takes 5
MAX_GROWTH = 500e6  # bytes that one case may add to the memory
MAX_LEDGER_ERROR = 1e-6  # share of a ledger that may be missing
VERDICTS = {"clear", "tight", "stop", "note", None}


@dataclass
class Judged:
    """The status of a case, what is wrong with it, its time [s], and the most memory of the process in it [bytes]."""

    status: int
    faults: list[str] = field(default_factory=list)
    cpu_time: float = 0.0
    memory: int = 0


class Bench:
    """A railway in which cases run, one after another."""

    def __init__(self, folder: Path) -> None:
        """Write the railway to a folder that does not exist."""
        self.folder = folder
        for name, text in bundled().items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_text(text, encoding="utf-8")

    def judge(self, case: FuzzCase) -> Judged:
        """Run a case with its files in place, judge it, and put the files back."""
        for name, text in case.files.items():
            (self.folder / name).write_bytes(text.encode("utf-8", "replace"))
        before, memory, began = self._files(), begin_peak_memory(), time.process_time()
        home = Path.cwd()
        os.chdir(self.folder)
        try:
            status, output, error = run_command(case.arguments)
        finally:
            os.chdir(home)
        judged = Judged(status, cpu_time=time.process_time() - began, memory=peak_memory())
        judged.faults += _faults(status, output, error, case)
        if judged.cpu_time > MAX_CPU_TIME:
            judged.faults.append(f"took {judged.cpu_time:.0f} s")
        if judged.memory - memory > MAX_GROWTH:
            judged.faults.append(f"took {(judged.memory - memory) / 1e6:.0f} MB")
        self._touched(before, self._files(), judged, case.arguments, may_leave="cannot be written" in error)
        for name in case.files:
            (self.folder / name).write_text(bundled()[name], encoding="utf-8")
        return judged

    def _files(self) -> dict[str, tuple[int, int]]:
        # By os: paths took a twelfth of the time of a case.
        found = {}
        for folder, _, names in os.walk(self.folder):
            for name in names:
                path = os.path.join(folder, name)
                about = os.stat(path)
                found[path[len(str(self.folder)) + 1 :]] = (about.st_size, about.st_mtime_ns)
        return found

    def _touched(
        self,
        before: dict[str, Any],
        after: dict[str, Any],
        judged: Judged,
        words: list[str],
        *,
        may_leave: bool,
    ) -> None:
        """Judge the files that a case changed or left, and remove these.

        After an error, one output may be there only where the next could not be written.
        """
        judged.faults += [f"changed {name}" for name in before if after.get(name) != before[name]]
        for name in sorted(set(after) - set(before)):
            if not (name.startswith("made") and any(word.startswith("made") for word in words)):
                judged.faults.append(f"left {name}")
            elif judged.status not in (0, 1) and not may_leave:
                judged.faults.append(f"left {name} with status {judged.status}")
            else:
                judged.faults += output_faults(self.folder / name)
            (self.folder / name).unlink()


def output_faults(path: Path) -> list[str]:
    """What is wrong with a file that a command wrote: cut short, cells that are no figures, or no such file."""
    content = path.read_bytes()
    if path.suffix == ".csv":
        rows = list(csv.reader(io.StringIO(content.decode("utf-8-sig"))))
        rows = [row for row in rows if row and not row[0].startswith("#")]
        odd = {cell for row in rows for cell in row if cell.lower() in ("nan", "inf", "-inf", "none")}
        ragged = len({len(row) for row in rows}) > 1
        return [f"{path.name} has {odd}"] * bool(odd) + [f"{path.name} has rows of several lengths"] * ragged
    if path.suffix == ".toml":
        tomllib.loads(content.decode())
        return []
    begin, end = _ENDS[path.suffix]
    whole = content.startswith(begin) and content.rstrip().endswith(end)
    return [] if whole else [f"{path.name} is not whole: {content[:20]!r} to {content[-20:]!r}"]


_ENDS = {
    ".png": (b"\x89PNG", b"IEND\xaeB`\x82"),
    ".svg": (b"<?xml", b"</svg>"),
    ".pdf": (b"%PDF", b"%%EOF"),
    ".html": (b"<!doctype html>", b"</html>"),
    ".parquet": (b"PAR1", b"PAR1"),
}


def begin_peak_memory() -> int:
    """Forget the peak of memory where the system can, and return what is in use or was at most [bytes].

    Without Linux a case is judged only by what it adds to the peak of all cases before it.
    """
    with suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
    return peak_memory()


def peak_memory() -> int:
    """Return the most memory that the process had since its peak was forgotten [bytes]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def run_command(arguments: list[str]) -> tuple[int, str, str]:
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
        mock.patch("typer.main.get_command", _declared_once),
    ):
        try:
            main()
        except SystemExit as end:
            return int(end.code or 0)
    return 0


_DECLARED: dict[tuple[int, ...], Any] = {}


def _declared_once(app: Any) -> Any:
    """Declarations of the program, which take longer than most cases.

    Kept by the commands declared: the program is copied for each call, and so a copy would be found by no later case.
    """
    held = tuple(map(id, (*app.registered_commands, *app.registered_groups)))
    if held not in _DECLARED:
        _DECLARED[held] = get_command(app)
    return _DECLARED[held]


def _read(arguments: list[str]) -> int:
    """Read a file of a kind, as its commands do before they compute."""
    from locosim import loading
    from locosim.scenario import consist_file, road_log
    from locosim.studies import batch_file

    kind, name, *changes = arguments
    excursion = SMALL_EXCURSIONS[0] if name.startswith("odd/") else EXCURSIONS[0]
    readers: dict[str, Callable[[], object]] = {
        "engine": lambda: loading.load_engine(name, changes=changes),
        "train": lambda: loading.load_train(name, changes=changes),
        "route": lambda: loading.load_route(name, changes=changes),
        "excursion": lambda: loading.load_excursion(name, changes=changes),
        "day": lambda: loading.load_day(name, changes=changes),
        "consists": lambda: consist_file.read_consists(name, "excursions/spring_special.toml"),
        "log": lambda: road_log.read_road_log(name),
        "batch": lambda: batch_file.read_batch(name),
        "uncertainty": lambda: loading.load_excursion(
            excursion, changes=[f"uncertainty={os.path.relpath(name, Path(excursion).parent)}"]
        ),
    }
    try:
        readers[kind]()
    except LocosimError as error:
        sys.stderr.write(str(error))
        return 2
    return 0


def _faults(status: int, output: str, error: str, case: FuzzCase) -> list[str]:
    if status not in (0, 1, 2) or "Traceback" in error + output:
        return [f"status {status}: {' | '.join(error.strip().splitlines()[-4:])[:600]}"]
    if status == 2:
        return [] if error.strip() else ["status 2 without a message"]
    if "--json" in case.arguments:
        return _json_faults(output)
    return _text_faults(output, case)


def _text_faults(output: str, case: FuzzCase) -> list[str]:
    """Words in a text that Python writes where a figure is missing, unless the case has them.

    Python reads a figure beyond its range as infinite, and the message about a row that cannot be read shows it.
    """
    given = re.sub(r"1e(400|999)", "inf", case.text())
    found = [
        word for word in ("nan", "inf", "None") if re.search(rf"\b{word}\b", output) and word not in given
    ]
    return [f"the text says {word}" for word in found]


def _json_faults(output: str) -> list[str]:
    try:
        found = json.loads(output, parse_constant=_refuse)
    except ValueError as error:
        return [f"JSON is not strict: {error}"]
    if not isinstance(found, dict):
        return [f"JSON is a {type(found).__name__}"]
    faults = [f"verdict {verdict!r}" for verdict in _verdicts(found) if verdict not in VERDICTS]
    for name, missing in found.get("ledgers", {}).items():
        if abs(missing) > MAX_LEDGER_ERROR:
            faults.append(f"the ledger of {name} does not close: {missing:g}")
    return faults


def _verdicts(found: object) -> Iterator[object]:
    """Every verdict at any depth."""
    if isinstance(found, dict):
        yield from (value for key, value in found.items() if key == "verdict")
    if isinstance(found, dict | list):
        for value in found.values() if isinstance(found, dict) else found:
            yield from _verdicts(value)


def _refuse(word: str) -> float:
    raise ValueError(f"{word} is no JSON")
