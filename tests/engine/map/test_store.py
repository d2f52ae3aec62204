"""Maps on disk: found again, made anew when spoilt, and never in the way."""

from __future__ import annotations

import fcntl
import os
import subprocess
import sys
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trials

from locosim.engine.map import cached as cycle_map
from locosim.engine.map import from_cycle as map_making
from locosim.engine.map import store as map_cache
from locosim.engine.map.store import StoredMap, load_map, map_key, store_map

SPOILS: dict[str, Callable[[Path], object]] = {
    "cut short": lambda path: path.write_bytes(path.read_bytes()[: path.stat().st_size // 2]),
    "empty": lambda path: path.write_bytes(b""),
    "not an archive": lambda path: path.write_bytes(b"what is this? " * 100),
    "a bit turned": lambda path: _turned(path),
    "another archive": lambda path: _archive(path, {"note.txt": b"nothing"}),
    "an array missing": lambda path: _rewritten(path, drop="steam"),
    "a wrong shape": lambda path: _rewritten(path, effort=np.zeros((2, 2))),
    "not a number": lambda path: _rewritten(path, effort=np.full((2, 3, 4), np.nan)),
    "objects": lambda path: _rewritten(path, effort=np.array([{}, None], dtype=object)),
    "a folder": lambda path: (path.unlink(), path.mkdir()),
}


def _turned(path: Path) -> None:
    data = bytearray(path.read_bytes())
    data[data.index(np.float64(14e5).tobytes())] ^= (
        0xFF  # among the pressures, not in a heading of the archive
    )
    path.write_bytes(bytes(data))


def _archive(path: Path, content: dict[str, bytes]) -> None:
    with zipfile.ZipFile(path, "w") as file:
        for name, text in content.items():
            file.writestr(name, text)


def _rewritten(path: Path, drop: str = "", **changed: np.ndarray) -> None:
    with np.load(path) as file:
        arrays = {name: file[name] for name in file.files if name != drop}
    np.savez(path, **{**arrays, **changed})


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("LOCOSIM_CACHE", str(tmp_path / "kept"))
    monkeypatch.setattr(cycle_map, "_MEMORY", cycle_map.MapMemory())  # or later tests find the maps made here
    return tmp_path / "kept" / "maps"


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Stand in for the making of a map, and count how often it is asked for."""
    monkeypatch.setattr(cycle_map.MapMemory, "find", lambda *_: None)  # by another process each time
    calls: list[str] = []

    def stand_in(engine: object) -> StoredMap:
        calls.append("made")
        return trials.small_map()

    monkeypatch.setattr(map_making, "build_map", stand_in)
    return calls


def test_what_is_kept_is_found_again_to_the_bit(folder: Path) -> None:
    wanted = trials.small_map()
    assert load_map("a") is None
    store_map("a", wanted)
    found = load_map("a")
    assert found is not None
    for name in ("pressures", "speeds", "cutoffs", "effort", "steam", "back_pressure"):
        assert np.array_equal(getattr(found, name), getattr(wanted, name))
    assert (found.peak_effort_ratio, found.unit_effort_shares, found.notes) == (
        1.02,
        (0.4, 0.6),
        wanted.notes,
    )
    assert [path.name for path in folder.iterdir()] == ["a.npz"], "no half-written files are left"


@pytest.mark.parametrize("spoil", SPOILS)
def test_a_spoilt_file_is_made_anew_without_a_word(
    spoil: str, folder: Path, made: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    engine = trials.locomotive()
    cycle_map.cycle_map(engine)
    assert made == ["made"]
    cycle_map.cycle_map(engine)
    assert made == ["made"], "a good file is read"
    SPOILS[spoil](folder / f"{map_key(engine)}.npz")
    performance_map, _ = cycle_map.cycle_map(engine)
    assert made == ["made", "made"]
    assert np.array_equal(performance_map.effort, trials.small_map().effort)
    if spoil != "a folder":  # a folder of that name cannot be replaced, so each time the map is made
        cycle_map.cycle_map(engine)
        assert made == ["made", "made"], "the file was mended"
    assert capsys.readouterr() == ("", "")


@pytest.mark.parametrize("name", ["a file stands there", "no writing there"])
def test_nothing_fails_where_nothing_can_be_written(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, made: list[str]
) -> None:
    place = tmp_path / "place"
    if name == "a file stands there":
        place.write_text("a file")
    else:
        place.mkdir()

        def refused(*_: object, **__: object) -> None:
            raise PermissionError("read-only")

        monkeypatch.setattr(map_cache, "write_whole", refused)
    monkeypatch.setenv("LOCOSIM_CACHE", str(place))
    performance_map, _ = cycle_map.cycle_map(trials.locomotive())
    assert np.array_equal(performance_map.effort, trials.small_map().effort)
    assert made == ["made"]


_ONE_OF_TWO = """
import time
import trials
from locosim.engine.map import cached, from_cycle

def slow(engine):
    print("computed", flush=True)
    time.sleep(1.0)
    return trials.small_map()

from_cycle.build_map = slow
cached.cycle_map(trials.locomotive(superheater=False))
"""


def test_two_processes_that_need_one_map_compute_it_once(folder: Path) -> None:
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), "LOCOSIM_PURE_PYTHON": "1"}
    both = [
        subprocess.Popen([sys.executable, "-c", _ONE_OF_TWO], stdout=subprocess.PIPE, env=environment)
        for _ in range(2)
    ]
    said = [process.communicate(timeout=120)[0] for process in both]
    assert [process.returncode for process in both] == [0, 0]
    assert sorted(said) == [b"", b"computed\n"]
    assert [path.suffix for path in folder.iterdir()] == [".npz"], "the lock is removed"


def test_a_map_is_computed_where_another_process_has_stopped(
    folder: Path, made: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    fcntl = pytest.importorskip("fcntl")
    monkeypatch.setattr(map_cache, "MAX_WAIT", 0.1)
    engine = trials.locomotive()
    folder.mkdir(parents=True)
    with (folder / f"{map_key(engine)}.lock").open("wb") as stopped:
        fcntl.flock(stopped, fcntl.LOCK_EX)
        cycle_map.cycle_map(engine)
    assert made == ["made"]


def test_a_full_disk_leaves_the_old_map_and_no_scraps(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    store_map("a", trials.small_map())

    def full(file: object, content: bytes) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(map_cache, "write_whole", full)
    store_map("a", trials.small_map(effort=2.0))
    found = load_map("a")
    assert found is not None
    assert np.array_equal(found.effort, trials.small_map().effort)
    assert [path.name for path in folder.iterdir()] == ["a.npz"]


def test_the_key_follows_what_the_map_depends_on_and_nothing_else() -> None:
    engine = trials.locomotive()
    assert map_key(engine) == map_key(
        replace(engine, name="another", mass=engine.mass + 1.0, references=("x",))
    )
    different = {
        map_key(engine),
        map_key(trials.locomotive(bore=0.521)),
        map_key(trials.locomotive(wheel=1.5701)),
        map_key(trials.locomotive(pressure=13.2e5)),
        map_key(trials.locomotive(superheater=False)),
        map_key(trials.locomotive(units=2)),
        map_key(replace(engine, max_speed=20.0)),
    }
    assert len(different) == 7


@pytest.mark.parametrize(
    "changed",
    [
        "physics/steam/nozzle_flow.py",
        "physics/data/cole_1914_speed_factors.csv",
        "engine/map/from_cycle.py",
        "model/cylinders.py",
        "constants.py",
    ],
)
def test_the_key_follows_all_code_a_map_is_computed_by(changed: str, monkeypatch: pytest.MonkeyPatch) -> None:
    before = map_key(trials.locomotive())
    map_cache._code.cache_clear()
    read = Path.read_bytes
    more = b"\nMORE = 1\n"
    monkeypatch.setattr(
        Path, "read_bytes", lambda path: read(path) + (more if path.as_posix().endswith(changed) else b"")
    )
    try:
        assert map_key(trials.locomotive()) != before
    finally:
        map_cache._code.cache_clear()


def test_the_maps_used_least_recently_go_when_they_take_too_much_room(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store_map("a", trials.small_map())
    size = (folder / "a.npz").stat().st_size
    for age, key in enumerate("abcde"):
        store_map(key, trials.small_map())
        os.utime(folder / f"{key}.npz", (1e9 + age, 1e9 + age))
    if load_map("c") is None:  # now the one used last
        pytest.fail("the map is not there")
    monkeypatch.setattr(map_cache, "MAX_STORED_BYTES", 3.5 * size)
    store_map("f", trials.small_map())
    assert {path.stem for path in folder.iterdir()} == {"c", "e", "f"}


def test_maps_in_memory_stay_within_their_size(monkeypatch: pytest.MonkeyPatch) -> None:
    kept = trials.small_map()
    monkeypatch.setattr(cycle_map, "MAX_KEPT_BYTES", 3.5 * kept.size)
    memory = cycle_map.MapMemory()
    for number in range(1000):
        memory.keep(str(number), trials.small_map())
        assert memory.find("0") is not None  # the base of a sweep is asked for again and again
        assert memory.size <= 3.5 * kept.size
    assert memory.find("998") is not None
    assert memory.find("500") is None


# Who computes a map.


def is_locked(path: Path) -> bool:
    """Whether somebody has the lock of a file."""
    with path.open("rb") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return True
        return False


def test_a_map_is_locked_while_it_is_computed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LOCOSIM_CACHE", str(tmp_path / "new" / "folder"))
    lock = tmp_path / "new" / "folder" / "maps" / "abc.lock"
    for _ in range(2):
        with map_cache.map_lock("abc"):
            assert is_locked(lock)
        assert not lock.exists()
    with map_cache.map_lock("abc"):
        lock.unlink()  # by a stranger


def test_nobody_waits_for_a_lock_for_ever(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    slept: list[float] = []
    clock = [100.0]

    def sleep(seconds: float) -> None:
        slept.append(seconds)
        clock[0] += seconds

    monkeypatch.setattr(map_cache.time, "sleep", sleep)
    monkeypatch.setattr(map_cache.time, "monotonic", lambda: clock[0])
    path = tmp_path / "x.lock"
    with path.open("wb") as mine, path.open("wb") as other:
        map_cache._wait_for_lock(mine)
        assert slept == []
        assert is_locked(path)
        map_cache._wait_for_lock(other)
        assert sum(slept) == pytest.approx(map_cache.MAX_WAIT, abs=0.2)
        assert max(slept) <= 0.1  # it looks again soon
    assert not is_locked(path)


def test_maps_that_just_have_room_are_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(map_cache, "MAX_STORED_BYTES", 300.0)
    paths = [tmp_path / f"{name}.npz" for name in "abcd"]
    for age, path in enumerate(paths):
        path.write_bytes(bytes(100))
        os.utime(path, (1e9 + age, 1e9 + age))
    map_cache._delete_oldest(tmp_path, keep=paths[0])
    assert [path.exists() for path in paths] == [True, False, True, True]


def test_a_key_is_24_hexadecimal_digits() -> None:
    found = map_key(trials.locomotive())
    assert len(found) == 24
    assert int(found, 16) >= 0
