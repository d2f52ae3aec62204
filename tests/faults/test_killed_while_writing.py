"""Processes that are killed in the middle of a write, or that write one cache at once: nothing half-written is used."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from locosim import compiled
from locosim.engine.map import store
from locosim.errors import LocosimError
from locosim.scenario.example import write_example
from locosim.studies.records import Journal, Record

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs signals")
ROOT = Path(__file__).resolve().parents[2]

# Killed after half of the content, and again when all of it is written and has no name yet.
KILLED = """
import os, signal, sys
from pathlib import Path
from locosim import files_on_disk
kill = lambda *_, **__: os.kill(os.getpid(), signal.SIGKILL)
if sys.argv[2] == "at the end":
    files_on_disk._name_nameless = kill
    Path.replace = kill
with files_on_disk.writing_whole(Path(sys.argv[1])) as file:
    file.write(b"half")
    file.flush()
    if sys.argv[2] == "half way":
        kill()
"""
KILLED_EXAMPLE = """
import os, signal, sys
from pathlib import Path
from locosim.scenario.example import write_example
Path.rename = lambda *_: os.kill(os.getpid(), signal.SIGKILL)
write_example(sys.argv[1])
"""
CALL = "from locosim.physics.steam.nozzle_flow import critical_ratio; print(critical_ratio(1.3))"
HITS = "print(sum(critical_ratio.from_python.stats.cache_hits.values()))"


def start(script: str, *words: str, **environment: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", script, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT), **environment},
    )  # fmt: skip


@pytest.mark.parametrize("moment", ["half way", "at the end"])
@pytest.mark.parametrize("old", [b"old", None])
def test_a_killed_write_leaves_the_old_file_and_no_other(
    old: bytes | None, moment: str, tmp_path: Path
) -> None:
    path = tmp_path / "a.csv"
    if old is not None:
        path.write_bytes(old)
    killed = start(KILLED, str(path), moment)
    killed.communicate()
    assert killed.returncode == -9
    assert (path.read_bytes() if path.exists() else None) == old
    left = [file.name for file in tmp_path.iterdir() if file != path]
    if hasattr(os, "O_TMPFILE"):
        assert left == []
    assert all(name.startswith(".a.csv.") for name in left)


def test_a_folder_half_made_by_a_killed_process_is_cleared_by_the_next(tmp_path: Path) -> None:
    target = tmp_path / "railway"
    killed = start(KILLED_EXAMPLE, str(target))
    killed.communicate()
    assert killed.returncode == -9
    (left,) = tmp_path.iterdir()
    assert left.name.startswith(".railway.")
    mine = tmp_path / ".railway.other.1.tmp"  # of another machine, and of a process that runs
    running = tmp_path / left.name.replace(str(killed.pid), str(os.getppid()))
    for folder in (mine, running):
        folder.mkdir()
    write_example(target)
    assert sorted(tmp_path.iterdir()) == sorted([target, mine, running])


def test_two_processes_on_one_cold_cache_find_the_same_and_the_third_finds_it_there(tmp_path: Path) -> None:
    cache = {"LOCOSIM_CACHE": str(tmp_path)}
    both = [start(CALL, **cache) for _ in range(2)]
    found = [process.communicate() for process in both]
    assert [process.returncode for process in both] == [0, 0], found
    assert found[0][0] == found[1][0]
    third = start(f"{CALL}; {HITS}", **cache)
    output, error = third.communicate()
    assert output.split()[0] == found[0][0].strip(), error
    if compiled.available:
        assert output.split()[1] == "1"
    assert [path for path in tmp_path.rglob("*") if ".tmp" in path.name] == []


STORE = """
import sys, numpy as np
from locosim.engine.map.store import StoredMap, load_map, store_map
table = float(sys.argv[1]) * np.ones((2, 3, 4))
axes = dict(pressures=np.array([5e5, 14e5]), speeds=np.arange(3.0), cutoffs=np.linspace(0.2, 0.8, 4))
given = StoredMap(**axes, throttles=table, effort=table, steam=table, back_pressure=table, peak_effort_ratio=1.0,
                  unit_effort_shares=(1.0,), min_starting_effort_ratio=1.0, live_steam_starting_effort=1.0, notes=())
for _ in range(200):
    store_map("one", given)
    found = load_map("one")
    assert found is not None and len({*found.effort.flat, *found.steam.flat}) == 1, found
