"""Every field of every model class declares unit, range and meaning, and the constructor enforces them."""

from __future__ import annotations

import dataclasses
import math
import re
import types
import typing
from collections.abc import Iterator
from typing import Any

import pytest

import locosim.model as model
from locosim import units
from locosim.errors import Fault, OutOfRange
from locosim.model.declare import (
    check,
    choice,
    entry,
    field_checks,
    field_problem,
    in_range,
    measure,
    range_text,
)

CLASSES = [getattr(model, name) for name in model.__all__]

# Unit words that stand for a notation; see locosim/model/declare.py.
WORDS = {"", "grade", "curve", "clock"}


def is_float(hint: Any) -> bool:
    """Whether a hint is a float or an optional float."""
    options = typing.get_args(hint) if isinstance(hint, types.UnionType) else (hint,)
    return float in options


def float_fields() -> Iterator[Any]:
    for made in CLASSES:
        hints = typing.get_type_hints(made)
        for field_info in dataclasses.fields(made):
            if is_float(hints[field_info.name]):
                yield pytest.param(made, field_info, id=f"{made.__name__}.{field_info.name}")


def all_fields() -> Iterator[Any]:
    for made in CLASSES:
        for field_info in dataclasses.fields(made):
            yield pytest.param(made, field_info, id=f"{made.__name__}.{field_info.name}")


FLOATS, FIELDS = list(float_fields()), list(all_fields())


def test_all_model_classes_are_found() -> None:
    assert len(CLASSES) >= 25
    assert len(FLOATS) > 90


@pytest.mark.parametrize("made", CLASSES, ids=lambda made: made.__name__)
def test_a_description_is_frozen_slotted_and_keyword_only(made: type) -> None:
    assert made.__doc__
    assert dataclasses.is_dataclass(made)
    instance = object.__new__(made)
    for field_info in dataclasses.fields(made):
        with pytest.raises(dataclasses.FrozenInstanceError):
            setattr(instance, field_info.name, None)
    assert all(field_info.kw_only for field_info in dataclasses.fields(made))
    assert not hasattr(made, "__dict__") or "__slots__" in vars(made)
    assert "__post_init__" in vars(made)


@pytest.mark.parametrize(("made", "field_info"), FIELDS)
def test_every_field_has_a_meaning(made: type, field_info: dataclasses.Field[Any]) -> None:
    doc = field_info.metadata.get("doc", "")
    assert doc.endswith("."), doc
    assert doc[0].isupper()


@pytest.mark.parametrize(("made", "field_info"), FLOATS)
def test_every_number_has_a_unit(made: type, field_info: dataclasses.Field[Any]) -> None:
    assert "unit" in field_info.metadata
    unit = field_info.metadata["unit"]
    if unit not in WORDS:
        # A known unit that is SI: 1 of it is 1.
        assert units.si(f"1 {unit}", unit) == pytest.approx(1.0) if " " not in unit else True


@pytest.mark.parametrize(("made", "field_info"), FLOATS)
def test_the_example_and_the_default_of_a_number_lie_in_its_range(
    made: type, field_info: dataclasses.Field[Any]
) -> None:
    if isinstance(field_info.default, float):
        assert in_range(field_info, field_info.default)
    example = field_info.metadata["example"]
    if example:
        assert in_range(field_info, units.si(example, field_info.metadata["unit"]))


@pytest.mark.parametrize("made", CLASSES, ids=lambda made: made.__name__)
def test_what_passes_the_quick_check_of_a_field_is_right(made: type) -> None:
    bounds = ("above", "at_least", "below", "at_most")
    for each in field_checks(made):
        ends = [float(each.info.metadata.get(name) or 0.0) for name in bounds]
        near = [
            at for end in ends for at in (end, math.nextafter(end, math.inf), math.nextafter(end, -math.inf))
        ]
        for value in (*near, 1.0, -1e300, math.inf, -math.inf, math.nan, None, "", "none", True, 3, ()):
            assert not each.passes(value) or field_problem(each.info, value) is None, (each.name, value)


def beyond(field_info: dataclasses.Field[Any]) -> Iterator[float]:
    """Numbers just out of the range of a field, and non-finite ones."""
    data = field_info.metadata
    for key, factor in (("above", 0.0), ("at_least", -1.0), ("below", 0.0), ("at_most", 1.0)):
        if data.get(key) is not None:
            bound = float(data[key])
            yield bound + factor * max(abs(bound), 1.0) * 1e-9
    yield from (math.nan, math.inf, -math.inf)


