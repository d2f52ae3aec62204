"""A batch as text: how many rows are clear, tight and stop, and the rows, or those with the least margin."""

from __future__ import annotations

import heapq
from collections import Counter
from itertools import islice
from typing import Any, NamedTuple

from locosim.planning.finding import VERDICTS
from locosim.report.accuracy import accuracy_text
from locosim.report.caution import CAUTION, METHODS
from locosim.report.made_from import made_from
from locosim.report.text.layout import column_kind, margin_text, paragraph, table
from locosim.studies.batch import Batch
from locosim.studies.batch_rows import BatchRow
from locosim.studies.records import Record
from locosim.units import label, show_number

MAX_ROWS_SHOWN, ROWS_OF_MANY, MAX_PROBLEMS_SHOWN = 30, 10, 5


class _Shown(NamedTuple):
    number: int
    row: BatchRow
    record: Record


def batch_text(batch: Batch) -> str:
    """Write the count of each verdict, the rows or the first of them by margin, and problems."""
    count = len(batch.records)
    problems = [
        _Shown(*each) for each in islice((e for e in batch.each() if e[2].problem), MAX_PROBLEMS_SHOWN)
    ]
    many = count > MAX_ROWS_SHOWN
    shown = _least_margins(batch) if many else [_Shown(*each) for each in batch.each() if not each[2].problem]
    parts = [
        paragraph(f"{batch.name}: {count:,} {'row' if count == 1 else 'rows'}: {_counts(batch)}"),
        "The rows with the least margin:" if many and shown else "",
        _table(batch, shown) if shown else "",
        "\n".join(
            paragraph(f"Row {each.number} not checked: {each.record.problem}", indent="  ", first="")
            for each in problems
        ),
        *_methods(batch),
        paragraph(CAUTION),
    ]
    return "\n\n".join(part for part in parts if part)


def _counts(batch: Batch) -> str:
    at = batch.result("verdict")
    counts = Counter(
        "not checked" if record.problem else str(record.values[at]) if at is not None else "checked"
        for record in batch.records
    )
    words = [*VERDICTS, "checked", "not checked"]
    return ", ".join(f"{counts[word]:,} {word}" for word in words if counts[word]) + "."


def _least_margins(batch: Batch) -> list[_Shown]:
    """Rows with the least margin; none where margins are no result of the batch."""
    at = batch.result("margin")
    if at is None:
        return []
    rows = (
        (float(record.values[at] or 0.0), number, row, record)
        for number, row, record in batch.each()
        if record.values and record.values[at] is not None
    )
    least = heapq.nsmallest(ROWS_OF_MANY, rows, key=lambda each: each[:2])
    return [_Shown(number, row, record) for _, number, row, record in least]


def _table(batch: Batch, shown: list[_Shown]) -> str:
    kinds = [
        column_kind(column.kind, (each.record.values[at] for each in shown if each.record.values))
        for at, column in enumerate(batch.results)
    ]
    names = [column.name for column in batch.results]
    headers = ["row", "case", *map(_header, names, kinds)]
    rows = [
        [
            str(each.number),
            each.row.label,
            *(_text(value, kind) for value, kind in zip(each.record.values, kinds, strict=True)),
        ]
        for each in shown
    ]
    words = [1, *(at for at, column in enumerate(batch.results, start=2) if column.kind is None)]
    return table(headers, rows, left=2, wrapped=words)


def _header(name: str, kind: str | None) -> str:
    unit = label(kind) if kind not in (None, "ratio", "time", "clock") else ""
    return f"{name}\n{unit}" if unit else name


def _text(value: Any, kind: str | None) -> str:
    if value is None:
        return "-"
    if kind is None:
        return str(value)
    return margin_text(value) if kind == "ratio" else show_number(value, kind)


def _methods(batch: Batch) -> list[str]:
    methods = list(batch.records.sources.names.get("methods", ()))
    if not methods:
        return []
    found = [paragraph(f"Method: {'; '.join(METHODS[method] for method in methods)}.")]
    if len(methods) == 1:
        found.append(paragraph(accuracy_text("batch", methods[0], made_from(batch))))
    return found