"""


def test_two_processes_that_store_one_map_never_read_a_mixed_one(tmp_path: Path) -> None:
    both = [start(STORE, value, LOCOSIM_CACHE=str(tmp_path)) for value in "12"]
    assert [process.communicate()[1] for process in both] == ["", ""]
    assert [path.name for path in (tmp_path / "maps").iterdir()] == ["one.npz"]


def _journal(path: Path, rows: int) -> bytes:
    journal = Journal(path, "this batch")
    for number in range(len(journal), rows):
        journal.add(Record((float(number), "é")), None)
    journal.close()
    return path.read_bytes()


@pytest.mark.parametrize(
    "end", [bytes(512), b"\xff\xfe[2,", b'[2,[2.0,"\xc3', b"[2]\n", b"null\n", b"[9,[1.0],null]\n"]
)
def test_a_journal_that_ends_in_what_is_no_row_goes_on_from_the_last_row(end: bytes, tmp_path: Path) -> None:
    """As a journal may end after the power failed: blocks of zeros, or parts of rows."""
    path = tmp_path / "j"
    whole, two_rows = _journal(path, 4), _journal(tmp_path / "two", 2)
    path.write_bytes(two_rows + end)
    assert _journal(path, 4) == whole


@pytest.mark.parametrize("content", [bytes(512) + b"\n", b"\xff\n", b"[]\n", b"{}\n"])
def test_a_file_that_is_no_journal_is_refused_and_kept(content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "j"
    path.write_bytes(content)
    with pytest.raises(LocosimError, match="is no journal of a batch"):
        Journal(path, "this batch")
    assert path.read_bytes() == content


# The clock of the machine may be set back: no result rests on it, and neither does what is found in the cache.

FUTURE, PAST = 4e9, 1e9  # in 2096 and 2001


@pytest.mark.skipif(not compiled.available, reason="nothing is compiled here")
@pytest.mark.parametrize("moment", [FUTURE, PAST])
def test_machine_code_is_found_again_whatever_the_clock_says(moment: float, tmp_path: Path) -> None:
    for number in range(8):  # folders of other versions, all newer or all older than now
        (tmp_path / f"compiled-{number}").mkdir(mode=0o700)
        os.utime(tmp_path / f"compiled-{number}", (moment, moment))
    cache = {"LOCOSIM_CACHE": str(tmp_path)}
    start(CALL, **cache).communicate()
    for path in tmp_path.rglob("*critical_ratio*"):
        os.utime(path, (moment, moment))
    output, error = start(f"{CALL}; {HITS}", **cache).communicate()
    assert output.split()[1:] == ["1"], error
    assert len(list(tmp_path.glob("compiled-*"))) == compiled.MAX_FOLDERS


@pytest.mark.parametrize("moment", [FUTURE, PAST])
def test_a_map_just_stored_stays_whatever_the_clock_says(
    moment: float, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LOCOSIM_CACHE", str(tmp_path))
    folder = tmp_path / "maps"
    folder.mkdir()
    for number in range(3):
        (folder / f"{number}.npz").write_bytes(bytes(1000))
        os.utime(folder / f"{number}.npz", (moment, moment))
    monkeypatch.setattr(store, "MAX_STORED_BYTES", 1500.0)
    (folder / "new.npz").write_bytes(bytes(1000))
    store._delete_oldest(folder, keep=folder / "new.npz")
    assert [path.name for path in folder.iterdir()] == ["new.npz"]


@pytest.mark.parametrize("moment", [FUTURE, PAST])
def test_a_journal_goes_on_whatever_the_clock_says(moment: float, tmp_path: Path) -> None:
    path = tmp_path / "j"
    _journal(path, 2)
    os.utime(path, (moment, moment))
    journal = Journal(path, "this batch")
    assert journal.resumed == 2
    journal.close()


def test_no_result_rests_on_the_clock_of_the_machine(tmp_path: Path) -> None:
    """A check gives the same bytes under a clock that is set back at every reading."""
    script = (
        "import itertools, sys, time\n"
        "back = itertools.count(int(sys.argv[1]), -3600)\n"
        "time.time = lambda: float(next(back))\n"
        "time.time_ns = lambda: next(back) * 10**9\n"
        "sys.argv = ['locosim', 'check', 'tests/odd/data/garden.toml', '--report', sys.argv[2]]\n"
        "from locosim.cli import main\nmain()"
    )
    reports = []
    for moment in (FUTURE, PAST):
        report = tmp_path / f"{moment:.0f}.html"
        done = subprocess.run(
            [sys.executable, "-c", script, f"{moment:.0f}", str(report)],
            cwd=ROOT,
            capture_output=True,
            check=False,
        )
        assert done.returncode in (0, 1), done.stderr
        reports.append(report.read_bytes())
    assert reports[0] == reports[1]
