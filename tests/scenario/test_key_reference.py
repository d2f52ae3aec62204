"""docs/scenario-keys.md and docs/assumptions.md agree with the declarations of the model."""

from __future__ import annotations

from pathlib import Path

import pytest

from locosim import units
from locosim.model.assumptions import Assumptions
from locosim.model.declare import in_range
from locosim.scenario import assumption_reference, key_reference
from locosim.scenario.schema import FILE_KINDS, example, keys_of

PAGE = Path(__file__).parents[2] / "docs" / "scenario-keys.md"


def every_key():
    """Every key of every description, once."""
    waiting, seen = [model for model, _ in FILE_KINDS.values()], set()
    while waiting:
        model = waiting.pop()
        if model in seen:
            continue
        seen.add(model)
        for key in keys_of(model).values():
            yield pytest.param(key, id=f"{model.__name__}.{key.name}")
            if key.model:
                waiting.append(key.model)


def test_the_page_agrees_with_the_declarations():
    assert PAGE.read_text(encoding="utf-8") == key_reference.page(), (
        "run python -m locosim.scenario.key_reference"
    )


def test_the_page_of_assumptions_agrees_with_the_declarations():
    text = PAGE.with_name("assumptions.md").read_text(encoding="utf-8")
    assert text == assumption_reference.page(), "run python -m locosim.scenario.assumption_reference"


@pytest.mark.parametrize("key", list(every_key()))
def test_every_key_is_on_the_page_and_has_a_meaning(key):
    assert f"| `{key.name}` |" in (assumption_reference if key.owner is Assumptions else key_reference).page()
    assert key.doc.endswith(".")


@pytest.mark.parametrize("key", list(every_key()))
def test_every_example_can_be_read_and_lies_in_its_range(key):
    if key.kind == "measure":
        assert in_range(key.field_info, units.si(example(key).strip('"'), key.unit))
