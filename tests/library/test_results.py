"""Results of the library: rows, units, pandas, files and notebooks."""

from __future__ import annotations

import csv
import io
import json
import sys
import types
from functools import cache
from html import escape as html_escape
from pathlib import Path
from typing import Any

import pytest

import locosim as ls
from locosim.errors import LocosimError, OutputExists, UnitError
from locosim.library.engine_results import CurveResult
from locosim.library.excursion_results import CheckResult
from locosim.library.table import Table
from locosim.report.caution import CAUTION

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"
TEASEL = SCENARIOS / "engines" / "teasel.toml"


@cache
def curve() -> CurveResult:
    return ls.speed_curve(ls.load_engine(TEASEL), step="10 mph", method="handbook")


@cache
def checked() -> CheckResult:
    changes = ["method=handbook", "train.vehicles[1].count=4"]
    excursion = ls.load_excursion(SCENARIOS / "excursions" / "spring_special.toml", changes=changes)
    return ls.check(excursion, contingencies=False)


@cache
def every_result() -> tuple[Any, ...]:
    engine, longer = ls.load_engine(TEASEL), ls.load_engine(TEASEL, changes=["boiler.grate_area=36 ft^2"])
    return (
        curve(),
        ls.cutoff_table(engine, "30 mph", effort="15000 lbf", method="handbook"),
        ls.indicator_diagram(engine, "30 mph", "30 %"),
        ls.boiler_table(engine, method="handbook"),
        ls.compare(engine, longer, method="handbook"),
        checked().run,
        checked(),
    )


def every_table() -> tuple[Table, ...]:
    results = every_result()
    return (*results, results[4].speeds, results[5].samples)


@pytest.mark.parametrize("units", ["us", "metric", "british"])
def test_rows_have_a_unit_in_every_heading_of_a_quantity(units: str) -> None:
    for table in every_table():
        rows = table.to_rows(units)
        assert len(rows) == len(table) > 0
        for heading, value in rows[0].items():
            if isinstance(value, float) and heading not in ("value", "limit"):
                assert heading.endswith("]"), (table, heading)


def test_rows_are_converted_from_si() -> None:
    # By hand: 1 mph is 0.44704 m/s, 1 lbf 4.4482216 N, 1 lb/h 0.45359237/3600 kg/s.
    for point, us, metric in zip(curve().rows, curve().to_rows("us"), curve().to_rows("metric"), strict=True):
        assert us["speed [mph]"] == pytest.approx(point.speed / 0.44704)
        assert us["drawbar pull [lbf]"] == pytest.approx(point.drawbar_pull / 4.4482216, rel=1e-7)
        assert us["steam [lb/h]"] == pytest.approx(point.steam * 3600 / 0.45359237)
        assert metric["speed [km/h]"] == pytest.approx(3.6 * point.speed)
        assert metric["drawbar pull [kN]"] == pytest.approx(point.drawbar_pull / 1000)


def test_temperatures_are_converted_with_their_offset() -> None:
    table = ls.boiler_table(ls.load_engine(TEASEL))
    kelvin = table.rows[0].steam_temperature
    assert kelvin is not None
    assert table.to_rows("metric")[0]["steam temperature [°C]"] == pytest.approx(kelvin - 273.15)
    assert table.to_rows("us")[0]["steam temperature [°F]"] == pytest.approx(1.8 * (kelvin - 273.15) + 32)


def test_findings_have_the_unit_of_their_own_row() -> None:
    row = next(row for row in checked().to_rows("us") if row["rule"] == "pressure")
    found = next(f for f in checked().findings if f.rule == "pressure")
    assert (row["unit"], row["verdict"]) == ("psi", found.verdict)
    assert row["value"] == pytest.approx(found.value / 6894.757, rel=1e-6)
    assert row["margin [%]"] == pytest.approx(100 * found.margin)
    assert "psi" in row["because"]
    times = [row for row in checked().to_rows("us") if row["rule"] == "time"]
    assert {row["unit"] for row in times} == {"s"}


def test_samples_have_blanks_where_no_step_begins() -> None:
    rows = checked().run.samples.to_rows()
    journey = checked().content.journey
    assert rows[-1]["cutoff [%]"] is None
    assert rows[-1]["speed [km/h]"] == pytest.approx(3.6 * journey.speed[-1])
    assert rows[0]["cutoff [%]"] == pytest.approx(100 * journey.cutoff[0])


def test_an_answer_gives_what_the_check_found() -> None:
    answer = checked()
    assert answer.verdict == answer.findings[0].verdict
    assert answer.contingencies == ()
    assert answer.latest_departure == answer.content.latest_departure
    assert answer.run.outcome == "arrived"


@pytest.mark.parametrize("units", ["us", "metric"])
def test_text_and_json_are_those_of_the_commands(units: str) -> None:
    for result in every_result():
        assert " ".join(CAUTION.split()) in " ".join(result.text(units).split())
        assert json.loads(result.json())["caution"] == CAUTION
    assert len(checked().text(everything=True)) > len(checked().text())


def test_a_notebook_shows_a_table_with_the_caution() -> None:
    for table in every_table():
        html = table._repr_html_()
        assert html.count("<tr>") == len(table) + 1
        assert html.count("<td>") % len(table) == 0
        assert html_escape(CAUTION) in html
    assert "<script" not in checked()._repr_html_()
    assert repr(checked()).startswith("<CheckResult: ")


