"""The command line as a user meets it: exit statuses, messages, JSON, files, widths and times."""

from __future__ import annotations

import json
import math
import os
import re
import resource
import shutil
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from locosim import __version__
from locosim.cli import app
from locosim.cli.app import with_command_asked_for
from locosim.cli.template import FileKind
from locosim.errors import LocosimError
from locosim.model.track import RAIL_CONDITIONS
from locosim.scenario.schema import FILE_KINDS

ROOT = Path(__file__).resolve().parent.parent
SCENARIOS = ROOT / "scenarios"
SPRING = str(SCENARIOS / "excursions" / "spring_special.toml")
HARVEST = str(SCENARIOS / "excursions" / "harvest_excursion.toml")
ENGINE = str(SCENARIOS / "engines" / "campion.toml")
COMMANDS = {
    "check": ["check", SPRING],
    "run": ["run", SPRING],
    "curve": ["curve", ENGINE],
    "cutoff": ["cutoff", ENGINE, "30 mph"],
}
RUNNER = CliRunner()
every_command = pytest.mark.parametrize("command", COMMANDS)


@cache
def output(*arguments: str, columns: int = 101) -> str:
    """Standard output of a command that ends with 0 or 1; one that writes no file is run once."""
    return output_now(*arguments, columns=columns)


def words(*arguments: str) -> str:
    """The same as one line."""
    return " ".join(output(*arguments).split())


def output_now(*arguments: str, columns: int = 101) -> str:
    """The same, run at each call."""
    result = RUNNER.invoke(app, list(arguments), env={"COLUMNS": str(columns)})
    assert result.exit_code in (0, 1), result.output
    return result.stdout


def refused(*arguments: str, match: str) -> None:
    """Check that a command ends in a user error with its reason, and prints no result."""
    result = RUNNER.invoke(app, list(arguments))
    assert isinstance(result.exception, LocosimError), result.output
    assert match in str(result.exception)
    assert result.stdout == ""


def process(*arguments: str, cwd: Path = ROOT, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run the program as a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "locosim", *arguments],
        capture_output=True, text=True, cwd=cwd, env={**os.environ, **environment}, stdin=subprocess.DEVNULL,
    )  # fmt: skip


# Exit statuses and messages


def test_exit_status_is_0_for_clear_and_1_for_stop() -> None:
    assert RUNNER.invoke(app, ["check", SPRING]).exit_code == 0
    assert RUNNER.invoke(app, ["check", HARVEST]).exit_code == 1
    assert RUNNER.invoke(app, ["run", HARVEST]).exit_code == 1


def test_an_error_ends_the_process_with_2_and_its_message_on_the_other_stream(tmp_path: Path) -> None:
    done = process("check", "nowhere.toml", cwd=tmp_path)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith("error: nowhere.toml")
    assert "Traceback" not in done.stderr


def test_the_installed_command_is_the_same_program() -> None:
    installed = Path(sys.executable).with_name("locosim")
    if not installed.exists():
        pytest.skip("locosim is not installed beside this python")
    done = subprocess.run([installed, "--version"], capture_output=True, text=True, check=True)
    assert done.stdout == f"locosim {__version__}\n"


def test_version() -> None:
    assert output("--version") == f"locosim {__version__}\n"


@pytest.mark.parametrize(
    "arguments", [["fly"], ["check"], ["check", SPRING, "--units", "roman"], ["curve", "--x"]]
)
def test_wrong_usage_ends_with_2(arguments: list[str]) -> None:
    result = RUNNER.invoke(app, arguments)
    assert result.exit_code == 2
    assert "Traceback" not in result.output


@every_command
def test_help_names_what_is_written(command: str) -> None:
    text = output(command, "--help")
    for option in ("--units", "--json", "--plot", "--force", "--change"):
        assert option in text


def test_a_command_prepared_alone_has_the_help_it_has_among_all(monkeypatch: pytest.MonkeyPatch) -> None:
    for command in (["check"], ["test-sheet"], ["route"], ["route", "show"]):
        monkeypatch.setattr(sys, "argv", ["locosim", *command])
        alone = with_command_asked_for(app)
        assert len(alone.registered_commands) + len(alone.registered_groups) == 1
        assert RUNNER.invoke(alone, [*command, "--help"]).stdout == output(*command, "--help")
    assert len(app.registered_commands) > 15


@pytest.mark.parametrize("arguments", [[], ["--help"], ["chek"], ["--version", "check"]])
def test_without_the_name_of_a_command_all_are_prepared(
    arguments: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "argv", ["locosim", *arguments])
    assert with_command_asked_for(app) is app


