"""The command vary, as a user meets it, its renderers and its pictures."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from typer.testing import CliRunner

import locosim as ls
from locosim.cli import app
from locosim.errors import LocosimError
from locosim.plot.vary import plot_variation
from locosim.report.caution import CAUTION
from locosim.report.text.vary import vary_text
from locosim.report.vary_table import vary_csv
from locosim.studies.vary import vary
from locosim.units import unit_system

ROOT = Path(__file__).resolve().parent
SCENARIOS = ROOT.parent / "scenarios"
SPRING = str(SCENARIOS / "excursions" / "spring_special.toml")
TEASEL = str(SCENARIOS / "engines" / "teasel.toml")
RUNNER = CliRunner()


def invoke(*arguments: str, columns: int = 101, status: int = 0) -> str:
    result = RUNNER.invoke(app, ["vary", *arguments], env={"COLUMNS": str(columns)})
    assert result.exit_code == status, result.output + repr(result.exception)
    return result.stdout


def test_the_table_has_a_row_for_each_value_and_the_cautions() -> None:
    text = invoke(SPRING, "train.vehicles[1].count=6,10,400", "--column", "verdict", "--column", "time")
    lines = [line.split() for line in text.splitlines()]
    assert ["6", "tight", "2:08:59"] in lines
    assert ["10", "stop", "2:10:37"] in lines
    assert ["400", "-", "-"] in lines
    words = " ".join(text.split())
    assert "Not computed: train.vehicles[1].count=400: " in words
    assert "must be at least 1 and at most 300, found 400" in words
    assert " ".join(CAUTION.split()) in words
    assert "Accuracy: " in words


def test_an_engine_over_its_lap_in_fractions_of_an_inch() -> None:
    text = invoke(TEASEL, "engine_units[*].valve_gear.lap=1:1 1/2:1/4 in", "--cutoff", "30 %")
    assert "30.0 mph, cutoff 30.0 %, dry rail" in " ".join(text.split())
    assert [line.split()[0] for line in text.splitlines() if line.startswith(("    1", "1 1", "  1"))] == [
        "1"
    ] * 3
    assert "1 1/4" in text
    metric = invoke(TEASEL, "speed=30,50 km/h", "--cutoff", "30 %", "--units", "metric")
    assert "[bar]" in metric
    assert "[km/h]" in metric


def test_csv_json_and_picture(tmp_path: Path) -> None:
    table, picture = tmp_path / "cars.csv", tmp_path / "cars.svg"
    inputs = ("train.vehicles[1].count=6:8", "rail=dry,frost")
    found = json.loads(invoke(SPRING, *inputs, "--json", "--csv", str(table), "--plot", str(picture)))
    assert found["command"] == "vary"
    assert [each["key"] for each in found["inputs"]] == ["train.vehicles[1].count", "rail"]
    assert found["rows"][0]["changes"] == ["train.vehicles[1].count=6", "rail=dry"]
    assert found["rows"][0]["verdict"] == "tight"
    assert found["rows"][0]["assumptions"] == ["working_level_in_glass"]
    assert {column["name"]: column["unit"] for column in found["columns"]}["water"] == "kg"
    rows = list(csv.DictReader(io.StringIO(table.read_text(encoding="utf-8"))))
    assert len(rows) == 6
    assert rows[0]["train.vehicles[1].count"] == "6"
    assert float(rows[0]["time [s]"]) == pytest.approx(found["rows"][0]["values"]["time"], rel=1e-6)
    assert rows[1]["time [s]"] == ""  # does not arrive on frost
    assert CAUTION in rows[0]["caution"]
    svg = picture.read_text(encoding="utf-8")
    assert "Varied: train.vehicles[1].count=6,7,8; rail=dry,frost" in svg
    assert "frost" in svg


def test_no_figure_that_is_not_finite_is_written() -> None:
    found = vary(SPRING, ["rail=dry,frost"], columns=["margin:steam", "margin:time"])
    assert found.rows[1].values[0] is None  # no effort suffices
    with unit_system("us"):
        assert "inf" not in vary_csv(found)
        assert "inf" not in vary_text(found)


def test_the_status_is_1_where_no_row_will_do() -> None:
    invoke(SPRING, "train.vehicles[1].count=40,60", status=1)
    invoke(SPRING, "train.vehicles[1].count=0,400", status=1)
    invoke(SPRING, "train.vehicles[1].count=6,60")


def test_without_an_input_the_columns_are_listed() -> None:
    assert "late:STATION" in invoke(SPRING)
    assert "mean pressure" in invoke(TEASEL)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((SPRING, "rial=dry,wet"), "did you mean 'rail'"),
        ((SPRING, "rail=dry,wet", "--speed", "30 mph"), "is an excursion; speed, cutoff"),
        ((TEASEL, "speed=20:30:5 mph", "--rail", "soapy"), "rail: found 'soapy'"),
        ((TEASEL, "speed=20:30:5 mph", "--cutoff", "30 mph"), "cutoff: '30 mph' is a speed"),
        ((TEASEL, "speed=20:30:5 mph", "--column", "mean presure"), "did you mean 'mean pressure'"),
    ],
)
def test_errors_say_what_to_write(arguments: tuple[str, ...], message: str) -> None:
    result = RUNNER.invoke(app, ["vary", *arguments])
    assert isinstance(result.exception, LocosimError)
    assert message in str(result.exception)


def test_it_fits_sixty_columns() -> None:
    assert max(map(len, invoke(SPRING, "rail=dry,wet", columns=61).splitlines())) <= 60


def test_the_library_gives_the_same_as_a_table() -> None:
    found = ls.vary(SPRING, "train.vehicles[1].count=6:7", columns=["verdict", "water"])
    rows = found.to_rows("us")
    assert [row["train.vehicles[1].count"] for row in rows] == [6.0, 7.0]
    assert rows[0]["water [US gal]"] == pytest.approx(found.rows[0].values[1] / 3.785411784, rel=1e-6)
    assert len(found) == 2
    assert found.accuracy
    engine = ls.vary(TEASEL, "cutoff=20:40:10 %", conditions={"speed": "20 mph", "rail": "wet"})
    assert engine.content.conditions is not None
    assert engine.content.conditions.speed == pytest.approx(8.9408)
    with pytest.raises(LocosimError, match="condition 'sped' is not known; did you mean 'speed'"):
        ls.vary(TEASEL, "cutoff=20:40:10 %", conditions={"sped": "20 mph"})


PICTURES = [
    (SPRING, ["train.vehicles[1].count=8:11"], ["verdict", "margin", "time", "rule"]),
    (SPRING, ["rail=dry,wet,frost"], ["margin", "arrival"]),
    (SPRING, ["train.vehicles[1].count=8:10", "rail=dry,frost"], ["time", "rule"]),
    (SPRING, ["train.vehicles[1].count=8:10", "weather.headwind=0:10:5 mph"], ["margin", "time", "rule"]),
    (SPRING, ["rail=dry,frost", "crew.habit=steady_steam,coast_to_stops"], ["fuel", "rule"]),
    (SPRING, ["departure=10:00 to 10:20 by 10 minute"], ["late"]),
    (SPRING, ["train.vehicles[1].count=0,400"], ["time"]),
    (TEASEL, ["cutoff=20:60:20 %", "speed=10:40:15 mph"], ["mean pressure", "steam per work"]),
    (TEASEL, ["cutoff=5,30 %", "speed=10,40 mph"], ["mean pressure"]),
]


@pytest.mark.parametrize(("file", "inputs", "columns"), PICTURES)
def test_every_kind_of_picture_has_units_and_no_text_outside(
    file: str, inputs: list[str], columns: list[str]
) -> None:
    figure = ls.vary(file, *inputs, columns=columns).plot(units="us")
    assert isinstance(figure, Figure)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    texts = " ".join(text.get_text() for text in figure.findobj(Text))
    for name, unit in {"time": "[h:min]", "mean pressure": "[psi]", "fuel": "[lb]", "margin": "[%]"}.items():
        assert name not in columns or unit in texts
    width, height = figure.get_size_inches() * figure.dpi
    for label in [figure._suptitle, *(panel.xaxis.label for panel in figure.axes)]:
        if label is not None and label.get_text():
            box = label.get_window_extent(canvas.get_renderer())
            assert box.x0 >= -1
            assert box.y0 >= -1
            assert box.x1 <= width + 1
            assert box.y1 <= height + 1


def test_the_text_names_the_assumption_that_may_change_a_verdict() -> None:
    summit = str(SCENARIOS / "excursions" / "summit_express.toml")
    text = " ".join(invoke(summit, "rail=dry", "--column", "verdict").split())
    assert "the assumption working_level_in_glass may change the verdict of every row" in text


def test_the_picture_names_both_inputs_by_their_paths() -> None:
    found = vary(SPRING, ["train.vehicles[1].count=4,6", "rail=dry,wet"], columns=["margin", "rule"])
    figure = plot_variation(found)
    legend = figure.axes[0].get_legend()
    assert legend is not None
    assert legend.get_title().get_text() == "rail"
    assert figure.axes[-1].get_xlabel() == "train.vehicles[1].count"
