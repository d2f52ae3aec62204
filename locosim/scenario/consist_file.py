"""Consists from a CSV file: a name, and what each changes in an excursion, a column for each key."""

from __future__ import annotations

import csv
import io
import os
from pathlib import Path
from typing import NamedTuple

from locosim.errors import LocosimError, Problem, ScenarioError
from locosim.scenario.source import read_text

FILE_KEYS = ("locomotive", "train", "route")  # a cell names a file, beside the CSV file or below


class ConsistRow(NamedTuple):
    """A row of the file.

    Attributes:
        name: Name of the consist.
        changes: What it changes in the excursion, as `key=value`.
    """

    name: str
    changes: tuple[str, ...]


def read_consists(path: str | Path, excursion: str | Path) -> list[ConsistRow]:
    """Read consists.

    The first row names keys of the excursion file, such as `locomotive`, `train`, `rail` or
    `train.vehicles[1].count`, and may have a column `name`. An empty cell changes nothing.

    Args:
        path: The CSV file.
        excursion: The excursion file that the rows change.

    Raises:
        ScenarioError: The file cannot be read, has no rows, or a row has more cells than headings.
    """
    file, folder = Path(path), Path(excursion).parent
    try:
        text, _ = read_text(file)
    except LocosimError as wrong:
        raise ScenarioError(str(file), [Problem("", str(wrong))]) from None
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    reader = csv.reader(io.StringIO("\n".join(lines)), skipinitialspace=True)
    heading, *rows = [[cell.strip() for cell in row] for row in reader] or [[]]
    problems = _problems(heading, rows)
    if problems:
        raise ScenarioError(str(file), problems)
    return [_row(number, heading, row, file, folder) for number, row in enumerate(rows, start=1)]


def _problems(heading: list[str], rows: list[list[str]]) -> list[Problem]:
    if len(heading) == 1 and any(sign in heading[0] for sign in ";\t"):
        return [Problem("", "separates its cells by semicolons or tabs; save it with commas")]
    if not heading or not rows:
        return [
            Problem(
                "",
                "needs a row of headings, such as name,locomotive,train, and a row for each consist below it",
            )
        ]
    blank = [Problem(f"column {k}", "has no heading") for k, name in enumerate(heading, start=1) if not name]
    return blank + [
        Problem(f"row {number}", f"has {len(row)} cells, but there are {len(heading)} headings")
        for number, row in enumerate(rows, start=1)
        if len(row) > len(heading)
    ]


def _row(number: int, heading: list[str], row: list[str], file: Path, folder: Path) -> ConsistRow:
    cells = {key: cell for key, cell in zip(heading, row, strict=False) if cell}
    name = cells.pop("name", "")
    changes, stems = [], []
    for key, cell in cells.items():
        if key.split(".")[-1] in FILE_KEYS:
            stems.append(Path(cell).stem)
            cell = os.path.relpath(file.parent / cell, folder)
        changes.append(f"{key}={cell}")
    return ConsistRow(name or ", ".join(stems) or f"row {number}", tuple(changes))