@pytest.mark.parametrize("suffix", ["json", "csv", "txt", "svg", "png"])
def test_every_result_is_saved_by_the_ending_of_the_name(tmp_path: Path, suffix: str) -> None:
    for result in (curve(), checked(), checked().run):
        path = tmp_path / f"{type(result).__name__}.{suffix}"
        result.save(path, units="us")
        assert path.stat().st_size > 500


def test_a_check_is_saved_as_a_page(tmp_path: Path) -> None:
    checked().save(tmp_path / "report.html", units="us")
    text = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert text.count("<svg") == 2
    assert "mph" in text


def test_a_file_is_not_overwritten_unless_wanted(tmp_path: Path) -> None:
    path = tmp_path / "curve.csv"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(
        OutputExists, match=r"curve\.csv: exists; choose another name, or write overwrite=True"
    ):
        curve().save(path)
    with pytest.raises(OutputExists, match="overwrite=True"):
        curve().plot(path.with_suffix(".csv").rename(tmp_path / "curve.png"))
    assert (tmp_path / "curve.png").read_text(encoding="utf-8") == "mine"
    curve().save(path, overwrite=True)
    curve().save(path, overwrite=True)
    curve().plot(tmp_path / "curve.png", overwrite=True)
    assert (tmp_path / "curve.png").read_bytes().startswith(b"\x89PNG")


def test_an_unknown_ending_is_answered_by_those_that_work(tmp_path: Path) -> None:
    with pytest.raises(LocosimError, match=r"\.json, \.csv, \.txt, \.png"):
        curve().save(tmp_path / "curve.html")
    with pytest.raises(LocosimError, match=r"\.png, \.svg, \.pdf"):
        curve().plot(tmp_path / "curve.gif")
    assert list(tmp_path.iterdir()) == []


def test_a_csv_file_names_what_it_was_made_from() -> None:
    table = list(csv.DictReader(io.StringIO(curve().csv("us"))))
    assert [float(row["speed [mph]"]) for row in table] == pytest.approx([0, 10, 20, 30, 40, 50])
    assert table[0]["locosim"] == ls.__version__
    assert table[0]["result"].startswith("No. 41 Teasel")
    assert table[0]["caution"] == CAUTION
    assert "teasel.toml sha256:" in table[0]["files"]
    assert table[1]["caution"] == ""


def test_a_result_knows_what_it_was_made_from() -> None:
    made = checked().made_from
    assert made.version == ls.__version__
    assert any(path.endswith("spring_special.toml") for path, _ in made.files)
    assert made.changes == ("method=handbook", "train.vehicles[1].count=4")
    assert curve().made_from.changes == ()


def test_plots_return_the_figure() -> None:
    for result in every_result():
        assert result.plot(units="us").axes


def test_without_pandas_the_message_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(LocosimError, match="to_pandas needs pandas, which is not installed"):
        curve().to_pandas()


def test_pandas_gets_rows_and_headings(monkeypatch: pytest.MonkeyPatch) -> None:
    # A stand-in, so that the test needs no pandas; with pandas the next test runs too.
    made: dict[str, Any] = {}
    stand_in = types.ModuleType("pandas")
    stand_in.DataFrame = lambda rows, columns: made.update(rows=rows, columns=columns)  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "pandas", stand_in)
    curve().to_pandas("us")
    assert made["rows"] == curve().to_rows("us")
    assert made["columns"] == list(made["rows"][0])


def test_a_data_frame_has_a_column_for_each_heading() -> None:
    pytest.importorskip("pandas")
    frame = curve().to_pandas("us")
    assert list(frame.columns) == list(curve().to_rows("us")[0])
    assert len(frame) == len(curve())


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"step": "10"}, "step: '10' has a number without a unit"),
        ({"step": "10 psi"}, "step: .*psi"),
        ({"step": [1.0]}, r"step: must be a text with a unit, or a number in m/s, found \[1.0\]"),
        ({"short_effort": True}, "short_effort: must be a text with a unit"),
    ],
)
def test_a_quantity_that_is_none_names_its_argument(arguments: dict[str, Any], message: str) -> None:
    with pytest.raises(UnitError, match=message):
        ls.speed_curve(ls.load_engine(TEASEL), method="handbook", **arguments)


def test_a_number_is_taken_in_si() -> None:
    engine = ls.load_engine(TEASEL)
    by_number = ls.cutoff_table(engine, 30 * 0.44704, throttles=[1.0], method="handbook")
    by_text = ls.cutoff_table(engine, "30 mph", throttles=["100 %"], method="handbook")
    assert by_number.rows == by_text.rows


def test_unknown_units_are_answered_by_those_that_work() -> None:
    with pytest.raises(UnitError, match="us, metric, british"):
        curve().to_rows("imperial")


def test_the_run_is_the_one_the_check_judges() -> None:
    changes = ["method=handbook", "train.vehicles[1].count=4"]
    excursion = ls.load_excursion(SCENARIOS / "excursions" / "spring_special.toml", changes=changes)
    assert ls.run(excursion).rows == checked().run.rows
