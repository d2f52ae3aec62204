"""The steady run of the kernel in C: built with gcc, and called with the same arrays."""

from __future__ import annotations

import ctypes
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from locosim.engine.map.interpolation import between
from locosim.journey.kernel.arrays import NODE_ROWS, STEP_ROWS, SUM_COUNT, RunRecord
from locosim.journey.kernel.boiler_state import initial_boiler_state
from locosim.journey.setup.prepare import PreparedRun

SOURCE = Path(__file__).parent / "steady_run.c"
OPTIONS = ("-O3", "-march=native", "-std=c11", "-shared", "-fPIC")

LINE = (
    "distance",
    "envelope",
    "shutoff",
    "gravity",
    "grade",
    "curve",
    "adhesion",
    "steam_share",
    "max_cutoff",
)
STOPS = ("dwell", "earliest_departure", "water_rate", "fuel_rate")
ARRAYS = (*LINE, *STOPS, "map_effort", "map_steam", "map_throttles", "heat_table", "nodes", "steps", "sums")
COUNTS = ("n", "pressures", "speeds", "controls", "wide_open", "heats", "warm")
LOAD = ("mass", "rotating", "a", "b", "c", "a_contents", "b_contents", "wind")
STARTING = ("starting", "starting_warm", "cooling_time", "rolling_start")
GRID = ("pressure_start", "pressure_step", "speed_step", "cutoff_start", "cutoff_step")
ENGINE = ("friction", "friction_share", "adhesive_weight", "drifting_steam")
SUPPLY = (
    "radiation_loss",
    "firing_step",
    "evaporation_heat",
    "sustained_steam",
    "max_burning",
    "tender_water_ratio",
)
STEAM = ("auxiliary_steam", "blower_steam", "ash_share")
START = (
    "time",
    "water",
    "burning",
    "bed",
    "tender_water",
    "tender_fuel",
    "tender_water_full",
    "tender_fuel_full",
)
FIGURES = (*LOAD, *STARTING, *GRID, *ENGINE, "pressure", *SUPPLY, *STEAM, *START)


class Run(ctypes.Structure):
    """`Run` of the source."""

    _fields_ = [
        *((name, ctypes.c_void_p) for name in (*ARRAYS, "limits")),
        *((name, ctypes.c_int64) for name in COUNTS),
        *((name, ctypes.c_double) for name in FIGURES),
    ]


def build(folder: Path) -> Any:
    """The library of the source, built in a folder; None where there is no gcc."""
    gcc = shutil.which("gcc")
    if gcc is None:
        return None
    target = folder / "steady_run.so"
    subprocess.run([gcc, *OPTIONS, "-o", target, SOURCE, "-lm"], check=True)
    library = ctypes.CDLL(str(target))
    library.run.restype, library.run.argtypes = ctypes.c_int64, [ctypes.POINTER(Run)]
    return library


def steady_run_in_c(library: Any, prepared: PreparedRun) -> Callable[[], tuple[int, RunRecord]]:
    """A call of the C code for a run with steady pressure and no helpers; it returns the last node and the record."""
    line, engine, boiler, start = prepared.line, prepared.engine, prepared.boiler, prepared.start
    assert not prepared.helpers
    assert not boiler.transient
    assert not np.any(line.cleaning)
    n = len(line.grade)
    record = RunRecord(
        np.zeros((NODE_ROWS, n + 1)),
        np.zeros((STEP_ROWS, n)),
        np.zeros(n, dtype=np.int8),
        np.zeros(SUM_COUNT),
    )
    temperature = initial_boiler_state(boiler, start).temperature
    pressure = between(boiler.pressure_table, boiler.first_temperature, boiler.temperature_step, temperature)
    read = {
        **{name: getattr(line, name) for name in (*LINE, *STOPS)},
        "map_effort": engine.grid.effort,
        "map_steam": engine.grid.steam,
        "map_throttles": engine.grid.throttles,
        "heat_table": boiler.heat_table,
    }
    kept = {name: np.ascontiguousarray(array, dtype=float) for name, array in read.items()}
    pressures, speeds, controls = engine.grid.effort.shape
    counts = (n, pressures, speeds, controls, engine.grid.wide_open, len(boiler.heat_table), start.warm)
    parts = (
        (prepared.load, (*LOAD, *STARTING)),
        (engine.grid, GRID),
        (engine, ENGINE),
        (boiler, (*SUPPLY, *STEAM)),
        (start, START),
    )
    values: dict[str, Any] = {name: array.ctypes.data for name, array in kept.items()}
    values |= {name: getattr(record, name).ctypes.data for name in ("nodes", "steps", "sums", "limits")}
    values |= dict(zip(COUNTS, map(int, counts), strict=True)) | {"pressure": pressure}
    values |= {name: float(getattr(part, name)) for part, names in parts for name in names}
    asked = Run(**values)

    def call() -> tuple[int, RunRecord]:
        assert kept  # the arrays live as long as the call does
        record.sums[:] = 0.0
        return library.run(ctypes.byref(asked)), record

    return call
