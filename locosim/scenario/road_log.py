"""Road logs from CSV files: a row for each moment noted, with keys as headings."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np

from locosim.constants import WATER_DENSITY
from locosim.errors import LocosimError, Problem, ScenarioError
from locosim.model.provenance import FileUsed, Provenance
from locosim.model.road_log import RoadLog, RoadLogRow
from locosim.model.timetable import DAY
from locosim.physics.types import Floats
from locosim.scenario.build import build
from locosim.scenario.csv_table import read_rows
from locosim.scenario.source import Table

MIN_ROWS = 10  # a log with fewer shows nothing


def read_road_log(path: str | Path) -> RoadLog:
    """Read a road log.

    The columns are keys of `locosim.model.road_log.RoadLogRow`: `time` or `elapsed`, `place` or `speed`, and what
    else was noted. A blank cell of throttle, cutoff or brake means as in the row above; any other blank was not noted.

    Args:
        path: The CSV file.

    Raises:
        ScenarioError: With every problem of the file: headings, cells, and times that are out of order.
    """
    path, problems = Path(path), list[Problem]()
    try:
        tables = read_rows(path, RoadLogRow, problems)
    except LocosimError as error:
        raise ScenarioError(str(path), [Problem("", str(error))]) from None
    built = [(table, build(RoadLogRow, table, problems)) for table in tables]
    rows = [(table, row) for table, row in built if row is not None]
    if not problems and len(rows) < MIN_ROWS:
        problems.append(Problem("", f"has {len(rows)} rows; a log needs at least {MIN_ROWS}"))
    if not problems:
        _check_columns([row for _, row in rows], problems)
        _check_fuel(rows, problems)
    times = np.zeros(0) if problems else _times(rows, problems)
    if problems:
        raise ScenarioError(str(path), problems)
    return _as_arrays(path, tables[0].sha256, times, [row for _, row in rows])


def _check_columns(rows: list[RoadLogRow], problems: list[Problem]) -> None:
    """Record what the log as a whole does not give."""
    if all(row.place is None for row in rows):
        problems.append(
            Problem(
                "",
                "gives no place; write at least the first one, as place [mile] with the chainage on the route, so that "
                "the grades are known",
            )
        )
    if sum(row.speed is not None for row in rows) < 2 and sum(row.place is not None for row in rows) < 2:
        problems.append(Problem("", "gives neither speed nor place along the way; add one of these columns"))


def _check_fuel(rows: list[tuple[Table, RoadLogRow]], problems: list[Problem]) -> None:
    """Record each count of the fuel that is less than the one before."""
    before: tuple[Table, float] | None = None
    for table, row in rows:
        if row.fuel_fired is None:
            continue
        if before is not None and row.fuel_fired < before[1]:
            text = f"{table.user_text('fuel_fired')!r} is less than {before[0].user_text('fuel_fired')!r} before it"
            problems.append(
                table.problem(
                    f"{text}; it is all the fuel fired since the log began, with several trips in one log too",
                    "fuel_fired",
                )
            )
        before = table, row.fuel_fired


def _times(rows: list[tuple[Table, RoadLogRow]], problems: list[Problem]) -> Floats:
    """Times in order; a time of day that falls by more than half a day is on the next day."""
    times: list[float] = []
    day = 0.0
    for number, (table, row) in enumerate(rows):
        key = "time" if row.time is not None else "elapsed"
        value = float(row.time if row.time is not None else row.elapsed or 0.0)
        if number and (key == "time") != (rows[0][1].time is not None):
            problems.append(
                table.problem(f"gives {key}, unlike the first row; keep to one of time and elapsed")
            )
            continue
        value += day
        if times and key == "time" and value < times[-1] - DAY / 2:
            day += DAY
            value += DAY
        if times and value <= times[-1]:
            above = rows[number - 1][0].user_text(key)
            text = f"{table.user_text(key)!r} must be later than {above!r} in the row above"
            trips = "; with several trips in one log, it runs on from one to the next" * (key == "elapsed")
            problems.append(
                table.problem(f"{text}; put the rows in order of time, each moment once{trips}", key)
            )
        times.append(value)  # also where it is wrong, for each row is compared with the one above it
    return np.array(times)


def _as_arrays(path: Path, sha256: str, times: Floats, rows: list[RoadLogRow]) -> RoadLog:
    def noted(value: Callable[[RoadLogRow], float | None]) -> Floats:
        return np.array([np.nan if (found := value(row)) is None else found for row in rows])

    brake = _held(noted(lambda row: None if row.brake is None else float(row.brake == "on")))
    return RoadLog(
        name=path.stem,
        time=times,
        place=noted(lambda row: row.place),
        speed=noted(lambda row: row.speed),
        throttle=_held(noted(lambda row: row.throttle)),
        cutoff=_held(noted(lambda row: row.cutoff)),
        pressure=noted(lambda row: row.pressure),
        braking=np.nan_to_num(brake) > 0.0,
        tender_water=WATER_DENSITY * noted(lambda row: row.tender_water),
        fuel_fired=noted(lambda row: row.fuel_fired),
        provenance=Provenance(files=(FileUsed(path=str(path), sha256=sha256),)),
    )


def _held(values: Floats) -> Floats:
    """Values with each blank filled from the row above."""
    last = np.maximum.accumulate(np.where(np.isnan(values), -1, np.arange(len(values))))
    return np.where(last >= 0, values[np.maximum(last, 0)], np.nan)
