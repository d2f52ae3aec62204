"""Consists compared as a CSV table: one row for each."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

from locosim.planning.consists import Consist, ConsistTable
from locosim.report.csv_cells import TableWriter
from locosim.report.made_from import made_from, source_columns
from locosim.units import number, scale

# Heading, kind and value of each column.
COLUMNS: tuple[tuple[str, str | None, Callable[[Consist], Any]], ...] = (
    ("consist", None, lambda each: each.name),
    ("locomotive", None, lambda each: each.excursion and each.excursion.locomotive.name),
    ("train", None, lambda each: each.excursion and each.excursion.train.name),
    ("trailing mass", "mass", lambda each: each.excursion and each.excursion.train.mass),
    ("verdict", None, lambda each: each.verdict),
    ("margin", "ratio", lambda each: each.worst and each.worst.margin),
    ("rule", None, lambda each: each.worst and each.worst.rule),
    ("place", None, lambda each: each.worst and each.worst.place),
    ("time", "time", lambda each: each.time),
    ("water", "water", lambda each: each.water),
    ("fuel", "small_mass", lambda each: each.fuel),
    ("cost", None, lambda each: each.cost),
    ("problem", None, lambda each: each.problem),
)


def consists_csv(compared: ConsistTable) -> str:
    """Write consists; what they were made from is in columns at the right, in the first row."""
    out = io.StringIO()
    writer = TableWriter(out)
    source = source_columns(made_from(compared), f"by {compared.order}", compared.method)
    writer.writerow([*(_heading(name, kind) for name, kind, _ in COLUMNS), *source])
    for row, each in enumerate(compared.consists):
        cells = [_cell(value(each), kind) for _, kind, value in COLUMNS]
        writer.writerow([*cells, *(source.values() if row == 0 else [""] * len(source))])
    return out.getvalue()


def _heading(name: str, kind: str | None) -> str:
    unit = "s" if kind == "time" else scale(kind)[1] if kind else ""
    return f"{name} [{unit}]" if unit else name


def _cell(value: Any, kind: str | None) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return value
    return f"{value if kind in (None, 'time') else number(value, kind):.7g}"
