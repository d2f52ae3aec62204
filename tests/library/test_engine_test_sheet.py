"""A test sheet in an engine file: units, errors, changes, and how commands show it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

import locosim
from locosim.cli import app
from locosim.engine.test_sheet.keys import key_value
from locosim.errors import ScenarioError
from locosim.loading import load_day, load_engine, load_excursion

ROOT = Path(__file__).parents[2] / "scenarios"
TEASEL = (ROOT / "engines" / "teasel.toml").read_text()
RUNNER = CliRunner()

SHEET = """
[test_sheet]
use = ["max_back_pressure", "evaporation", "steam_temperature"]
max_back_pressure = "14 psi"

[[test_sheet.rows]]
label = "no. 1"
firing_rate = "80 lb/ft^2/hour"
evaporation = "26000 lb/hour"
steam_temperature = "600 degF"
"""
TWIN = """
[test_sheet]
use = ["max_back_pressure", "evaporation", "steam_temperature"]
max_back_pressure = "0.96526602 bar"

[[test_sheet.rows]]
label = "no. 1"
firing_rate = "390.5942 kg/m^2/hour"
evaporation = "11793.4016 kg/hour"
steam_temperature = "315.555556 degC"
"""
KEYS = ("steam_passages.max_back_pressure", "boiler.unburned_factor", "boiler.superheater_factor")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name, text in (("plain", ""), ("sheet", SHEET), ("twin", TWIN)):
        (tmp_path / f"{name}.toml").write_text(TEASEL + text)
    return tmp_path


def problems(folder: Path, sheet: str) -> list[str]:
    path = folder / "wrong.toml"
    path.write_text(TEASEL + sheet)
    with pytest.raises(ScenarioError) as raised:
        load_engine(path)
    return [text.partition("wrong.toml: ")[2] for text in raised.value.problems]


def test_imperial_and_si_twins_give_the_same_keys(folder: Path) -> None:
    imperial, metric = (load_engine(folder / f"{name}.toml") for name in ("sheet", "twin"))
    assert [anchor.key for anchor in imperial.anchors or ()] == list(KEYS)
    for key in KEYS:
        assert key_value(imperial, key) == pytest.approx(key_value(metric, key), rel=1e-4)


def test_every_wrong_entry_is_answered_by_its_key_and_all_at_once(folder: Path) -> None:
    found = problems(
        folder,
        """
[test_sheet]
use = ["indicated_powr", "max_evaporation", "draft"]
max_back_pressure = "400 psi"

[[test_sheet.rows]]
indicated_power = "900 hp"

[[test_sheet.rows]]
steam_temperature = "600 degF"

[[test_sheet.rows]]
firing_rate = "80 lb/ft^2/hour"

[[test_sheet.rows]]
speed = "40 furlong"
evaporation = 26000

