"""Changes, `key.path=value`, made in the trees of the files before descriptions are built from them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import is_dataclass
from typing import Any

from locosim.errors import LocosimError, Problem
from locosim.scenario.build import open_reference
from locosim.scenario.files import READ_EACH_TIME, Files
from locosim.scenario.renamed import present_key
from locosim.scenario.schema import Key, keys_of, unknown_key_advice
from locosim.scenario.source import Table, show_value

# Example of a change for each kind of file, for messages.
_EXAMPLES = {
    "Day": "legs[2].excursion.rail=wet",
    "Excursion": "train.vehicles[1].count=9 or rail=wet",
    "Locomotive": '"boiler.working_pressure_gauge=180 psi"',
    "Train": "vehicles[1].count=9",
    "Route": '"speed_limit=40 mph"',
}

_STEP = re.compile(r"(\w+)(?:\[(\d{1,9}|\*)\])?")  # of an index as long as any list
EVERY_ITEM = "*"  # in place of the number of an item


def apply_change(
    change: str, root: Table, model: type, problems: list[Problem], files: Files = READ_EACH_TIME
) -> None:
    """Make one change in a tree.

    Tables on the way are replaced by copies, so that a tree which shares them with this one stays as it is.

    Args:
        change: Such as `train.vehicles[1].count=9` or `rail=wet`; items are counted from 1, and `vehicles[*]` is all of
            them. The number after the last item of a list that a file may omit adds one, as `helpers[1].place=rear`.
        root: Tree of the file from which the path starts; files on the way are read into it.
        model: Class of the model that the file describes.
        problems: List that receives every problem found.
        files: Reader of files on the way.
    """
    try:
        path, value = _split_change(change, _EXAMPLES[model.__name__])
        for table, inner in _tables_at(path[:-1], root, model, problems, files):
            _assign(path[-1], value, table, inner, change)
    except LocosimError as error:
        problems.append(Problem("", f"change {change!r}: {error}"))


def key_at(path: str, root: Table, model: type, problems: list[Problem]) -> Key:
    """The key that a change sets.

    Args:
        path: Path of the key, such as `train.vehicles[*].count`.
        root: Tree of the file from which the path starts; files on the way are read into it.
        model: Class of the model that the file describes.
        problems: List that receives every problem of the files read.

    Raises:
        LocosimError: There is no such key, or it has no single value.
    """
    steps = _split_path(path)
    if steps is None:
        raise LocosimError(
            f"{path!r} is not a key; write one as in a change, for example {_EXAMPLES[model.__name__]}"
        )
    table, inner = _tables_at(steps[:-1], root, model, problems, READ_EACH_TIME)[0]
    return _single_key(steps[-1], table, inner)


def _split_change(change: str, example: str) -> tuple[list[str], str]:
    """Split a change into the steps of its path and its value."""
    path, equals, value = change.partition("=")
    steps = _split_path(path)
    if not equals or steps is None:
        raise LocosimError(f"write a change as key=value, for example {example}")
    if not value.strip():
        raise LocosimError("has no value after =")
    return steps, value.strip().strip("\"'")


def _split_path(path: str) -> list[str] | None:
    """Steps of a path; None where it is none."""
    steps = [step.strip() for step in path.split(".")]
    return steps if all(_STEP.fullmatch(step) for step in steps) else None


def _key(name: str, table: Table, model: type) -> Key:
    """The key of a step."""
    keys = keys_of(model)
    if name in keys:
        return keys[name]
    if present := present_key(model, name):
        raise LocosimError(f"{name!r} is now called {present!r}")
    location = table.path or table.file
    raise LocosimError(f"unknown key {name!r} in {location}; {unknown_key_advice(model, name, keys)}")


def _tables_at(
    steps: list[str], root: Table, model: type, problems: list[Problem], files: Files
) -> list[tuple[Table, type]]:
    """Tables at the end of a path, each with the class of the model that it describes; several by `[*]`."""
    tables = [(root, model)]
    for step in steps:
        tables = [found for table, inner in tables for found in _descend(step, table, inner, problems, files)]
    return tables


def _descend(
    step: str, table: Table, model: type, problems: list[Problem], files: Files
) -> list[tuple[Table, type]]:
    """Go down one step, reading a file named there and adding an omitted table; the tables there, as copies."""
    name, item = _split_step(step)
    key = _key(name, table, model)
    if key.model is None:
        raise LocosimError(f"{name!r} is a single value and has no keys")
    may_begin = not key.may_be("file") or is_dataclass(key.field_info.default)
    if key.kind == "table" and item is None and may_begin:
        table.entries.setdefault(name, Table(table.file, table.at(name), {}, sha256=table.sha256))
    found = open_reference(key, table, table.entries.get(name, []), problems, files)
    if name in table.entries:
        table.entries[name] = found
    if key.kind != "table_list" and item is not None:
        raise LocosimError(f"{name!r} is one table; write it without [{item}]")
    if key.kind != "table_list":
        table.entries[name] = _copied(name, found)
        return [(table.entries[name], key.model)]
    if isinstance(found, list) and item == str(len(found) + 1) and not key.required:
        found = [*found, Table(table.file, table.at(f"{name}[{item}]"), {}, sha256=table.sha256)]
    selected = _select_items(name, item, found, adds=not key.required)
    table.entries[name] = [_copied(name, each) if at in selected else each for at, each in enumerate(found)]
    return [(table.entries[name][at], key.model) for at in selected]


def _copied(name: str, found: Any) -> Table:
    """A copy of a table, to make a change in."""
    if not isinstance(found, Table):
        raise LocosimError(f"{name!r} is {show_value(found)}, but a table is expected")
    return found.copy()


def _split_step(step: str) -> tuple[str, str | None]:
    """Split a step into its name and the number of an item, or `*` for all items."""
    found = _STEP.fullmatch(step)
    if found is None:
        raise LocosimError(f"{step!r} is not a key")
    return found[1], found[2]


def _select_items(name: str, item: str | None, found: Any, *, adds: bool) -> Sequence[int]:
    """Places in a list of an item, counted from 1, or of all; with what adds one, where a change may."""
    count = len(found) if isinstance(found, list) else 0
    if item is None:
        raise LocosimError(f"{name!r} is a list of {count}; write which, as {name}[1], or {name}[*] for all")
    if count and item == EVERY_ITEM:
        return range(count)
    if item == EVERY_ITEM or not 1 <= int(item) <= count:
        advice = f"; write {name}[{count + 1}] to add one" if adds else ""
        raise LocosimError(f"{name!r} has {count} item{'s' if count != 1 else ''}, found [{item}]{advice}")
    return [int(item) - 1]


def _assign(step: str, value: str, table: Table, model: type, change: str) -> None:
    """Set a value; the builder checks it like one from the file."""
    key = _single_key(step, table, model)
    table.entries[key.name] = _entry(key, value)
    table.changes[key.name] = change


def _single_key(step: str, table: Table, model: type) -> Key:
    """The key of the last step of a path, which has a single value."""
    name, item = _split_step(step)
    key = _key(name, table, model)
    whole_table = key.kind in ("table", "table_list") and not (key.may_be("file") or key.may_be("table"))
    if whole_table or item is not None:
        raise LocosimError(f"{name!r} is not a single value; change one of the keys in it")
    return key


def _entry(key: Key, value: str) -> Any:
    """A value as the file would have it; texts of a list are separated by commas."""
    if key.kind == "text_list":
        return [text.strip() for text in value.split(",")]
    return int(value) if key.kind == "integer" and re.fullmatch(r"-?\d{1,9}", value) else value
