"""Every output names what it was made from; the page of outputs names keys that exist."""

from __future__ import annotations

import inspect
import json
import re
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest

from locosim import __version__, rendering
from locosim.engine.command_results import compute_cutoff_table, compute_speed_curve
from locosim.engine.performance import compute_performance
from locosim.model.assumptions import Assumptions
from locosim.report import made_from as module
from locosim.report.json.curve import curve_json
from locosim.report.made_from import MadeFrom, made_from, made_from_content, made_from_lines, source_columns
from locosim.scenario import load_locomotive

ROOT = Path(__file__).resolve().parents[2]
SOURCE = MadeFrom(
    locomotives=("Teasel", "Pusher"),
    train="Heavy twelve",
    route="Main line",
    files=(("a.toml", "0123456789abcdef" * 4),),
    changes=("rail=wet",),
    assumptions=("air_lag=25 s",),
)


def test_the_lines_name_version_names_files_changes_and_assumptions() -> None:
    assert made_from_lines(SOURCE) == [
        f"locosim {__version__}: Teasel and Pusher; Heavy twelve; Main line.",
        "Files (SHA-256): a.toml (0123456789ab).",
        "Changes: rail=wet.",
        "Changed assumptions: air_lag=25 s.",
    ]
    assert made_from_lines(MadeFrom(locomotives=("Teasel",))) == [f"locosim {__version__}: Teasel."]


def test_json_has_the_whole_hash() -> None:
    content = made_from_content(SOURCE)
    assert content["files"] == [{"path": "a.toml", "sha256": "0123456789abcdef" * 4}]
    assert content["changed_assumptions"] == ["air_lag=25 s"]


def test_files_and_changes_come_from_the_provenance_of_what_was_read() -> None:
    file = SimpleNamespace(path="a.toml", sha256="ab")
    described = SimpleNamespace(provenance=SimpleNamespace(files=(file,), changes=("rail=wet",)))
    assert module._files_and_changes(described) == ((("a.toml", "ab"),), ("rail=wet",))
    assert module._files_and_changes(SimpleNamespace()) == ((), ())


def test_a_changed_assumption_is_named_with_its_unit() -> None:
    assert module._changed(Assumptions()) == ()
    assert module._changed(replace(Assumptions(), air_lag=25.0)) == ("air_lag=25 s",)


def test_engine_results_name_the_engine_alone() -> None:
    engine = load_locomotive(ROOT / "scenarios" / "engines" / "teasel.toml")
    performance = compute_performance(engine, method="handbook")
    curve = compute_speed_curve(performance, step=5.0)
    for result in (curve, compute_cutoff_table(performance, speed=10.0)):
        source = made_from(result)
        assert source.locomotives == (engine.name,)
        assert source.train is source.route is None
    assert json.loads(curve_json(curve))["made_from"]["locomotives"] == [engine.name]


@pytest.mark.parametrize("command", rendering.RENDERERS)
def test_every_renderer_takes_one_result(command: str) -> None:
    assert {"text", "json", "plot"} <= set(rendering.RENDERERS[command])
    for medium in rendering.RENDERERS[command]:
        parameters = inspect.signature(rendering.renderer(command, medium)).parameters.values()
        required = [each for each in parameters if each.default is each.empty]
        assert len(required) == 1, (command, medium)


def test_the_page_of_outputs_names_keys_that_exist_and_old_ones_that_are_gone() -> None:
    page = (ROOT / "docs" / "outputs.md").read_text(encoding="utf-8")
    sources = [
        *(ROOT / "locosim" / "report" / "json").glob("*.py"),
        *(ROOT / "locosim" / "report").glob("*.py"),
    ]
    written = {key for path in sources for key in re.findall(r'"(\w+)":', path.read_text(encoding="utf-8"))}
    rows = [
        row.split("|")[1:3] for row in page.split("### Format 2")[1].splitlines() if row.startswith("| `")
    ]
    assert len(rows) > 20
    for old, new in rows:
        assert set(re.findall(r"`(\w+)`", new)) <= written, new
        if " of " not in old:
            assert not set(re.findall(r"`(\w+)`", old)) & written, old
    columns = re.findall(r"`([\w ]+)`", page.split("So the columns")[1].split("stand to the right")[0])
    assert columns == re.findall(r'"([\w ]+)": ', inspect.getsource(source_columns))
