"""What a description may hold, read off the model's own declarations."""

from __future__ import annotations

import types
from dataclasses import MISSING, Field, fields, is_dataclass
from functools import lru_cache
from typing import Any, Literal, NamedTuple, Union, get_args, get_origin, get_type_hints

from locosim.model.declare import range_text as range_of_field
from locosim.model.excursion import Excursion
from locosim.model.locomotive import Locomotive
from locosim.model.route import Route
from locosim.model.train import Train

Kind = Literal["measure", "integer", "text", "text_list", "table", "table_list"]

# The kinds of file, by the word a command uses and as a message calls them.
FILE_KINDS: dict[str, tuple[type, str]] = {
    "engine": (Locomotive, "an engine"),
    "train": (Train, "a train"),
    "route": (Route, "a route"),
    "excursion": (Excursion, "an excursion"),
}


class Key(NamedTuple):
    """One key of a table in a file."""

    name: str
    kind: Kind
    field_info: Field[Any]
    model: type | None  # the description a table or list of tables holds

    @property
    def required(self) -> bool:
        """Whether the file must give it."""
        return self.field_info.default is MISSING and self.field_info.default_factory is MISSING

    @property
    def unit(self) -> str:
        """Unit word of a measure."""
        return str(self.field_info.metadata.get("unit", ""))

    @property
    def options(self) -> tuple[str, ...]:
        """Words it may take; empty when any will do."""
        return tuple(self.field_info.metadata.get("options", ()))

    @property
    def doc(self) -> str:
        """What it is."""
        return str(self.field_info.metadata.get("doc", ""))

    def may_be(self, what: Literal["file", "table"]) -> bool:
        """Tell whether a path may stand here: of another `file`, or of a CSV `table`."""
        return bool(self.field_info.metadata.get(what))


def keys_of(model: type) -> dict[str, Key]:
    """List the keys of a description in the order of its declaration."""
    return _keys_of(model)


@lru_cache(maxsize=64)
def _keys_of(model: type[Any]) -> dict[str, Key]:
    """Make the list once for each description; the hints are slow to work out."""
    hints = get_type_hints(model)
    return {
        field_info.name: Key(field_info.name, *_kind(field_info, hints[field_info.name]))
        for field_info in fields(model)
    }


def _kind(field_info: Field[Any], hint: Any) -> tuple[Kind, Field[Any], type | None]:
    """Sort a field by what a file may give for it."""
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


# What is written where the declaration has no example of its own.
_EXAMPLES_BY_UNIT = {
    "m/s^2": "0.3 m/s^2",
    "N/kg": "4 lbf/short_ton",
    "N/kg/(m/s)": "0.05 lbf/short_ton/mph",
    "N/kg/(m/s)^2": "0.002 lbf/short_ton/mph^2",
    "grade": "1 in 80",
    "curve": "4 deg",
    "clock": "10:35",
}


def example(key: Key) -> str:
    """Write a value of a key as a file would have it, in TOML."""
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
    return '["where the data come from"]'


def _example_measure(key: Key) -> str:
    """Write an example of a measure: a text with its unit, or a plain number."""
    field_info = key.field_info
    if key.unit == "":
        default = field_info.default
        return (
            f"{default:g}"
            if isinstance(default, int | float)
            else field_info.metadata.get("example") or "0.5"
        )
    return f'"{field_info.metadata.get("example") or _EXAMPLES_BY_UNIT.get(key.unit) or f"1 {key.unit}"}"'


def range_text(key: Key) -> str:
    """Say the range of a key in words, in SI; empty when any number goes."""
    return range_of_field(key.field_info)


def example_line(key: Key) -> str:
    """Write what a file may have for a key, as its line in TOML."""
    if key.may_be("file"):
        return f'{key.name} = "{key.name}.toml"'
    if key.may_be("table"):
        return f'{key.name} = "{key.name}.csv"'
    if key.kind == "table":
        return f"[{key.name}]"
    return f"[[{key.name}]]" if key.kind == "table_list" else f"{key.name} = {example(key)}"
