"""Exit statuses, streams and signals: a script can tell a stop from a fault, whatever happens to the streams."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from locosim.report.csv_cells import TableWriter

ROOT = Path(__file__).resolve().parent.parent
EXCURSIONS = ROOT / "scenarios" / "excursions"
STOP = "winter_freight"
CLEAR = "spring_special"

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs a shell and signals")


def locosim(arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """A command run by a shell in the folder of the project."""
    return subprocess.run(
        ["bash", "-c", f"{sys.executable} -m locosim {arguments}"],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
        env={**os.environ, **environment},
    )


ENDED = """
import atexit, gc, sys
atexit.register(lambda: print(len(gc.get_objects())))  # runs last
sys.argv = ["locosim", "check", "scenarios/excursions/spring_special.toml"]
from locosim.cli import main
main()
"""


def test_a_command_that_ends_leaves_no_objects_to_be_searched_for_garbage() -> None:
    done = subprocess.run([sys.executable, "-c", ENDED], capture_output=True, text=True, check=True, cwd=ROOT)
    assert int(done.stdout.splitlines()[-1]) < 10


FAULT = """
import sys
import locosim.loading as files
def broken(*_, **__): raise ZeroDivisionError("no driver")
files.load_excursion = broken
sys.argv = ["locosim", "check", "x.toml"]
from locosim.cli import main
main()
"""


def test_a_fault_of_the_program_has_a_status_of_its_own_and_one_line() -> None:
    done = subprocess.run(
        [sys.executable, "-c", FAULT], capture_output=True, text=True, check=False, cwd=ROOT
    )
    assert done.returncode == 70
    assert "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert "a fault of locosim, not of your files: ZeroDivisionError: no driver" in done.stderr
    assert "report it" in done.stderr


def test_the_traceback_of_a_fault_can_be_asked_for() -> None:
    done = subprocess.run(
        [sys.executable, "-c", FAULT],
        capture_output=True, text=True, check=False, cwd=ROOT,
        env={**os.environ, "LOCOSIM_TRACEBACK": "1"},
    )  # fmt: skip
    assert "Traceback" in done.stderr


@pytest.mark.parametrize(("name", "status"), [(CLEAR, 0), (STOP, 1)])
def test_a_reader_that_goes_away_does_not_change_the_verdict(name: str, status: int) -> None:
    command = f"check {EXCURSIONS / name}.toml --no-remedies | true; exit ${{PIPESTATUS[0]}}"
    done = locosim(command)
    assert done.returncode == status
    assert "BrokenPipe" not in done.stderr
    assert "Traceback" not in done.stderr


def test_closed_standard_output_is_an_error_that_says_so() -> None:
    done = locosim(f"check {EXCURSIONS / CLEAR}.toml >&-")
    assert done.returncode == 2
    assert "standard output is closed" in done.stderr


WAITING = """
import sys, time
import locosim.loading as files
def waits(*_, **__):
    print("waiting", file=sys.stderr, flush=True)
    time.sleep(60.0)
files.load_excursion = waits
sys.argv = ["locosim", "check", "x.toml"]
from locosim.cli import main
main()
"""


@pytest.mark.parametrize(("number", "status"), [(signal.SIGTERM, 143), (signal.SIGINT, 130)])
def test_a_request_to_end_ends_with_its_own_status(number: signal.Signals, status: int) -> None:
    program = subprocess.Popen(
        [sys.executable, "-c", WAITING], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # a shell in the background ignores it
    )  # fmt: skip
    assert program.stderr is not None
    assert program.stderr.readline() == "waiting\n"
    program.send_signal(number)
    _, errors = program.communicate()
    assert program.returncode == status, errors
    assert "Traceback" not in errors


@pytest.mark.parametrize(
    "change", ["train.vehicles[" + "1" * 4301 + "].count=9", "train.vehicles[" + "1" * 40 + "].count=9"]
)
def test_an_index_of_thousands_of_digits_is_refused(change: str) -> None:
    done = locosim(f"check {EXCURSIONS / CLEAR}.toml --change '{change}'")
    assert done.returncode == 2
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("depth", [100, 500, 5000])
def test_a_file_nested_deeply_is_refused(depth: int, tmp_path: Path) -> None:
    path = tmp_path / "deep.toml"
    path.write_text("[" + ".".join("a" * depth) + "]\nx = 1\n")
    done = locosim(f"check {path}")
    assert done.returncode == 2
    assert "Traceback" not in done.stderr


def test_the_compiler_may_be_switched_off() -> None:
    script = "from locosim import compiled; print(compiled.available)"
    done = subprocess.run(
        [sys.executable, "-c", script],
        capture_output=True, text=True, check=True, cwd=ROOT, env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
    )  # fmt: skip
    assert done.stdout.strip() == "False"


@pytest.mark.parametrize(
    ("cell", "written"),
    [
        ("=HYPERLINK(1)", "'=HYPERLINK(1)\n"),
        ("@name", "'@name\n"),
        ("+name", "'+name\n"),
        ("-12.5", "-12.5\n"),
        ("-3e-05", "-3e-05\n"),
        ("Larkspur", "Larkspur\n"),
    ],
)
def test_no_cell_begins_a_formula(cell: str, written: str, tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    with path.open("w", newline="") as file:
        TableWriter(file).writerow([cell])
    assert path.read_text() == written


def test_every_table_of_results_is_written_by_the_one_writer() -> None:
    allowed = {"csv_cells.py", "route_file.py"}  # that of a route has numbers alone, and is read again
    package = ROOT / "locosim"
    found = {path.name for path in package.rglob("*.py") if "csv.writer(" in path.read_text(encoding="utf-8")}
    assert found == allowed