def test_help_names_every_state_of_the_rail() -> None:
    text = " ".join(output("curve", "--help").split())
    assert all(rail in text for rail in RAIL_CONDITIONS)


def test_files_begun_with_new_are_checked_as_they_stand(tmp_path: Path) -> None:
    assert {kind.value for kind in FileKind} == {*FILE_KINDS, "example"}
    for kind in FILE_KINDS:
        result = RUNNER.invoke(app, ["new", kind, str(tmp_path / f"{kind}.toml")])
        assert result.exit_code == 0, result.output
        assert result.stdout == ""
        assert f"wrote {tmp_path / kind}.toml" in result.stderr
    assert output("check", str(tmp_path / "excursion.toml")).startswith("My excursion: ")


def test_new_leaves_a_file_that_is_there_alone(tmp_path: Path) -> None:
    path = tmp_path / "engine.toml"
    path.write_text("mine", encoding="utf-8")
    refused("new", "engine", str(path), match="already exists")
    assert path.read_text(encoding="utf-8") == "mine"
    assert RUNNER.invoke(app, ["new", "wagon", str(tmp_path / "wagon.toml")]).exit_code == 2


def broken(folder: Path, name: str, old: str, new: str) -> str:
    """A copy of the scenarios with one text replaced in one file, which is named back."""
    shutil.copytree(SCENARIOS, folder / "scenarios")
    path = folder / "scenarios" / name
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return str(path)


@pytest.mark.parametrize("command", ["check", "run", "curve"])
def test_missing_files_and_folders_are_named(command: str, tmp_path: Path) -> None:
    refused(command, str(tmp_path / "no.toml"), match="no.toml")
    refused(command, str(tmp_path), match=str(tmp_path))


def test_text_that_is_not_toml_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_text("name = = 3\n", encoding="utf-8")
    refused("check", str(path), match="a.toml")
    path.write_bytes(b"\xff\xfe\x00n")
    refused("curve", str(path), match="a.toml")


def test_a_misspelt_key_is_answered_with_the_right_one(tmp_path: Path) -> None:
    path = broken(tmp_path, "excursions/spring_special.toml", "departure =", "depature =")
    refused("check", path, match="departure")


def test_a_missing_file_of_an_excursion_is_named_with_the_file_that_asks(tmp_path: Path) -> None:
    path = broken(tmp_path, "excursions/spring_special.toml", "wooden_six", "wooden_nine")
    refused("check", path, match="wooden_nine")


@pytest.mark.parametrize(
    ("speed", "match"),
    [
        ("fast", "fast"),
        ("40", "40"),
        ("40 psi", "psi"),
        ("nan mph", "nan"),
        ("4000 mph", "speed"),
        ("-5 mph", "-"),
    ],
)
def test_a_speed_that_cannot_be_is_refused(speed: str, match: str) -> None:
    refused("cutoff", "--", ENGINE, speed, match=match)


@pytest.mark.parametrize("step", ["0 mph", "-5 mph", "5", "1e-9 mph", "nan mph"])
def test_a_step_that_leads_nowhere_is_refused(step: str) -> None:
    refused(
        "curve",
        ENGINE,
        "--step",
        step,
        match="step" if "mph" in step and "nan" not in step else step.split()[0],
    )


def test_a_rail_that_is_not_known_is_answered_with_those_that_are() -> None:
    refused("curve", ENGINE, "--rail", "muddy", match="greasy")


@pytest.mark.parametrize(
    "change",
    ["", "rail", "rail=", "rial=wet", "rail=muddy", "train.vehicles[99].count=1", "__class__=1", "=wet"],
)
def test_a_change_that_cannot_be_made_is_refused(change: str) -> None:
    refused("check", SPRING, "--change", change, match="change")


def test_a_change_is_made() -> None:
    dry, wet = output("check", SPRING), output("check", SPRING, "--change", "rail=wet")
    assert "dry rail" in " ".join(dry.split())
    assert "wet rail" in " ".join(wet.split())


# Files that are written


