"""Performance maps stored on disk, each under a hash of everything it depends on.

A stored map is used only for the same engine, the same assumptions and the same source code. A file that cannot be
read, or is not valid, is recomputed silently; where nothing can be written, nothing is stored.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
import time
import zipfile
from collections.abc import Iterator
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import IO, Any

import numpy as np

from locosim.code_digest import code_digest
from locosim.compiled import cache_folder
from locosim.files_on_disk import write_whole
from locosim.frozen import frozen
from locosim.model import Assumptions, Locomotive
from locosim.physics.types import Floats

MAX_WAIT = 60.0  # for a map that another process computes, or was stopped in computing [s]
MAX_STORED_BYTES = 512e6  # on disk, of some 300 to 500 kB each; those used least recently are deleted first
# Assumptions that change a map or its notes: those of the design steam supply, which gives the steam temperature; of
# the front end, the throttle and the low-pressure cutoff; and of the notes. All others touch the boiler or the journey.
MAP_ASSUMPTIONS = (
    "max_steam_temperature",
    "max_heater_steam_share",
    "max_stoker_firing",  # the mix of feed devices depends on the sustained evaporation
    "draft_roughness_factor",
    "unburned_factor",
    "superheater_factor",
    "steam_rate_factor",
    "max_back_pressure",
    "heater_exhaust_share",
    "tender_water_temperature",
    "boiler_wind_speed",
    "throttle_area_ratio",  # throttle openings; neither effort nor steam
    "low_pressure_cutoff_offset",
    "low_pressure_cutoff_slope",
)
_ARRAYS = (
    "pressures",
    "speeds",
    "cutoffs",
    "throttles",
    "effort",
    "steam",
    "back_pressure",
    "peak_effort_ratio",
    "unit_effort_shares",
    "min_starting_effort_ratio",
    "live_steam_starting_effort",
)


@frozen(eq=False)
class StoredMap:
    """The stored part of a map; names, shapes and units as in `PerformanceMap`."""

    pressures: Floats
    speeds: Floats
    cutoffs: Floats
    throttles: Floats
    effort: Floats
    steam: Floats
    back_pressure: Floats
    peak_effort_ratio: float
    unit_effort_shares: tuple[float, ...]
    min_starting_effort_ratio: float
    live_steam_starting_effort: float
    notes: tuple[str, ...]

    @property
    def size(self) -> int:
        """Size of the arrays [bytes]."""
        return sum(np.asarray(getattr(self, name)).nbytes for name in _ARRAYS)

    @property
    def is_valid(self) -> bool:
        """Whether all shapes fit and all figures are finite."""
        shape = (len(self.pressures), len(self.speeds), len(self.cutoffs))
        tables = (self.throttles, self.effort, self.steam, self.back_pressure)
        return (
            all(table.shape == shape for table in tables)
            and all(bool(np.all(np.isfinite(getattr(self, name)))) for name in _ARRAYS)
            and self.peak_effort_ratio > 0.0
        )


def map_key(locomotive: Locomotive, assumptions: Assumptions = Assumptions()) -> str:
    """Hash of the locomotive data, the assumptions and the source code that compute the map.

    Args:
        locomotive: The engine; its `map_parts` count.
        assumptions: Assumed figures; those of `MAP_ASSUMPTIONS` count.

    Returns:
        24 hexadecimal digits.
    """
    depends = (
        *map_parts(locomotive),
        [(name, getattr(assumptions, name)) for name in MAP_ASSUMPTIONS],
    )
    return hashlib.sha256(f"{_code()} {depends!r}".encode()).hexdigest()[:24]


def map_parts(locomotive: Locomotive) -> tuple[object, ...]:
    """The parts of an engine that its map depends on; its name, mass, tender and references are none."""
    return (
        locomotive.boiler,
        locomotive.engine_units,
        locomotive.feed_devices,
        locomotive.auxiliaries,
        locomotive.steam_passages,
        locomotive.max_speed,
    )


# All code a map is computed by: physics with its data files, model and engine.
_CODE = ("constants.py", "physics/**/*.py", "physics/data/*.csv", "model/**/*.py", "engine/**/*.py")


@cache
def _code() -> str:
    """Hash of the code that computes maps, with the version of the steam library."""
    return f"{version('seuif97')} {code_digest(_CODE, cache_folder())}"


def _map_path(key: str) -> Path:
    return cache_folder() / "maps" / f"{key}.npz"


def load_map(key: str) -> StoredMap | None:
    """Read a map; None where no usable one is stored.

    Args:
        key: Its `map_key`.
    """
    try:
        with _map_path(key).open("rb") as stream, np.load(stream, allow_pickle=False) as file:
            arrays = {name: file[name] for name in (*_ARRAYS, "notes")}
        found = StoredMap(
            **{name: arrays[name] for name in _ARRAYS[:7]},
            peak_effort_ratio=float(arrays["peak_effort_ratio"]),
            unit_effort_shares=tuple(float(share) for share in arrays["unit_effort_shares"]),
            min_starting_effort_ratio=float(arrays["min_starting_effort_ratio"]),
            live_steam_starting_effort=float(arrays["live_steam_starting_effort"]),
            notes=tuple(str(note) for note in arrays["notes"]),
        )
    except (OSError, ValueError, KeyError, TypeError, EOFError, zipfile.BadZipFile):
        return None
    if not found.is_valid:
        return None
    with contextlib.suppress(OSError):
        os.utime(_map_path(key))  # marks it as recently used
    return found


def store_map(key: str, found: StoredMap) -> None:
    """Write a map whole or not at all; a folder that cannot be written is no error.

    Args:
        key: Its `map_key`.
        found: The map.
    """
    path = _map_path(key)
    content: dict[str, Any] = {name: np.asarray(getattr(found, name)) for name in _ARRAYS}
    content["notes"] = np.asarray(found.notes, dtype=np.str_)
    file = io.BytesIO()
    np.savez(file, **content)
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, file.getvalue())
        _delete_oldest(path.parent, keep=path)


@contextlib.contextmanager
def map_lock(key: str) -> Iterator[None]:
    """Wait while another process computes a map, so that it is computed once.

    The lock ends with the process that has it, however that ends. Nobody waits where nothing can be written, or where
    the system or the file system has no such locks, nor longer than `MAX_WAIT`.

    Args:
        key: Its `map_key`.
    """
    path = _map_path(key).with_suffix(".lock")
    with contextlib.ExitStack() as stack:
        with contextlib.suppress(OSError, ImportError):
            path.parent.mkdir(parents=True, exist_ok=True)
            _wait_for_lock(stack.enter_context(path.open("wb")))
            stack.callback(path.unlink, missing_ok=True)
        yield


def _wait_for_lock(file: IO[bytes]) -> None:
    """Wait until nobody else has the lock of a file, for a time."""
    import fcntl

    end = time.monotonic() + MAX_WAIT
    while True:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() > end:
                return
            time.sleep(0.05)
        else:
            return


def _delete_oldest(folder: Path, keep: Path) -> None:
    """Delete the maps used least recently where they take too much room.

    The one just written is kept: where the clock was set back, it seems to be the oldest.
    """
    size = float(keep.stat().st_size)
    files = [(file, file.stat()) for file in folder.glob("*.npz") if file != keep]
    for file, status in sorted(files, key=lambda each: each[1].st_mtime, reverse=True):
        size += status.st_size
        if size > MAX_STORED_BYTES:
            file.unlink(missing_ok=True)
