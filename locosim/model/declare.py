"""One declaration per field: unit, range and meaning, from which everything else follows.

The constructor check, the unit the scenario reader converts to, the range in an error message and the
generated page docs/scenario-keys.md all read the same metadata. Nothing else validates a field.

What must hold between fields stands in methods of the class whose names end in `_faults`: each yields the faults
it sees. The constructor runs them all; the scenario reader runs them also on a description of which only a part
could be read, and passes over what asks for the rest.

Unit words beside plain SI units:

* `""`: a bare number, or a percentage where a text such as `"85 %"` is written.
* `"grade"`: rise over run, rising positive; files write `"1 in 80"`, `"1.25 %"`, `"level"`.
* `"curve"`: radius [m]; files write `"4 deg"` (100 ft chord) or a length.
* `"clock"`: seconds after midnight; files write `"10:35"`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import MISSING, Field, field, fields
from typing import Any, TypeVar

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
        doc: What the field is, one sentence.
        above: Exclusive lower bound, in the unit.
        at_least: Inclusive lower bound, in the unit.
        below: Exclusive upper bound, in the unit.
        at_most: Inclusive upper bound, in the unit.
        default: Value when the file says nothing; `None` makes the field optional.
        example: A value as a file would write it, used in messages and docs.
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
) -> Any:
    """Declare a text, whole number, nested description or tuple.

    Args:
        doc: What the field is, one sentence.
        default: Value when the file says nothing.
        at_least: Inclusive lower bound of a whole number, or least number of items of a tuple.
        at_most: Inclusive upper bound of a whole number, or greatest number of items of a tuple.
        file: The field may be the path of another file, relative to the file that names it.
        table: The field may be the path of a CSV file with one row per item.
    """
    metadata = {"doc": doc, "at_least": at_least, "at_most": at_most, "file": file, "table": table}
    return field(default=default, metadata=metadata)


def choice(options: tuple[str, ...], doc: str, *, default: Any = MISSING) -> Any:
    """Declare a text field that takes one of a few words."""
    return field(default=default, metadata={"doc": doc, "options": options})


_BOUND_WORDS = {"above": "above", "at_least": "at least", "below": "below", "at_most": "at most"}
_BASE_UNITS = {"grade": "", "curve": "m", "clock": "s"}


def range_text(field_info: Field[Any]) -> str:
    """Say the range of a field in words, in SI; empty when any number goes."""
    unit = field_info.metadata.get("unit", "")
    return _range_template(field_info).format_map(
        {
            key: f"{field_info.metadata.get(key) or 0:g} {_BASE_UNITS.get(unit, unit)}".rstrip()
            for key in _BOUND_WORDS
        }
    )


def _range_template(field_info: Field[Any]) -> str:
    """The range of a field in words, with places for the bounds."""
    given = [key for key in _BOUND_WORDS if field_info.metadata.get(key) is not None]
    return " and ".join(f"{_BOUND_WORDS[key]} {{{key}}}" for key in given)


def in_range(field_info: Field[Any], value: float) -> bool:
    """Tell whether a value lies in the range of its field."""
    bounds = field_info.metadata
    return not (
        not math.isfinite(value)
        or (bounds.get("above") is not None and not value > bounds["above"])
        or (bounds.get("at_least") is not None and not value >= bounds["at_least"])
        or (bounds.get("below") is not None and not value < bounds["below"])
        or (bounds.get("at_most") is not None and not value <= bounds["at_most"])
    )


def field_problem(field_info: Field[Any], value: Any) -> str | None:
    """Say what is wrong with a value of a field, or None."""
    data = field_info.metadata
    if "options" in data:
        if value in data["options"] or (value is None and field_info.default is None):
            return None
        return f"must be one of {', '.join(data['options'])}, found {value!r}"
    if value is None:
        return None if field_info.default is None else "is missing"
    if isinstance(value, tuple):
        least = data.get("at_least")
        if least is not None and len(value) < least:
            return f"needs at least {least:g} item{'s' if least > 1 else ''}, found {len(value)}"
        most = data.get("at_most")
        return f"takes at most {most:g} items, found {len(value)}" if most and len(value) > most else None
    if "unit" in data and (isinstance(value, bool) or not isinstance(value, int | float)):
        return f"must be a number in {data['unit'] or 'units of one'}, found {value!r}"
    if isinstance(value, int | float) and not in_range(field_info, float(value)):
        return f"must be {range_text(field_info) or 'finite'}, found {value if isinstance(value, int) else f'{value:g}'}"
    return None


def check(instance: Any) -> None:
    """Check every declared field of a description and what must hold between them; call it from `__post_init__`.

    Raises:
        OutOfRange: Naming everything that is wrong, not only the first.
    """
    values = {field_info.name: getattr(instance, field_info.name) for field_info in fields(instance)}
    faults = [
        _field_fault(field_info, problem, values[field_info.name])
        for field_info in fields(instance)
        if (problem := field_problem(field_info, values[field_info.name])) is not None
    ]
    if faults:
        wrong = {found.key for found in faults}
        faults += faults_of_known_fields(
            partial_instance(type(instance), {k: v for k, v in values.items() if k not in wrong})
        )
    else:
        faults += [found for rule in _fault_methods(type(instance)) for found in rule(instance)]
    if faults:
        raise OutOfRange.by(faults, type(instance).__name__)


def _field_fault(field_info: Field[Any], problem: str, value: Any) -> Fault:
    """What is wrong with one field; of a number out of its range with the figures."""
    unit, words = field_info.metadata.get("unit"), _range_template(field_info)
    if unit is None or not words or isinstance(value, bool) or not isinstance(value, int | float):
        return Fault(field_info.name, problem)
    bounds = {
        key: field_info.metadata[key] for key in _BOUND_WORDS if field_info.metadata.get(key) is not None
    }
    return Fault(
        field_info.name,
        f"must be {words}, found {{found}}",
        _BASE_UNITS.get(unit, unit),
        bounds | {"found": value},
    )


def partial_instance(model: type[T], values: Mapping[str, Any]) -> T:
    """Make a description of which only some fields are known; asking for another raises AttributeError."""
    instance = object.__new__(model)
    for name, value in values.items():
        object.__setattr__(instance, name, value)
    return instance


def faults_of_known_fields(instance: Any) -> Iterator[Fault]:
    """Yield what is wrong between the known fields of a part of a description."""
    for rule in _fault_methods(type(instance)):
        try:
            yield from rule(instance)
        except AttributeError:  # it asks for what is not known
            continue


def _fault_methods(model: type) -> list[Callable[[Any], Iterable[Fault]]]:
    """What must hold between the fields of a description, in the order of its class."""
    return [method for name, method in vars(model).items() if name.endswith("_faults")]
