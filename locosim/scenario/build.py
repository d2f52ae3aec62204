"""From trees of tables to the model: type-driven, collecting every problem on the way."""

from __future__ import annotations

import datetime
import math
import unicodedata
from collections.abc import Iterable
from typing import Any, TypeVar

from locosim import units
from locosim.errors import Fault, LocosimError, OutOfRange, Problem, UnitError, nearest
from locosim.model.declare import faults_of_known_fields, field_problem, in_range, partial_instance
from locosim.scenario.csv_table import read_rows
from locosim.scenario.schema import FILE_KINDS, Key, example_line, keys_of, range_text
from locosim.scenario.source import ConvertedValue, Table, read_toml, resolve_path

T = TypeVar("T")

_MAX_INTEGER = 1_000_000_000  # nothing in a scenario is counted beyond this
_INVISIBLE_CATEGORIES = (
    "Cc",
    "Cf",
    "Cs",
    "Zl",
    "Zp",
)  # control and format characters, lone surrogates, breaks of lines
_INVALID = object()  # stands for a value whose problem has been noted


def build(model: type[T], table: Table, problems: list[Problem]) -> T | None:
    """Make a description from a table.

    Args:
        model: The class of the model that the table describes.
        table: The table, as read from a file.
        problems: Where everything wrong is put, one line each.

    Returns:
        The description; only as much of it as is known when the table has a problem, which is then in `problems`;
        None when the table describes something else.
    """
    if hint := _wrong_kind_hint(model, table):
        problems.append(table.problem(hint))
        return None
    keys = keys_of(model)
    before = len(problems)
    misspelled = _unknown_keys(keys, table, problems)
    values = {
        name: _read_key(keys[name], table, value, problems)
        for name, value in table.entries.items()
        if name in keys
    }
    for key in keys.values():
        if key.required and key.name not in table.entries and key.name not in misspelled:
            problems.append(table.problem(f"missing; write for example {example_line(key)}", key.name))
    values = {name: value for name, value in values.items() if value is not _INVALID}
    omitted = [key for key in keys.values() if not key.required and key.name not in table.entries]
    known = {key.name: key.field_info.default for key in omitted if key.name not in misspelled} | values
    if len(problems) > before:
        built = partial_instance(model, known)
        _record_faults(faults_of_known_fields(built), table, problems)
        return built
    try:
        return model(**values)
    except OutOfRange as wrong:
        _record_faults(wrong.faults, table, problems)
        if not wrong.faults:
            problems.append(table.problem(_strip_class_name(model, str(wrong))))
        return partial_instance(model, known)


def _record_faults(faults: Iterable[Fault], table: Table, problems: list[Problem]) -> None:
    """Note what is wrong between keys, each at the key and in the words of the user."""
    for wrong in faults:
        target, key = table.locate(wrong.key)
        problems.append(target.problem(units.fault_message(wrong, target.user_text(key)), key))


def _wrong_kind_hint(model: type, table: Table) -> str:
    """Notice a whole file that describes something else, rather than list all its keys as unknown."""
    if table.path or model not in [wanted for wanted, _ in FILE_KINDS.values()]:
        return ""
    given = set(table.entries)
    match_counts = {
        article_name: (kind, len(given & set(keys_of(kind)))) for kind, article_name in FILE_KINDS.values()
    }
    best = max(match_counts, key=lambda article_name: match_counts[article_name][1])
    expected = next(article_name for article_name in match_counts if match_counts[article_name][0] is model)
    if match_counts[best][1] < 2 or match_counts[best][1] <= 2 * match_counts[expected][1]:
        return ""
    return f"looks like {best}, but {expected} is wanted here"


def _unknown_keys(keys: dict[str, Key], table: Table, problems: list[Problem]) -> set[str]:
    """Note keys that are not known; return the keys they were probably meant to be."""
    free = [name for name in keys if name not in table.entries]
    intended: set[str] = set()
    for name in sorted(set(table.entries) - set(keys)):
        near = nearest(name, free)
        advice = f"did you mean {near!r}?" if near else f"known are {', '.join(sorted(keys))}"
        problems.append(table.problem(f"unknown key; {advice}", name))
        intended |= {near} if near else set()
    return intended


def _strip_class_name(model: type, text: str) -> str:
    """Take the class name off a message of the model, since the key says where it is."""
    return text.replace(f"{model.__name__}.", "")


def _read_key(key: Key, table: Table, value: Any, problems: list[Problem]) -> Any:
    """Read the value of one key, noting what is wrong with it."""
    try:
        if isinstance(value, LocosimError):  # a cell that could not be read
            raise value
        if key.kind == "table":
            return _read_table(key, table, value, problems)
        if key.kind == "table_list":
            return _read_tables(key, table, value, problems)
        return _SCALAR_READERS[key.kind](key, value)
    except LocosimError as wrong:
        problems.append(table.problem(str(wrong), key.name))
        return _INVALID


def open_reference(key: Key, table: Table, value: Any, problems: list[Problem]) -> Any:
    """Follow the path of another file, where one is given and allowed.

    Raises:
        LocosimError: When the other file cannot be read; the message names it.
    """
    if not isinstance(value, str) or not (key.may_be("file") or key.may_be("table")):
        return value
    path = resolve_path(table.file, value)
    if path == table.file:
        raise LocosimError(f"file {value!r} refers to itself")
    try:
        if key.may_be("file"):
            return read_toml(path)
        return read_rows(path, key.model or object, problems)
    except LocosimError as wrong:
        raise LocosimError(f"file {value!r}, looked for at {path}: {wrong}") from None


