"""Every command about a plan has an example in its help that runs as it stands."""

from __future__ import annotations

import re
import shlex
import shutil
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from locosim.cli import app

SCENARIOS = Path(__file__).resolve().parents[1] / "scenarios"
COMMANDS = ("load", "rating", "consists", "water", "helper", "timetable", "economy", "day", "route")
# Files that the examples name; an excursion that has what the example of the command asks for.
FILES = {
    "engine.toml": "engines/campion.toml",
    "helper.toml": "engines/monkshood.toml",
    "special.toml": "excursions/spring_special.toml",
    "consists.csv": "consists/spring_special.csv",
    "day.toml": "days/spring_there_and_back.toml",
    "line.toml": "routes/main_line.toml",
    "track.gpx": "tracks/quarry_branch.gpx",
}
PARTS = (("first.toml", "Fennick Junction", "Marlby"), ("second.toml", "Marlby", "Dunlarch"))
EXCURSIONS = {"water": "summit_express", "helper": "harvest_excursion"}
RUNNER = CliRunner()


def examples() -> Iterator[tuple[str, ...]]:
    group = typer.main.get_command(app)
    for name in COMMANDS:
        command = group.commands[name]  # type: ignore[attr-defined]
        for each in getattr(command, "commands", {"": command}).values():
            texts = re.findall(
                r"Example: (locosim .+?)(?:\n\n|$)", f"{each.help}\n\n{each.epilog or ''}", re.S
            )
            assert texts, f"{name}: no example"
            yield from (tuple(shlex.split(text)[1:]) for text in texts)


@pytest.fixture
def desk(tmp_path: Path) -> Path:
    """A folder beside those of the bundled files, to which what they name lies as it does for them."""
    for kind in ("engines", "trains", "routes", "excursions"):
        shutil.copytree(SCENARIOS / kind, tmp_path / kind)
    made = tmp_path / "desk"
    shutil.copytree(SCENARIOS / "routes", made)
    return made


@pytest.mark.parametrize("arguments", list(examples()), ids=" ".join)
def test_the_example_runs(arguments: tuple[str, ...], desk: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(desk)
    excursion = EXCURSIONS.get(arguments[0], "spring_special")
    made = {path for option, path in pairwise(arguments) if option in ("--plot", "--csv", "--to")}
    for name, source in (FILES | {"excursion.toml": f"excursions/{excursion}.toml"}).items():
        if name in arguments and name not in made:
            shutil.copy(SCENARIOS / source, name)
    for name, start, end in PARTS if "first.toml" in arguments else ():
        cut = ("route", "cut", "main_line.toml", "--start", start, "--end", end, "--to", name)
        assert RUNNER.invoke(app, cut).exit_code == 0
    result = RUNNER.invoke(app, arguments)
    # 1 is a verdict that stops.
    assert result.exit_code in (0, 1), result.output + repr(result.exception)
    assert result.exception is None or isinstance(result.exception, SystemExit)
    assert len(result.stdout) > 100
    assert all(Path(path).stat().st_size > 100 for path in made)
