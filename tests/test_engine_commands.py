"""The engine commands with all their options: text, JSON, pictures, and what they refuse."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from locosim.cli import app
from locosim.engine.boiler.boiler_table import boiler_table
from locosim.errors import LocosimError
from locosim.plot.boiler import plot_boiler
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


def test_curve_gives_the_sustained_and_the_short_effort() -> None:
    found = data("curve", TEASEL, "--step", "10 mph")
    assert found["method"] == "cycle"
    short = found["short_effort"]
    assert short["duration_s"] == 600.0
    ends = [fall["final_pressure_gauge_Pa"] for fall in short["pressure_drops"]]
    assert ends == sorted(ends, reverse=True)
    for sustained, effort in zip(found["rows"], short["rows"], strict=True):
        assert effort["speed_m_s"] == sustained["speed_m_s"]
        assert effort["rim_tractive_effort_N"] >= sustained["rim_tractive_effort_N"] * (1 - 1e-9)
    longer = data("curve", TEASEL, "--step", "10 mph", "--short-effort", "20 minute")["short_effort"]
    assert longer["pressure_drops"][0]["extra_steam_kg_s"] == pytest.approx(
        short["pressure_drops"][0]["extra_steam_kg_s"] / 2
    )
    assert "Short effort of 20 minutes" in text(
        "curve", TEASEL, "--step", "10 mph", "--short-effort", "20 minute"
    )


@pytest.mark.parametrize("method", ["cycle", "handbook"])
@pytest.mark.parametrize("command", [["curve", TEASEL], ["cutoff", TEASEL, "30 mph"], ["boiler", TEASEL]])
def test_the_method_asked_for_is_named(command: list[str], method: str) -> None:
    assert f"Method: {method}" in text(*command, "--method", method).replace("\n", " ")
    assert data(*command, "--method", method)["method"] == method


def test_cutoff_gives_a_table_for_each_throttle_opening_with_chest_fuel_and_valve() -> None:
    found = data("cutoff", TEASEL, "30 mph", "--throttle", "100 %", "--throttle", "20 %")
    wide = [row for row in found["rows"] if row["throttle"] == 1.0]
    narrow = [row for row in found["rows"] if row["throttle"] == pytest.approx(0.2)]
    assert [row["cutoff"] for row in wide] == [row["cutoff"] for row in narrow]
    for a, b in zip(wide, narrow, strict=True):
        assert b["steam_chest_pressure_gauge_Pa"] < a["steam_chest_pressure_gauge_Pa"]
        assert b["rim_tractive_effort_N"] < a["rim_tractive_effort_N"]
        if a["fuel_kg_s"] is not None:
            assert a["fuel_per_distance_kg_m"] == pytest.approx(a["fuel_kg_s"] / found["speed_m_s"])
    events = [row["events"] for row in wide]
    for name, rising in (
        ("release", True),
        ("compression", False),
        ("port_opening_m", True),
        ("preadmission", False),
    ):
        values = [event[name] for event in events]
        assert values == sorted(values, reverse=not rising), name
    shown = text("cutoff", TEASEL, "30 mph", "--throttle", "20 %")
    assert "throttle open 20%" in shown
    assert "compression" in shown


def test_cutoff_marks_the_cheapest_setting_for_a_tractive_effort() -> None:
    found = data("cutoff", TEASEL, "30 mph", "--tractive-effort", "9000 lbf")["for_tractive_effort"]
    assert found["rim_tractive_effort_N"] == pytest.approx(9000 * 4.4482216)
    least = min(row["steam_kg_s"] for row in found["rows"])
    assert found["cheapest"]["steam_kg_s"] == least
    lines = text("cutoff", TEASEL, "30 mph", "--tractive-effort", "9000 lbf").splitlines()
    assert len([line for line in lines if line.rstrip().endswith("cheapest")]) == 1


def test_cutoff_by_the_handbook_has_no_throttle_and_finds_the_tractive_effort_all_the_same() -> None:
    found = data("cutoff", TEASEL, "30 mph", "--tractive-effort", "15000 lbf", "--method", "handbook")
    assert {row["throttle"] for row in found["rows"]} == {1.0}
    assert all(row["steam_chest_pressure_gauge_Pa"] is None for row in found["rows"])
    assert found["for_tractive_effort"]["cheapest"]["throttle"] == 1.0


def test_boiler_names_its_limits_and_sums_its_heat() -> None:
    found = data("boiler", TEASEL)
    binding = [limit for limit in found["limits"] if limit["binds"]]
    assert [limit["name"] for limit in binding] == [found["limited_by"]] == ["fireman"]
    for row in found["rows"]:
        assert row["steam_per_fuel"] == pytest.approx(row["steam_kg_s"] / row["fuel_kg_s"])
        assert 0.3 < row["efficiency"] < 0.85
        assert row["efficiency"] + row["unburned_share"] < 1.0
    for name in (
        "steam_kg_s",
        "superheat_K",
        "smokebox_temperature_K",
        "required_draft_Pa",
        "unburned_share",
    ):
        values = [row[name] for row in found["rows"]]
        assert values == sorted(values), name
    assert any("heating surface" in name for name in found["reference_ratings"])


@pytest.mark.parametrize(("units", "pressure"), [("us", "12.0 psi"), ("metric", "0.83 bar")])
def test_the_highest_back_pressure_is_in_the_reader_s_units(units: str, pressure: str) -> None:
    shown = " ".join(text("boiler", TEASEL, "--units", units).split())
    assert f"back pressure at most {pressure}, at which it raises a draft of" in shown


def test_boiler_burns_what_it_is_given() -> None:
    usual, poor = data("boiler", TEASEL), data("boiler", TEASEL, "--heating-value", "10000 Btu/lb")
    assert poor["heating_value_J_kg"] == pytest.approx(10000 * 2326.0, rel=1e-5)
    assert poor["rows"][2]["steam_kg_s"] < usual["rows"][2]["steam_kg_s"]
    wood = data("boiler", TEASEL, "--fuel", "wood")
    assert wood["fuel"] == "wood"
    assert "Wood, " in text("boiler", TEASEL, "--fuel", "wood")
    oil = data("boiler", TEASEL, "--change", "boiler.firing=oil")
    assert oil["fuel"] == "oil"
    assert "oil burner" in [limit["name"] for limit in oil["limits"]]


def test_the_boiler_s_picture_names_units_and_the_limit_that_binds() -> None:
    figure = plot_boiler(boiler_table(load_locomotive(ENGINES / "teasel.toml")))
    share, steam, temperature, draft = figure.axes
    assert steam.get_ylabel() == "steam [lb/h]"
    assert temperature.get_ylabel() == "temperature [°F]"
    assert draft.get_ylabel() == "smokebox draft [in water]"
    assert draft.get_xlabel() == "firing rate per unit of grate area [lb/ft² h]"
    shown = [note.get_text() for note in steam.texts]
    assert "fireman (binds)" in shown
    assert {"grate", "front end", "feed devices"} <= set(shown)
    assert share.get_ylim() == (0, 100)


@pytest.mark.parametrize("columns", [41, 80, 140])
@pytest.mark.parametrize(
    "command",
    [
        ["cutoff", TEASEL, "30 mph", "--tractive-effort", "9000 lbf"],
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
        (["cutoff", TEASEL, "30 mph", "--throttle", "30%", "--throttle", "100%"], "cutoff.svg"),
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
            ["curve", TEASEL, "--short-effort", "10 second"],
            "--short-effort: must be 60 second to 3600 second for a short effort",
        ),
        (["curve", TEASEL, "--short-effort", "10 mph"], "a time is wanted|is a speed"),
        (["cutoff", TEASEL, "30 mph", "--throttle", "0 %"], "--throttle: must be above 0"),
        (["cutoff", TEASEL, "30 mph", "--throttle", "half"], "number"),
        (["cutoff", TEASEL, "30 mph", "--tractive-effort", "9000 lb"], "lbf"),
        (
            ["cutoff", TEASEL, "30 mph", "--tractive-effort", "900000 lbf"],
            r"--tractive-effort: no cutoff gives '900000 lbf' at .*30\.0 mph.*: the most is 2\d+\.?\d* lbf with",
        ),
        (
            ["cutoff", TEASEL, "30 mph", "--tractive-effort", "5000 lbf", "--throttle", "1 %"],
            "the most is nothing over machine friction with the throttle open 1 %",
        ),
        (["diagram", TEASEL, "150 mph", "50 %"], r"speed: must lie where .* 60\.\d+ mph, found '150 mph'"),
        (
            ["diagram", TEASEL, "20 mph", "40 %", "--change", "engine_units[1].valve_gear.travel=3 in"],
            r"between 15 % and 39\.\d+ % .* found '40 %'",
        ),
        (
            ["cutoff", TEASEL, "400 mph"],
            "speed: must lie where .* runs from 0 mph to .* mph, found '400 mph'",
        ),
        (["boiler", TEASEL, "--fuel", "peat"], "--fuel: must be one of .*, found 'peat'"),
        (["boiler", TEASEL, "--fuel", "oil"], "firing = 'oil'"),
        (["boiler", TEASEL, "--heating-value", "12 Btu/lb"], "--heating-value: must be above 2149.61 Btu/lb"),
    ],
)
def test_what_cannot_be_computed_is_an_error_that_teaches(command: list[str], message: str | None) -> None:
    result = RUNNER.invoke(app, command)
    if message is None:
        assert result.exit_code == 2
        assert "handbook" in result.output
    else:
        assert isinstance(result.exception, LocosimError)
        assert re.search(message, str(result.exception)), str(result.exception)


THREE_CYLINDER_COMPOUND = """
name = "one high, two low"
mass = "60 t"
length = "10 m"
[boiler]
working_pressure_gauge = "220 psi"
grate_area = "28.4 ft^2"
firebox_surface = "150 ft^2"
tube_surface = "1170 ft^2"
superheater = { surface = "290 ft^2" }
[[engine_units]]
driver_diameter = "84 in"
driving_axles = 2
mass_on_drivers = "40 t"
[[engine_units.cylinders]]
number = 1
bore = "19 in"
stroke = "26 in"
[[engine_units.cylinders]]
number = 2
bore = "21 in"
stroke = "26 in"
steam_source = "receiver"
[tender]
empty_mass = "20 t"
water_capacity = "16 m^3"
fuel_capacity = "6 t"
axles = 3
"""


TINY = """
name = "tiny"
mass = "5 t"
length = "4 m"
[boiler]
working_pressure_gauge = "10 bar"
grate_area = "0.3 m^2"
firebox_surface = "1.4 m^2"
tube_surface = "8 m^2"
[[engine_units]]
driver_diameter = "500 mm"
driving_axles = 2
mass_on_drivers = "5 t"
[[engine_units.cylinders]]
number = 2
bore = "140 mm"
stroke = "210 mm"
[tender]
empty_mass = "0 kg"
water_capacity = "0.5 m^3"
fuel_capacity = "0.2 t"
axles = 0
"""


@pytest.mark.parametrize("method", ["cycle", "handbook"])
def test_a_limit_beyond_the_firing_table_is_no_figure(tmp_path: Path, method: str) -> None:
    # 3,000 lb/h of a fireman on 3.2 ft² of grate would be 929 lb/ft² h.
    file = tmp_path / "tiny.toml"
    file.write_text(TINY, encoding="utf-8")
    end = {"cycle": 260, "handbook": 220}[method]
    assert re.search(rf"fireman +- +beyond {end}\n", text("boiler", str(file), "--method", method))
    last = data("boiler", str(file), "--method", method)["limits"][-1]
    assert last == {
        "name": "fireman",
        "steam_kg_s": None,
        "firing_rate_per_grate_area_kg_m2_s": None,
        "binds": False,
    }
    shown = " ".join(text("cutoff", str(file), "10 mph", "--method", method).split())
    assert "fireman not reached)" in shown
    assert data("cutoff", str(file), "10 mph", "--method", method)["boiler_limits_kg_s"]["fireman"] is None
    table = boiler_table(load_locomotive(file), method=method)
    assert not any("fireman" in shown.get_text() for shown in plot_boiler(table).axes[1].texts)


def test_a_back_pressure_the_fire_never_reaches_is_no_limit(tmp_path: Path) -> None:
    file = tmp_path / "tiny.toml"
    file.write_text(TINY, encoding="utf-8")
    larger = (
        "boiler.grate_area=15 ft^2",
        "boiler.firebox_surface=90 ft^2",
        "boiler.tube_surface=800 ft^2",
        "steam_passages.nozzle_area=60 in^2",
    )
    changes = [part for change in larger for part in ("--change", change)]
    found = data("boiler", str(file), "--fuel", "wood", *changes)
    limits = {limit["name"]: limit for limit in found["limits"]}
    # 60 square inches at 12 psi pass 11 kg/s.
    assert max(row["steam_kg_s"] for row in found["rows"]) < 11.0
    assert limits["front end"]["steam_kg_s"] is None


def test_an_engine_no_rule_rates_is_computed_by_the_cycle_without_a_rated_effort(tmp_path: Path) -> None:
    file = tmp_path / "compound.toml"
    file.write_text(THREE_CYLINDER_COMPOUND, encoding="utf-8")
    assert "Rated tractive effort -, factor of adhesion -." in text("curve", str(file))
    found = data("cutoff", str(file), "30 mph")
    assert found["rated_tractive_effort_N"] is None
    assert max(row["rim_tractive_effort_N"] for row in found["rows"]) > 20e3
    shown = text("compare", str(file), TEASEL)
    assert re.search(r"rated tractive effort +- ", shown)
    sides = data("compare", str(file), TEASEL)["engines"]
    assert sides[0]["factor_of_adhesion"] is sides[0]["rated_tractive_effort_N"] is None
    assert sides[1]["factor_of_adhesion"] > 0.0
    refused = RUNNER.invoke(app, ["curve", str(file), "--method", "handbook"])
    with pytest.raises(LocosimError, match="write method = 'cycle'"):
        raise refused.exception or AssertionError(refused.output)


def test_a_small_throttle_opening_is_named_as_it_is() -> None:
    shown = " ".join(text("diagram", TEASEL, "5 mph", "60 %", "--throttle", "0.5 %").split())
    assert "throttle open 0.5%" in shown
    assert "throttle open 2.5%," in text("cutoff", TEASEL, "10 mph", "--throttle", "2.5 %")


def test_no_port_opens_wider_than_it_is() -> None:
    campion = str(ENGINES / "campion.toml")
    gear = load_locomotive(ENGINES / "campion.toml").engine_units[0].valve_gear
    assert gear is not None
    openings = [row["events"]["port_opening_m"] for row in data("cutoff", campion, "30 mph")["rows"]]
    assert max(openings) == gear.port_width
    assert openings == sorted(openings)
    assert data("diagram", campion, "30 mph", "83 %")["events"]["port_opening_m"] == gear.port_width


@pytest.mark.parametrize(
    "command",
    [
        ["curve", TEASEL],
        ["cutoff", TEASEL, "30 mph", "--throttle", "50%"],
        ["diagram", TEASEL, "30 mph", "30 %", "--throttle", "50%"],
        ["boiler", TEASEL],
        ["compare", TEASEL, TEASEL],
    ],
    ids=["curve", "cutoff", "diagram", "boiler", "compare"],
)
def test_changes_of_assumptions_reach_the_results_and_are_named(command: list[str]) -> None:
    changes = [
        "--change",
        "assumptions.throttle_area_ratio=3",
        "--change",
        "assumptions.boiler_wind_speed=20 m/s",
    ]
    usual, changed = (json.loads(text(*command, *more, "--json")) for more in ([], changes))
    assert usual["made_from"].pop("changed_assumptions") == []
    assert changed["made_from"].pop("changed_assumptions") == [
        "boiler_wind_speed=20 m/s",
        "throttle_area_ratio=3",
    ]
    assert changed != usual


def test_an_assumption_that_is_not_known_is_refused() -> None:
    found = RUNNER.invoke(app, ["boiler", TEASEL, "--change", "assumptions.luck=2"])
    assert isinstance(found.exception, LocosimError)
    assert "unknown key 'luck' in assumptions" in str(found.exception)