@pytest.mark.parametrize(
    ("command", "suffix"),
    [("check", "svg"), ("run", "svg"), ("curve", "png"), ("curve", "pdf"), ("cutoff", "svg")],
)
def test_pictures_are_written_the_same_twice(command: str, suffix: str, tmp_path: Path) -> None:
    first, second = tmp_path / f"1.{suffix}", tmp_path / f"2.{suffix}"
    for path in (first, second):
        output(*COMMANDS[command], "--plot", str(path))
    assert first.read_bytes() == second.read_bytes()
    assert first.read_bytes().startswith({"png": b"\x89PNG", "svg": b"<?xml", "pdf": b"%PDF"}[suffix])
    assert sorted(tmp_path.iterdir()) == [first, second]


@every_command
def test_a_file_that_is_there_stays_unless_forced(command: str, tmp_path: Path) -> None:
    path = tmp_path / "plot.svg"
    path.write_text("mine", encoding="utf-8")
    refused(*COMMANDS[command], "--plot", str(path), match="--force")
    assert path.read_text(encoding="utf-8") == "mine"
    output(*COMMANDS[command], "--plot", str(path), "--force")
    assert path.read_text(encoding="utf-8") != "mine"


@pytest.mark.parametrize(
    ("name", "match"), [("plot.gif", ".png"), ("plot", ".png"), ("no/plot.png", "folder"), (".", "png")]
)
def test_a_picture_that_cannot_be_is_refused_before_the_work(name: str, match: str, tmp_path: Path) -> None:
    refused("curve", ENGINE, "--plot", str(tmp_path / name), match=match)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="needs a folder no one can write to")
def test_a_picture_that_cannot_be_written_is_an_error_not_a_traceback() -> None:
    done = process("curve", ENGINE, "--plot", "/proc/plot.png")
    assert done.returncode == 2
    assert "/proc/plot.png" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_table_is_written_once_in_the_units_asked_for(tmp_path: Path) -> None:
    path = tmp_path / "run.csv"
    output("run", SPRING, "--csv", str(path), "--units", "metric")
    text = path.read_text(encoding="utf-8")
    assert "speed [km/h]" in text
    refused("run", SPRING, "--csv", str(path), match="--force")
    refused("run", SPRING, "--csv", str(tmp_path / "no" / "run.csv"), match="folder")
    assert path.read_text(encoding="utf-8") == text
    assert list(tmp_path.iterdir()) == [path]


# JSON


def parsed(*arguments: str) -> dict[str, Any]:
    """JSON of a command; nan and infinity, which JSON does not know, are refused."""

    def not_json(word: str) -> None:
        raise AssertionError(f"{word} is not JSON")

    found = json.loads(output(*arguments, "--json"), parse_constant=not_json)
    assert isinstance(found, dict)
    return found


@every_command
def test_json_stands_in_one_envelope(command: str) -> None:
    found = parsed(*COMMANDS[command])
    assert found["command"] == command
    assert found["locosim"] == __version__
    assert found["format"] == 2
    assert found["made_from"]["locomotives"] == ["No. 14 Campion, 4-6-0"]
    assert set(found["made_from"]) == {
        "locomotives",
        "train",
        "route",
        "files",
        "changes",
        "changed_assumptions",
        "set_from_test_sheet",
    }
    assert "certificate" in found["caution"]
    assert found["method"]


def test_json_of_a_check() -> None:
    found = parsed("check", HARVEST)
    assert found["verdict"] == "stop"
    keys = {"rule", "verdict", "place", "value", "limit", "margin", "because", "advice_not_run", "remedies"}
    for finding in found["findings"]:
        assert keys <= set(finding)
        assert finding["verdict"] in ("clear", "note", "tight", "stop")
        if finding["verdict"] != "note":
            assert math.isfinite(finding["value"])
            assert math.isfinite(finding["margin"])
        assert "{" not in finding["because"] + finding["advice_not_run"]
        assert finding["advice_not_run"] or finding["verdict"] == "clear"


def test_json_of_a_curve() -> None:
    found = parsed("curve", ENGINE)
    numbers = (
        "speed_m_s", "rim_tractive_effort_N", "drawbar_pull_N", "indicated_power_W", "drawbar_power_W", "cutoff",
        "steam_kg_s", "fuel_kg_s",
    )  # fmt: skip
    assert len(found["rows"]) > 5
    for row in found["rows"]:
        assert set(row) >= {*numbers, "limited_by"}
        assert all(math.isfinite(row[key]) for key in numbers)
        assert row["limited_by"]
    speeds = [row["speed_m_s"] for row in found["rows"]]
    assert speeds[1] - speeds[0] == pytest.approx(5 * 1609.344 / 3600)  # the step of 5 mph, in SI