[[test_sheet.rows]]
firing_rate = "900 lb/ft^2/hour"
evaporaton = "20000 lb/hour"
role = "anchr"
""",
    )
    expected = [
        ("test_sheet.use", "has 'indicated_powr', which is no reading; did you mean 'indicated_power'?"),
        (
            "test_sheet.use",
            "lists max_evaporation, but the sheet does not give it; add max_evaporation or remove it",
        ),
        ("test_sheet.max_back_pressure", "must be above 10000 Pa and below 300000 Pa"),
        (
            "test_sheet.rows[1].indicated_power",
            'needs the speed of the test; write for example speed = "50 mph"',
        ),
        ("test_sheet.rows[2].steam_temperature", "needs what the boiler did in that test"),
        ("test_sheet.rows[3].evaporation", "is missing, as is every other reading; a row needs one of"),
        ("test_sheet.rows[4].speed", "furlong"),
        ("test_sheet.rows[4].evaporation", "expected a quantity with a unit, in quotes, found 26000"),
        ("test_sheet.rows[5].firing_rate", "lb/ft^2/hour), found '900 lb/ft^2/hour'"),
        ("test_sheet.rows[5].evaporaton", "did you mean 'evaporation'?"),
        ("test_sheet.rows[5].role", "must be one of anchor, compare, found 'anchr'; did you mean 'anchor'?"),
    ]
    missing = [
        each
        for each in expected
        if not any(text.startswith(f"{each[0]}: ") and each[1] in text for text in found)
    ]
    assert missing == [], found


@pytest.mark.parametrize(
    ("sheet", "message"),
    [
        ('use = ["steam_rate"]', "lists steam_rate, but no anchor row gives steam_rate"),
        (
            'use = ["evaporation"]\n[[test_sheet.rows]]\nspeed = "30 mph"\nevaporation = "20000 lb/hour"\n'
            'indicated_power = "900 hp"',
            "lists evaporation, but no anchor row gives evaporation with a firing rate",
        ),
        (
            'use = ["indicated_power"]\n[[test_sheet.rows]]\nspeed = "30 mph"\ncutoff = "30 %"\n'
            'indicated_power = "900 hp"',
            "power at a cutoff sets nothing: steam_rate does",
        ),
        (
            'use = ["max_back_pressure", "indicated_power"]\nmax_back_pressure = "12 psi"\n[[test_sheet.rows]]\n'
            'speed = "30 mph"\nindicated_power = "900 hp"',
            "lists max_back_pressure and indicated_power, which would each set the greatest back pressure; keep one",
        ),
    ],
)
def test_a_use_that_the_sheet_does_not_allow_is_told(folder: Path, sheet: str, message: str) -> None:
    (found,) = problems(folder, f"\n[test_sheet]\n{sheet}\n")
    assert found.startswith("test_sheet.use: ")
    assert message in found


def test_a_fuel_the_engine_cannot_burn_names_the_sheet(folder: Path) -> None:
    (found,) = load_problem(folder, SHEET + '\n[test_sheet.fuel]\nkind = "oil"\n')
    assert found.startswith("test_sheet: ")
    assert "found fuel kind 'oil'" in found


def load_problem(folder: Path, sheet: str) -> tuple[str, ...]:
    (folder / "wrong.toml").write_text(TEASEL + sheet)
    with pytest.raises(ScenarioError) as raised:
        load_engine(folder / "wrong.toml")
    return raised.value.problems


def test_a_change_is_made_on_the_anchored_engine(folder: Path) -> None:
    usual = load_engine(folder / "sheet.toml")
    changed = load_engine(
        folder / "sheet.toml",
        changes=["boiler.grate_area=45 ft^2", "steam_passages.max_back_pressure=10 psi"],
    )
    for key in KEYS[1:]:  # of the engine as it was tested
        assert key_value(changed, key) == key_value(usual, key)
    assert key_value(changed, KEYS[0]) == pytest.approx(68947.6, rel=1e-4)
    assert [anchor.key for anchor in changed.anchors or ()] == list(KEYS[1:])
    only = load_engine(folder / "sheet.toml", changes=["test_sheet.use=max_back_pressure"])
    assert [anchor.key for anchor in only.anchors or ()] == [KEYS[0]]


def test_a_day_anchors_the_engines_of_its_legs(folder: Path) -> None:
    text = (ROOT / "excursions" / "winter_freight.toml").read_text()
    text = text.replace('"../trains', f'"{ROOT}/trains').replace('"../routes', f'"{ROOT}/routes')
    (folder / "trip.toml").write_text(text.replace("../engines/teasel.toml", "sheet.toml"))
    change = '"locomotive.boiler.unburned_factor=1.3"'
    for changes, keys in (("", KEYS), (f"changes = [{change}]\n", (KEYS[0], KEYS[2]))):
        (folder / "day.toml").write_text(f'name = "Day"\n[[legs]]\nexcursion = "trip.toml"\n{changes}')
        (leg,) = load_day(folder / "day.toml").legs
        assert [anchor.key for anchor in leg.excursion.locomotive.anchors or ()] == list(keys)
        alone = load_excursion(folder / "trip.toml", changes=[change.strip('"')] if changes else [])
        assert leg.excursion.locomotive == alone.locomotive


def test_an_excursion_anchors_its_engines(folder: Path) -> None:
    text = (ROOT / "excursions" / "spring_special.toml").read_text()
    text = text.replace("../", f"{ROOT}/")
    lines = [
        'locomotive = "sheet.toml"' if line.startswith("locomotive = ") else line
        for line in text.splitlines()
    ]
    (folder / "trip.toml").write_text("\n".join(lines))
    excursion = load_excursion(folder / "trip.toml")
    assert [anchor.key for anchor in excursion.locomotive.anchors or ()] == list(KEYS)
    assert key_value(excursion.locomotive, KEYS[1]) == key_value(load_engine(folder / "sheet.toml"), KEYS[1])


def test_the_command_shows_printed_beside_computed(folder: Path) -> None:
    result = RUNNER.invoke(app, ["test-sheet", str(folder / "sheet.toml")], env={"COLUMNS": "101"})
    assert result.exit_code == 0, result.output
    row = next(line for line in result.output.splitlines() if "evaporation [lb/h]" in line)
    assert row.split()[:5] == ["no.", "1", "evaporation", "[lb/h]", "26,000"]
    assert "boiler.unburned_factor = " in result.output
    assert "They do not approve an engine" in result.output
    answer = json.loads(RUNNER.invoke(app, ["test-sheet", str(folder / "sheet.toml"), "--json"]).output)
    assert [anchor["key"] for anchor in answer["anchors"]] == list(KEYS)
    row = next(row for row in answer["rows"] if row["reading"] == "evaporation")
    assert row["printed"] == pytest.approx(3.27594, rel=1e-4)
    assert row["with_sheet"] == pytest.approx(row["printed"], rel=1e-3)
    assert len(answer["made_from"]["set_from_test_sheet"]) == 3


def test_an_engine_without_a_sheet_is_told_how_to_enter_one(folder: Path) -> None:
    result = RUNNER.invoke(app, ["test-sheet", str(folder / "plain.toml")])
    assert result.exit_code == 0
    assert "The engine file has no test sheet" in result.output


def test_every_answer_on_the_engine_tells_what_was_set(folder: Path) -> None:
    path = str(folder / "sheet.toml")
    for command in (["boiler", path], ["curve", path, "--step", "25 mph"]):
        text = " ".join(RUNNER.invoke(app, command).output.split())
        assert "boiler.unburned_factor = " in text
        assert text.count("set from the test sheet (evaporation, 1 row)") == 1
    notes = json.loads(RUNNER.invoke(app, ["boiler", path, "--json"]).output)["notes"]
    assert len(notes) == 3


@pytest.mark.parametrize("command", ["run", "timetable", "economy", "water"])
def test_every_command_on_an_excursion_sets_the_keys_of_its_engine(command: str, tmp_path: Path) -> None:
    folder = tmp_path / "scenarios"
    shutil.copytree(ROOT, folder)
    engine = folder / "engines" / "campion.toml"
    sheet = '\n[test_sheet]\nuse = ["max_back_pressure"]\nmax_back_pressure = "14 psi"\n'
    engine.write_text(engine.read_text(encoding="utf-8") + sheet, encoding="utf-8")
    result = RUNNER.invoke(app, [command, str(folder / "excursions" / "spring_special.toml"), "--json"])
    (found,) = json.loads(result.output)["made_from"]["set_from_test_sheet"]
    assert found == "steam_passages.max_back_pressure=96527 Pa"


def test_rows_may_be_a_csv_file(folder: Path) -> None:
    (folder / "rows.csv").write_text(
        "label,firing_rate [lb/ft^2/hour],evaporation [lb/hour]\nno. 1,80,26000\nno. 2,100,30000\n"
    )
    (folder / "table.toml").write_text(TEASEL + '\n[test_sheet]\nrows = "rows.csv"\n')
    rows = load_engine(folder / "table.toml").test_sheet.rows
    assert [row.label for row in rows] == ["no. 1", "no. 2"]
    assert rows[1].evaporation == pytest.approx(3.77994, rel=1e-4)


def test_the_boiler_is_forced_to_a_firing_rate_and_to_a_draft(folder: Path) -> None:
    path = str(folder / "plain.toml")
    command = ["boiler", path, "--firing-rate", "150 lb/ft^2/hour", "--draft", "8 inH2O", "--json"]
    by_rate, by_draft = json.loads(RUNNER.invoke(app, command).output)["forced"]
    assert by_rate["firing_rate_per_grate_area_kg_m2_s"] == pytest.approx(0.203435, rel=1e-4)
    assert {"grate", "fireman"} <= set(by_rate["limits_exceeded"])
    assert by_draft["required_draft_Pa"] == pytest.approx(8 * 249.1, rel=1e-3)
    engine = locosim.load_engine(path)
    forced = locosim.boiler_table(engine, firing_rates=["150 lb/ft^2/hour"], drafts=["8 inH2O"]).forced
    assert [each.point.steam for each in forced] == [by_rate["steam_kg_s"], by_draft["steam_kg_s"]]
    text = RUNNER.invoke(app, command[:-1]).output
    assert "Forced, whatever the limits:" in text
    beyond = RUNNER.invoke(app, ["boiler", path, "--firing-rate", "400 lb/ft^2/hour"])
    assert "--firing-rate: must be between" in str(beyond.exception)


def test_the_handbook_on_a_later_engine_carries_one_caution() -> None:
    later, early = (str(ROOT / "engines" / f"{name}.toml") for name in ("monkshood", "teasel"))
    for command in (["curve", later, "--step", "25 mph"], ["boiler", later]):
        command = [*command, "--method", "handbook"]
        text = " ".join(RUNNER.invoke(app, command).output.split())
        assert text.count("caution: the tables of the handbook method end with engines of about 1914") == 1
        answer = RUNNER.invoke(app, [*command, "--json"]).output
        assert answer.count("the tables of the handbook method end") == 1
    for command in (["boiler", early, "--method", "handbook"], ["boiler", later]):
        assert "the tables of the handbook method end" not in RUNNER.invoke(app, command).output


def test_the_library_anchors_an_engine_made_in_code() -> None:
    engine = locosim.load_engine(ROOT / "engines" / "teasel.toml")
    row = locosim.EngineTestRow(firing_rate=0.1, evaporation=3.0)
    from dataclasses import replace

    sheet = locosim.EngineTestSheet(use=("evaporation",), rows=(row,))
    result = locosim.compare_test_sheet(locosim.anchored_engine(replace(engine, test_sheet=sheet)))
    assert [anchor.key for anchor in result.anchors] == ["boiler.unburned_factor"]
    assert result.to_rows()[0]["with the sheet, SI"] == pytest.approx(3.0, rel=1e-3)
