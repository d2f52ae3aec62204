"""Tables from CSV files: one row per item, headings that are keys with or without a unit."""

from __future__ import annotations

import csv
import re
from collections import Counter
from pathlib import Path
from typing import Any, NamedTuple

from locosim import units
from locosim.errors import LocosimError, Problem, UnitError, nearest, suggestion
from locosim.scenario.schema import Key, keys_of
from locosim.scenario.source import ConvertedValue, Table, read_text

_HEADING = re.compile(r"([^\[\]]+?)\s*(?:\[([^\[\]]*)\])?")
_NUMBER_PATTERN = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")

NumberedRow = tuple[int, list[str]]  # number of the line in the file, cells


class Column(NamedTuple):
    """One column: its key, and the unit its heading gives, if any."""

    key: Key
    unit: str | None


def read_rows(path: Path, model: type, problems: list[Problem]) -> list[Table]:
    """Read a CSV file as a list of tables.

    Args:
        path: The file.
        model: Description whose keys are the headings.
        problems: Where everything wrong with the headings and cells is put.

    Raises:
        LocosimError: When the file cannot be read at all.
    """
    before = len(problems)
    lines = _split_rows(path, read_text(path), problems)
    if len(problems) > before:
        return []
    if not lines:
        raise LocosimError(f"has no heading; the first row names the keys: {', '.join(keys_of(model))}")
    (number, heading), *rest = lines
    if len(heading) == 1 and re.search(r"[;\t]", heading[0]):
        raise LocosimError("has its cells apart by semicolons or tabs; save it with commas")
    row = Table(path, f"row {number}", {}, ", ")
    columns = _read_headings(row, heading, model, problems)
    problems.extend(row.problem(text) for text in _missing_headings(columns, heading, model))
    problems.extend(_unitless_columns(row, columns, rest))
    if len(problems) > before:
        return []  # cells under a wrong heading would only repeat the problem
    return [_read_row(path, line, columns, problems) for line in rest]


def _split_rows(path: Path, text: str, problems: list[Problem]) -> list[NumberedRow]:
    """Split a text into rows of cells, leaving out remarks and blank rows."""
    rows: list[NumberedRow] = []
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        try:
            cells = [cell.strip() for cell in next(csv.reader([line], skipinitialspace=True, strict=True))]
        except csv.Error:
            row = Table(path, f"row {number}", {}, ", ")
            problems.append(
                row.problem('has a quote (") that is not closed, or text after one; close it, or take it out')
            )
            continue
        if any(cells):
            rows.append((number, cells))
    return rows


def _read_headings(
    row: Table, heading: list[str], model: type, problems: list[Problem]
) -> list[Column | None]:
    """Read the headings; a blank one at the end of the row is passed over."""
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
        elif found[1] not in keys:
            problems.append(row.problem(f"unknown heading {found[1]!r}; {suggestion(found[1], keys)}"))
        else:
            column = columns[-1] = Column(keys[found[1]], found[2])
            problems.extend(row.problem(text) for text in _unit_problems(column))
    counts = Counter(column.key.name for column in columns if column)
    problems.extend(row.problem(f"heading {name!r} stands twice") for name, n in counts.items() if n > 1)
    return columns


def _missing_headings(columns: list[Column | None], heading: list[str], model: type) -> list[str]:
    """Say which headings must be there and are not; one that is misspelled is not missed too."""
    keys = keys_of(model)
    there = {column.key.name for column in columns if column}
    unrecognized = [cell for cell, column in zip(heading, columns, strict=True) if cell and column is None]
    intended = {nearest(cell.partition("[")[0].strip(), keys) for cell in unrecognized}
    return [
        f"heading {key.name!r} is missing; add the column, for example {_example_heading(key)}"
        for key in keys.values()
        if key.required and key.name not in there | intended
    ]


def _example_heading(key: Key) -> str:
    """An example of the heading of a column."""
    return f"{key.name} [{_example_unit(key)}]" if key.kind == "measure" and key.unit else key.name


def _unit_problems(column: Column) -> list[str]:
    """Say what is wrong with the unit of a heading."""
    if column.unit is None:
        return []
    if column.key.kind != "measure":
        return [f"heading {column.key.name!r} takes no unit, found [{column.unit}]"]
    if column.key.unit == "clock":
        return [f"heading {column.key.name!r} takes no unit; its cells are times of day, as 10:35"]
    try:
        units.convert(1.0, column.unit, column.key.unit)
    except UnitError as wrong:
        return [f"heading {column.key.name!r}: {wrong}"]
    return []


def _unitless_columns(row: Table, columns: list[Column | None], lines: list[NumberedRow]) -> list[Problem]:
    """Say once of a column of bare numbers, rather than at every row, that its heading lacks a unit."""
    faults = []
    for at, column in enumerate(columns):
        if column is None or column.unit is not None or column.key.kind != "measure" or column.key.unit == "":
            continue
        cells = [cells[at] for _, cells in lines if at < len(cells) and cells[at]]
        if len(cells) > 1 and all(_NUMBER_PATTERN.fullmatch(cell) for cell in cells):
            name, written = column.key.name, {"clock": "times as 10:35"}.get(column.key.unit)
            remedy = (
                f"write {written}"
                if written
                else f"put it in the heading, as {name} [{_example_unit(column.key)}]"
            )
            faults.append(row.problem(f"column {name!r} has numbers without a unit; {remedy}"))
    return faults


def _example_unit(key: Key) -> str:
    """A unit that the heading of a column may have."""
    return {"m": "mile", "grade": "%", "curve": "deg", "m/s": "mph"}.get(key.unit, key.unit)


def _read_row(path: Path, line: NumberedRow, columns: list[Column | None], problems: list[Problem]) -> Table:
    """Read one row; a blank cell gives nothing."""
    number, cells = line
    table = Table(path, f"row {number}", {}, ", ")
    if len(cells) > len(columns) and any(cells[len(columns) :]):
        problems.append(table.problem(f"has {len(cells)} cells, but there are {len(columns)} headings"))
    for cell, column in zip(cells, columns, strict=False):
        if not cell:
            continue
        if column is None:
            problems.append(table.problem(f"cell {cell!r} stands under no heading"))
            continue
        try:
            table.entries[column.key.name] = _read_cell(cell, column)
        except UnitError as wrong:
            table.entries[column.key.name] = wrong  # the builder notes it, so that rows come in order
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
    written = f"1 in {cell}" if column.unit.startswith("1 in") else f"{cell} {column.unit}"
    return ConvertedValue(units.convert(float(cell), column.unit, column.key.unit), written)
