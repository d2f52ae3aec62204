"""Road logs from CSV files: times, blanks, units, and problems that name row, column, found and allowed."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from locosim.constants import MPH, PSI
from locosim.errors import ScenarioError
from locosim.model.road_log import RoadLog, RoadLogRow
from locosim.scenario.road_log import MIN_ROWS, read_road_log
from locosim.scenario.schema import keys_of

DOCS = Path(__file__).resolve().parents[2] / "docs" / "theory" / "road-log.md"


def written(folder: Path, heading: str, rows: list[str]) -> Path:
    file = folder / "log.csv"
    file.write_text("\n".join([heading, *rows]) + "\n", encoding="utf-8")
    return file


def read(folder: Path, heading: str, rows: list[str]) -> RoadLog:
    return read_road_log(written(folder, heading, rows))


def problems(folder: Path, heading: str, rows: list[str]) -> str:
    with pytest.raises(ScenarioError) as caught:
        read(folder, heading, rows)
    return str(caught.value)


def minutes(first: int = 0, count: int = MIN_ROWS) -> list[str]:
    return [f"10:{first + k:02d},{k},30" for k in range(count)]


def test_units_are_in_the_headings_and_blanks_hold_what_was_set(tmp_path: Path) -> None:
    rows = [
        "10:00,5,30,100,25,195,off",
        "10:01,,31,,,,",
        "10:02,,30,,30,,",
        "10:03,6.5,29,0,,190,",
        "10:04,,25,,,,on",
    ]
    rows += [f"10:{k:02d},,20,,,," for k in range(5, 10)]
    log = read(tmp_path, "time,place [mile],speed [mph],throttle [%],cutoff [%],pressure [psi],brake", rows)
    assert log.time[:2] == pytest.approx([36000.0, 36060.0])
    assert log.speed[1] == pytest.approx(31 * MPH)
    assert log.throttle.tolist() == [1, 1, 1, *[0] * 7]
    assert log.cutoff.tolist() == pytest.approx([0.25, 0.25, *[0.30] * 8])
    assert log.braking.tolist() == [False] * 4 + [True] * 6
    assert log.pressure[0] == pytest.approx(195 * PSI)
    assert np.isnan(log.pressure[1])  # not noted: the pressure is no setting
    assert np.isnan(log.place[1])


def test_a_time_of_day_goes_on_over_midnight(tmp_path: Path) -> None:
    rows = [f"23:59:{50 + k},{k},30" for k in range(5)] + [f"00:00:0{k},{5 + k},30" for k in range(5)]
    log = read(tmp_path, "time,place [mile],speed [mph]", rows)
    assert np.diff(log.time).tolist() == [1, 1, 1, 1, 6, 1, 1, 1, 1]


def test_elapsed_time_may_stand_for_the_time_of_day(tmp_path: Path) -> None:
    rows = [f"{0.5 * k},{k},30" for k in range(MIN_ROWS)]
    assert read(tmp_path, "elapsed [s],place [mile],speed [mph]", rows).time[3] == 1.5


def test_a_second_trip_that_begins_at_0_is_one_problem(tmp_path: Path) -> None:
    rows = [f"{10 * k},{k},30" for k in range(MIN_ROWS)] * 2
    with pytest.raises(ScenarioError, match="with several trips in one log, it runs on") as error:
        read(tmp_path, "elapsed [s],place [mile],speed [mph]", rows)
    assert str(error.value).count("must be later") == 1


@pytest.mark.parametrize(
    ("heading", "rows", "told"),
    [
        ("time,place [mile],speed [psi]", minutes(), "row 1: heading 'speed': .* is a pressure"),
        (
            "time,place,speed [mph]",
            minutes(),
            "column 'place' has numbers without a unit; put it in the heading",
        ),
        ("time,place [mile],sped [mph]", minutes(), "unknown heading 'sped'; did you mean 'speed'"),
        (
            "time,place [mile],speed [mph]",
            [*minutes(), "10:20,11,900"],
            "row 12, speed: must be at least 0 m/s and below 90 m/s .*found '900 mph'",
        ),
        (
            "time,place [mile],cutoff [%]",
            [*minutes(), "10:20,11,97"],
            "row 12, cutoff: must be above 0 and at most 0.95.*found",
        ),
        (
            "time,place [mile],speed [mph]",
            [*minutes(), "10:03,11,30"],
            "row 12, time: '10:03' must be later than '10:09'",
        ),
        (
            "time,place [mile],speed [mph]",
            [*minutes(), "10:70,11,30"],
            "row 12, time: '10:70' is not a time of day",
        ),
        (
            "time,place [mile],speed [mph]",
            [*minutes(), ",11,30"],
            "row 12, time: is missing; write a time of day",
        ),
        ("time,place [mile],speed [mph]", minutes(count=4), "has 4 rows; a log needs at least 10"),
        (
            "time,place [mile],fuel_fired [lb]",
            [*minutes(), "10:20,11,2"],
            "row 12, fuel_fired: '2 lb' is less than '30 lb'",
        ),
        (
            "time,place [mile],brake",
            [f"10:0{k},{k},maybe" for k in range(10)],
            "brake: must be one of on, off, found 'maybe'",
        ),
        (
            "time,speed [mph]",
            [f"10:0{k},3" for k in range(10)],
            "gives no place; write at least the first one",
        ),
        (
            "time,place [mile],brake",
            ["10:00,3,off", *(f"10:0{k},,off" for k in range(1, 10))],
            "neither speed nor place",
        ),
    ],
)
def test_a_problem_names_row_column_found_and_allowed(
    tmp_path: Path, heading: str, rows: list[str], told: str
) -> None:

    assert re.search(told, problems(tmp_path, heading, rows))


def test_one_log_has_one_kind_of_time(tmp_path: Path) -> None:
    rows = [f"10:0{k},,{k},30" for k in range(9)] + [",700,9,30"]
    told = problems(tmp_path, "time,elapsed [s],place [mile],speed [mph]", rows)
    assert "gives elapsed, unlike the first row; keep to one of time and elapsed" in told


def test_a_missing_file_is_no_traceback(tmp_path: Path) -> None:
    with pytest.raises(ScenarioError, match="no such file"):
        read_road_log(tmp_path / "nowhere.csv")


def test_the_page_lists_every_column() -> None:
    page = DOCS.read_text(encoding="utf-8")
    assert [name for name in keys_of(RoadLogRow) if f"| `{name}` |" not in page] == []
