"""The command load, as a user meets it, and its renderers."""

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

ROOT = Path(__file__).resolve().parent.parent
SPRING = str(ROOT / "scenarios" / "excursions" / "spring_special.toml")
RUNNER = CliRunner()


def output(*arguments: str, columns: int = 101) -> str:
    result = RUNNER.invoke(app, ["load", SPRING, *arguments], env={"COLUMNS": str(columns)})
    assert result.exit_code == 0, result.output + repr(result.exception)
    return result.stdout


@pytest.fixture(scope="module")
def rating() -> ls.library.load_results.LoadResult:  # type: ignore[name-defined]
    return ls.largest_load(ls.load_excursion(SPRING))


def test_the_answer_its_proof_and_the_cautions_are_printed() -> None:
    text = " ".join(output("--no-conditions").split())
    for words in (
        "at most 6 x coach",
        "Proof: with this load the whole check is CLEAR",
        "With 1 more the check is TIGHT: crown sheet",
        "It rests on assumptions.working_level_in_glass",
        "Without momentum",
        " ".join(CAUTION.split()),
    ):
        assert words in text


def test_it_fits_sixty_columns() -> None:
    assert max(map(len, output("--no-conditions", columns=61).splitlines())) <= 60


def test_json_csv_and_picture(rating: object, tmp_path: Path) -> None:
    table, picture = tmp_path / "loads.csv", tmp_path / "loads.png"
    options = ("--json", "--rail", "frost", "--temperature", "0 degF", "--heating-value", "11000 Btu/lb")
    found = json.loads(output(*options, "--csv", str(table), "--plot", str(picture)))
    assert found["command"] == "load"
    assert found["whole"]["number"] == 6
    assert found["whole"]["next_larger_fails_by"]["rule"] == "crown sheet"
    assert [each["plan"] for each in found["conditions"]] == [
        "frost rail",
        "air",
        "coal",
        "one injector failed",
    ]
    rows = list(csv.DictReader(io.StringIO(table.read_text(encoding="utf-8"))))
    assert [row["kind"] for row in rows] == ["whole", *["section"] * 4, *["condition"] * 4]
    assert rows[6]["plan"] == "air 0 °F"
    assert picture.read_bytes()[:4] == b"\x89PNG"


def test_the_picture_has_a_bar_for_each_load(rating: object) -> None:
    (axes,) = rating.plot().axes  # type: ignore[attr-defined]
    assert len(axes.patches) == len(rating.rows) == 10  # type: ignore[attr-defined,arg-type]
    names = [label.get_text() for label in axes.get_yticklabels()]
    assert names[0] == "as planned"
    assert "[short ton]" in axes.get_xlabel() or "[t]" in axes.get_xlabel()


def test_by_mass_and_in_other_units() -> None:
    text = " ".join(
        output("--by-mass", "--mass-step", "5 tonne", "--units", "metric", "--no-conditions").split()
    )
    assert "5.0 t more" in text
    assert "coach" not in text.partition("Proof")[0].partition("behind the tender, check")[0]


@pytest.mark.parametrize(
    ("arguments", "match"),
    [
        (("--vehicle", "choach"), "--vehicle: 'choach' is not in the train; did you mean 'coach'"),
        (("--by-mass", "--vehicle", "coach"), "--vehicle: 'coach' has no effect where the mass"),
        (("--verdict", "good"), "--verdict: must be one of clear, tight"),
        (("--mass-step", "5 tonne"), "--mass-step: has no effect where the number of vehicles"),
        (("--by-mass", "--mass-step", "5"), "--mass-step"),
        (("--by-mass", "--mass-step", "0 kg"), "--mass-step: must be between"),
        (("--rail", "muddy"), "rail"),
        (("--temperature", "cold"), "--temperature"),
        (("--heating-value", "1 J/kg"), "--heating-value: must be above"),
        (("--change", "train.vehicles[1].cuont=3"), "count"),
    ],
)
def test_what_a_user_may_get_wrong(arguments: tuple[str, ...], match: str) -> None:
    result = RUNNER.invoke(app, ["load", SPRING, *arguments])
    assert isinstance(result.exception, LocosimError), result.output
    assert match in str(result.exception)
    assert result.stdout == ""


def test_a_missing_file_and_no_load_at_all() -> None:
    missing = RUNNER.invoke(app, ["load", "nowhere.toml"])
    assert isinstance(missing.exception, LocosimError)
    none = RUNNER.invoke(app, ["load", SPRING, "--no-conditions", "--change", "initial_water=0.03"])
    assert none.exit_code == 1
    assert "no load" in none.stdout