def _read_table(key: Key, table: Table, value: Any, problems: list[Problem]) -> Any:
    """Read a table within a table, or the file that stands for it."""
    value = table.entries[key.name] = open_reference(key, table, value, problems)
    if not isinstance(value, Table):
        raise LocosimError(f"expected {_table_advice(key)}, found {show_value(value)}")
    built = build(key.model or object, value, problems)
    return _INVALID if built is None else built


def _read_tables(key: Key, table: Table, value: Any, problems: list[Problem]) -> Any:
    """Read a list of tables, or the CSV file that stands for it."""
    before = len(problems)
    value = table.entries[key.name] = open_reference(key, table, value, problems)
    if not isinstance(value, list) or not all(isinstance(item, Table) for item in value):
        raise LocosimError(f"expected {_table_advice(key)}, found {show_value(value)}")
    if len(problems) > before and not value:
        return _INVALID
    items = tuple(build(key.model or object, item, problems) for item in value)
    if wrong := field_problem(key.field_info, items):
        raise OutOfRange(wrong)
    return items


def _table_advice(key: Key) -> str:
    """Say what may stand for a table."""
    is_list = key.kind == "table_list"
    advice = f"tables, each under [[{key.name}]]" if is_list else f"a table under [{key.name}]"
    if key.may_be("file"):
        return f'{advice}, or a file as {key.name} = "{key.name}.toml"'
    return f'{advice}, or a file as {key.name} = "{key.name}.csv"' if key.may_be("table") else advice


def _read_measure(key: Key, value: Any) -> float:
    """Read a measure."""
    if isinstance(value, ConvertedValue):
        number, text = value
    else:
        number, text = _read_number(key, value), value if isinstance(value, str) else ""
    if not in_range(key.field_info, number):
        raise OutOfRange(f"must be {_range_in_user_unit(key, text)}, found {show_value(text or value)}")
    return number


def _read_number(key: Key, value: Any) -> float:
    """Read the number of a measure in the unit of its field."""
    if isinstance(value, datetime.time) and key.unit == "clock":
        value = value.isoformat("seconds")
    if isinstance(value, str):
        number = units.si(value, key.unit)
        if key.unit == "kg/s" and _is_volume_rate(value) and not _is_volume_rate(example_text(key)):
            raise UnitError(f"{value!r} is a volume in a time; write a mass, as {example_line(key)}")
        return number
    if key.unit == "" and isinstance(value, int | float) and not isinstance(value, bool):
        return float(value) if isinstance(value, float) or abs(value) <= _MAX_INTEGER else math.inf
    wanted = "a quantity with a unit, in quotes" if key.unit else "a number"
    raise UnitError(f"expected {wanted}, found {show_value(value)}; write for example {example_line(key)}")


def _is_volume_rate(text: str) -> bool:
    """Tell whether a text is a volume in a time, which is read as water only where that is meant."""
    try:
        units.si(text, "m^3/s")
    except UnitError:
        return False
    return True


def example_text(key: Key) -> str:
    """Give the example of a key as its declaration has it."""
    return str(key.field_info.metadata.get("example", ""))


def _range_in_user_unit(key: Key, text: str) -> str:
    """Say the allowed range, also in the unit the user wrote."""
    words = range_text(key) or "finite"
    unit = units.unit_in(text, key.unit)
    bounds = [key.field_info.metadata.get(name) for name in ("above", "at_least", "below", "at_most")]
    if not unit or unit == key.unit or not any(bounds):
        return words
    inside = " to ".join(
        units.show_like(b, key.unit, text, digits=4).split()[0] for b in bounds if b is not None
    )
    return f"{words} ({inside} {unit})"


def _read_integer(key: Key, value: Any) -> int:
    """Read a whole number."""
    if isinstance(value, bool) or not isinstance(value, int):
        raise LocosimError(f"expected a whole number, found {show_value(value)}")
    if abs(value) > _MAX_INTEGER:
        raise OutOfRange(f"must be {range_text(key)}, found a number of {len(str(abs(value)))} digits")
    if wrong := field_problem(key.field_info, value):
        raise OutOfRange(wrong)
    return value


def _read_text(key: Key, value: Any) -> str:
    """Read a text, or one of a few words."""
    if not isinstance(value, str):
        raise LocosimError(f"expected a text in quotes, found {show_value(value)}")
    if not value.strip():
        raise LocosimError("is empty")
    if any(unicodedata.category(sign) in _INVISIBLE_CATEGORIES for sign in value):
        raise LocosimError(
            f"must be of one line without control characters, found {show_value(value)}; take them out"
        )
    if key.options and value not in key.options:
        near = nearest(value, key.options)
        hint = f"; did you mean {near!r}?" if near else ""
        raise OutOfRange(f"must be one of {', '.join(key.options)}, found {value!r}{hint}")
    return value


def _read_text_list(key: Key, value: Any) -> tuple[str, ...]:
    """Read a list of texts."""
    if not isinstance(value, list):
        raise LocosimError(f"expected a list of texts, as {example_line(key)}, found {show_value(value)}")
    return tuple(_read_text(key, item) for item in value)


_SCALAR_READERS = {
    "measure": _read_measure,
    "integer": _read_integer,
    "text": _read_text,
    "text_list": _read_text_list,
}


def show_value(value: Any) -> str:
    """Write a value of a file as the file has it, shortly."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, Table):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    if isinstance(value, str) and len(value) > 60:
        return f"{value[:57]!r}..."
    return repr(value) if isinstance(value, str | int | float) else str(value)
