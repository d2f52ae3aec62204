"""The command risk, as a user meets it, and its renderers."""

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
from locosim.library.risk_results import RiskResult
from locosim.plot.risk import plot_risk
from locosim.report.caution import CAUTION
from locosim.report.text.failure_words import failure_sentence, percent, probability_text, side_text
from locosim.studies.distributions import Normal
from locosim.studies.failure_statistics import Side, probability
from locosim.studies.uncertain_inputs import SampledInput

ROOT = Path(__file__).resolve().parent.parent
SUMMIT = str(ROOT / "scenarios" / "excursions" / "summit_express.toml")
RUNNER = CliRunner()
SAMPLES = 60


def invoke(*arguments: str, columns: int = 101, status: int = 0) -> str:
    result = RUNNER.invoke(app, ["risk", SUMMIT, *arguments], env={"COLUMNS": str(columns)})
    assert result.exit_code == status, result.output + repr(result.exception)
    return result.stdout


@pytest.fixture(scope="module")
def found() -> RiskResult:
    return ls.risk(ls.load_excursion(SUMMIT), samples=SAMPLES, seed=3, jobs=1)


def test_the_result_does_not_depend_on_the_number_of_processes(found: RiskResult) -> None:
    two = ls.risk(ls.load_excursion(SUMMIT), samples=SAMPLES, seed=3, jobs=2)
    assert two.json() == found.json()
    assert two.csv() == found.csv()
    assert two.text() == found.text()


def test_another_seed_gives_other_samples(found: RiskResult) -> None:
    other = ls.risk(ls.load_excursion(SUMMIT), samples=SAMPLES, seed=4, jobs=1)
    assert other.csv() != found.csv()


def test_the_text_says_how_often_with_what_and_what_it_does_not_mean(found: RiskResult) -> None:
    text = " ".join(found.text("us").split())
    for words in (
        f"of {SAMPLES} samples",
        "on the climb Tarn Hollow to Pellow Summit in",
        "with adhesion factor below",
        "Late by more than 5 min at Marlby in",
        "none",
        "at most",
        "when this fails",
        "share of the",
        "only so far as the distributions of the inputs are right",
        "Inputs are independent of each other",
        "is interpolated between them",
    ):
        assert words in text
    assert " ".join(CAUTION.split()) in text
    assert "safe" not in text.lower().replace("safety", "")


@pytest.mark.parametrize("columns", [60, 101, 200])
def test_no_line_is_wider_than_the_terminal(
    found: RiskResult, columns: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    assert max(map(len, found.text("metric").splitlines())) < columns


def test_json_adds_up(found: RiskResult) -> None:
    content = json.loads(found.json())
    counts = {verdict: each["count"] for verdict, each in content["verdicts"].items()}
    assert sum(counts.values()) == content["samples"] == SAMPLES
    assert content["plan"]["probability"]["count"] == counts["stop"]
    worst = max(each["probability"]["count"] for each in content["findings"])
    assert worst <= counts["stop"] <= sum(each["probability"]["count"] for each in content["findings"])
    assert {each["nature"] for each in content["inputs"]} == {"chance", "doubt"}
    assert all(each["source"] for each in content["inputs"])
    assert len(content["plan"]["drivers"]) == len(content["inputs"])
    for pair in content["failing_together"]:
        both = [each for each in content["findings"] if f"{each['rule']}, {each['place']}" == pair["first"]]
        assert pair["samples"] <= both[0]["probability"]["count"]


def test_the_csv_has_every_sample_with_its_inputs(found: RiskResult) -> None:
    rows = list(csv.DictReader(io.StringIO(found.csv())))
    assert [int(row["sample"]) for row in rows] == list(range(1, SAMPLES + 1))
    assert sum(row["verdict"] == "stop" for row in rows) == found.probability.count
    factors = sorted(float(row["adhesion factor"]) for row in rows)
    assert 0.7 <= factors[0] < 0.85 < 1.15 < factors[-1] <= 1.3
    assert {row["rail"] for row in rows} <= {"dry", "wet sanded", "wet", "greasy", "dry sanded"}


def test_pictures_have_units_and_the_limit(found: RiskResult) -> None:
    figure = plot_risk(found.content)
    top, middle, bottom = figure.axes
    assert "[min]" in top.get_xlabel()
    assert any("5 min allowed" in text.get_text() for text in top.texts)
    assert "[%]" in middle.get_xlabel()
    assert "[%]" in bottom.get_xlabel()
    assert "adhesion factor" in [label.get_text() for label in bottom.get_yticklabels()]


def test_the_command_writes_what_the_library_does(found: RiskResult, tmp_path: Path) -> None:
    table = tmp_path / "samples.csv"
    text = invoke(
        "--samples", str(SAMPLES), "--seed", "3", "--jobs", "1", "--csv", str(table), "--units", "metric"
    )
    assert table.read_text() == found.csv("metric")
    headline = " ".join(text.split())[:80]  # wrapped to the width of the terminal
    assert headline == " ".join(found.text("metric").split())[:80]


def test_help_has_an_example() -> None:
    text = RUNNER.invoke(app, ["risk", "--help"]).output
    assert "Example: locosim risk excursion.toml" in " ".join(text.split())


@pytest.mark.parametrize(
    ("arguments", "problem"),
    [
        (["--samples", "5"], "samples must be from 20"),
        (["--seed", "-1"], "seed must be a whole number from 0"),
        (["--jobs", "0"], "jobs must be at least 1"),
        (
            ["--change", "uncertainty.usual=no", "--change", "uncertainty.assumptions=none"],
            "nothing is uncertain",
        ),
    ],
)
def test_a_question_that_cannot_be_answered_says_why(arguments: list[str], problem: str) -> None:
    result = RUNNER.invoke(app, ["risk", SUMMIT, *arguments])
    assert isinstance(result.exception, LocosimError)
    assert problem in str(result.exception)


def test_probabilities_are_said_with_their_interval_or_as_a_bound() -> None:
    plain = {text: text.replace("\N{NO-BREAK SPACE}", " ") for text in map(probability_text, (
        probability(6, 200), probability(0, 200), probability(200, 200), probability(89, 200),
    ))}  # fmt: skip
    assert list(plain.values()) == [
        "3 % (1.1 to 6.4 %)",
        "none of 200: at most 1.5 %, 95 % confidence",
        "all of 200: at least 98.5 %, 95 % confidence",
        "44 % (37 to 52 %)",
    ]
    assert percent(0.0004).startswith("0.04")


def test_a_side_is_said_in_the_units_of_the_reader() -> None:
    wind = SampledInput(
        label="headwind", key="weather.headwind", unit="m/s", distribution=Normal(mean=0.0, deviation=1.0),
        applies_as="difference", paths=(), given=(),
    )  # fmt: skip
    assert side_text(wind, Side(split=4.4704)) == "headwind above 10.0 mph more than given"
    assert side_text(wind, Side(split=-4.4704, below=True)) == "headwind below 10.0 mph less than given"


def test_a_sentence_names_rule_place_limit_and_cause(found: RiskResult) -> None:
    late = next(mode for mode in found.rows if mode.rule == "time" and mode.place == "Marlby")
    sentence = failure_sentence(late, found.content.inputs.inputs).replace("\N{NO-BREAK SPACE}", " ")
    assert sentence.startswith("Late by more than 5 min at Marlby in ")
    assert "with adhesion factor below 0." in sentence
