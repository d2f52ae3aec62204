"""Functions and results for several consists on one line."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from locosim.errors import LocosimError
from locosim.library.table import Column, Result, column
from locosim.loading import load_excursion
from locosim.planning.consists import Consist, ConsistTable, Prices, compare_consists
from locosim.report.consist_table import COLUMNS
from locosim.scenario.consist_file import read_consists


class ConsistResult(Result[ConsistTable]):
    """Consists compared: a row for each, sorted."""

    command = "consists"

    @property
    def rows(self) -> tuple[Consist, ...]:
        """Consists in order, those without a check last."""
        return self.content.consists

    def title(self) -> str:
        """How many consists, and on which line."""
        lines = [each.route_as_run.name for each in self.content.excursions[:1]]
        return f"{len(self.rows)} consists{f' on {lines[0]}' if lines else ''}, by {self.content.order}"

    @property
    def method(self) -> str | None:
        """Method of computing the engines; None where they differ or none was checked."""
        return self.content.method

    def columns(self) -> Sequence[Column]:
        """One row for each consist."""
        return [column(name, kind, self.rows, value) for name, kind, value in COLUMNS]


def consists(
    *files: str | Path,
    table: str | Path | None = None,
    changes: Sequence[str] = (),
    prices: Prices | None = None,
    order: str = "verdict",
) -> ConsistResult:
    """Compare several engines and trains on one line.

    Args:
        files: Excursion files; a row for each.
        table: CSV file of consists that change the first excursion, a row for each.
        changes: Changes to all of them, as `key=value`.
        prices: Prices of fuel, water and time, a `locosim.planning.consists.Prices`.
        order: What to sort by: `verdict`, `time`, `water`, `fuel`, `cost` or `mass`.

    Raises:
        OutOfRange: No consist, an order that is not known, or cost without a price.
        ScenarioError: The CSV file cannot be read. A consist that cannot be read keeps its problem in its row.
    """
    proposed = read_proposed(files, table=table, changes=changes)
    return ConsistResult(compare_consists(proposed, prices=prices or Prices(), order=order))


def read_proposed(
    files: Sequence[str | Path], *, table: str | Path | None = None, changes: Sequence[str] = ()
) -> list[Consist]:
    """Read consists from excursion files, and from a CSV file that changes the first; arguments as for `consists`.

    Raises:
        ScenarioError: The CSV file cannot be read.
    """
    read = [_read("", file, changes) for file in files]
    if table is not None and files:
        read += [
            _read(row.name, files[0], [*changes, *row.changes]) for row in read_consists(table, files[0])
        ]
    times = Counter(each.name for each in read)
    return [
        replace(each, name=f"{each.name} ({number})") if times[each.name] > 1 else each
        for number, each in enumerate(read, start=1)
    ]


def _read(name: str, file: str | Path, changes: Sequence[str]) -> Consist:
    try:
        excursion = load_excursion(file, changes=changes)
    except LocosimError as wrong:
        return Consist(name=name or Path(file).stem, problem=str(wrong))
    return Consist(name=name or excursion.name, excursion=excursion)
