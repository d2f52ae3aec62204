"""Cells of CSV files: no text of the user's files begins a formula in a spreadsheet."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Sequence
from typing import Any, TextIO

_BEGINS_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_NUMBER = re.compile(r"[+-]?[\d.]+(?:[eE][+-]?\d+)?")


class TableWriter:
    """Writer of the rows of a CSV file, with one line feed after each."""

    def __init__(self, file: TextIO) -> None:
        self._writer = csv.writer(file, lineterminator="\n")

    def writerow(self, cells: Sequence[Any]) -> None:
        """Write a row."""
        self._writer.writerow([_plain(cell) for cell in cells])

    def writerows(self, rows: Iterable[Sequence[Any]]) -> None:
        """Write rows."""
        for row in rows:
            self.writerow(row)


def _plain(cell: Any) -> Any:
    """A cell that a spreadsheet does not compute: an apostrophe stands before a text that would begin a formula."""
    if isinstance(cell, str) and cell.startswith(_BEGINS_FORMULA) and not _NUMBER.fullmatch(cell):
        return f"'{cell}"
    return cell
