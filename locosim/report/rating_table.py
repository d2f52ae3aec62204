"""A tonnage rating as a CSV table: one row for each grade and speed."""

from __future__ import annotations

import io

from locosim.engine.tonnage_rating import TonnageRating
from locosim.report.csv_cells import TableWriter
from locosim.report.made_from import made_from, source_columns
from locosim.units import scale

# Heading, kind and attribute of a rating.
COLUMNS = (
    ("grade", "ratio", "grade"),
    ("speed", "speed", "speed"),
    ("pull", "force", "pull"),
    ("loaded cars", "mass", "loaded"),
    ("empty cars", "mass", "empty"),
    ("adjusted rating", "mass", "adjusted"),
    ("car factor", "mass", "car_factor"),
)


def rating_csv(rating: TonnageRating) -> str:
    """Write a tonnage rating; what it was made from is in columns at the right, in the first row."""
    out = io.StringIO()
    writer = TableWriter(out)
    source = source_columns(made_from(rating), "", rating.performance.method)
    del source["excursion"], source["train"], source["route"]
    scales = [scale(kind) for _, kind, _ in COLUMNS]
    headings = [f"{name} [{unit}]" for (name, _, _), (_, unit) in zip(COLUMNS, scales, strict=True)]
    writer.writerow([*headings, "limited by", *source])
    for row, each in enumerate(rating.ratings):
        cells = [
            f"{getattr(each, attribute) * factor:.7g}"
            for (_, _, attribute), (factor, _) in zip(COLUMNS, scales, strict=True)
        ]
        writer.writerow([*cells, each.limit, *(source.values() if row == 0 else [""] * len(source))])
    return out.getvalue()
