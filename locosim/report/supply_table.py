"""Water and fuel stops as a table: one row for each stop of the least set and of the runner-up."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any, NamedTuple

from locosim.planning.supply_plans import SupplyStop, Taking
from locosim.planning.water_stops import WaterStops
from locosim.report.csv_cells import TableWriter
from locosim.report.made_from import made_from, source_columns
from locosim.units import scale, show


class Row(NamedTuple):
    """A stop of a plan.

    Attributes:
        plan: `least` or `runner-up`.
        stop: The stop.
    """

    plan: str
    stop: SupplyStop

    def taking(self, supply: str, value: Callable[[Taking], float]) -> float | None:
        """A figure of what is taken; None where it is not."""
        return value(self.stop.takings[supply]) if supply in self.stop.takings else None


# Heading, kind and value of a row.
COLUMNS: tuple[tuple[str, str | None, Callable[[Row], Any]], ...] = (
    ("plan", None, lambda r: r.plan),
    ("station", None, lambda r: r.stop.place.station),
    ("milepost", "distance", lambda r: r.stop.place.milepost),
    ("new stop", None, lambda r: "no" if r.stop.place.stops else "yes"),
    ("arrival", "clock", lambda r: r.stop.arrive),
    ("stand", "time", lambda r: r.stop.stand),
    ("water left", "water", lambda r: r.taking("water", lambda t: t.left)),
    ("water taken", "water", lambda r: r.taking("water", lambda t: t.taken)),
    ("least water to take", "water", lambda r: r.taking("water", lambda t: t.least)),
    ("water filling time", "time", lambda r: r.taking("water", lambda t: t.time)),
    ("fuel left", "mass", lambda r: r.taking("fuel", lambda t: t.left)),
    ("fuel taken", "mass", lambda r: r.taking("fuel", lambda t: t.taken)),
    ("least fuel to take", "mass", lambda r: r.taking("fuel", lambda t: t.least)),
    ("fueling time", "time", lambda r: r.taking("fuel", lambda t: t.time)),
)


def supply_rows(found: WaterStops) -> tuple[Row, ...]:
    """The rows of the table."""
    plans = (("least", found.least.best), ("runner-up", found.least.runner_up))
    return tuple(Row(name, stop) for name, plan in plans if plan is not None for stop in plan.stops)


def water_stops_csv(found: WaterStops) -> str:
    """Write the table; what it was made from is in columns at the right, in the first row."""
    out = io.StringIO()
    writer = TableWriter(out)
    source = source_columns(made_from(found), found.excursion.name, found.performance.method)
    writer.writerow([*(_heading(name, kind) for name, kind, _ in COLUMNS), *source])
    rows = supply_rows(found)
    cells = [[_cell(value(row), kind) for _, kind, value in COLUMNS] for row in rows] or [[""] * len(COLUMNS)]
    for number, row in enumerate(cells):
        writer.writerow([*row, *(source.values() if number == 0 else [""] * len(source))])
    return out.getvalue()


def _heading(name: str, kind: str | None) -> str:
    if kind in (None, "clock"):
        return name
    return f"{name} [{'s' if kind == 'time' else scale(kind)[1]}]"


def _cell(value: Any, kind: str | None) -> str:
    if value is None or kind is None:
        return "" if value is None else str(value)
    if kind == "clock":
        return show(value, "clock")
    return f"{value:.7g}" if kind == "time" else f"{value * scale(kind)[0]:.7g}"
