"""Tables from CSV files: one row per item, with keys as headings, with or without a unit."""

from __future__ import annotations

import csv
import math
import re
from collections import Counter
from pathlib import Path
from typing import Any, NamedTuple

from locosim import units
from locosim.errors import LocosimError, Problem, UnitError, nearest, suggestion
from locosim.scenario.file_units import file_unit
from locosim.scenario.renamed import present_key
from locosim.scenario.schema import Key, keys_of
from locosim.scenario.source import ConvertedValue, Table, read_text, show_value

MAX_ROWS = 100_000
_HEADING = re.compile(r"([^\[\]]+?)\s*(?:\[([^\[\]]*)\])?")
_NUMBER_PATTERN = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")

NumberedRow = tuple[int, list[str]]  # line number in the file, cells


class Column(NamedTuple):
    """A column with its key and the unit of its heading, if any."""

    key: Key
    unit: str | None


def read_rows(path: Path, model: type, problems: list[Problem]) -> list[Table]:
    """Read a CSV file as a list of tables.

    Args:
        path: The file.
        model: Class of the model whose keys are the headings.
        problems: List that receives every problem of headings and cells.

    Raises:
        LocosimError: If the file cannot be read at all.
    """
    before = len(problems)
    text, sha256 = read_text(path)
    if (count := text.count("\n")) > MAX_ROWS:
        raise LocosimError(
            f"has {count} lines; at most {MAX_ROWS} are read, one every 10 m over a thousand kilometers; leave rows out"
        )
    rows = split_rows(path, text, problems)
    if len(problems) > before:
        return []
    if not rows:
        raise LocosimError(f"has no headings; the first row must name the keys: {', '.join(keys_of(model))}")
    (number, heading), *data_rows = rows
    if len(heading) == 1 and re.search(r"[;\t]", heading[0]):
        raise LocosimError("separates its cells by semicolons or tabs; save it with commas")
    row = Table(path, f"row {number}", {}, ", ")
    columns = _read_headings(row, heading, model, problems)
    problems.extend(row.problem(text) for text in _missing_headings(columns, heading, model))
    problems.extend(_unitless_columns(row, columns, data_rows))
    if len(problems) > before:
        return []  # cells under a wrong heading would only repeat the problem
    return [
        _read_row(Table(path, f"row {number}", {}, ", ", sha256=sha256), cells, columns, problems)
        for number, cells in data_rows
    ]


def split_rows(path: Path, text: str, problems: list[Problem]) -> list[NumberedRow]:
    """Split a text into rows of cells, without comments and blank rows."""
    rows: list[NumberedRow] = []
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        try:
            cells = [cell.strip() for cell in next(csv.reader([line], skipinitialspace=True, strict=True))]
        except csv.Error:
            row = Table(path, f"row {number}", {}, ", ")
            problems.append(
                row.problem('has an unclosed quote ("), or text after a closing one; close it or remove it')
            )
            continue
        if any(cells):
            rows.append((number, cells))
    return rows


def _read_headings(
    row: Table, heading: list[str], model: type, problems: list[Problem]
) -> list[Column | None]:
    """Read the headings; a blank heading is skipped."""
    keys = keys_of(model)
    columns: list[Column | None] = []
    for cell in heading:
        found = _HEADING.fullmatch(cell)
        columns.append(None)
        if found is None:
            if cell:
                problems.append(
                    row.problem(f"heading {cell!r} is not a key, or a key and its unit in brackets")
                )
        elif present := present_key(model, found[1]):
            line = f"{present} [{found[2]}]" if found[2] else present
            problems.append(row.problem(f"heading {found[1]!r}: now called {present}; write {line}"))
        elif found[1] not in keys:
            problems.append(row.problem(f"unknown heading {found[1]!r}; {suggestion(found[1], keys)}"))
        else:
            column = columns[-1] = Column(keys[found[1]], found[2])
            problems.extend(row.problem(text) for text in _unit_problems(column))
    counts = Counter(column.key.name for column in columns if column)
    problems.extend(row.problem(f"heading {name!r} is repeated") for name, n in counts.items() if n > 1)
    return columns


