"""One declaration per field: unit, range and meaning, from which everything else follows.

The constructor check, the unit the scenario reader converts to, the range in an error message and the
generated page docs/scenario-keys.md all read the same metadata. Nothing else validates a field.

Unit words beside plain SI units:

* `""`: a bare number, or a percentage where a text such as `"85 %"` is written.
* `"gradient"`: rise over run, rising positive; files write `"1 in 80"`, `"1.25 %"`, `"level"`.
* `"curve"`: radius [m]; files write `"4 deg"` (100 ft chord) or a length.
* `"clock"`: seconds after midnight; files write `"10:35"`.
"""

from __future__ import annotations

import math
from dataclasses import MISSING, Field, field, fields
from typing import Any

from locosim.errors import OutOfRange

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
    doc: str, *, default: Any = MISSING, at_least: Bound = None, file: bool = False, table: bool = False
) -> Any:
    """Declare a text, whole number, nested description or tuple.

    Args:
        doc: What the field is, one sentence.
        default: Value when the file says nothing.
        at_least: Inclusive lower bound of a whole number, or least number of items of a tuple.
        file: The field may be the path of another file, relative to the file that names it.
        table: The field may be the path of a CSV file with one row per item.
    """
    metadata = {"doc": doc, "at_least": at_least, "file": file, "table": table}
    return field(default=default, metadata=metadata)


def choice(options: tuple[str, ...], doc: str, *, default: Any = MISSING) -> Any:
    """Declare a text field that takes one of a few words."""
    return field(default=default, metadata={"doc": doc, "options": options})


def allowed(declared: Field[Any]) -> str:
    """Say the range of a field in words, in its own unit; empty when any number goes."""
    said = {"above": "above", "at_least": "at least", "below": "below", "at_most": "at most"}
    unit = declared.metadata.get("unit", "")
    return " and ".join(
        f"{words} {declared.metadata[key]:g} {unit}".rstrip()
        for key, words in said.items()
        if declared.metadata.get(key) is not None
    )


def within(declared: Field[Any], value: float) -> bool:
    """Tell whether a value lies in the range of its field."""
    bounds = declared.metadata
    return not (
        not math.isfinite(value)
        or (bounds.get("above") is not None and not value > bounds["above"])
        or (bounds.get("at_least") is not None and not value >= bounds["at_least"])
        or (bounds.get("below") is not None and not value < bounds["below"])
        or (bounds.get("at_most") is not None and not value <= bounds["at_most"])
    )


def fault(declared: Field[Any], value: Any) -> str | None:
    """Say what is wrong with a value of a field, or None."""
    data = declared.metadata
    if "options" in data:
        if value in data["options"] or (value is None and declared.default is None):
            return None
        return f"must be one of {', '.join(data['options'])}, found {value!r}"
    if value is None:
        return None if declared.default is None else "is missing"
    if isinstance(value, tuple):
        least = data.get("at_least")
        if least is not None and len(value) < least:
            return f"needs at least {least:g} item{'s' if least > 1 else ''}, found {len(value)}"
        return None
    if "unit" in data and (isinstance(value, bool) or not isinstance(value, int | float)):
        return f"must be a number in {data['unit'] or 'units of one'}, found {value!r}"
    if isinstance(value, int | float) and not within(declared, float(value)):
        return f"must be {allowed(declared) or 'finite'}, found {value:g}"
    return None


def check(thing: Any) -> None:
    """Check every declared field of a description; call it from `__post_init__`.

    Raises:
        OutOfRange: Naming every field out of range, not only the first.
    """
    faults = [
        f"{type(thing).__name__}.{declared.name} {problem}"
        for declared in fields(thing)
        if (problem := fault(declared, getattr(thing, declared.name))) is not None
    ]
    if faults:
        raise OutOfRange("; ".join(faults))
