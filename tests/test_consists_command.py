"""The command consists: rows, order, cost, problems that keep their row, and the files it writes."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

import locosim as ls
from locosim.cli import app
from locosim.errors import LocosimError, OutOfRange, UnitError
from locosim.planning.bands import with_bands
from locosim.planning.check import run_and_check
from locosim.planning.consists import ORDERS, Consist, Prices, compare_consists
from locosim.report.caution import CAUTION
from locosim.units import option_price

SCENARIOS = Path(__file__).resolve().parent.parent / "scenarios"
SPRING = str(SCENARIOS / "excursions" / "spring_special.toml")
SUMMIT = str(SCENARIOS / "excursions" / "summit_express.toml")
RUNNER = CliRunner()
ROWS = (
    "# what the museum has\n"
    "name,locomotive,train.vehicles[2].count,rail\n"
    "four coaches,,4,\n"
    "eleven coaches,,11,\n"
    "thirty on frost,,30,frost\n"
    f"larger engine,{SCENARIOS / 'engines' / 'teasel.toml'},4,\n"
    "misspelt rail,,,muddy\n"
    "no such engine,nowhere.toml,,\n"
)


@pytest.fixture(scope="module")
def table(tmp_path_factory: pytest.TempPathFactory) -> str:
    file = tmp_path_factory.mktemp("consists") / "consists.csv"
    file.write_text(ROWS, encoding="utf-8")
    return str(file)


@pytest.fixture(scope="module")
def compared(table: str) -> object:
    return ls.consists(SPRING, SUMMIT, table=table, prices=Prices(fuel=0.2, water=1.5, time=0.05))


def by_name(compared: object) -> dict[str, Consist]:
    return {each.name: each for each in compared.rows}  # type: ignore[attr-defined]


def test_each_row_is_what_check_says(compared: object) -> None:
    rows = by_name(compared)
    for name, changes in (("four coaches", ()), ("eleven coaches", ("train.vehicles[2].count=11",))):
        alone = with_bands(run_and_check(ls.load_excursion(SPRING, changes=changes)))
        assert rows[name].verdict == alone.verdict
        assert rows[name].worst is not None
        assert rows[name].worst.margin == alone.findings[0].margin
        assert rows[name].time == alone.journey.duration
        assert rows[name].water == alone.journey.water_used
        assert rows[name].fuel == alone.journey.fuel_fired


def test_the_cost_is_the_sum_of_its_parts(compared: object) -> None:
    row = by_name(compared)["eleven coaches"]
    assert row.cost is not None
    assert row.fuel is not None
    assert row.water is not None
    assert row.time is not None
    assert row.cost == pytest.approx(0.2 * row.fuel + 1.5e-3 * row.water + 0.05 * row.time)
    assert by_name(compared)["thirty on frost"].cost is None  # it does not arrive


def test_a_problem_keeps_its_row_and_the_rest_goes_on(compared: object) -> None:
    rows = by_name(compared)
    assert "must be one of dry sanded" in rows["misspelt rail"].problem
    assert "no such file" in rows["no such engine"].problem
    assert "not on the line of the first" in rows["Summit express, Fennick Junction to Dunlarch"].problem
    checked = [each.name for each in compared.rows if each.check is not None]  # type: ignore[attr-defined]
    assert len(checked) == 5
    assert all(each.check is None for each in compared.rows[5:])  # type: ignore[attr-defined]


@pytest.mark.parametrize("order", list(ORDERS))
def test_rows_are_sorted(compared: object, order: str) -> None:
    again = compare_consists(compared.rows[:3], prices=Prices(fuel=0.2), order=order)  # type: ignore[attr-defined]
    keys = [ORDERS[order](each) for each in again.consists if each.check is not None]
    assert keys == sorted(keys)
    if order == "verdict":
        verdicts = [each.verdict for each in again.consists]
        assert verdicts == sorted(verdicts, key=["clear", "tight", "stop"].index)


def test_text_json_csv_and_picture(table: str, tmp_path: Path) -> None:
    out, picture = tmp_path / "out.csv", tmp_path / "out.png"
    arguments = ["consists", SPRING, "--consists", table, "--fuel-price", "160/short_ton", "--sort", "cost"]
    files = ["--csv", str(out), "--plot", str(picture)]
    result = RUNNER.invoke(app, [*arguments, *files], env={"COLUMNS": "61"})
    assert result.exit_code == 0, result.output
    text = " ".join(result.stdout.split())
    assert " ".join(CAUTION.split()) in text
    assert "least cost first" in text
    assert "Not checked: misspelt rail" in text
    assert max(map(len, result.stdout.splitlines())) <= 60
    rows = list(csv.DictReader(io.StringIO(out.read_text(encoding="utf-8"))))
    assert len(rows) == 7
    assert rows[-1]["problem"]
    assert picture.read_bytes()[:4] == b"\x89PNG"
    found = json.loads(RUNNER.invoke(app, [*arguments, "--json"]).stdout)
    assert [row["consist"] for row in found["rows"]] == [row["consist"] for row in rows]
    costs = [row["cost"] for row in found["rows"] if row["cost"] is not None]
    assert costs == sorted(costs)


def test_the_picture_has_a_bar_for_each_value(compared: object) -> None:
    margin, time, *_, cost = compared.plot().axes  # type: ignore[attr-defined]
    assert len(margin.patches) == 5
    assert len(time.patches) == len(cost.patches) == 4


def test_all_stopped_or_broken_is_exit_status_one() -> None:
    result = RUNNER.invoke(app, ["consists", SPRING, "--change", "rail=muddy"])
    assert result.exit_code == 1
    assert "Not checked" in result.stdout


def test_prices() -> None:
    assert option_price("160/short_ton", "kg", "--x") == pytest.approx(160 / 907.18474)
    assert option_price("6 / 1000 us_gallon", "m^3", "--x") == pytest.approx(6 / 3.785411784)
    assert option_price("3600/hour", "s", "--x") == pytest.approx(1.0)
    for wrong in ("160", "cheap/kg", "160/", "160/hour", "1/0 kg", "-3/kg", "160/ton"):
        with pytest.raises(UnitError, match="--x"):
            option_price(wrong, "kg", "--x")


@pytest.mark.parametrize(
    ("arguments", "match"),
    [
        (("--sort", "price"), "--sort: must be one of verdict, time"),
        (("--sort", "cost"), "no price is given"),
        (("--fuel-price", "160"), "--fuel-price: write a number for a quantity"),
        (("--consists", "nowhere.csv"), "nowhere.csv"),
    ],
)
def test_what_a_user_may_get_wrong(arguments: tuple[str, ...], match: str) -> None:
    result = RUNNER.invoke(app, ["consists", SPRING, *arguments])
    assert isinstance(result.exception, LocosimError), result.output
    assert match in str(result.exception)


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("", "needs a row of headings"),
        ("name,rail\n", "needs a row of headings"),
        ("name;rail\na;wet\n", "semicolons"),
        ("name,\na,wet\n", "column 2: has no heading"),
        ("name,rail\na,wet,3\n", "row 1: has 3 cells"),
    ],
)
def test_a_table_that_cannot_be_read(tmp_path: Path, text: str, match: str) -> None:
    file = tmp_path / "consists.csv"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(LocosimError, match=match):
        ls.consists(SPRING, table=file)


def test_an_engine_file_is_looked_for_beside_the_table(tmp_path: Path) -> None:
    (tmp_path / "small.toml").write_text((SCENARIOS / "engines" / "teasel.toml").read_text(encoding="utf-8"))
    (tmp_path / "consists.csv").write_text("locomotive\nsmall.toml\n", encoding="utf-8")
    rows = by_name(ls.consists(SPRING, table=tmp_path / "consists.csv"))
    assert rows["small"].problem == ""


def test_nothing_to_compare() -> None:
    with pytest.raises(OutOfRange, match="no consists"):
        compare_consists([])
