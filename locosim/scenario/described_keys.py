"""Keys of a description that was read: where the values are, and values of a key from text."""

from __future__ import annotations

import re
from typing import Any, NamedTuple

from locosim import units
from locosim.errors import LocosimError
from locosim.scenario.build import read_value
from locosim.scenario.schema import Key, keys_of, unknown_key_advice

_STEP = re.compile(r"(\w+)(?:\[(\d+|\*)\])?")
_PLAIN = re.compile(r"[-+]?\d*\.?\d+(?:[eE][-+]?\d+)?")

Path = tuple[str | int, ...]  # names of fields, and numbers of items from 0


class Place(NamedTuple):
    """A value of a description.

    Attributes:
        path: Names of fields and numbers of items on the way to it.
        key: Its key.
        value: Its value.
    """

    path: Path
    key: Key
    value: Any


def places_of(path: str, described: Any) -> list[Place]:
    """Values that a path names, several with `[*]`.

    Args:
        path: As in a change, such as `train.vehicles[*].load`, with items counted from 1.
        described: The description in which the path begins.

    Raises:
        LocosimError: No such key; it is a table, or one that the file omits.
    """
    steps = path.strip().split(".")
    reached: list[tuple[Path, Any]] = [((), described)]
    for number, step in enumerate(steps):
        found = _STEP.fullmatch(step.strip())
        if found is None:
            raise LocosimError(f"{path!r} is not the path of a key; write for example weather.headwind")
        reached = [
            each
            for way, table in reached
            for each in _step_down(found[1], found[2], way, table, last=number == len(steps) - 1)
        ]
    return [Place(way, _key(str(way[-1]), table), getattr(table, str(way[-1]))) for way, table in reached]


def _step_down(name: str, item: str | None, way: Path, table: Any, *, last: bool) -> list[tuple[Path, Any]]:
    """One step of a path: the tables below, or at the last step the table that has the value."""
    key = _key(name, table)
    if last:
        if key.model is not None or item is not None:
            raise LocosimError(f"{name!r} is not a single value; name one of the keys in it")
        return [((*way, name), table)]
    value = getattr(table, name)
    if key.model is None:
        raise LocosimError(f"{name!r} is a single value and has no keys")
    if key.kind == "table":
        if value is None:
            raise LocosimError(f"{name!r} is not given in the file")
        return [((*way, name), value)]
    if item is None:
        raise LocosimError(f"{name!r} is a list of {len(value)}; write {name}[1], or {name}[*] for all")
    numbers = range(1, len(value) + 1) if item == "*" else [int(item)]
    if any(not 1 <= number <= len(value) for number in numbers):
        raise LocosimError(f"{name!r} has {len(value)} items, found [{item}]")
    return [((*way, name, number - 1), value[number - 1]) for number in numbers]


def _key(name: str, table: Any) -> Key:
    keys = keys_of(type(table))
    if name not in keys:
        raise LocosimError(f"unknown key {name!r}; {unknown_key_advice(type(table), name, keys)}")
    return keys[name]


def value_of(key: Key, text: str) -> Any:
    """A value of a key from text as in a file.

    Raises:
        LocosimError: The text is no value of the key.
    """
    plain = _PLAIN.fullmatch(text.strip())
    if key.kind == "integer" and plain:
        return read_value(key, int(float(text)))
    return read_value(key, text)


def figure_of(key: Key, text: str, applies_as: str) -> float:
    """A number of a distribution from text: a value of a key, a factor on it, or a difference added to it.

    Args:
        key: The key.
        text: As in a file; a value may lie outside the range of the key.
        applies_as: `value`, `factor` or `difference`.

    Raises:
        LocosimError: The text is no such number, or the key is none.
    """
    if key.kind not in ("measure", "integer"):
        raise LocosimError(
            f'{key.name!r} is a text; write distribution = "outcomes" with its values and their probabilities'
        )
    if applies_as == "factor":
        return units.si(text, "")
    unit = key.unit if key.kind == "measure" else ""
    if unit in ("clock", "curve") and applies_as == "difference":
        return units.si(text, {"clock": "s", "curve": "m"}[unit])
    found = units.si(text, unit)
    if applies_as == "difference" and unit == "K":
        found -= units.si(f"0 {units.unit_in(text, 'K')}", "K")
    return found
