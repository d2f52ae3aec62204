"""Field declarations of the model: unit, range and meaning of each field, declared once.

The constructor check, the unit the scenario reader converts to, the range in an error message and the
generated page docs/scenario-keys.md all read the same metadata. Nothing else validates a field.

Conditions between fields are methods of the class whose names end in `_faults`: each yields the faults it finds.
The constructor runs them all. The scenario reader also runs them on a partly read description and skips those
that need a missing field.

Unit words beside plain SI units:

* `""`: a number, or a percentage written as a text such as `"85 %"`.
* `"grade"`: rise over run, positive if rising; files write `"1 in 80"`, `"1.25 %"`, `"level"`.
* `"curve"`: radius [m]; files write `"4 deg"` (100 ft chord) or a length.
* `"clock"`: seconds after midnight; files write `"10:35"`.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import MISSING, Field, field, fields
from functools import cache
from typing import Any, NamedTuple, TypeVar

from locosim.errors import Fault, OutOfRange

T = TypeVar("T")

Bound = float | None


def measure(
    unit: str,
    doc: str,
    *,
    above: Bound = None,
    at_least: Bound = None,
    below: Bound = None,
    at_most: Bound = None,
    default: Any = MISSING,
    example: str = "",
) -> Any:
    """Declare a float field in SI.

    Args:
        unit: SI unit, or one of the unit words of this module.
        doc: Meaning of the field, one sentence.
        above: Exclusive lower bound, in the unit.
        at_least: Inclusive lower bound, in the unit.
        below: Exclusive upper bound, in the unit.
        at_most: Inclusive upper bound, in the unit.
        default: Value if the file omits the field; `None` makes it optional.
        example: A value in the notation of a file, for messages and docs.
    """
    metadata = {
        "unit": unit,
        "doc": doc,
        "above": above,
        "at_least": at_least,
        "below": below,
        "at_most": at_most,
        "example": example,
    }
    return field(default=default, metadata=metadata)


def entry(
    doc: str,
    *,
    default: Any = MISSING,
    at_least: Bound = None,
    at_most: Bound = None,
    file: bool = False,
    table: bool = False,
    number: bool = False,
    example: str = "",
) -> Any:
    """Declare a field for a text, a whole number, a nested description or a tuple.

    Args:
        doc: Meaning of the field, one sentence.
        default: Value if the file omits the field.
        at_least: Inclusive lower bound of a whole number, or minimum number of items of a tuple.
        at_most: Inclusive upper bound of a whole number, or maximum number of items of a tuple.
        file: The field may be the path of another file, relative to the file that names it.
        table: The field may be the path of a CSV file with one row per item.
        number: A text may be written as a number, without quotes.
        example: A value of a list of texts in the notation of a file.
    """
    metadata = {
        "doc": doc,
        "at_least": at_least,
        "at_most": at_most,
        "file": file,
        "table": table,
        "number": number,
        "example": example,
    }
    return field(default=default, metadata=metadata)


def choice(options: tuple[str, ...], doc: str, *, default: Any = MISSING) -> Any:
    """Declare a text field with a fixed set of allowed values."""
    return field(default=default, metadata={"doc": doc, "options": options})


def attached(doc: str) -> Any:
    """Declare a field that the reader attaches: no key of a file, not compared, not in `repr`."""
    return field(default=None, compare=False, repr=False, metadata={"doc": doc, "attached": True})


_BOUND_WORDS = {"above": "above", "at_least": "at least", "below": "below", "at_most": "at most"}
_BASE_UNITS = {"grade": "", "curve": "m", "clock": "s"}


def range_text(field_info: Field[Any]) -> str:
    """The range of a field in words, in SI; empty if any number is allowed."""
    unit = field_info.metadata.get("unit", "")
    return _range_template(field_info).format_map(
        {
            key: f"{field_info.metadata.get(key) or 0:g} {_BASE_UNITS.get(unit, unit)}".rstrip()
            for key in _BOUND_WORDS
        }
    )


def _range_template(field_info: Field[Any]) -> str:
    """The range of a field in words, with placeholders for the bounds."""
    bounds = [key for key in _BOUND_WORDS if field_info.metadata.get(key) is not None]
    return " and ".join(f"{_BOUND_WORDS[key]} {{{key}}}" for key in bounds)


def in_range(field_info: Field[Any], value: float) -> bool:
    """Whether a value is in the range of its field."""
    bounds = field_info.metadata
    return not (
        not math.isfinite(value)
        or (bounds.get("above") is not None and not value > bounds["above"])
        or (bounds.get("at_least") is not None and not value >= bounds["at_least"])
        or (bounds.get("below") is not None and not value < bounds["below"])
        or (bounds.get("at_most") is not None and not value <= bounds["at_most"])
    )


def field_problem(field_info: Field[Any], value: Any) -> str | None:
    """What is wrong with a value of a field; None if nothing is."""
    data = field_info.metadata
    if "options" in data:
        if value in data["options"] or (value is None and field_info.default is None):
            return None
        return f"must be one of {', '.join(data['options'])}, found {value!r}"
    if value is None:
        return None if field_info.default is None else "is missing"
    if isinstance(value, tuple):
        return _length_problem(value, data.get("at_least"), data.get("at_most"))
    if "unit" in data and (isinstance(value, bool) or not isinstance(value, int | float)):
        return f"must be a number in {data['unit'] or 'units of one'}, found {value!r}"
    if isinstance(value, int | float) and not in_range(field_info, float(value)):
        found = value if isinstance(value, int) else f"{value:g}"
        return f"must be {range_text(field_info) or 'finite'}, found {found}"
    return None


def _length_problem(items: tuple[Any, ...], at_least: Bound, at_most: Bound) -> str | None:
    """What is wrong with the number of items of a tuple; None if nothing is."""
    if at_least is not None and len(items) < at_least:
        return f"needs at least {at_least:g} item{'s' if at_least > 1 else ''}, found {len(items)}"
    if at_most is not None and len(items) > at_most:
        return f"allows at most {at_most:g} items, found {len(items)}"
    return None


class FieldCheck(NamedTuple):
    """A quick check of a field, which nearly every value passes; a value that does not may still be right.

    Attributes:
        name: Name of the field.
        info: The field.
        least: Least float that passes; not a number where none does.
        most: Greatest.
        options: Texts that pass.
        optional: Whether None passes.
    """

    name: str
    info: Field[Any]
    least: float
    most: float
    options: tuple[str, ...]
    optional: bool

    def passes(self, value: Any) -> bool:
        """Whether a value is surely right."""
        if type(value) is float:
            return self.least <= value <= self.most
        return self.optional if value is None else value in self.options


@cache
def field_checks(model: type) -> tuple[FieldCheck, ...]:
    """The quick checks of the fields of a description."""
    return tuple(_field_check(each) for each in fields(model))


def _field_check(info: Field[Any]) -> FieldCheck:
    data = info.metadata
    lows = [-sys.float_info.max, data.get("at_least"), _next(data.get("above"), math.inf)]
    highs = [sys.float_info.max, data.get("at_most"), _next(data.get("below"), -math.inf)]
    is_number = "options" not in data
    return FieldCheck(
        name=info.name,
        info=info,
        least=max(each for each in lows if each is not None) if is_number else math.nan,
        most=min(each for each in highs if each is not None),
        options=data.get("options", ()),
        optional=info.default is None,
    )


def _next(bound: Bound, toward: float) -> Bound:
    """The float next to an exclusive bound."""
    return None if bound is None else math.nextafter(bound, toward)


def check(instance: Any) -> None:
    """Check every declared field of a description and the conditions between them, from `__post_init__`.

    Raises:
        OutOfRange: With every fault, not only the first.
    """
    faults = [
        _field_fault(each.info, problem, value)
        for each in field_checks(instance.__class__)
        if not each.passes(value := getattr(instance, each.name))
        and (problem := field_problem(each.info, value)) is not None
    ]
    if faults:
        values = {each.name: getattr(instance, each.name) for each in fields(instance)}
        faulty = {fault.key for fault in faults}
        faults += faults_of_known_fields(
            partial_instance(type(instance), {k: v for k, v in values.items() if k not in faulty})
        )
    else:
        faults += [fault for condition in _fault_methods(instance.__class__) for fault in condition(instance)]
    if faults:
        raise OutOfRange.by(faults, type(instance).__name__)


def _field_fault(field_info: Field[Any], problem: str, value: Any) -> Fault:
    """The fault of one field; for a number out of range, with its figures."""
    unit, template = field_info.metadata.get("unit"), _range_template(field_info)
    if unit is None or not template or isinstance(value, bool) or not isinstance(value, int | float):
        return Fault(field_info.name, problem)
    bounds = {
        key: field_info.metadata[key] for key in _BOUND_WORDS if field_info.metadata.get(key) is not None
    }
    return Fault(
        field_info.name,
        f"must be {template}, found {{found}}",
        _BASE_UNITS.get(unit, unit),
        bounds | {"found": value},
    )


def partial_instance(model: type[T], values: Mapping[str, Any]) -> T:
    """A description with only some of its fields; reading another raises AttributeError."""
    instance = object.__new__(model)
    for name, value in values.items():
        object.__setattr__(instance, name, value)
    return instance


def faults_of_known_fields(instance: Any) -> Iterator[Fault]:
    """Yield the faults between the known fields of a partial description."""
    for condition in _fault_methods(instance.__class__):
        try:
            yield from condition(instance)
        except AttributeError:  # it needs an unknown field
            continue


@cache
def _fault_methods(model: type) -> list[Callable[[Any], Iterable[Fault]]]:
    """The conditions between the fields of a description, in order of declaration."""
    return [method for name, method in vars(model).items() if name.endswith("_faults")]
