"""Published engines anchored on one row of their tests: the other rows of the same engine are then predicted.

Sources: [NYCPages], [BuilderFigures] and [DinglerPower1915]. No tolerance was set before the errors were seen, so only
what anchoring must do is asserted: the anchor is met, and a prediction that was wrong by more than the sources differ
among themselves gets better.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from docs.build.validation.engines import engine
from docs.build.validation.heat import superheater_boiler
from docs.build.validation.tables import measured, rows_of
from locosim.constants import HORSEPOWER, HOUR, MPH, ZERO_CELSIUS
from locosim.engine.test_sheet.anchored import anchored_engine
from locosim.engine.test_sheet.sheet_comparison import SheetComparison, compare_sheet
from locosim.model import EngineTestRow, EngineTestSheet, Locomotive

SOURCES_DIFFER = 0.01  # 4,700 hp at 77 mph against 4,725 at 75 mph of the same trials of the J-3a


def forced_powers(name: str) -> Locomotive:
    """An engine with its published powers at a stated speed as a sheet: the first is the anchor."""
    rows: list[EngineTestRow] = []
    for quantity in ("indicated power", "drawbar power"):
        for row in measured(quantity):
            if row["engine"] == name and row["speed_mph"]:
                rows.append(
                    EngineTestRow(
                        speed=float(row["speed_mph"]) * MPH,
                        boiler="forced",
                        role="compare" if rows else "anchor",
                        **{quantity.replace(" ", "_"): float(row["value"]) * HORSEPOWER},
                    )
                )
    sheet = EngineTestSheet(use=("indicated_power",), rows=tuple(rows))
    return replace(engine(name).locomotive, test_sheet=sheet)


def anchored(locomotive: Locomotive) -> SheetComparison:
    comparison = compare_sheet(anchored_engine(locomotive))
    for line in comparison.lines:
        print(
            locomotive.name,
            line.label,
            line.reading,
            line.printed,
            line.error,
            line.anchored_error,
            line.used,
        )
    for anchor in comparison.anchors:
        print(anchor)
    return comparison


@pytest.mark.parametrize("name", ["nyc_j3a", "nyc_j1"])
def test_power_at_one_speed_predicts_power_at_others(name: str) -> None:
    comparison = anchored(forced_powers(name))
    (anchor,) = comparison.anchors
    assert anchor.key == "steam_passages.max_back_pressure"
    assert anchor.reached
    assert anchor.believable
    first, *others = comparison.lines
    assert first.anchored_error == pytest.approx(0.0, abs=1e-3)
    assert len(others) >= 1
    for line in others:
        assert line.error is not None
        assert line.anchored_error is not None
        if abs(line.error) > SOURCES_DIFFER:
            assert abs(line.anchored_error) < abs(line.error)


def test_a_steam_temperature_at_one_rate_predicts_that_at_another() -> None:
    row = rows_of("superheaters_1915")[0]
    rows = tuple(
        EngineTestRow(
            firing_rate=float(row[f"{end}_kg_m2h"]) / HOUR,
            steam_temperature=float(row[f"{end}_C"]) + ZERO_CELSIUS,
            role="anchor" if end == "low" else "compare",
        )
        for end in ("low", "high")
    )
    pacific = replace(
        engine("prr_k4s").locomotive,
        name=row["engine"],
        boiler=superheater_boiler(row),
        test_sheet=EngineTestSheet(use=("steam_temperature",), rows=rows),
    )
    comparison = anchored(pacific)
    first, other = comparison.lines
    assert first.anchored_error == pytest.approx(0.0, abs=0.2)
    assert (first.error or 0.0) > 50.0  # K: its superheater is one of the large ones that come out too hot
    assert abs(other.anchored_error or 99.0) < 0.2 * abs(other.error or 0.0)
    (anchor,) = comparison.anchors
    assert (
        anchor.value < 0.7
    )  # the printed surface and temperatures hardly go together: near the end of its range
