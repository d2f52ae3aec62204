"""What-if changes: `key.path=value`, made in the trees of the files before anything is built from them."""

from __future__ import annotations

import re
from typing import Any

from locosim.errors import LocosimError, Problem, suggestion
from locosim.scenario.build import open_reference, show_value
from locosim.scenario.schema import Key, keys_of
from locosim.scenario.source import Table

# A change that can be made to a file of each kind, for messages.
_EXAMPLES = {
    "Excursion": "train.vehicles[1].count=9 or rail=wet",
    "Locomotive": '"boiler.working_pressure_gauge=180 psi"',
    "Train": "vehicles[1].count=9",
    "Route": '"speed_limit=40 mph"',
}

_STEP = re.compile(r"(\w+)(?:\[(\d+)\])?")


def apply_change(change: str, root: Table, model: type, problems: list[Problem]) -> None:
    """Make one change in a tree.

    Args:
        change: Such as `train.vehicles[1].count=9` or `rail=wet`; items count from 1.
        root: Tree of the file the paths start from; files it names are opened on the way.
        model: What that file describes.
        problems: Where everything wrong is put, one line each.
    """
    try:
        path, value = _split_change(change, _EXAMPLES[model.__name__])
        table = root
        for step in path[:-1]:
            table, model = _descend(step, table, model, problems)
        _assign(path[-1], value, table, model, change)
    except LocosimError as wrong:
        problems.append(Problem("", f"change {change!r}: {wrong}"))


def _split_change(change: str, example: str) -> tuple[list[str], str]:
    """Part a change into the steps of its path and its value."""
    path, equals, value = change.partition("=")
    steps = [step.strip() for step in path.split(".")]
    if not equals or not all(_STEP.fullmatch(step) for step in steps):
        raise LocosimError(f"write a change as key=value, for example {example}")
    if not value.strip():
        raise LocosimError("has no value after the sign =")
    return steps, value.strip().strip("\"'")


def _key(name: str, table: Table, model: type) -> Key:
    """Find the key of a step."""
    keys = keys_of(model)
    if name not in keys:
        where = f" in {table.path or table.file}"
        raise LocosimError(f"unknown key {name!r}{where}; {suggestion(name, keys)}")
    return keys[name]


def _descend(step: str, table: Table, model: type, problems: list[Problem]) -> tuple[Table, type]:
    """Go down one step, opening the file that stands there and making a table that is left out."""
    name, item = _split_step(step)
    key = _key(name, table, model)
    if key.model is None:
        raise LocosimError(f"{name!r} is a single value and holds no keys")
    if key.kind == "table" and item is None and not key.may_be("file"):
        table.entries.setdefault(name, Table(table.file, table.at(name), {}))
    found = open_reference(key, table, table.entries.get(name, []), problems)
    if name in table.entries:
        table.entries[name] = found
    if key.kind == "table_list":
        found = _select_item(name, item, found)
    elif item is not None:
        raise LocosimError(f"{name!r} is one table; write it without [{item}]")
    if not isinstance(found, Table):
        raise LocosimError(f"{name!r} is {show_value(found)}, where a table was expected")
    return found, key.model


def _split_step(step: str) -> tuple[str, int | None]:
    """Part a step into its name and the number of an item."""
    found = _STEP.fullmatch(step)
    if found is None:
        raise LocosimError(f"{step!r} is not a key")
    return found[1], int(found[2]) if found[2] else None


def _select_item(name: str, item: int | None, found: Any) -> Any:
    """Pick an item of a list, counted from 1."""
    count = len(found) if isinstance(found, list) else 0
    if item is None:
        raise LocosimError(f"{name!r} is a list of {count}; say which, as {name}[1]")
    if not 1 <= item <= count:
        raise LocosimError(f"{name!r} has {count} item{'s' if count != 1 else ''}, found [{item}]")
    return found[item - 1]


def _assign(step: str, value: str, table: Table, model: type, change: str) -> None:
    """Put a value in its place; the builder judges it as if the file had it."""
    name, item = _split_step(step)
    key = _key(name, table, model)
    whole_table = key.kind in ("table", "table_list") and not (key.may_be("file") or key.may_be("table"))
    if whole_table or key.kind == "text_list" or item is not None:
        raise LocosimError(f"{name!r} is not a single value; change one of the keys in it")
    table.entries[name] = int(value) if key.kind == "integer" and re.fullmatch(r"-?\d{1,9}", value) else value
    table.changes[name] = change
