"""A batch as JSON."""

from __future__ import annotations

from typing import Any

from locosim.report.json.envelope import envelope
from locosim.report.made_from import made_from
from locosim.studies.batch import Batch
from locosim.studies.batch_rows import FILE_HEADINGS, BatchRow
from locosim.studies.records import Record
from locosim.units import si_label


def batch_json(batch: Batch) -> str:
    """Write a batch as JSON, all rows in SI."""
    methods = list(batch.records.sources.names.get("methods", ()))
    units = {column.name: si_label(column.kind) for column in batch.results if column.kind is not None}
    content = {
        "batch": batch.name,
        "units": {name: unit for name, unit in units.items() if unit},
        "rows": [_row(batch, *each) for each in batch.each()],
    }
    return envelope("batch", methods[0] if len(methods) == 1 else None, made_from(batch), content)


def _row(batch: Batch, index: int, row: BatchRow, record: Record) -> dict[str, Any]:
    values = record.values or [None] * len(batch.results)
    return {
        "row": index,
        "name": row.name,
        **dict(zip(FILE_HEADINGS, row.files, strict=True)),
        "changes": list(row.changes),
        "results": {column.name: value for column, value in zip(batch.results, values, strict=True)},
        "problem": record.problem,
    }