def test_json_of_a_run() -> None:
    found = parsed("run", SPRING)
    assert set(found["totals"]) >= {"time_s", "distance_m", "water_kg", "fuel_kg"}
    assert all(math.isfinite(value) and value > 0 for value in found["totals"].values())
    assert found["ledgers"]
    assert all(abs(residual) < 1e-9 for residual in found["ledgers"].values())
    assert next(station["name"] for station in found["stations"]) == "Ambersyke"
    samples = found["samples"]
    nodes = len(samples["chainage_m"])
    for key, values in samples.items():
        assert len(values) == (nodes - 1 if key.startswith("step_") else nodes), key
        assert all(isinstance(value, str) or math.isfinite(value) for value in values), key
    run = samples["chainage_m"][-1] - samples["chainage_m"][0]
    assert run == pytest.approx(found["totals"]["distance_m"])


def test_json_is_si_whatever_units_are_asked_for() -> None:
    assert parsed("curve", ENGINE, "--units", "metric") == parsed("curve", ENGINE, "--units", "us")


# Texts


@every_command
@pytest.mark.parametrize(("units", "word"), [("us", "lbf"), ("metric", "kN"), ("british", "lbf")])
def test_texts_are_in_the_units_asked_for_and_the_same_twice(command: str, units: str, word: str) -> None:
    text = output(*COMMANDS[command], "--units", units)
    assert text == output_now(*COMMANDS[command], "--units", units)
    if command != "run":
        assert word in text
    assert ("km" in text) == (units == "metric")
    assert ("imp gal" in text or "long ton" in text) <= (units == "british")


@every_command
@pytest.mark.parametrize("columns", [50, 80, 100, 132])
def test_texts_stay_within_the_terminal(command: str, columns: int) -> None:
    text = output(*COMMANDS[command], columns=columns)
    assert max(map(len, text.splitlines())) <= columns


@pytest.mark.parametrize("name", ["spring_special", "summit_express", "winter_freight", "harvest_excursion"])
@pytest.mark.parametrize("units", ["us", "metric", "british"])
def test_the_clear_findings_are_one_table_at_80_and_100_columns(name: str, units: str) -> None:
    path = str(SCENARIOS / "excursions" / f"{name}.toml")
    for columns in (80, 100):
        text = output("check", path, "--units", units, columns=columns)
        heads = [line for line in text.splitlines() if line.startswith("rule ") and line.endswith("margin")]
        assert len(heads) == 1, text


@every_command
def test_every_text_says_method_and_caution_and_promises_nothing(command: str) -> None:
    text = " ".join(output(*COMMANDS[command]).split())
    assert "Method: " in text
    assert "the boiler certificate" in text
    assert "safe" not in text.lower().replace("safety valve", "")


def test_the_bundled_files_do_not_change_under_a_command() -> None:
    before = {path: path.read_bytes() for path in SCENARIOS.rglob("*") if path.is_file()}
    output_now("check", SPRING, "--change", "rail=wet")
    assert {path: path.read_bytes() for path in SCENARIOS.rglob("*") if path.is_file()} == before


# Streams and times


@pytest.mark.skipif(sys.platform == "win32", reason="needs a shell with pipes")
@pytest.mark.parametrize("arguments", [["run", SPRING, "--json"], ["check", SPRING, "--all"]])
def test_a_reader_that_goes_away_is_no_error(arguments: list[str]) -> None:
    program = subprocess.Popen(
        [sys.executable, "-m", "locosim", *arguments],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT,
    )  # fmt: skip
    assert program.stdout is not None
    assert program.stderr is not None
    program.stdout.close()
    errors = program.stderr.read()
    program.stderr.close()
    program.wait()
    assert "Traceback" not in errors
    assert "BrokenPipe" not in errors


def least_work(arguments: list[str], times: int) -> float:
    """Least processor time of a process over a few goes after a first, with bytecode present [s].

    On a machine with nothing else to do it is the time a user waits; unlike that, it does not grow with what
    others do meanwhile.
    """
    environment = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    taken = []
    for _ in range(times + 1):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(
            [sys.executable, "-m", "locosim", *arguments],
            capture_output=True, check=True, cwd=ROOT, env=environment,
        )  # fmt: skip
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        taken.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(taken[1:])


@pytest.mark.speed
def test_help_is_quick() -> None:
    assert least_work(["--help"], 4) < 0.3


@pytest.mark.speed
def test_a_second_check_is_quick() -> None:
    assert least_work(["check", SPRING], 3) < 2.0


# Errors in the user's units


