"""The command helper, as a user meets it."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from locosim.cli import app
from locosim.errors import LocosimError

ROOT = Path(__file__).resolve().parent.parent
HARVEST = str(ROOT / "scenarios" / "excursions" / "harvest_excursion.toml")
SPRING = str(ROOT / "scenarios" / "excursions" / "spring_special.toml")
CAMPION = str(ROOT / "scenarios" / "engines" / "campion.toml")
RUNNER = CliRunner()


def helper(*arguments: str, columns: str = "101") -> Result:
    return RUNNER.invoke(app, ["helper", *arguments], env={"COLUMNS": columns})


def test_it_names_pull_mileposts_helper_doubling_and_the_caution() -> None:
    result = helper(HARVEST)
    assert result.exit_code == 0
    assert "HELP NEEDED FROM TARN HOLLOW TO PELLOW SUMMIT" in result.stdout.splitlines()[0]
    for text in (
        "STOP without, CLEAR with the helper",
        "return light",
        "Doubling the hill",
        "do not approve",
    ):
        assert text in " ".join(result.stdout.split())


def test_an_excursion_that_needs_no_help_says_so() -> None:
    result = helper(SPRING)
    assert result.exit_code == 0
    assert "NO HELP NEEDED" in result.stdout


def test_a_helper_too_small_is_exit_status_1_with_what_was_refused() -> None:
    result = helper(HARVEST, "--engine", CAMPION, "--change", "train.vehicles[3].count=20")
    assert result.exit_code == 1
    assert "DOES NOT SUFFICE" in " ".join(result.stdout.split())


def test_every_line_fits_a_narrow_terminal() -> None:
    assert max(map(len, helper(HARVEST, columns="61").stdout.splitlines()[1:])) <= 60


def test_json_table_and_picture_agree(tmp_path: Path) -> None:
    table, picture = tmp_path / "pull.csv", tmp_path / "helper.svg"
    result = helper(
        HARVEST, "--engine", CAMPION, "--place", "rear", "--json", "--csv", str(table), "--plot", str(picture)
    )
    found = json.loads(result.stdout)
    assert found["place"] == "rear"
    assert found["service"]["round_trip"]["water_kg"] > found["service"]["helping"]["water_kg"]
    assert any(file["path"].endswith("campion.toml") for file in found["made_from"]["files"])
    rows = list(csv.DictReader(io.StringIO(table.read_text(encoding="utf-8"))))
    assert [float(row["pull [lbf]"]) * 4.4482216 for row in rows] == pytest.approx(
        [each["force_N"] for each in found["pulls"]], rel=1e-5
    )
    assert "pull that suffices" in picture.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["none.toml"], "no such file"),
        ([HARVEST, "--engine", "none.toml"], "no such file"),
        ([HARVEST, "--engine", SPRING], "an engine is expected here"),
        ([HARVEST, "--change", "trian.vehicles[1].count=3"], "unknown key"),
        ([HARVEST, "--change", "assumptions.switching_time=-3 minute"], "switching_time"),
    ],
)
def test_a_wrong_input_is_answered_without_a_traceback(arguments: list[str], message: str) -> None:
    result = helper(*arguments)
    assert isinstance(result.exception, LocosimError)
    assert message in str(result.exception)


def test_a_wrong_place_is_refused_by_the_option() -> None:
    assert helper(HARVEST, "--place", "middle").exit_code == 2
