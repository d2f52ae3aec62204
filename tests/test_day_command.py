"""The command `day` as a user meets it, and its file: text, JSON, table, picture, changes and problems."""

from __future__ import annotations

import csv
import io
import json
import random
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

import locosim as ls
from locosim.cli import app
from locosim.errors import ScenarioError
from locosim.library.day_results import DayResult
from locosim.plot.day import plot_day
from locosim.report.day_table import day_csv

SCENARIOS = Path(__file__).resolve().parent.parent / "scenarios"
SPRING = SCENARIOS / "days" / "spring_there_and_back.toml"
HOME = SCENARIOS / "days" / "summit_express_home.toml"
RUNNER = CliRunner()


def invoke(*arguments: str, columns: int = 101) -> Any:
    return RUNNER.invoke(app, list(map(str, arguments)), env={"COLUMNS": str(columns)})


def refused(*arguments: str) -> str:
    """Message of a command that a problem of its input ends, without a traceback of our own."""
    result = invoke(*arguments)
    assert isinstance(result.exception, ls.LocosimError), result.exception
    return str(result.exception)


@cache
def spring() -> DayResult:
    return ls.check_day(ls.load_day(SPRING))


@pytest.mark.parametrize("columns", [60, 101])
def test_the_text_keeps_to_the_width_and_has_verdict_and_caution(columns: int) -> None:
    result = invoke("day", str(SPRING), columns=columns)
    assert result.exit_code == 0
    assert max(map(len, result.stdout.splitlines())) < columns
    assert result.stdout.startswith("Spring special, there and back: TIGHT\n")
    assert "boiler certificate" in " ".join(result.stdout.split())


def test_a_stop_ends_with_status_1() -> None:
    result = invoke("day", str(HOME))
    assert result.exit_code == 1
    assert "STOP turning, Dunlarch: 75 ft, at least 107 ft needed" in result.stdout


def test_the_help_has_an_example() -> None:
    assert "Example: locosim day day.toml" in invoke("day", "--help").stdout


def test_json_has_legs_layovers_crews_and_ledgers() -> None:
    content = json.loads(spring().json())
    assert content["verdict"] == "tight"
    assert [leg["verdict"] for leg in content["legs"]] == ["clear", "tight"]
    assert content["legs"][0]["layover"] is None
    water = content["legs"][1]["layover"]["water_kg"]
    balance = water["at_end_of_last_leg"] + water["taken_on"] - water["used_standing"]
    assert balance == pytest.approx(water["at_start"], rel=1e-12)
    (engine,) = content["engines"]
    entries = engine["water_kg"]["entries"]
    left = engine["water_kg"]["at_first"] + sum(entries.values())
    assert left == pytest.approx(engine["water_kg"]["left"], rel=1e-9)
    assert (
        content["crews"][0]["time_s"] == content["crews"][0]["off_duty_s"] - content["crews"][0]["on_duty_s"]
    )
    assert len(content["made_from"]["files"]) == 7


def test_the_first_leg_has_the_findings_of_its_own_check() -> None:
    alone = ls.check(ls.load_excursion(SCENARIOS / "excursions" / "spring_special.toml"))
    assert repr(spring().legs[0].findings) == repr(alone.findings)


def test_the_table_has_a_row_for_each_station_of_each_leg() -> None:
    rows = list(csv.DictReader(io.StringIO(day_csv(spring().content))))
    assert [row["station"] for row in rows if row["leg"] == "2"] == [
        "Quernby",
        "Kestrelby",
        "Windlow Top",
        "Hoaram",
        "Gillmoor",
        "Ambersyke",
    ]
    assert float(rows[0]["milepost [mi]"]) == pytest.approx(0.6 / 1.609344)
    assert rows[0]["caution"]
    assert not rows[1]["caution"]


def test_the_train_graph_has_the_stations_and_both_legs() -> None:
    figure = plot_day(spring().content)
    axes = figure.axes[0]
    assert [text.get_text() for text in axes.get_yticklabels()] == [
        "Ambersyke",
        "Gillmoor",
        "Hoaram",
        "Windlow Top",
        "Kestrelby",
        "Quernby",
    ]
    assert [text.get_text() for text in axes.texts] == ["1 clear", "2 tight"]
    first = axes.lines[0].get_xydata()
    assert first[0] == pytest.approx((10 + 10 / 60, 0.6 / 1.609344))
    assert first[-1][1] == pytest.approx(64 / 1.609344)


