"""Our frozen dataclasses behave as those of the standard library do."""

from __future__ import annotations

import copy
import dataclasses
import inspect
import pickle
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import pytest

from locosim.frozen import frozen


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """A frozen dataclass of the standard library."""

    name: str
    count: int = 3
    notes: dict[str, str] = field(default_factory=dict)
    source: object = field(default=None, compare=False, repr=False)

    def __post_init__(self) -> None:
        """Refuse a negative count."""
        if self.count < 0:
            raise ValueError(self.count)


@frozen
class Ours:
    """The same, declared by `frozen`."""

    name: str
    count: int = 3
    notes: dict[str, str] = field(default_factory=dict)
    source: object = field(default=None, compare=False, repr=False)

    def __post_init__(self) -> None:
        """Refuse a negative count."""
        if self.count < 0:
            raise ValueError(self.count)


@frozen(kw_only=False)
class Point:
    """One with arguments by position."""

    x: float
    y: float = 2.0


@frozen
class Single:
    """One with a single field."""

    x: object


@frozen(eq=False)
class Apart:
    """One that is equal only to itself."""

    x: float


@frozen(slots=False)
class Roomy:
    """One with a cached property."""

    x: float

    @cached_property
    def double(self) -> float:
        """Twice the field."""
        return 2.0 * self.x


@frozen
class Heir(Ours):
    """One that adds a field to another."""

    weight: float = 1.0


TRIED: dict[str, Callable[[Any], Any]] = {
    "text": lambda made: repr(made(name="a", count=1, source=5)),
    "equal": lambda made: made(name="a") == made(name="a", source=7),
    "not equal": lambda made: made(name="a") == made(name="b"),
    "another class": lambda made: made(name="a") == Point(1.0),
    "missing": lambda made: made(count=1),
    "unknown": lambda made: made(name="a", length=1),
    "by position": lambda made: made("a"),
    "checked": lambda made: made(name="a", count=-1),
    "set": lambda made: setattr(made(name="a"), "name", "b"),
    "deleted": lambda made: delattr(made(name="a"), "name"),
    "changed": lambda made: repr(dataclasses.replace(made(name="a"), count=9)),
    "as dict": lambda made: dataclasses.asdict(made(name="a", notes={"b": "c"})),
    "names": lambda made: [each.name for each in dataclasses.fields(made)],
    "parameters": lambda made: [(p.name, p.kind) for p in inspect.signature(made).parameters.values()],
    "copied": lambda made: copy.deepcopy(made(name="a", notes={"b": "c"})).notes,
    "pickled": lambda made: repr(pickle.loads(pickle.dumps(made(name="a", notes={"b": "c"})))),
    "own notes": lambda made: made(name="a").notes is made(name="b").notes,
    "no other attributes": lambda made: hasattr(made(name="a"), "__dict__"),
    "not hashable": lambda made: hash(made(name="a")),
}


@pytest.mark.parametrize("tried", TRIED.values(), ids=TRIED.keys())
def test_it_behaves_as_one_of_the_standard_library(tried: Callable[[Any], Any]) -> None:
    outcomes = []
    for made in (Ours, Reference):
        try:
            outcome = tried(made)
        except Exception as problem:
            outcome = type(problem), str(problem)
        outcomes.append(repr(outcome).replace(made.__name__, "Class"))
    assert outcomes[0] == outcomes[1]


def test_equal_ones_have_equal_hashes() -> None:
    assert hash(Point(1.0)) == hash(Point(1.0, 2.0)) != hash(Point(1.0, 3.0))
    assert {Point(1.0): "a"}[Point(1.0, 2.0)] == "a"
    assert hash(Single(x=1.0)) == hash(Single(x=1.0))


def test_one_without_equality_is_equal_only_to_itself() -> None:
    one = Apart(x=1.0)
    assert one == one != Apart(x=1.0)
    assert len({one, Apart(x=1.0)}) == 2


@pytest.mark.parametrize("value", [1.0, (1, 2), None])
def test_a_single_field_is_pickled_whatever_it_is(value: object) -> None:
    assert pickle.loads(pickle.dumps(Single(x=value))) == Single(x=value)


def test_a_cached_property_needs_a_class_without_slots() -> None:
    assert Roomy(x=2.0).double == 4.0
    with pytest.raises(dataclasses.FrozenInstanceError):
        Roomy(x=2.0).y = 1.0  # type: ignore[attr-defined]


def test_no_other_attribute_is_set() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):  # of the standard library with slots, a TypeError
        Ours(name="a").length = 1.0  # type: ignore[attr-defined]


def test_fields_are_inherited() -> None:
    assert repr(Heir(name="a", weight=2.0)) == "Heir(name='a', count=3, notes={}, weight=2.0)"
    with pytest.raises(ValueError, match="-1"):
        Heir(name="a", count=-1)