def _missing_headings(columns: list[Column | None], heading: list[str], model: type) -> list[str]:
    """Problems of required headings that are missing, not counting misspelled ones."""
    keys = keys_of(model)
    given = {column.key.name for column in columns if column}
    unrecognized = [
        cell.partition("[")[0].strip()
        for cell, column in zip(heading, columns, strict=True)
        if cell and column is None
    ]
    intended = {present_key(model, name) or nearest(name, keys) for name in unrecognized}
    return [
        f"heading {key.name!r} is missing; add the column, for example {_example_heading(key)}"
        for key in keys.values()
        if key.required and key.name not in given | intended
    ]


def _example_heading(key: Key) -> str:
    """An example heading of a column."""
    return (
        f"{key.name} [{file_unit(key, units.SYSTEMS[0])}]" if key.kind == "measure" and key.unit else key.name
    )


def _unit_problems(column: Column) -> list[str]:
    """Problems of the unit of a heading."""
    if column.unit is None:
        return []
    if column.key.kind != "measure":
        return [f"heading {column.key.name!r} must have no unit, found [{column.unit}]"]
    if column.key.unit == "clock":
        return [f"heading {column.key.name!r} must have no unit; its cells are times of day, as 10:35"]
    try:
        units.convert(1.0, column.unit, column.key.unit)
    except UnitError as error:
        return [f"heading {column.key.name!r}: {error}"]
    return []


def _unitless_columns(
    row: Table, columns: list[Column | None], data_rows: list[NumberedRow]
) -> list[Problem]:
    """Problems of columns of numbers without a unit, one per column rather than one per row."""
    found = []
    for at, column in enumerate(columns):
        if column is None or column.unit is not None or column.key.kind != "measure" or column.key.unit == "":
            continue
        cells = [cells[at] for _, cells in data_rows if at < len(cells) and cells[at]]
        if len(cells) > 1 and all(_NUMBER_PATTERN.fullmatch(cell) for cell in cells):
            name = column.key.name
            remedy = (
                "write times as 10:35"
                if column.key.unit == "clock"
                else f"put it in the heading, as {name} [{file_unit(column.key, units.SYSTEMS[0])}]"
            )
            found.append(row.problem(f"column {name!r} has numbers without a unit; {remedy}"))
    return found


def _read_row(table: Table, cells: list[str], columns: list[Column | None], problems: list[Problem]) -> Table:
    """Fill the table of a row from its cells; a blank cell is omitted."""
    if len(cells) > len(columns) and any(cells[len(columns) :]):
        problems.append(table.problem(f"has {len(cells)} cells, but there are {len(columns)} headings"))
    for cell, column in zip(cells, columns, strict=False):
        if not cell:
            continue
        if column is None:
            problems.append(table.problem(f"cell {cell!r} has no heading"))
            continue
        try:
            table.entries[column.key.name] = _read_cell(cell, column)
        except UnitError as error:
            table.entries[column.key.name] = error  # recorded by the builder, which keeps the rows in order
    return table


def _read_cell(cell: str, column: Column) -> Any:
    """Read one cell for the builder."""
    if column.key.kind == "integer":
        return int(cell) if re.fullmatch(r"[+-]?\d{1,9}", cell) else cell
    if column.key.kind != "measure" or column.unit is None:
        return cell
    if column.key.unit == "grade" and cell.lower() == "level":
        return ConvertedValue(0.0, cell)
    if not _NUMBER_PATTERN.fullmatch(cell):
        raise UnitError(
            f"expected a number alone, since the heading gives the unit [{column.unit}], found {cell!r}"
        )
    if not math.isfinite(float(cell)):
        raise UnitError(f"found {show_value(cell)}, but a number must be finite")
    text = f"1 in {cell}" if column.unit.startswith("1 in") else f"{cell} {column.unit}"
    return ConvertedValue(units.convert(float(cell), column.unit, column.key.unit), text)
