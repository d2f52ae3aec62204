"""The test sheet of an engine beside what locosim computes, as JSON."""

from __future__ import annotations

from typing import Any

from locosim.engine.anchor_notes import anchor_cautions
from locosim.engine.test_sheet.sheet_comparison import SheetComparison, SheetLine
from locosim.model.engine_test_sheet import Anchor
from locosim.report.json.envelope import envelope
from locosim.report.made_from import made_from

UNITS = {
    "max_back_pressure": "Pa",
    "max_firing_rate": "kg/(m2 s)",
    "max_evaporation": "kg/s",
    "evaporation": "kg/s",
    "steam_temperature": "K",
    "draft": "Pa",
    "indicated_power": "W",
    "drawbar_power": "W",
    "steam_rate": "kg/J",
}


def sheet_json(comparison: SheetComparison) -> str:
    """Write each reading as printed and as computed, and the keys set from the sheet."""
    return envelope(
        "test-sheet",
        "cycle",
        made_from(comparison),
        {
            "locomotive": comparison.locomotive.name,
            "source": comparison.locomotive.test_sheet.source,
            "anchors": [_anchor(anchor) for anchor in comparison.anchors],
            "rows": [_line(line) for line in comparison.lines],
        },
    )


def _anchor(anchor: Anchor) -> dict[str, Any]:
    return {
        "key": anchor.key,
        "unit": anchor.unit,
        "value": anchor.value,
        "without_sheet": anchor.usual,
        "believable_range": [anchor.low, anchor.high],
        "by": anchor.by,
        "error_left": anchor.error,
        "reached": anchor.reached,
        "limited_by": anchor.limited_by or None,
        "cautions": anchor_cautions(anchor),
    }


def _line(line: SheetLine) -> dict[str, Any]:
    return {
        "row": line.row,
        "label": line.label,
        "reading": line.reading,
        "unit": UNITS[line.reading],
        "printed": line.printed,
        "computed": line.computed,
        "with_sheet": line.anchored,
        "anchor": line.used,
        "problem": line.problem or None,
    }
