"""The command water, as a user meets it."""

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
WINTER = str(ROOT / "scenarios" / "excursions" / "winter_freight.toml")
RUNNER = CliRunner()
DRY = ["--closed", "Ostrey Mills", "--closed", "Tarn Hollow", "--closed", "Marlby"]


def water(*arguments: str, columns: str = "101") -> Result:
    return RUNNER.invoke(app, ["water", *arguments], env={"COLUMNS": columns})


def test_it_names_the_least_set_the_proof_and_the_caution() -> None:
    result = water(WINTER)
    assert result.exit_code == 0
    assert "1 STOP FOR WATER" in result.stdout.splitlines()[0]
    for text in (
        "Least set: Tarn Hollow.",
        "No stop: the tender runs out of water",
        "Runner-up:",
        "do not approve",
    ):
        assert text in result.stdout


@pytest.mark.parametrize("arguments", [[], DRY])
def test_every_line_fits_a_narrow_terminal(arguments: list[str]) -> None:
    assert max(map(len, water(WINTER, *arguments, columns="61").stdout.splitlines()[1:])) <= 60


def test_too_few_places_is_exit_status_1_with_the_stretches_in_json_too() -> None:
    result = water(WINTER, *DRY, "--json")
    assert result.exit_code == 1
    found = json.loads(result.stdout)
    assert found["least_set"] is None
    (gap,) = found["gaps"]
    assert gap["stretches"][0]["spare_one_step_beyond_kg"] < 0.0
    assert found["caution"]


def test_the_table_has_a_row_for_each_stop_and_the_picture_is_drawn(tmp_path: Path) -> None:
    table, picture = tmp_path / "water.csv", tmp_path / "water.svg"
    assert water(WINTER, "--csv", str(table), "--plot", str(picture), "--units", "metric").exit_code == 0
    rows = list(csv.DictReader(io.StringIO(table.read_text(encoding="utf-8"))))
    assert [(row["plan"], row["station"], row["new stop"]) for row in rows] == [
        ("least", "Tarn Hollow", "no"),
        ("runner-up", "Ostrey Mills", "yes"),
    ]
    assert float(rows[0]["least water to take [m³]"]) < float(rows[0]["water taken [m³]"])
    assert "least set" in picture.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ([WINTER, "--closed", "Tarn Holow"], "did you mean 'Tarn Hollow'"),
        (["none.toml"], "no such file"),
        ([WINTER, "--change", "criteria.water_reserv=3"], "did you mean 'water_reserve'"),
        ([WINTER, "--change", "criteria.water_reserve=150 %"], "water_reserve"),
        ([WINTER, "--change", "train.vehicles[1].count=60"], "does not arrive, whatever water"),
    ],
)
def test_a_wrong_input_is_answered_without_a_traceback(arguments: list[str], message: str) -> None:
    result = water(*arguments)
    assert isinstance(result.exception, LocosimError)
    assert message in str(result.exception)
