"""Keys that a file may have, from the declarations of the model."""

from __future__ import annotations

import types
from collections.abc import Iterable
from dataclasses import MISSING, Field, fields, is_dataclass
from functools import lru_cache
from typing import Any, Literal, NamedTuple, Union, get_args, get_origin, get_type_hints

from locosim.errors import nearest
from locosim.model.assumptions import Assumptions
from locosim.model.day import Day
from locosim.model.declare import range_text as range_of_field
from locosim.model.excursion import Excursion
from locosim.model.locomotive import Locomotive
from locosim.model.route import Route
from locosim.model.train import Train

Kind = Literal["measure", "integer", "text", "text_list", "table", "table_list"]

# Kinds of file by the word used in commands, each with its name in messages.
FILE_KINDS: dict[str, tuple[type, str]] = {
    "engine": (Locomotive, "an engine"),
    "train": (Train, "a train"),
    "route": (Route, "a route"),
    "excursion": (Excursion, "an excursion"),
    "day": (Day, "a day"),
}


class Key(NamedTuple):
    """One key of a table in a file."""

    name: str
    kind: Kind
    field_info: Field[Any]
    model: type | None  # class of the model for a table or list of tables
    owner: type  # class of the model that has the key

    @property
    def required(self) -> bool:
        """Whether the file must give the key."""
        return self.field_info.default is MISSING and self.field_info.default_factory is MISSING

    @property
    def unit(self) -> str:
        """Unit word of a measure."""
        return str(self.field_info.metadata.get("unit", ""))

    @property
    def options(self) -> tuple[str, ...]:
        """Allowed values of a choice; empty if the key is not a choice."""
        return tuple(self.field_info.metadata.get("options", ()))

    @property
    def doc(self) -> str:
        """Meaning of the key."""
        return str(self.field_info.metadata.get("doc", ""))

    def may_be(self, what: Literal["file", "table", "number"]) -> bool:
        """Whether the value may be a path of another `file` or of a CSV `table`, or a `number` for a text."""
        return bool(self.field_info.metadata.get(what))


def keys_of(model: type) -> dict[str, Key]:
    """Keys of a description by name, in order of declaration."""
    return _keys_of(model)


@lru_cache(maxsize=64)
def _keys_of(model: type[Any]) -> dict[str, Key]:
    """Keys of a description; cached, because type hints are slow to evaluate."""
    hints = get_type_hints(model)
    return {
        field_info.name: Key(field_info.name, *_kind(field_info, hints[field_info.name]), owner=model)
        for field_info in fields(model)
        if not field_info.metadata.get("attached")
    }


def has_provenance(model: type[Any]) -> bool:
    """Whether a description has the attached field `provenance`."""
    return any(field_info.name == "provenance" for field_info in fields(model))


def unknown_key_advice(model: type, name: str, candidates: Iterable[str]) -> str:
    """Suggest what to write instead of an unknown key.

    Args:
        model: Description the key was written for.
        name: The unknown key.
        candidates: Keys it may have been meant to be.
    """
    near = nearest(name, candidates)
    known = f"known are {', '.join(sorted(keys_of(model)))}"
    if near is None:
        return known
    # Names of assumptions are long and not in any example file.
    return f"did you mean {near!r}? {known}" if model is Assumptions else f"did you mean {near!r}?"


def _kind(field_info: Field[Any], hint: Any) -> tuple[Kind, Field[Any], type | None]:
    """Kind of a field, by what a file may give for it."""
    if get_origin(hint) in (Union, types.UnionType):
        hint = next(part for part in get_args(hint) if part is not type(None))
    if get_origin(hint) is tuple:
        item: type = get_args(hint)[0]
        return ("text_list", field_info, None) if item is str else ("table_list", field_info, item)
    if isinstance(hint, type) and is_dataclass(hint):
        return "table", field_info, hint
    if hint is float:
        return "measure", field_info, None
    return ("integer" if hint is int else "text"), field_info, None


# Examples for declarations without one.
_EXAMPLES_BY_UNIT = {
    "N/kg": "4 lbf/short_ton",
    "N/kg/(m/s)": "0.05 lbf/short_ton/mph",
    "N/kg/(m/s)^2": "0.002 lbf/short_ton/mph^2",
    "grade": "1 in 80",
    "curve": "4 deg",
    "clock": "10:35",
}


def example(key: Key) -> str:
    """An example value of a key, in TOML."""
    metadata = key.field_info.metadata
    if key.kind == "measure":
        return _example_measure(key)
    if key.kind == "integer":
        default = key.field_info.default
        return str(default if isinstance(default, int) else int(metadata.get("at_least") or 1))
    if key.options:
        default = key.field_info.default
        return f'"{default if isinstance(default, str) else key.options[0]}"'
    if key.kind == "text":
        default = key.field_info.default
        return f'"{default if isinstance(default, str) else f"the {key.name}".replace("_", " ")}"'
    return metadata.get("example") or '["source of the data"]'


def _example_measure(key: Key) -> str:
    """An example of a measure: a text with its unit, or a number."""
    field_info = key.field_info
    if key.unit == "":
        default = field_info.default
        return (
            f"{default:g}"
            if isinstance(default, int | float)
            else field_info.metadata.get("example") or "0.5"
        )
    if field_info.metadata.get("example"):
        return f'"{field_info.metadata["example"]}"'
    if (
        isinstance(field_info.default, float)
        and field_info.default
        and key.unit not in ("grade", "curve", "clock")
    ):
        return f'"{field_info.default:g} {key.unit}"'
    return f'"{_EXAMPLES_BY_UNIT.get(key.unit) or f"1 {key.unit}"}"'


def range_text(key: Key) -> str:
    """The range of a key in words, in SI; empty if any number is allowed."""
    return range_of_field(key.field_info)


def example_line(key: Key) -> str:
    """An example line of a key, in TOML."""
    if key.may_be("file"):
        return f'{key.name} = "{key.name}.toml"'
    if key.may_be("table"):
        return f'{key.name} = "{key.name}.csv"'
    return table_line(key) if key.model is not None else f"{key.name} = {example(key)}"


def table_line(key: Key) -> str:
    """The heading of a table, or of each table of a list, in TOML."""
    return f"[[{key.name}]]" if key.kind == "table_list" else f"[{key.name}]"
