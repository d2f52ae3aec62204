"""Former keys and choice values: each is answered with its present name, in files, CSV headings and changes."""

from __future__ import annotations

from pathlib import Path

import pytest

import locosim.model as model
from locosim.errors import ScenarioError
from locosim.scenario import load_excursion, load_route
from locosim.scenario.build import build
from locosim.scenario.overrides import apply_change
from locosim.scenario.renamed import RENAMED_CHOICES, RENAMED_KEYS, renaming_table
from locosim.scenario.schema import FILE_KINDS, keys_of
from locosim.scenario.source import Table

DATA = Path(__file__).parent / "data"
CHANGELOG = Path(__file__).parents[2] / "docs" / "changelog.md"
KEYS = [(kind, old, new) for kind, keys in RENAMED_KEYS.items() for old, new in keys.items()]
CHOICES = [
    (kind, key, old, new) for (kind, key), values in RENAMED_CHOICES.items() for old, new in values.items()
]


def problems_of(kind, entries):
    """Problems of a table with some entries."""
    problems = []
    build(getattr(model, kind), Table(Path("x.toml"), "inner", entries), problems)
    return [problem.text for problem in problems]


@pytest.mark.parametrize(("kind", "old", "new"), KEYS)
def test_a_former_key_is_answered_with_its_present_name(kind, old, new):
    keys = keys_of(getattr(model, kind))
    assert new in keys
    assert old not in keys
    problems = problems_of(kind, {old: "7 m"})
    (renamed,) = [text for text in problems if "now called" in text]
    assert renamed.startswith(f"inner.{old}: now called {new}; write {new} = ")
    assert not any("missing" in text and new in text for text in problems)


@pytest.mark.parametrize(("kind", "key", "old", "new"), CHOICES)
def test_a_former_choice_is_answered_with_its_present_name(kind, key, old, new):
    options = keys_of(getattr(model, kind))[key].options
    assert new in options
    assert old not in options
    assert f'inner.{key}: "{old}" is now called "{new}"' in problems_of(kind, {key: old})


@pytest.mark.parametrize(
    "kind", [kind.__name__ for kind, _ in FILE_KINDS.values() if kind.__name__ in RENAMED_KEYS]
)
def test_a_change_of_a_former_key_is_answered_with_its_present_name(kind):
    for old, new in RENAMED_KEYS[kind].items():
        problems = []
        apply_change(f"{old}=7", Table(Path("x.toml"), "", {}), getattr(model, kind), problems)
        assert [problem.text for problem in problems] == [f"change '{old}=7': '{old}' is now called '{new}'"]


def test_a_change_to_a_former_choice_is_answered_with_its_present_name():
    with pytest.raises(ScenarioError, match='engine_facing: "chimney_first" is now called "stack_first"'):
        load_excursion(DATA / "excursions" / "mixed.toml", ["engine_facing=chimney_first"])


def test_a_former_table_is_read_on_to_find_all_problems(tmp_path):
    text = (DATA / "excursions" / "mixed.toml").read_text(encoding="utf-8")
    text = text.replace("[[stops]]", "[[calls]]").replace("../", f"{DATA.as_posix()}/")
    path = tmp_path / "old.toml"
    path.write_text(text.replace('station = "Low"', 'station = "Low"\ntake_water = "all"'), encoding="utf-8")
    with pytest.raises(ScenarioError) as caught:
        load_excursion(path)
    assert [line.removeprefix(f"{path}: ") for line in caught.value.problems] == [
        "calls: now called stops; write [[stops]]",
        "calls[1].take_water: must be one of no, fill, found 'all'",
    ]


def test_a_former_heading_is_answered_with_its_present_name(tmp_path):
    text = (DATA / "routes" / "short.toml").read_text(encoding="utf-8")
    (tmp_path / "short.toml").write_text(text, encoding="utf-8")
    profile = (DATA / "routes" / "short.csv").read_text(encoding="utf-8")
    (tmp_path / "short.csv").write_text(profile.replace("grade [%]", "gradient [%]"), encoding="utf-8")
    with pytest.raises(
        ScenarioError, match=r"heading 'gradient': now called grade; write grade \[%\]"
    ) as caught:
        load_route(tmp_path / "short.toml")
    assert len(caught.value.problems) == 1


def test_a_former_file_is_still_recognized_as_another_kind():
    problems = []
    table = Table(Path("x.toml"), "", {"name": "E", "calls": [], "assistance": [], "fuel_at_start": 1})
    assert build(model.Train, table, problems) is None
    assert problems[0].text == "looks like an excursion, but a train is expected here"


def test_the_changelog_has_the_table():
    assert renaming_table() in CHANGELOG.read_text(encoding="utf-8"), (
        "paste locosim.scenario.renamed.renaming_table()"
    )