@pytest.mark.parametrize("target", ["--report", "--csv"])
def test_outputs_that_cannot_be_are_refused_before_the_work(target: str, tmp_path: Path) -> None:
    command = {"--report": "check", "--csv": "run"}[target]
    one = str(tmp_path / "a.svg")
    refused(
        command, "nowhere.toml", "--plot", one, target, one, match=f"is named by both --plot and {target}"
    )
    refused(command, "nowhere.toml", target, str(tmp_path / "a.xlsx"), match="must end in .")
    refused("new", "engine", str(tmp_path / "a.txt"), match="must end in .toml, for example a.toml")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["curve", ENGINE, "--method", "handbook"]])
def test_a_result_that_cannot_be_written_is_an_error_not_a_traceback(
    arguments: list[str], tmp_path: Path
) -> None:
    (tmp_path / "only read").write_bytes(b"")
    with (tmp_path / "only read").open("rb") as file:
        done = subprocess.run(
            [sys.executable, "-m", "locosim", *arguments],
            stdout=file, stderr=subprocess.PIPE, text=True, cwd=ROOT,
        )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr == "error: the result cannot be written: bad file descriptor\n"


@pytest.mark.parametrize("command", ["curve", "cutoff", "diagram", "boiler", "compare"])
def test_the_help_of_an_engine_command_shows_changes_of_an_engine(command: str) -> None:
    words = " ".join(output(command, "--help").split())
    assert "boiler.working_pressure_gauge=" in words
    assert "train." not in words
    assert "locomotive." not in words


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (
            ["curve", ENGINE, "--step", "-5mph"],
            "--step: must be between 0.0497097 mph and .* mph .*, found '-5mph'",
        ),
        (["curve", ENGINE, "--step", "1e-9mph"], "--step: must be between .* found '1e-9mph'"),
        (["curve", ENGINE, "--step", "5"], "--step: '5' has a number without a unit"),
        (["curve", ENGINE, "--rail", "soap"], "--rail: must be one of .*, found 'soap'"),
        (
            ["curve", ENGINE, "--short-effort", "2 hour"],
            r"--short-effort: must be 0.0166667 hour to 1 hour .*, found '2 hour'",
        ),
        (["cutoff", ENGINE, "-40mph"], "speed: must lie .* from 0 mph to .* mph, found '-40mph'"),
        (["cutoff", ENGINE, "400mph"], "speed: must lie .* from 0 mph to .* mph, found '400mph'"),
        (
            ["cutoff", ENGINE, "30 mph", "--tractive-effort", "-3 lbf"],
            "--tractive-effort: must be above 0 lbf, found '-3 lbf'",
        ),
        (["boiler", ENGINE, "--fuel", "coal"], "--fuel: must be one of bituminous, .*, found 'coal'"),
    ],
)
def test_what_is_wrong_with_an_option_is_said_with_it_as_written(arguments: list[str], words: str) -> None:
    result = RUNNER.invoke(app, arguments)
    assert isinstance(result.exception, LocosimError), result.output
    assert re.match(words, str(result.exception)), str(result.exception)


def test_what_is_wrong_with_an_engine_only_when_it_is_computed_is_said_with_its_file(tmp_path: Path) -> None:
    path = broken(tmp_path, "engines/campion.toml", 'travel = "152 mm"', 'travel = "65 mm"')
    refused("curve", path, match=f"{path}: ")
    refused("curve", path, match="look at lap, lead and travel")


def test_a_message_commands_no_terminal(tmp_path: Path) -> None:
    path = tmp_path / "e.toml"
    path.write_text('"na\\u001b[31mme" = 1\nname = "a\\u001b[31mb"\n', encoding="utf-8")
    done = process("curve", str(path))
    assert done.returncode == 2
    assert "\x1b" not in done.stderr
    assert "na\\x1b[31mme: unknown key" in done.stderr


def test_engine_commands_burn_the_fuel_given_and_name_it() -> None:
    for command in (("curve", ENGINE), ("cutoff", ENGINE, "20 mph")):
        assert "on bituminous coal of 13,514 Btu/lb (" in words(*command, "--method", "handbook")
        wood = ("--method", "handbook", "--fuel", "wood")
        assert "on wood of 6,653 Btu/lb (" in words(*command, *wood)
    assert "Fuel: wood of 6,653 Btu/lb." in output(
        "compare", ENGINE, ENGINE, "--method", "handbook", "--fuel", "wood"
    )
    refused("curve", ENGINE, "--fuel", "peat", match="--fuel: must be one of")
