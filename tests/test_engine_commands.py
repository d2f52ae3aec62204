"""`curve`, `cutoff` and `boiler` with all they can be asked: text, JSON, pictures, and what they refuse."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from locosim.cli import app
from locosim.errors import LocosimError
from locosim.performance.boiler_table import FINE_STEP, boiler_table
from locosim.plot.boiler_plot import plot_boiler
from locosim.scenario import load_locomotive

ROOT = Path(__file__).resolve().parent.parent
ENGINES = ROOT / "scenarios" / "engines"
TEASEL = str(ENGINES / "teasel.toml")
RUNNER = CliRunner()
POUND, HOUR, MILE = 0.45359237, 3600.0, 1609.344


def text(*arguments: str, columns: int = 101) -> str:
    result = RUNNER.invoke(app, list(arguments), env={"COLUMNS": str(columns)})
    assert result.exit_code == 0, result.output
    return result.stdout


def data(*arguments: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(text(*arguments, "--json"))
    return found


def test_curve_gives_what_is_kept_up_and_what_a_short_effort_adds() -> None:
    found = data("curve", TEASEL, "--step", "10 mph")
    assert found["method"] == "cycle"
    short = found["short_effort"]
    assert short["duration_s"] == 600.0
    ends = [fall["pressure_end_gauge_Pa"] for fall in short["falls"]]
    assert ends == sorted(ends, reverse=True)
    for kept_up, effort in zip(found["rows"], short["rows"], strict=True):
        assert effort["speed_m_s"] == kept_up["speed_m_s"]
        assert effort["wheel_pull_N"] >= kept_up["wheel_pull_N"] * (1 - 1e-9)
    longer = data("curve", TEASEL, "--step", "10 mph", "--effort", "20 minute")["short_effort"]
    assert longer["falls"][0]["extra_steam_kg_s"] == pytest.approx(short["falls"][0]["extra_steam_kg_s"] / 2)
    assert "For 20 minutes" in text("curve", TEASEL, "--step", "10 mph", "--effort", "20 minute")


@pytest.mark.parametrize("method", ["cycle", "handbook"])
@pytest.mark.parametrize("command", [["curve", TEASEL], ["cutoff", TEASEL, "30 mph"], ["boiler", TEASEL]])
def test_the_method_asked_for_is_named(command: list[str], method: str) -> None:
    assert f"Method: {method}" in text(*command, "--method", method).replace("\n", " ")
    assert data(*command, "--method", method)["method"] == method


def test_cutoff_gives_a_table_for_each_regulator_with_chest_fuel_and_valve() -> None:
    found = data("cutoff", TEASEL, "30 mph", "--regulator", "100 %", "--regulator", "20 %")
    wide = [row for row in found["rows"] if row["regulator"] == 1.0]
    narrow = [row for row in found["rows"] if row["regulator"] == pytest.approx(0.2)]
    assert [row["cutoff"] for row in wide] == [row["cutoff"] for row in narrow]
    for a, b in zip(wide, narrow, strict=True):
        assert b["chest_pressure_gauge_Pa"] < a["chest_pressure_gauge_Pa"]
        assert b["wheel_pull_N"] < a["wheel_pull_N"]
        if a["fuel_kg_s"] is not None:
            assert a["fuel_per_distance_kg_m"] == pytest.approx(a["fuel_kg_s"] / found["speed_m_s"])
    events = [row["events"] for row in wide]
    for name, rising in (
        ("release", True),
        ("compression", False),
        ("port_opening_m", True),
        ("admission", False),
    ):
        values = [event[name] for event in events]
        assert values == sorted(values, reverse=not rising), name
    shown = text("cutoff", TEASEL, "30 mph", "--regulator", "20 %")
    assert "regulator open 20%" in shown
    assert "compression" in shown


def test_cutoff_marks_the_cheapest_way_to_a_pull() -> None:
    found = data("cutoff", TEASEL, "30 mph", "--pull", "9000 lbf")["wanted"]
    assert found["wheel_pull_N"] == pytest.approx(9000 * 4.4482216)
    least = min(row["steam_kg_s"] for row in found["rows"])
    assert found["cheapest"]["steam_kg_s"] == least
    lines = text("cutoff", TEASEL, "30 mph", "--pull", "9000 lbf").splitlines()
    assert len([line for line in lines if line.rstrip().endswith("cheapest")]) == 1


def test_cutoff_by_the_handbook_has_no_regulator_and_finds_the_pull_all_the_same() -> None:
    found = data("cutoff", TEASEL, "30 mph", "--pull", "15000 lbf", "--method", "handbook")
    assert {row["regulator"] for row in found["rows"]} == {1.0}
    assert all(row["chest_pressure_gauge_Pa"] is None for row in found["rows"])
    assert found["wanted"]["cheapest"]["regulator"] == 1.0


def test_boiler_names_its_limits_and_sums_its_heat() -> None:
    found = data("boiler", TEASEL)
    binding = [limit for limit in found["limits"] if limit["binds"]]
    assert [limit["name"] for limit in binding] == [found["held_by"]] == ["fireman"]
    for row in found["rows"]:
        assert row["steam_per_fuel"] == pytest.approx(row["steam_kg_s"] / row["fuel_kg_s"])
        assert 0.3 < row["efficiency"] < 0.85
        assert row["efficiency"] + row["unburnt_share"] < 1.0
    for name in ("steam_kg_s", "superheat_K", "smokebox_temperature_K", "draught_Pa", "unburnt_share"):
        values = [row[name] for row in found["rows"]]
        assert values == sorted(values), name
    assert any("heating surface" in name for name in found["not_binding"])


@pytest.mark.parametrize(("units", "shown"), [("us", "12.0 psi"), ("metric", "0.83 bar")])
def test_the_customary_back_pressure_is_in_the_reader_s_units(units: str, shown: str) -> None:
    said = " ".join(text("boiler", TEASEL, "--units", units).split())
    assert f"the back pressure customary at full steam ({shown})" in said


def test_boiler_burns_what_it_is_given() -> None:
    usual, poor = data("boiler", TEASEL), data("boiler", TEASEL, "--heating-value", "10000 Btu/lb")
    assert poor["heating_value_J_kg"] == pytest.approx(10000 * 2326.0, rel=1e-5)
    assert poor["rows"][2]["steam_kg_s"] < usual["rows"][2]["steam_kg_s"]
    wood = data("boiler", TEASEL, "--fuel", "wood")
    assert wood["fuel"] == "wood"
    assert "Burning wood" in text("boiler", TEASEL, "--fuel", "wood")
    oil = data("boiler", TEASEL, "--change", "boiler.firing=oil")
    assert oil["fuel"] == "oil"
    assert "oil burner" in [limit["name"] for limit in oil["limits"]]


def test_the_boiler_s_picture_names_units_and_the_limit_that_binds() -> None:
    figure = plot_boiler(boiler_table(load_locomotive(ENGINES / "teasel.toml"), step=FINE_STEP), "us")
    share, steam, temperature, draught = figure.axes
    assert steam.get_ylabel() == "steam [lb/h]"
    assert temperature.get_ylabel() == "temperature [°F]"
    assert draught.get_ylabel() == "smokebox vacuum [in water]"
    assert draught.get_xlabel() == "fuel for each area of grate [lb/ft² h]"
    said = [note.get_text() for note in steam.texts]
    assert "fireman (binds)" in said
    assert {"grate", "draught", "feed devices"} <= set(said)
    assert share.get_ylim() == (0, 100)


@pytest.mark.parametrize("columns", [41, 80, 140])
@pytest.mark.parametrize(
    "command",
    [
        ["cutoff", TEASEL, "30 mph", "--pull", "9000 lbf"],
        ["diagram", TEASEL, "30 mph", "30 %"],
        ["boiler", TEASEL],
        ["compare", TEASEL, str(ENGINES / "campion.toml"), "--method", "handbook"],
    ],
    ids=["cutoff", "diagram", "boiler", "compare"],
)
@pytest.mark.parametrize("units", ["us", "metric", "british"])
def test_texts_fit_the_terminal_in_every_system(command: list[str], columns: int, units: str) -> None:
    lines = text(*command, "--units", units, columns=columns).splitlines()
    assert max(map(len, lines)) < max(columns, 41)
    assert not any(re.search(r"\bnan\b|\binf\b|None", line) for line in lines)


@pytest.mark.parametrize(
    ("command", "picture"),
    [
        (["curve", TEASEL], "curve.svg"),
        (["cutoff", TEASEL, "30 mph", "--regulator", "30%", "--regulator", "100%"], "cutoff.svg"),
        (["diagram", TEASEL, "30 mph", "30 %"], "diagram.svg"),
        (["boiler", TEASEL], "boiler.svg"),
        (["compare", TEASEL, TEASEL, "--method", "handbook"], "compare.svg"),
    ],
    ids=["curve", "cutoff", "diagram", "boiler", "compare"],
)
def test_pictures_are_written_once_and_not_over_each_other(
    command: list[str], picture: str, tmp_path: Path
) -> None:
    target = tmp_path / picture
    text(*command, "--plot", str(target))
    first = target.read_bytes()
    assert b"<svg" in first
    again = RUNNER.invoke(app, [*command, "--plot", str(target)])
    assert isinstance(again.exception, LocosimError)
    assert "--force" in str(again.exception)
    text(*command, "--plot", str(target), "--force")
    assert target.read_bytes() == first


@pytest.mark.parametrize(
    ("command", "message"),
    [
        (["curve", TEASEL, "--method", "guess"], None),
        (
            ["curve", TEASEL, "--effort", "10 second"],
            "--effort: must be 60 second to 3600 second for a short effort",
        ),
        (["curve", TEASEL, "--effort", "10 mph"], "a time is wanted|is a speed"),
        (["cutoff", TEASEL, "30 mph", "--regulator", "0 %"], "--regulator: must be above 0"),
        (["cutoff", TEASEL, "30 mph", "--regulator", "half"], "number"),
        (["cutoff", TEASEL, "30 mph", "--pull", "9000 lb"], "lbf"),
        (["cutoff", TEASEL, "30 mph", "--pull", "900000 lbf"], "no cutoff gives .* the most is"),
        (["cutoff", TEASEL, "30 mph", "--pull", "500 lbf"], "even the shortest gives"),
        (
            ["cutoff", TEASEL, "400 mph"],
            "speed: must lie where .* runs from 0 mph to .* mph, found '400 mph'",
        ),
        (["boiler", TEASEL, "--fuel", "peat"], "--fuel: must be one of .*, found 'peat'"),
        (["boiler", TEASEL, "--fuel", "oil"], "firing = 'oil'"),
        (["boiler", TEASEL, "--heating-value", "12 Btu/lb"], "--heating-value: must be above 2149.61 Btu/lb"),
    ],
)
def test_what_cannot_be_computed_is_said(command: list[str], message: str | None) -> None:
    result = RUNNER.invoke(app, command)
    if message is None:
        assert result.exit_code == 2
        assert "handbook" in result.output
    else:
        assert isinstance(result.exception, LocosimError)
        assert re.search(message, str(result.exception)), str(result.exception)
