"""Tables of files to descriptions of the model: driven by the field types, collecting every problem."""

from __future__ import annotations

import datetime
import math
import unicodedata
from collections.abc import Iterable
from typing import Any, TypeVar

from locosim import units
from locosim.errors import Fault, LocosimError, OutOfRange, Problem, UnitError, nearest
from locosim.model.declare import faults_of_known_fields, field_problem, in_range, partial_instance
from locosim.model.provenance import FileUsed, Provenance
from locosim.scenario.files import READ_EACH_TIME, Files
from locosim.scenario.renamed import present_choice, present_key
from locosim.scenario.schema import (
    FILE_KINDS,
    Key,
    example,
    example_line,
    has_provenance,
    keys_of,
    range_text,
    table_line,
    unknown_key_advice,
)
from locosim.scenario.source import ConvertedValue, Table, resolve_path, show_value

T = TypeVar("T")

_MAX_INTEGER = 1_000_000_000  # no count in a scenario is higher
# Control and format characters, lone surrogates, line and paragraph separators.
_MAX_NAME = 100  # characters; a longer one breaks every table and picture
_MAX_TEXT = 4000  # characters of any other text
_INVISIBLE_CATEGORIES = ("Cc", "Cf", "Cs", "Zl", "Zp")
_INVALID = object()  # stands for a value whose problem has been recorded


def build(model: type[T], table: Table, problems: list[Problem], files: Files = READ_EACH_TIME) -> T | None:
    """Build a description from a table, once.

    Args:
        model: Class of the model that the table describes.
        table: The table, as read from a file.
        problems: List that receives every problem found.
        files: Reader of the files it names.

    Returns:
        The description. If the table has problems, a partial description with the fields that could be read; None if
        the table describes something else.
    """
    if isinstance(table.built, model):
        return table.built
    if hint := _wrong_kind_hint(model, table):
        problems.append(table.problem(hint))
        return None
    before = len(problems)
    values, omitted = _read_values(model, table, problems, files)
    if len(problems) > before:
        partial = partial_instance(model, omitted | values)
        _record_faults(faults_of_known_fields(partial), table, problems)
        return partial
    attached = {"provenance": _provenance(table)} if has_provenance(model) else {}
    try:
        table.built = built = model(**values, **attached)
        return built
    except OutOfRange as error:
        _record_faults(error.faults, table, problems)
        if not error.faults:
            problems.append(table.problem(str(error).replace(f"{model.__name__}.", "")))
        return partial_instance(model, omitted | values)


