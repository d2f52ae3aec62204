"""What comes of one or two inputs that are varied, as a CSV table: a row for each combination."""

from __future__ import annotations

import io

from locosim.report.csv_cells import TableWriter
from locosim.report.made_from import made_from, source_columns
from locosim.report.text.vary import one_line
from locosim.studies.result_columns import Value
from locosim.studies.vary import AnyColumn, Variation
from locosim.units import label, number, scale, written_unit


def vary_csv(variation: Variation) -> str:
    """Write the rows; what they were made from is in columns at the right, in the first row."""
    out = io.StringIO()
    writer = TableWriter(out)
    source = source_columns(made_from(variation), variation.base.name, variation.method)
    headings = [heading_of_input(variation, i) for i in range(len(variation.inputs))]
    writer.writerow([*headings, *map(heading_of_column, variation.columns), "problem", *source])
    for count, row in enumerate(variation.rows):
        values = row.values or (None,) * len(variation.columns)
        cells = [_cell(value, column) for value, column in zip(values, variation.columns, strict=True)]
        inputs = [each if isinstance(each, str) else f"{each:.10g}" for each in row.numbers]
        notes = source.values() if count == 0 else [""] * len(source)
        writer.writerow([*inputs, *cells, one_line(row.problem), *notes])
    return out.getvalue()


def heading_of_input(variation: Variation, number_of_input: int) -> str:
    """Path of an input with the unit of its numbers."""
    each = variation.inputs[number_of_input]
    return f"{each.path} [{written_unit(each.unit)}]" if each.unit else each.path


def heading_of_column(column: AnyColumn) -> str:
    """Name of a column with its unit; times and times of day are in seconds."""
    if column.kind in ("time", "clock"):
        return f"{column.name} [s]"
    if column.kind is None:
        return column.name
    unit = label(column.kind) if column.kind == "temperature" else scale(column.kind)[1]
    return f"{column.name} [{unit}]" if unit else column.name


def _cell(value: Value, column: AnyColumn) -> str:
    if value is None or isinstance(value, str):
        return value or ""
    if column.kind in (None, "time", "clock"):
        return f"{value:.7g}"
    shown = number(value, column.kind) if column.kind == "temperature" else value * scale(column.kind)[0]
    return f"{shown:.7g}"
