"""A road log beside the model as a CSV table: one row for each reading."""

from __future__ import annotations

import io

from locosim.report.csv_cells import TableWriter
from locosim.report.made_from import made_from, source_columns
from locosim.studies.log_fit import LogFit
from locosim.units import number, scale


def fit_csv(fit: LogFit) -> str:
    """Write each reading with what the model says; what it was made from is at the right, in the first row."""
    out = io.StringIO()
    writer = TableWriter(out)
    names = ", ".join(f"{each.name}={each.value:.6g}" for each in fit.constants)
    source = source_columns(made_from(fit), f"{fit.excursion.name}: {names}", fit.performance.method)
    distance = scale("distance")[1]
    writer.writerow(
        ["time [s]", f"distance from the first stop [{distance}]", "stretch", "reading", "unit", "logged", "model",
         "logged less model", *source]
    )  # fmt: skip
    first = True
    for each in fit.compared:
        kind = each.quantity
        unit = scale(kind)[1]
        for k in range(len(each.row)):
            cells = [
                f"{each.time[k]:.10g}",
                f"{number(each.distance[k], 'distance'):.7g}",
                str(each.group[k] + 1),
                each.kind,
                unit,
                *(f"{number(value, kind):.7g}" for value in (each.logged[k], each.model[k], each.error[k])),
            ]
            writer.writerow([*cells, *(source.values() if first else [""] * len(source))])
            first = False
    return out.getvalue()
