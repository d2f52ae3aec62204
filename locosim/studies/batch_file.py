"""Batches from a file: rows of a CSV file, or a grid of a TOML file; each row is an excursion with changes."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from locosim.errors import LocosimError, Problem, ScenarioError, suggestion
from locosim.model.excursion import Excursion
from locosim.scenario.csv_table import split_rows
from locosim.scenario.renamed import present_key
from locosim.scenario.schema import keys_of
from locosim.scenario.source import Table, read_text, read_toml
from locosim.scenario.varied_keys import read_varied_file
from locosim.studies.batch_rows import (
    FILE_HEADINGS,
    FILE_KEYS,
    BatchRow,
    BatchRows,
    Condition,
    Grid,
    RowList,
    change_of,
    last_steps,
)

MAX_ROWS = 10_000_000
MAX_TABLE_SIZE = 2_000_000_000  # [bytes]
_WITH_UNIT = re.compile(r"(.*\S)\s+\[([^\[\]]+)\]")
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")


def read_batch(path: str | Path, excursion: str = "") -> BatchRows:
    """Read a batch.

    A CSV file has a row for each case. Its headings are `name`, `excursion`, `engine`, `train` and `route`, whose cells
    name files from the folder of the CSV file, and keys of the excursion file, such as `rail`,
    `train.vehicles[1].count` or `weather.temperature [degC]`. An empty cell changes nothing.

    A TOML file has the lists `excursions`, `engines`, `trains` and `routes`, tables `[[conditions]]` with a name and
    keys, and a table `[values]` with a list for each key, or a range as in `vary`; all combinations are rows.

    Args:
        path: The file.
        excursion: Excursion file of the rows that name none.

    Raises:
        ScenarioError: With every problem of the file; problems of single excursions are found when they run.
    """
    file = Path(path)
    problems: list[Problem] = []
    try:
        if file.suffix.lower() == ".toml":
            found: BatchRows = _read_grid(file, excursion, problems)
        else:
            found = _read_rows(file, excursion, problems)
    except LocosimError as wrong:
        if isinstance(wrong, ScenarioError):
            raise
        raise ScenarioError(str(file), [Problem("", str(wrong))]) from None
    if not problems and len(found) > MAX_ROWS:
        problems.append(
            Problem("", f"makes {len(found):,} rows; at most {MAX_ROWS:,} are allowed, so divide it")
        )
    if problems:
        raise ScenarioError(str(file), problems)
    return found


def grid_of_options(
    excursions: Sequence[str],
    engines: Sequence[str] = (),
    trains: Sequence[str] = (),
    routes: Sequence[str] = (),
    *,
    values: Sequence[str] = (),
) -> Grid:
    """A grid of files and of values of keys.

    Args:
        excursions: Excursion files.
        engines: Engine files; none for those that the excursions name.
        trains: Train files, likewise.
        routes: Route files, likewise.
        values: Keys with their values, as lists and ranges: `rail=dry,wet`, `train.vehicles[1].count=4:12:2`.

    Raises:
        ScenarioError: The first excursion file cannot be read, in which the keys are looked up.
        LocosimError: A key or a value is wrong, or a key is given twice.
    """
    found: dict[str, tuple[str, ...]] = {}
    for text in values:
        key, texts = _listed(text, excursions[0])
        if key in found:
            raise LocosimError(f"{key} is given twice; write all its values after one =")
        found[key] = texts
    return Grid(tuple(excursions), tuple(engines), tuple(trains), tuple(routes), (), found)


def _listed(text: str, excursion: str) -> tuple[str, tuple[str, ...]]:
    """A key and its values, from lists and ranges as `vary` takes them."""
    (found,) = read_varied_file(excursion, [text], changes=(), conditions={}).inputs
    return found.path, found.texts


def key_problem(key: str) -> str:
    """What is wrong with the beginning of a key of an excursion file; empty if nothing is."""
    first = re.split(r"[.\[]", key, maxsplit=1)[0].strip()
    if first in keys_of(Excursion):
        return ""
    if present := present_key(Excursion, first):
        return f"{first!r} is now called {present!r}"
    known = list(dict.fromkeys([*FILE_HEADINGS, "name", *keys_of(Excursion)]))
    return f"{first!r} is no key of an excursion file; {suggestion(first, known)}"


# Rows of a CSV file


def _read_rows(file: Path, excursion: str, problems: list[Problem]) -> RowList:
    rows = split_rows(file, read_text(file, max_size=MAX_TABLE_SIZE).text, problems)
    if problems:
        return RowList((), ())
    if len(rows) < 2:
        raise LocosimError(
            "needs a row of headings, such as name,excursion,engine,rail, and a row for each case"
        )
    (number, heading), *data = rows
    if len(heading) == 1 and re.search(r"[;\t]", heading[0]):
        raise LocosimError("separates its cells by semicolons or tabs; save it with commas")
    headings = ["engine" if each == "locomotive" else each for each in heading]
    keys = tuple(each for each in headings if each not in ("name", *FILE_HEADINGS))
    problems += _heading_problems(f"row {number}", headings)
    if problems:
        return RowList((), ())
    found = [_read_row(number, headings, cells, file.parent, excursion, problems) for number, cells in data]
    return RowList(keys, found)


def _heading_problems(where: str, headings: Sequence[str]) -> Iterator[Problem]:
    for column, heading in enumerate(headings, start=1):
        if not heading:
            yield Problem(where, f"column {column} has no heading")
        elif heading in headings[: column - 1]:
            yield Problem(where, f"heading {heading!r} is repeated")
        elif heading not in ("name", *FILE_HEADINGS) and (wrong := key_problem(_key_and_unit(heading)[0])):
            yield Problem(where, f"heading {heading!r}: {wrong}")


def _key_and_unit(heading: str) -> tuple[str, str]:
    """Key and unit of a heading such as `weather.temperature [degC]`; a unit follows a blank."""
    found = _WITH_UNIT.fullmatch(heading)
    return (found[1], found[2]) if found else (heading, "")


def _read_row(
    number: int,
    headings: Sequence[str],
    cells: list[str],
    folder: Path,
    excursion: str,
    problems: list[Problem],
) -> BatchRow:
    where = f"row {number}"
    if len(cells) > len(headings):
        problems.append(Problem(where, f"has {len(cells)} cells, but there are {len(headings)} headings"))
    row = dict(zip(headings, [*cells, *[""] * len(headings)], strict=False))
    name = row.pop("name", "")
    named = [row.pop(heading, "") for heading in FILE_HEADINGS]
    files = tuple(os.path.normpath(folder / each) if each else "" for each in named)
    if not files[0] and not excursion:
        problems.append(
            Problem(where, "names no excursion; fill in its column excursion, or give --excursion")
        )
    files = (files[0] or excursion, *files[1:])
    changes = [_cell_change(heading, cell, files, folder) for heading, cell in row.items() if cell]
    stems = [Path(file).stem for file in files[1:] if file] or [Path(files[0]).stem]
    label = name or ", ".join(
        [*stems, *(f"{last_steps(heading)} {cell}" for heading, cell in row.items() if cell)]
    )
    return BatchRow(
        name, (files[0], files[1], files[2], files[3]), tuple(row.values()), tuple(changes), label
    )


def _cell_change(heading: str, cell: str, files: Sequence[str], folder: Path) -> str:
    key, unit = _key_and_unit(heading)
    return change_of(key, f"{cell} {unit}" if unit and _NUMBER.fullmatch(cell) else cell, files, folder)


# Grid of a TOML file

_LISTS = tuple(f"{each}s" for each in FILE_HEADINGS)


def _read_grid(file: Path, excursion: str, problems: list[Problem]) -> Grid:
    root = read_toml(file)
    for name in sorted(set(root.entries) - {*_LISTS, "conditions", "values"}):
        known = (*_LISTS, "conditions", "values")
        problems.append(root.problem(f"unknown key; {suggestion(name, known)}", name))
    lists = {name: _files(root, name, problems) for name in _LISTS}
    excursions = lists["excursions"] or ((excursion,) if excursion else ())
    if not excursions and not problems:
        line = 'excursions = ["special.toml"], or give --excursion'
        problems.append(root.problem(f"missing; write for example {line}", "excursions"))
    conditions = tuple(_conditions(root, problems))
    values = _values(root, excursions[0] if excursions else "", problems)
    return Grid(excursions, lists["engines"], lists["trains"], lists["routes"], conditions, values)


def _files(root: Table, name: str, problems: list[Problem]) -> tuple[str, ...]:
    found = root.entries.get(name, [])
    if not isinstance(found, list) or not all(isinstance(each, str) and each.strip() for each in found):
        problems.append(
            root.problem(f'expected a list of files, for example {name} = ["{name[:-1]}.toml"]', name)
        )
        return ()
    return tuple(os.path.normpath(root.file.parent / each) for each in found)


def _conditions(root: Table, problems: list[Problem]) -> Iterator[Condition]:
    found = root.entries.get("conditions", [])
    if not isinstance(found, list) or not all(isinstance(each, Table) for each in found):
        problems.append(root.problem("expected tables, each under [[conditions]]", "conditions"))
        return
    for number, table in enumerate(found, start=1):
        values = {key: _value(table, key, value, problems) for key, value in _flat(table) if key != "name"}
        name = table.entries.get("name", "")
        if not isinstance(name, str) or not name.strip():
            problems.append(table.problem(f'needs a name, as name = "condition {number}"'))
        yield Condition(str(name), values)


def _values(root: Table, excursion: str, problems: list[Problem]) -> dict[str, tuple[str, ...]]:
    table = root.entries.get("values", Table(root.file, "values", {}))
    if not isinstance(table, Table):
        problems.append(root.problem("expected a table under [values]", "values"))
        return {}
    found = {}
    for key, value in _flat(table):
        if isinstance(value, str) and excursion:
            try:
                found[key] = _listed(f"{key}={value}", excursion)[1]
            except LocosimError as wrong:
                problems.append(table.problem(str(wrong), key))
            continue
        if not isinstance(value, list) or not value:
            example = 'expected a list as ["dry", "wet"], or a text as "180:220:10 psi"'
            problems.append(table.problem(example, key))
            continue
        found[key] = tuple(_value(table, key, each, problems) for each in value)
    return found


def _flat(table: Table, path: str = "") -> Iterator[tuple[str, Any]]:
    """Values of a table by the path of their keys: `weather.temperature` may be written as a key in quotes or not."""
    for key, value in table.entries.items():
        here = f"{path}{key}"
        if isinstance(value, Table):
            yield from _flat(value, f"{here}.")
        else:
            yield here, value


def _value(table: Table, key: str, value: Any, problems: list[Problem]) -> str:
    if wrong := key_problem(key):
        problems.append(table.problem(wrong, key))
    if isinstance(value, str) and key.split(".")[-1] in FILE_KEYS:
        return os.path.normpath(table.file.parent / value)
    if isinstance(value, bool | int | float | str):
        return value if isinstance(value, str) else json.dumps(value)
    problems.append(table.problem("expected a text or a number", key))
    return ""