def test_a_leg_that_is_not_run_is_drawn_and_written() -> None:
    heavy = "legs[1].excursion.train=../trains/heavy_twelve.toml"
    result = ls.check_day(
        ls.load_day(SPRING, changes=[heavy, "legs[2].excursion.train=../trains/heavy_twelve.toml"])
    )
    assert result.verdict == "stop"
    assert "2 not run" in [text.get_text() for text in plot_day(result.content).axes[0].texts]
    assert "Leg 2, Spring special, Quernby to Ambersyke: not run; leg 1 does not arrive." in " ".join(
        result.text().split()
    )
    assert json.loads(result.json())["legs"][1]["not_run"] == "leg 1 does not arrive"
    assert result.to_rows("us")[1]["verdict"] == "not run"


# Files


def written(folder: Path, text: str) -> Path:
    path = folder / "day.toml"
    path.write_text(text.replace("../", f"{SCENARIOS}/"), encoding="utf-8")
    return path


def test_all_problems_of_a_day_and_its_files_are_listed(tmp_path: Path) -> None:
    path = written(
        tmp_path,
        """
name = "Bad day"
colour = "red"
[crew_hours]
max_time = "12 mile"
[[legs]]
excursion = "../excursions/spring_special.toml"
changes = ["rail=muddy", "foo"]
[[legs]]
excursion = "../excursions/sprong_special.toml"
[legs.layover]
turn = "tabel"
water = "-3 m^3"
take_watr = "fill"
""",
    )
    with pytest.raises(ScenarioError) as found:
        ls.load_day(path)
    for part in (
        "colour: unknown key",
        "'12 mile' is a length; a time is expected",
        "found 'muddy' (by the change 'legs[1].excursion.rail=muddy')",
        "change 'legs[1].excursion.foo'",
        "did you mean 'spring_special.toml'?",
        "turn: must be one of no, turntable, wye, wye_with_train, found 'tabel'",
        "water: must be at least 0 m^3",
        "take_watr: unknown key; did you mean 'take_water'?",
    ):
        assert part in str(found.value)


def test_legs_that_do_not_fit_are_listed_together(tmp_path: Path) -> None:
    twice = '[[legs]]\nexcursion = "../excursions/spring_special.toml"\n'
    message = refused("day", str(written(tmp_path, f'name = "Twice"\n{twice}{twice}')))
    assert "departure: of leg 2 must be after that of the leg before at 10:10" in message
    assert "stops: of leg 2 begin at Ambersyke, but the leg before ends at Quernby" in message
    assert "was left at Quernby by leg 1" in message


def test_changes_of_a_leg_come_before_those_of_the_command() -> None:
    day = ls.load_day(SPRING, changes=["legs[1].changes=rail=wet", "legs[2].excursion.rail=moist"])
    assert [leg.excursion.rail for leg in day.legs] == ["wet", "moist"]
    both = ls.load_day(SPRING, changes=["legs[1].changes=rail=wet", "legs[1].excursion.rail=moist"])
    assert both.legs[0].excursion.rail == "moist"
    assert "legs[1].excursion.rail=moist" in both.provenance.changes


def test_a_missing_file_is_a_message() -> None:
    assert "no such file" in refused("day", "nowhere.toml")


def test_random_changes_are_read_or_refused() -> None:
    pick = random.Random(7)
    keys = [
        "name", "legs", "legs[1].crew", "legs[2].excursion", "legs[2].layover.turn", "legs[2].layover.water",
        "legs[2].layover.leaves", "legs[2].layover.break_time", "crew_hours.max_time", "crew_hours.min_brake",
        "legs[9].crew", "legs[2].excursion.stops[1].station", "legs[2].excursion.departure", "legs[0].crew",
        "legs[1].changes", "legs[2].excursion.initial_water",
    ]  # fmt: skip
    values = [
        "",
        "x",
        "-1",
        "0",
        "1e99",
        "25:99",
        "12 hour",
        "nan m^3",
        "turntable",
        "{x}",
        "back",
        "yes",
        "3 mile",
    ]
    refusals = 0
    for _ in range(60):
        try:
            ls.load_day(SPRING, changes=[f"{pick.choice(keys)}={pick.choice(values)}"])
        except ScenarioError:
            refusals += 1
    assert 0 < refusals < 60


def test_a_name_with_braces_is_printed_as_it_is() -> None:
    day = ls.load_day(SPRING, changes=["legs[1].crew={x}", "legs[2].crew={x}", "crew_hours.max_time=8 hour"])
    assert "{x} is on duty" in ls.check_day(day).text().replace("\n", " ")
