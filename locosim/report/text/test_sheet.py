"""The test sheet of an engine beside what locosim computes, as text."""

from __future__ import annotations

from locosim.engine.anchor_notes import anchor_cautions
from locosim.engine.test_sheet.sheet_comparison import SheetComparison, SheetLine
from locosim.model.engine_test_sheet import Anchor
from locosim.report.accuracy import accuracy_text
from locosim.report.caution import CAUTION
from locosim.report.made_from import made_from
from locosim.report.text.layout import paragraph, table
from locosim.units import label, show, show_number

# Kind of quantity of each reading.
KINDS = {
    "max_back_pressure": "pressure",
    "max_firing_rate": "firing_rate_per_grate_area",
    "max_evaporation": "steam_rate",
    "evaporation": "steam_rate",
    "steam_temperature": "temperature",
    "draft": "draft",
    "indicated_power": "power",
    "drawbar_power": "power",
    "steam_rate": "specific_steam_consumption",
}
NO_SHEET = (
    "The engine file has no test sheet. Enter what a test of this engine printed under [test_sheet] and "
    "[[test_sheet.rows]]; docs/engineering.md shows how."
)


def sheet_text(comparison: SheetComparison) -> str:
    """Write each reading as printed and as computed, and the keys set from the sheet."""
    sheet = comparison.locomotive.test_sheet
    lines = [comparison.locomotive.name]
    if sheet.source is not None:
        lines.append(paragraph(f"Test sheet: {sheet.source}."))
    if not comparison.lines:
        return "\n".join([*lines, paragraph(NO_SHEET), "", paragraph(CAUTION)])
    lines += ["", _table(comparison), "", *_problem_lines(comparison)]
    lines += [paragraph(text) for text in _anchor_lines(comparison)]
    accuracy = paragraph(accuracy_text("test-sheet", "cycle", made_from(comparison)))
    return "\n".join([*lines, "", accuracy, "", paragraph(CAUTION)])


def _table(comparison: SheetComparison) -> str:
    anchored = bool(comparison.anchors)
    headers = ["test", "reading", "printed", "computed", "difference"]
    headers += ["with the\nsheet", "difference", ""] if anchored else []
    rows = [_row(line, anchored=anchored) for line in comparison.lines]
    return table(headers, rows, left=2, wrapped=(0,))


def _row(line: SheetLine, *, anchored: bool) -> tuple[str, ...]:
    kind = KINDS[line.reading]
    cells = (
        line.label,
        f"{line.reading} [{label(kind)}]",
        show_number(line.printed, kind),
        _value(line.computed, kind),
        error_text(line.reading, line.error),
    )
    if not anchored:
        return cells
    used = "anchor" if line.used else ""
    return (*cells, _value(line.anchored, kind), error_text(line.reading, line.anchored_error), used)


def _value(value: float | None, kind: str) -> str:
    return "-" if value is None else show_number(value, kind)


def error_text(reading: str, error: float | None) -> str:
    """Computed less printed: in percent, or as a difference of temperature."""
    if error is None:
        return "-"
    if reading == "steam_temperature":
        shown = show(error, "temperature_difference")
        return shown if shown.startswith("-") else f"+{shown}"
    return f"{round(100.0 * error, 1) + 0.0:+.1f} %"  # without the sign of a zero


def _problem_lines(comparison: SheetComparison) -> list[str]:
    """Why readings cannot be computed."""
    return [
        paragraph(f"{line.label}, {line.reading}: not computed, {line.problem}.")
        for line in comparison.lines
        if line.problem
    ]


def _anchor_lines(comparison: SheetComparison) -> list[str]:
    """The keys that were set, each in a sentence, with cautions."""
    if not comparison.anchors:
        return [
            "The sheet is only compared. To use a reading, list it in the file, for example "
            'use = ["indicated_power"] under [test_sheet].'
        ]
    return [
        "Set from the sheet:",
        *(sentence for anchor in comparison.anchors for sentence in _sentences(anchor)),
    ]


def _sentences(anchor: Anchor) -> list[str]:
    kind = {"Pa": "pressure", "kg/m^2/s": "firing_rate_per_grate_area"}.get(anchor.unit)
    value, usual = (
        f"{each:.3f}" if kind is None else show(each, kind) for each in (anchor.value, anchor.usual)
    )
    cautions = [f"  {text[0].upper()}{text[1:]}." for text in anchor_cautions(anchor)]
    return [f"  {anchor.key} = {value}, by {anchor.by}; {usual} without the sheet.", *cautions]
