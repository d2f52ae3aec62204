"""The test sheet of an engine beside what locosim computes, with and without keys set from it."""

from __future__ import annotations

from collections.abc import Iterable

from locosim.engine.test_sheet.keys import (
    BACK_PRESSURE,
    BOILER_KEYS,
    FIRING_RATE,
    usual_value,
    without_anchors,
)
from locosim.engine.test_sheet.readings import EngineUnderTest
from locosim.errors import OutOfRange
from locosim.frozen import frozen
from locosim.model import Assumptions, EngineTestRow, Locomotive
from locosim.model.engine_test_sheet import Anchor


@frozen
class SheetLine:
    """One reading of a test sheet beside locosim's own figures, in SI.

    Attributes:
        row: Number of the row from 1; None for a figure of the whole sheet.
        label: Name of the row.
        reading: Name of the reading.
        printed: As printed.
        computed: As computed without the sheet; None where the engine does not reach the conditions.
        anchored: As computed with the keys that were set from the sheet; None without such keys, or as above.
        used: Whether it served to set a key.
        problem: Why it cannot be computed; empty otherwise.
    """

    row: int | None
    label: str
    reading: str
    printed: float
    computed: float | None
    anchored: float | None
    used: bool
    problem: str = ""

    @property
    def error(self) -> float | None:
        """Computed less printed over printed [1]; of a steam temperature the difference [K]."""
        return self._error(self.computed)

    @property
    def anchored_error(self) -> float | None:
        """The same of the anchored value."""
        return self._error(self.anchored)

    def _error(self, value: float | None) -> float | None:
        if value is None:
            return None
        scale = 1.0 if self.reading == "steam_temperature" else self.printed
        return (value - self.printed) / scale


@frozen
class SheetComparison:
    """The test sheet of an engine beside what locosim computes.

    Attributes:
        locomotive: The engine.
        lines: One per reading, those of the whole sheet first.
        anchors: Keys set from the sheet; none where it is only compared.
        assumptions: Assumed figures it was computed with.
    """

    locomotive: Locomotive
    lines: tuple[SheetLine, ...]
    anchors: tuple[Anchor, ...]
    assumptions: Assumptions = Assumptions()


def compare_sheet(
    locomotive: Locomotive, assumptions: Assumptions = Assumptions(), *, cylinders: bool = True
) -> SheetComparison:
    """Compute every reading of the test sheet of an engine.

    Args:
        locomotive: The engine, as read; keys set from the sheet are taken back for the figures without it.
        assumptions: Assumed figures.
        cylinders: Whether readings of the cylinders are included; those of the boiler need no map.

    Raises:
        OutOfRange: A fuel of the sheet that the engine cannot burn, or an engine the cycle does not cover.
    """
    sheet = locomotive.test_sheet
    rows = [
        (number, row, reading)
        for number, row in enumerate(sheet.rows, start=1)
        for reading in row.readings
        if cylinders or reading in BOILER_KEYS
    ]
    needs_map = any(reading not in BOILER_KEYS for _, _, reading in rows)
    blind = _tested(without_anchors(locomotive), assumptions, needs_map=needs_map)
    anchored = _tested(locomotive, assumptions, needs_map=needs_map) if locomotive.anchors else None
    lines = [*_sheet_lines(blind, anchored)]
    for number, row, reading in rows:
        computed, problem = _computed(blind, row, reading)
        lines.append(
            SheetLine(
                row=number,
                label=row.label or f"row {number}",
                reading=reading,
                printed=getattr(row, reading),
                computed=computed,
                anchored=None if anchored is None else _computed(anchored, row, reading)[0],
                used=row in sheet.anchor_rows(reading),
                problem=problem,
            )
        )
    return SheetComparison(
        locomotive=locomotive,
        lines=tuple(lines),
        anchors=locomotive.anchors or (),
        assumptions=assumptions,
    )


def _tested(locomotive: Locomotive, assumptions: Assumptions, *, needs_map: bool) -> EngineUnderTest:
    engine = EngineUnderTest.of(locomotive, assumptions)
    return engine.with_map() if needs_map else engine


def _computed(engine: EngineUnderTest, row: EngineTestRow, reading: str) -> tuple[float | None, str]:
    """What locosim computes for a reading, or why it cannot."""
    try:
        return engine.computed(row, reading), ""
    except OutOfRange as wrong:
        return None, str(wrong)


def _sheet_lines(blind: EngineUnderTest, anchored: EngineUnderTest | None) -> Iterable[SheetLine]:
    """Lines of the figures of the whole sheet."""
    sheet = blind.locomotive.test_sheet

    def value(engine: EngineUnderTest, name: str) -> float:
        if name == "max_evaporation":
            return engine.supply.sustained
        key = BACK_PRESSURE if name == "max_back_pressure" else FIRING_RATE
        return usual_value(engine.locomotive, key, engine.assumptions)

    for name in ("max_back_pressure", "max_firing_rate", "max_evaporation"):
        printed: float | None = getattr(sheet, name)
        if printed is not None:
            yield SheetLine(
                row=None,
                label="whole sheet",
                reading=name,
                printed=printed,
                computed=value(blind, name),
                anchored=None if anchored is None else value(anchored, name),
                used=name in sheet.use,
            )
