"""The command timetable, as a user meets it, and the excursion file it writes."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

import locosim as ls
from locosim.cli import app
from locosim.errors import LocosimError, OutputExists, ScenarioError

ROOT = Path(__file__).resolve().parent.parent
SPRING = str(ROOT / "scenarios" / "excursions" / "spring_special.toml")
RUNNER = CliRunner()


def output(*arguments: str, columns: str = "101") -> str:
    result = RUNNER.invoke(app, ["timetable", *arguments], env={"COLUMNS": columns})
    assert result.exit_code == 0, result.output + repr(result.exception)
    return result.stdout


def refused(*arguments: str, match: str) -> None:
    result = RUNNER.invoke(app, ["timetable", *arguments])
    assert isinstance(result.exception, LocosimError), result.output
    assert match in str(result.exception)
    assert result.stdout == ""


def test_the_text_shows_times_recovery_fuel_and_proof() -> None:
    text = " ".join(output(SPRING).split())
    for words in (
        "timetable, CLEAR",
        "shared where it saves most fuel; times in steps of 0:01:00",
        "Gillmoor",
        "full effort keeps every time",
        "They do not approve",
        "Accuracy:",
    ):
        assert words in text


def test_the_text_fits_a_narrow_terminal() -> None:
    assert max(map(len, output(SPRING, columns="61").splitlines())) <= 60


def test_a_written_file_is_read_with_the_same_times_and_changes(tmp_path: Path) -> None:
    to = tmp_path / "booked.toml"
    changes = ("rail=wet", "train.vehicles[2].count=2", "crew.max_speed=50 km/h")
    output(SPRING, "--to", str(to), "--recovery", "4 minute", *(w for c in changes for w in ("--change", c)))
    made = ls.timetable(ls.load_excursion(SPRING, changes=changes), recovery="4 minute")
    assert ls.load_excursion(to) == made.excursion
    kept = ls.check(ls.load_excursion(to), contingencies=False, remedies=False)
    assert all(f.value <= 0.0 for f in kept.findings if f.rule == "time")


def test_a_file_is_never_overwritten_without_force(tmp_path: Path) -> None:
    to = tmp_path / "booked.toml"
    to.write_text("mine")
    refused(SPRING, "--to", str(to), match="already exists")
    assert to.read_text() == "mine"
    output(SPRING, "--to", str(to), "--force")
    assert ls.load_excursion(to).stops[1].arrive is not None
    made = ls.timetable(ls.load_excursion(SPRING))
    with pytest.raises(OutputExists, match="overwrite=True"):
        made.write_excursion(to)
    made.write_excursion(tmp_path / "second.toml")
    assert ls.load_excursion(tmp_path / "second.toml") == made.excursion


def test_the_file_may_lie_anywhere(tmp_path: Path) -> None:
    (tmp_path / "far" / "off").mkdir(parents=True)
    to = tmp_path / "far" / "off" / "booked.toml"
    output(SPRING, "--to", str(to))
    assert ls.load_excursion(to).route == ls.load_excursion(SPRING).route


def test_json_and_csv_have_every_station(tmp_path: Path) -> None:
    table = tmp_path / "times.csv"
    content = json.loads(output(SPRING, "--json", "--csv", str(table)))
    names = [row["name"] for row in content["stations"]]
    assert content["latest_arrival_at_full_effort_s"] <= 0.0
    assert [row["station"] for row in csv.DictReader(io.StringIO(table.read_text()))] == names
    assert {row["name"] for row in content["stations"] if row["stops"]} >= {"Ambersyke", "Quernby"}


def test_a_picture_is_written(tmp_path: Path) -> None:
    output(SPRING, "--plot", str(tmp_path / "graph.svg"))
    assert "recovery" in (tmp_path / "graph.svg").read_text()


@pytest.mark.parametrize(
    ("arguments", "match"),
    [
        (("--recovery", "-3 %"), "--recovery: must be 0 to 50 % of the least running time, found '-3 %'"),
        (("--recovery", "60 %"), "--recovery: must be 0 to 50 %"),
        (("--recovery", "3 potatoes"), "--recovery: unit 'potatoes' is not known"),
        (("--recovery", "soon"), "--recovery:"),
        (("--step", "1 s"), "--step: must be 30 s to 3600 s, found '1 s'"),
        (("--to", "booked.csv"), "must end in .toml"),
        (("--change", "rial=wet"), "did you mean 'rail'"),
        (("--change", "train.vehicles[2].count=40"), "full effort does not reach"),
    ],
)
def test_what_cannot_be_is_refused(arguments: tuple[str, ...], match: str) -> None:
    refused(SPRING, *arguments, match=match)


def test_a_missing_file_is_named() -> None:
    refused("no_such.toml", match="no such file")


def test_a_change_inside_a_csv_file_is_not_written(tmp_path: Path) -> None:
    result = RUNNER.invoke(
        app,
        [
            "timetable",
            SPRING,
            "--to",
            str(tmp_path / "b.toml"),
            "--change",
            "route.profile[2].elevation=40 m",
        ],
    )
    assert isinstance(result.exception, ScenarioError)
    assert "change it in that file" in str(result.exception)
    assert not (tmp_path / "b.toml").exists()


def test_a_recovery_that_saves_nothing_is_said_to_cost_fuel() -> None:
    text = " ".join(
        output(SPRING, "--change", "crew.max_speed=5 mph", "--recovery", "40 %", "--sharing", "even").split()
    )
    assert "The recovery costs coal here" in text
