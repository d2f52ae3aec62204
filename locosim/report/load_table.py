"""The largest loads as a CSV table: one row over all, for each section and for each condition."""

from __future__ import annotations

import io
from collections.abc import Iterator

from locosim.planning.load import LoadRating
from locosim.planning.load_search import LargestLoad
from locosim.report.csv_cells import TableWriter
from locosim.report.made_from import made_from, source_columns
from locosim.report.text.load import condition_name
from locosim.units import scale


def kinds_and_loads(rating: LoadRating) -> Iterator[tuple[str, LargestLoad]]:
    """Every load of a rating with what kind it is: `whole`, `section` or `condition`."""
    yield "whole", rating.whole
    for kind, loads in (("section", rating.sections), ("condition", rating.conditions)):
        for load in loads:
            yield kind, load


def load_csv(rating: LoadRating) -> str:
    """Write the largest loads; what they were made from is in columns at the right, in the first row."""
    out = io.StringIO()
    writer = TableWriter(out)
    factor, unit = scale("mass")
    source = source_columns(
        made_from(rating), f"{rating.excursion.name}: {rating.verdict}", rating.performance.method
    )
    by_count = rating.varied.vehicle is not None
    number = [rating.varied.what] if by_count else []
    headings = ["kind", "plan", *number, f"trailing mass [{unit}]", "next larger fails by", "where", "margin"]
    writer.writerow([*headings, "note", *source])
    for row, (kind, load) in enumerate(kinds_and_loads(rating)):
        limit = load.limit
        writer.writerow(
            [
                kind,
                condition_name(load),
                *(["" if load.number is None else load.number] if by_count else []),
                "" if load.mass is None else f"{load.mass * factor:.7g}",
                *(("", "", "") if limit is None else (limit.rule, limit.place, f"{limit.margin:.4g}")),
                load.note,
                *(source.values() if row == 0 else [""] * len(source)),
            ]
        )
    return out.getvalue()
