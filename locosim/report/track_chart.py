"""A line as a CSV table: one row for each piece with one grade, one curve and one speed limit."""

from __future__ import annotations

import io

from locosim.report.csv_cells import TableWriter
from locosim.report.made_from import made_from, source_columns
from locosim.survey.examination import RouteExamination, line_pieces
from locosim.units import scale

# Heading, kind and attribute of a piece.
COLUMNS = (
    ("from", "distance", "start"),
    ("to", "distance", "end"),
    ("height", "length", "height"),
    ("grade", "grade", "grade"),
    ("radius", "length", "radius"),
    ("superelevation", "small_length", "superelevation"),
    ("speed limit", "speed", "speed_limit"),
)


def track_chart_csv(found: RouteExamination) -> str:
    """Write a line as pieces; what it was made from is in columns at the right, in the first row."""
    out = io.StringIO()
    writer = TableWriter(out)
    source = source_columns(made_from(found), "", None)
    del source["excursion"], source["locomotives"], source["train"], source["method"]
    scales = [scale(kind) for _, kind, _ in COLUMNS]
    headings = [f"{name} [{unit}]" for (name, _, _), (_, unit) in zip(COLUMNS, scales, strict=True)]
    writer.writerow([*headings, *source])
    for number, piece in enumerate(line_pieces(found.route)):
        values = [getattr(piece, attribute) for _, _, attribute in COLUMNS]
        cells = [
            "" if v is None else f"{v * factor:.7g}" for v, (factor, _) in zip(values, scales, strict=True)
        ]
        writer.writerow([*cells, *(source.values() if number == 0 else [""] * len(source))])
    return out.getvalue()