@pytest.mark.parametrize(("made", "field_info"), FLOATS)
def test_a_number_out_of_range_is_refused_by_name(made: type, field_info: dataclasses.Field[Any]) -> None:
    for value in beyond(field_info):
        assert not in_range(field_info, value)
        problem = field_problem(field_info, value)
        assert problem is not None
        assert problem.startswith("must be ")
        assert f"found {value:g}" in problem
    assert range_text(field_info) == range_text(field_info).strip()


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """A description with one field of each kind."""

    length: float = measure("m", "A length.", above=1, at_most=5, default=2.0)
    share: float | None = measure("", "A share.", at_least=0, below=1, default=None)
    count: int = entry("A count.", at_least=2, default=3)
    kind: str = choice(("this", "that"), "A kind.", default="this")
    items: tuple[int, ...] = entry("Items.", at_least=1, default=(1,))

    def __post_init__(self) -> None:
        check(self)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"length": 1.0}, r"Sample\.length must be above 1 m and at most 5 m, found 1"),
        ({"length": 5.1}, r"Sample\.length must be above 1 m and at most 5 m, found 5\.1"),
        ({"length": math.nan}, r"Sample\.length must be above 1 m and at most 5 m, found nan"),
        ({"length": "2 m"}, r"Sample\.length must be a number in m, found '2 m'"),
        ({"length": True}, r"Sample\.length must be a number in m, found True"),
        ({"length": None}, r"Sample\.length is missing"),
        ({"share": 1.0}, r"Sample\.share must be at least 0 and below 1, found 1"),
        ({"count": 1}, r"Sample\.count must be at least 2, found 1"),
        ({"kind": "other"}, r"Sample\.kind must be one of this, that, found 'other'"),
        ({"items": ()}, r"Sample\.items needs at least 1 item, found 0"),
        ({"length": 9.0, "count": 0}, r"length must be .*; Sample\.count must be at least 2, found 0"),
    ],
)
def test_a_wrong_field_is_refused_with_what_is_allowed(changes: dict[str, Any], message: str) -> None:
    with pytest.raises(OutOfRange, match=message):
        Sample(**changes)


@pytest.mark.parametrize("changes", [{}, {"length": 5.0}, {"share": 0.0}, {"count": 2}, {"length": 3}])
def test_allowed_values_are_accepted(changes: dict[str, Any]) -> None:
    defaults = {"length": 2.0, "share": None, "count": 3, "kind": "this", "items": (1,)}
    assert dataclasses.asdict(Sample(**changes)) == defaults | changes


@pytest.mark.parametrize(("made", "field_info"), FIELDS)
def test_every_count_and_measure_has_an_upper_bound(made: type, field_info: dataclasses.Field[Any]) -> None:
    hint = typing.get_type_hints(made)[field_info.name]
    data = field_info.metadata
    if (is_float(hint) and data["unit"] != "clock") or hint is int:  # the reader limits times of day
        assert data.get("below") is not None or data.get("at_most") is not None


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two lengths, the second of which is the longer."""

    short: float = measure("m", "The shorter.", above=0, below=10)
    long: float = measure("m", "The longer.", above=0, below=10)
    name: str = choice(("a", "b"), "A name.")

    def __post_init__(self) -> None:
        check(self)

    def _order_faults(self) -> Iterator[Fault]:
        if self.short > self.long:
            yield Fault(
                "short",
                "must be below long ({most}), found {found}",
                "m",
                {"most": self.long, "found": self.short},
            )


def test_faults_of_fields_and_between_them_come_together() -> None:
    with pytest.raises(OutOfRange) as caught:
        Pair(short=3.0, long=2.0, name="c")
    assert str(caught.value) == (
        "Pair.name must be one of a, b, found 'c'; Pair.short must be below long (2 m), found 3 m"
    )
    assert [fault.key for fault in caught.value.faults] == ["name", "short"]


def test_conditions_that_involve_a_faulty_field_are_not_checked() -> None:
    with pytest.raises(OutOfRange) as caught:
        Pair(short=3.0, long=-2.0, name="a")
    assert [fault.key for fault in caught.value.faults] == ["long"]


def test_each_limit_of_the_check_names_the_source_of_its_default() -> None:
    """Of thirteen limits three had a source; a planner reads it in the template and on the page of keys."""
    without = [
        f.name
        for f in dataclasses.fields(model.Criteria)
        if not re.search(r"\[[^]]+\]\.$", f.metadata["doc"])
    ]
    assert without == []