def _read_values(
    model: type, table: Table, problems: list[Problem], files: Files
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Read the fields given in a table, and list the defaults of those omitted."""
    keys = keys_of(model)
    intended = _unknown_keys(model, table, problems)
    given: dict[str, Any] = {}
    for name, value in list(table.entries.items()):
        key = keys.get(present_key(model, name) or name)
        if key is not None:
            given[key.name] = _read_key(key, table, value, problems, files)
    omitted = [key for key in keys.values() if key.name not in given and key.name not in intended]
    problems += [
        table.problem(f"missing; write for example {example_line(key)}", key.name)
        for key in omitted
        if key.required
    ]
    return (
        {name: value for name, value in given.items() if value is not _INVALID},
        {key.name: key.field_info.default for key in omitted if not key.required},
    )


def _provenance(table: Table) -> Provenance:
    """The files a table was read from, and the changes made in it."""
    files, changes = _sources(table)
    return Provenance(files=files, changes=changes)


def _sources(table: Table) -> tuple[tuple[FileUsed, ...], tuple[str, ...]]:
    """Files and changes of a table and all in it, each once, in order."""
    if table.sources is None:
        files, changes = {table.file_used(): None}, dict.fromkeys(table.changes.values())
        for inner in table.tables():
            more_files, more_changes = _sources(inner)
            files |= dict.fromkeys(more_files)
            changes |= dict.fromkeys(more_changes)
        table.sources = tuple(files), tuple(changes)
    return table.sources


def _record_faults(faults: Iterable[Fault], table: Table, problems: list[Problem]) -> None:
    """Record faults between keys, each at its key and in the user's own notation."""
    for fault in faults:
        target, key = table.locate(fault.key)
        problems.append(target.problem(units.fault_message(fault, target.user_text(key)), key))


def _wrong_kind_hint(model: type, table: Table) -> str:
    """Say what a whole file describes if it is clearly something else; empty otherwise."""
    kinds = {article_name: kind for kind, article_name in FILE_KINDS.values()}
    if table.path or model not in kinds.values():
        return ""
    matches = _keys_matched(table)
    best = max(matches, key=lambda article_name: matches[article_name])
    expected = next(article_name for article_name, kind in kinds.items() if kind is model)
    if matches[best] < 2 or matches[best] <= 2 * matches[expected]:
        return ""
    return f"looks like {best}, but {expected} is expected here"


def _unknown_keys(model: type, table: Table, problems: list[Problem]) -> set[str]:
    """Record the keys that are not known; return the keys probably meant."""
    keys = keys_of(model)
    unused = [name for name in keys if name not in table.entries]
    intended: set[str] = set()
    for name in sorted(set(table.entries) - set(keys)):
        present = present_key(model, name)
        if present is not None:
            message = f"now called {present}; write {_renamed_line(keys[present], table.entries[name])}"
        else:
            present = nearest(name, unused) or nearest(name, keys)  # one more table of a list, perhaps
            message = (
                f"unknown key; {unknown_key_advice(model, name, unused if nearest(name, unused) else keys)}"
            )
        problems.append(table.problem(message, name))
        intended |= {present} if present else set()
    return intended


def _renamed_line(key: Key, value: Any) -> str:
    """The line of a file with the present name of a key and the user's value."""
    if isinstance(value, Table | list) and key.model is not None:
        return table_line(key)
    value = present_choice(key.owner, key.name, value) or value
    return f'{key.name} = "{value}"' if isinstance(value, str) else f"{key.name} = {show_value(value)}"


def _read_key(key: Key, table: Table, value: Any, problems: list[Problem], files: Files) -> Any:
    """Read the value of one key and record its problems."""
    try:
        if isinstance(value, LocosimError):  # of a CSV cell that could not be read
            raise value
        if key.kind == "table":
            return _read_table(key, table, value, problems, files)
        if key.kind == "table_list":
            return _read_tables(key, table, value, problems, files)
        return _SCALAR_READERS[key.kind](key, value)
    except LocosimError as error:
        problems.append(table.problem(str(error), key.name))
        return _INVALID


def open_reference(key: Key, table: Table, value: Any, problems: list[Problem], files: Files) -> Any:
    """Read the file that a value names, if a path is given and allowed.

    Raises:
        LocosimError: If that file cannot be read; the message names it.
    """
    if not isinstance(value, str) or not (key.may_be("file") or key.may_be("table")):
        return value
    path = resolve_path(table.file, value)
    if path == table.file:
        raise LocosimError(f"file {value!r} refers to itself")
    try:
        if key.may_be("file"):
            return files.tree(path)
        return files.rows(path, key.model or object, problems)
    except LocosimError as error:
        raise LocosimError(f"file {value!r}, looked for at {path}: {error}") from None


def _read_table(key: Key, table: Table, value: Any, problems: list[Problem], files: Files) -> Any:
    """Read a table within a table, or the file named instead."""
    value = table.entries[key.name] = open_reference(key, table, value, problems, files)
    if not isinstance(value, Table):
        raise LocosimError(f"expected {_table_advice(key)}, found {show_value(value)}")
    built = build(key.model or object, value, problems, files)
    return _INVALID if built is None else built


def _read_tables(key: Key, table: Table, value: Any, problems: list[Problem], files: Files) -> Any:
    """Read a list of tables, or the CSV file named instead."""
    before = len(problems)
    value = table.entries[key.name] = open_reference(key, table, value, problems, files)
    if not isinstance(value, list) or not all(isinstance(item, Table) for item in value):
        raise LocosimError(f"expected {_table_advice(key)}, found {show_value(value)}")
    if len(problems) > before and not value:
        return _INVALID
    items = tuple(build(key.model or object, item, problems, files) for item in value)
    if problem := field_problem(key.field_info, items):
        raise OutOfRange(problem)
    return items


def _table_advice(key: Key) -> str:
    """How to write a table."""
    advice = ("tables, each under " if key.kind == "table_list" else "a table under ") + table_line(key)
    if key.may_be("file"):
        return f'{advice}, or a file as {key.name} = "{key.name}.toml"'
    return f'{advice}, or a file as {key.name} = "{key.name}.csv"' if key.may_be("table") else advice


def _read_measure(key: Key, value: Any) -> float:
    """Read a measure and check its range."""
    if isinstance(value, ConvertedValue):
        number, text = value
    else:
        number, text = _read_number(key, value), value if isinstance(value, str) else ""
    if not in_range(key.field_info, number):
        raise OutOfRange(f"must be {_range_in_user_unit(key, text)}, found {show_value(text or value)}")
    return number


def _read_number(key: Key, value: Any) -> float:
    """Read a measure in the unit of its field."""
    if isinstance(value, datetime.time) and key.unit == "clock":
        value = value.isoformat("seconds")
    if isinstance(value, str):
        number = units.si(value, key.unit)
        if key.unit == "kg/s" and _is_volume_rate(value) and not _is_volume_rate(example(key).strip('"')):
            raise UnitError(
                f"{value!r} is a volume per time; write a mass per time, for example {example_line(key)}"
            )
        return number
    if key.unit == "" and isinstance(value, int | float) and not isinstance(value, bool):
        return float(value) if isinstance(value, float) or abs(value) <= _MAX_INTEGER else math.inf
    expected = "a quantity with a unit, in quotes" if key.unit else "a number"
    raise UnitError(f"expected {expected}, found {show_value(value)}; write for example {example_line(key)}")


def _is_volume_rate(text: str) -> bool:
    """Whether a text is a volume per time, which is read as water only where water is meant."""
    try:
        units.si(text, "m^3/s")
    except UnitError:
        return False
    return True


def _range_in_user_unit(key: Key, text: str) -> str:
    """The allowed range, also in the user's unit."""
    si_range = range_text(key) or "finite"
    unit = units.unit_in(text, key.unit)
    bounds = [key.field_info.metadata.get(name) for name in ("above", "at_least", "below", "at_most")]
    if not unit or unit == key.unit or not any(bounds):
        return si_range
    user_range = " to ".join(
        units.show_like(b, key.unit, text, digits=4).split()[0] for b in bounds if b is not None
    )
    return f"{si_range} ({user_range} {unit})"


def _read_integer(key: Key, value: Any) -> int:
    """Read a whole number."""
    if isinstance(value, bool) or not isinstance(value, int):
        raise LocosimError(f"expected a whole number, found {show_value(value)}")
    if abs(value) > _MAX_INTEGER:
        raise OutOfRange(f"must be {range_text(key)}, found a number of {len(str(abs(value)))} digits")
    if problem := field_problem(key.field_info, value):
        raise OutOfRange(problem)
    return value


def _read_text(key: Key, value: Any) -> str:
    """Read a text, or one of the allowed values of a choice; a number as text where the key allows it."""
    if key.may_be("number") and isinstance(value, int | float) and not isinstance(value, bool):
        return str(value)
    if not isinstance(value, str):
        raise LocosimError(f"expected a text in quotes, found {show_value(value)}")
    if not value.strip():
        raise LocosimError("is empty")
    if len(value) > _MAX_TEXT:
        raise LocosimError(f"must have at most {_MAX_TEXT} characters, found {len(value)}; shorten it")
    if key.name in ("name", "station") and len(value) > _MAX_NAME:
        raise LocosimError(f"must have at most {_MAX_NAME} characters, found {len(value)}; shorten it")
    if any(unicodedata.category(character) in _INVISIBLE_CATEGORIES for character in value):
        raise LocosimError(
            f"must be one line without control characters, found {show_value(value)}; remove them"
        )
    if present := present_choice(key.owner, key.name, value):
        raise OutOfRange(f'"{value}" is now called "{present}"')
    if key.options and value not in key.options:
        near = nearest(value, key.options)
        hint = f"; did you mean {near!r}?" if near else ""
        raise OutOfRange(f"must be one of {', '.join(key.options)}, found {value!r}{hint}")
    return value


def _read_text_list(key: Key, value: Any) -> tuple[str, ...]:
    """Read a list of texts."""
    if not isinstance(value, list):
        raise LocosimError(
            f"expected a list of texts, for example {example_line(key)}, found {show_value(value)}"
        )
    return tuple(_read_text(key, item) for item in value)


_SCALAR_READERS = {
    "measure": _read_measure,
    "integer": _read_integer,
    "text": _read_text,
    "text_list": _read_text_list,
}


def read_value(key: Key, value: Any) -> Any:
    """A single value of a key, as a file gives it.

    Raises:
        LocosimError: It is no value of the key.
    """
    return _SCALAR_READERS[key.kind](key, value)


def _keys_matched(table: Table) -> dict[str, int]:
    """How many keys of a whole file each kind of file has, by its name in messages."""
    return {
        article_name: sum((present_key(kind, name) or name) in keys_of(kind) for name in table.entries)
        for kind, article_name in FILE_KINDS.values()
    }


def kind_of_file(table: Table) -> tuple[type, str]:
    """What a whole file describes, by most of its keys: the class of the model, and its name in messages."""
    matches = _keys_matched(table)
    return max(FILE_KINDS.values(), key=lambda kind: matches[kind[1]])
