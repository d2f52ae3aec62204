"""Changes, `key.path=value`, made in the trees of the files before descriptions are built from them."""

from __future__ import annotations

import re
from typing import Any

from locosim.errors import LocosimError, Problem
from locosim.scenario.build import open_reference, show_value
from locosim.scenario.renamed import present_key
from locosim.scenario.schema import Key, keys_of, unknown_key_advice
from locosim.scenario.source import Table

# Example of a change for each kind of file, for messages.
_EXAMPLES = {
    "Day": "legs[2].excursion.rail=wet",
    "Excursion": "train.vehicles[1].count=9 or rail=wet",
    "Locomotive": '"boiler.working_pressure_gauge=180 psi"',
    "Train": "vehicles[1].count=9",
    "Route": '"speed_limit=40 mph"',
}

_STEP = re.compile(r"(\w+)(?:\[(\d+)\])?")


def apply_change(change: str, root: Table, model: type, problems: list[Problem]) -> None:
    """Make one change in a tree.

    Args:
        change: Such as `train.vehicles[1].count=9` or `rail=wet`; items are counted from 1.
        root: Tree of the file from which the path starts; files on the way are read into it.
        model: Class of the model that the file describes.
        problems: List that receives every problem found.
    """
    try:
        path, value = _split_change(change, _EXAMPLES[model.__name__])
        table = root
        for step in path[:-1]:
            table, model = _descend(step, table, model, problems)
        _assign(path[-1], value, table, model, change)
    except LocosimError as error:
        problems.append(Problem("", f"change {change!r}: {error}"))


def _split_change(change: str, example: str) -> tuple[list[str], str]:
    """Split a change into the steps of its path and its value."""
    path, equals, value = change.partition("=")
    steps = [step.strip() for step in path.split(".")]
    if not equals or not all(_STEP.fullmatch(step) for step in steps):
        raise LocosimError(f"write a change as key=value, for example {example}")
    if not value.strip():
        raise LocosimError("has no value after =")
    return steps, value.strip().strip("\"'")


def _key(name: str, table: Table, model: type) -> Key:
    """The key of a step."""
    keys = keys_of(model)
    if name in keys:
        return keys[name]
    if present := present_key(model, name):
        raise LocosimError(f"{name!r} is now called {present!r}")
    location = table.path or table.file
    raise LocosimError(f"unknown key {name!r} in {location}; {unknown_key_advice(model, name, keys)}")


def _descend(step: str, table: Table, model: type, problems: list[Problem]) -> tuple[Table, type]:
    """Go down one step, reading a file named there and adding an omitted table."""
    name, item = _split_step(step)
    key = _key(name, table, model)
    if key.model is None:
        raise LocosimError(f"{name!r} is a single value and has no keys")
    if key.kind == "table" and item is None and not key.may_be("file"):
        table.entries.setdefault(name, Table(table.file, table.at(name), {}, sha256=table.sha256))
    found = open_reference(key, table, table.entries.get(name, []), problems)
    if name in table.entries:
        table.entries[name] = found
    if key.kind == "table_list":
        found = _select_item(name, item, found)
    elif item is not None:
        raise LocosimError(f"{name!r} is one table; write it without [{item}]")
    if not isinstance(found, Table):
        raise LocosimError(f"{name!r} is {show_value(found)}, but a table is expected")
    return found, key.model


def _split_step(step: str) -> tuple[str, int | None]:
    """Split a step into its name and the number of an item."""
    found = _STEP.fullmatch(step)
    if found is None:
        raise LocosimError(f"{step!r} is not a key")
    return found[1], int(found[2]) if found[2] else None


def _select_item(name: str, item: int | None, found: Any) -> Any:
    """An item of a list, counted from 1."""
    count = len(found) if isinstance(found, list) else 0
    if item is None:
        raise LocosimError(f"{name!r} is a list of {count}; write which, as {name}[1]")
    if not 1 <= item <= count:
        raise LocosimError(f"{name!r} has {count} item{'s' if count != 1 else ''}, found [{item}]")
    return found[item - 1]


def _assign(step: str, value: str, table: Table, model: type, change: str) -> None:
    """Set a value; the builder checks it like one from the file."""
    name, item = _split_step(step)
    key = _key(name, table, model)
    whole_table = key.kind in ("table", "table_list") and not (key.may_be("file") or key.may_be("table"))
    if whole_table or item is not None:
        raise LocosimError(f"{name!r} is not a single value; change one of the keys in it")
    table.entries[name] = _entry(key, value)
    table.changes[name] = change


def _entry(key: Key, value: str) -> Any:
    """A value as the file would have it; texts of a list are separated by commas."""
    if key.kind == "text_list":
        return [text.strip() for text in value.split(",")]
    return int(value) if key.kind == "integer" and re.fullmatch(r"-?\d{1,9}", value) else value
