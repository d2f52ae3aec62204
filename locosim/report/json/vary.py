"""What comes of one or two inputs that are varied, as JSON."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from locosim.report.json.envelope import envelope
from locosim.report.made_from import made_from
from locosim.studies.vary import Variation, VariedRow
from locosim.units import si_label


def vary_json(variation: Variation) -> str:
    """Write inputs, columns and rows; values of columns are in SI."""
    conditions = variation.conditions
    content = {
        "inputs": [
            {
                "key": each.path,
                "texts": each.texts,
                "unit": each.unit,
                "numbers": each.numbers,
                "values_si": each.values,
            }
            for each in variation.inputs
        ],
        "conditions": None if conditions is None else asdict(conditions),
        "columns": [
            {
                "name": column.name,
                "meaning": column.meaning,
                "kind": column.kind,
                "unit": None if column.kind is None else si_label(column.kind),
            }
            for column in variation.columns
        ],
        "rows": [_row(variation, row) for row in variation.rows],
    }
    return envelope("vary", variation.method, made_from(variation), content)


def _row(variation: Variation, row: VariedRow) -> dict[str, Any]:
    values = row.values or (None,) * len(variation.columns)
    return {
        "changes": row.changes,
        "verdict": row.verdict,
        "assumptions": row.assumptions,
        "values": {column.name: value for column, value in zip(variation.columns, values, strict=True)},
        "problem": row.problem,
    }
