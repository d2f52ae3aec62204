"""The pull that a train needs as a table: one row for each pull with its stretch."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any, NamedTuple

from locosim.planning.help_needed import HelpStretch
from locosim.planning.helper_plan import HelperPlan
from locosim.planning.station_times import line_chainage
from locosim.report.csv_cells import TableWriter
from locosim.report.made_from import made_from, source_columns
from locosim.units import scale


class Row(NamedTuple):
    """A pull with its stretch, in SI; places as the line counts them."""

    force: float
    start: float
    end: float
    later_start: str
    earlier_end: str


# Heading, kind and value of a row.
COLUMNS: tuple[tuple[str, str | None, Callable[[Row], Any]], ...] = (
    ("pull", "force", lambda r: r.force),
    ("from", "distance", lambda r: r.start),
    ("to", "distance", lambda r: r.end),
    ("fails if begun later", None, lambda r: r.later_start),
    ("fails if ended earlier", None, lambda r: r.earlier_end),
)


def pull_rows(plan: HelperPlan) -> tuple[Row, ...]:
    """The rows of the table."""
    return tuple(_row(plan, stretch) for stretch in plan.need.stretches)


def _row(plan: HelperPlan, stretch: HelpStretch) -> Row:
    excursion = plan.alone.journey.excursion
    later, earlier = (
        ", ".join(dict.fromkeys(f.rule for f in found))
        for found in (stretch.later_start, stretch.earlier_end)
    )
    start, end = (line_chainage(excursion, at) for at in (stretch.start, stretch.end))
    return Row(stretch.force, start, end, later, earlier)


def helper_plan_csv(plan: HelperPlan) -> str:
    """Write the table; what it was made from is in columns at the right, in the first row."""
    out = io.StringIO()
    writer = TableWriter(out)
    source = source_columns(made_from(plan), plan.excursion.name, plan.performance.method)
    headings = [f"{name} [{scale(kind)[1]}]" if kind else name for name, kind, _ in COLUMNS]
    writer.writerow([*headings, *source])
    cells = [
        [f"{value(row) * scale(kind)[0]:.7g}" if kind else value(row) for _, kind, value in COLUMNS]
        for row in pull_rows(plan)
    ] or [[""] * len(COLUMNS)]
    for number, row in enumerate(cells):
        writer.writerow([*row, *(source.values() if number == 0 else [""] * len(source))])
    return out.getvalue()
