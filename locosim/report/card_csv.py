"""The card for the crew as a CSV table: one row for each entry."""

from __future__ import annotations

import io

from locosim.planning.economy import Economy
from locosim.report.csv_cells import TableWriter
from locosim.report.made_from import made_from, source_columns
from locosim.units import label, number, show


def card_csv(economy: Economy) -> str:
    """Write the card; what it was made from is in the first row."""
    source = source_columns(made_from(economy), economy.excursion.name, economy.performance.method)
    out = io.StringIO()
    writer = TableWriter(out)
    speed = label("speed")
    writer.writerow(
        [
            f"milepost [{label('distance')}]",
            "clock",
            "task",
            f"from speed [{speed}]",
            f"to speed [{speed}]",
            "shortest cutoff [%]",
            "longest cutoff [%]",
            "smallest throttle [%]",
            "largest throttle [%]",
            "stop",
            *source,
        ]
    )
    for place, entry in enumerate(economy.card):
        ranges = [*(entry.cutoff or ("", "")), *(entry.throttle or ("", ""))]
        writer.writerow(
            [
                f"{number(entry.milepost, 'distance'):.7g}",
                show(entry.time, "clock"),
                entry.task,
                *(f"{number(each, 'speed'):.5g}" for each in (entry.from_speed, entry.to_speed)),
                *("" if each == "" else f"{100.0 * float(each):.4g}" for each in ranges),
                entry.stop,
                *(source.values() if place == 0 else [""] * len(source)),
            ]
        )
    return out.getvalue()
