"""The command fit: text, JSON, table and picture, the file it writes, and what it refuses."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

import locosim as ls
from locosim.cli import app
from locosim.errors import LocosimError
from locosim.report.caution import CAUTION

SCENARIOS = Path(__file__).resolve().parent.parent / "scenarios"
SPRING = str(SCENARIOS / "excursions" / "spring_special.toml")
LOG = str(SCENARIOS / "logs" / "spring_special.csv")
RUNNER = CliRunner()
TWO = ("--constant", "car_rolling", "--constant", "machine_friction_share")


@pytest.fixture(scope="module")
def fitted() -> object:
    return ls.fit(LOG, ls.load_excursion(SPRING), constants=["car_rolling", "machine_friction_share"])


def test_the_text_has_intervals_what_they_cover_and_changes(fitted: object) -> None:
    text = fitted.text("us")  # type: ignore[attr-defined]
    flat = " ".join(text.split())
    for part in (
        "95 %",
        "Correlation of the errors: car_rolling and machine_friction_share",
        "They do not cover errors",
    ):
        assert part in flat
    for change in fitted.changes:  # type: ignore[attr-defined]
        assert f'--change "{change}"' in text
    assert CAUTION in flat
    assert "Made from" in text
    assert "spring_special.csv" in text


def test_the_file_written_is_the_fitted_excursion(tmp_path: Path, fitted: object) -> None:
    to = tmp_path / "fitted.toml"
    result = RUNNER.invoke(app, ["fit", LOG, SPRING, *TWO, "--to", str(to), "--json"])
    assert result.exit_code == 0, result.output
    told = json.loads(result.stdout)
    read, expected = ls.load_excursion(to), fitted.excursion  # type: ignore[attr-defined]
    by_changes = ls.load_excursion(SPRING, changes=told["changes"])
    for each in (read, by_changes):
        assert each.assumptions.machine_friction_share == pytest.approx(
            expected.assumptions.machine_friction_share, rel=1e-5
        )
        for vehicle, other in zip(each.train.vehicles, expected.train.vehicles, strict=True):
            assert vehicle.custom_resistance.a == pytest.approx(other.custom_resistance.a, rel=1e-5)
    again = RUNNER.invoke(app, ["fit", LOG, SPRING, *TWO, "--to", str(to)])
    assert "already exists" in str(again.exception)


def test_json_has_units_intervals_and_readings(fitted: object) -> None:
    told = json.loads(fitted.json())  # type: ignore[attr-defined]
    assert [each["name"] for each in told["constants"]] == ["car_rolling", "machine_friction_share"]
    assert all(each["low_95"] < each["fitted"] < each["high_95"] for each in told["constants"])
    assert told["correlation"][0][0] == pytest.approx(1.0)
    assert told["readings"][0]["kind"] == "speed"
    assert any(each["path"].endswith("spring_special.csv") for each in told["made_from"]["files"])


def test_the_table_has_a_row_for_each_reading(fitted: object) -> None:
    rows = list(csv.DictReader(io.StringIO(fitted.csv("us"))))  # type: ignore[attr-defined]
    speed = fitted.content.compared[0]  # type: ignore[attr-defined]
    assert len(rows) == sum(len(each.row) for each in fitted.content.compared)  # type: ignore[attr-defined]
    assert rows[0]["unit"] == "mph"
    assert float(rows[0]["logged"]) == pytest.approx(speed.logged[0] / 0.44704, rel=1e-6)
    assert float(rows[0]["logged less model"]) == pytest.approx(
        float(rows[0]["logged"]) - float(rows[0]["model"]), abs=1e-5
    )


def test_the_picture_shows_every_constant(fitted: object) -> None:
    figure = fitted.plot(units="us")  # type: ignore[attr-defined]
    figure.draw_without_rendering()
    texts = [tick.get_text() for axes in figure.axes for tick in axes.get_yticklabels()]
    assert {"car_rolling", "machine_friction_share [%]"} <= set(texts)
    assert "speed [mph]" in [axes.get_ylabel() for axes in figure.axes]


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (
            (LOG, SPRING, "--constant", "car_rolling", "--constant", "machine_friction"),
            "cannot tell car_rolling and",
        ),
        ((LOG, SPRING, "--constant", "car_rol"), "did you mean 'car_rolling'"),
        (("nowhere.csv", SPRING), "no such file"),
        ((SPRING, SPRING), "row 2: unknown heading"),
        ((LOG, SPRING, "--to", "fitted.csv"), "must end in .toml"),
    ],
)
def test_what_cannot_be_done_is_told_with_exit_status_2(
    arguments: tuple[str, ...], told: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    result = RUNNER.invoke(app, ["fit", *arguments])
    assert result.exit_code != 0
    assert isinstance(result.exception, LocosimError | SystemExit)
    assert told in f"{result.exception} {result.output}"


def test_help_has_an_example_and_every_constant() -> None:
    from locosim.studies.log_constants import NAMES

    text = " ".join(RUNNER.invoke(app, ["fit", "--help"], env={"COLUMNS": "200"}).output.split())
    assert "Example: locosim fit log.csv excursion.toml" in text
    assert [name for name in NAMES if name not in text] == []
