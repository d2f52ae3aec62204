"""The samples of a run as a CSV table: one row per node, the unit in each heading.

A CSV file has no comment lines, so what the table was made from stands in columns of its own at the right, filled in
the first row only. A second file beside it could be lost; lines before the headings would break programs that read
the table.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

import numpy as np

from locosim.constants import ATMOSPHERE
from locosim.frozen import frozen
from locosim.journey.result import LIMITS, Journey
from locosim.physics.types import Floats
from locosim.report.csv_cells import TableWriter
from locosim.report.made_from import made_from, source_columns
from locosim.units import number, scale, show


@frozen(kw_only=False)
class Column:
    """A quantity of the table: its name, its kind for the unit, and its values.

    A quantity of the steps is one shorter than the nodes; it stands at the node where the step begins.
    """

    name: str
    kind: str
    values: Callable[[Journey], Floats]


# One line per quantity; one whose array is empty is left out.
COLUMNS = (
    Column("distance", "distance", lambda j: j.chainage - j.chainage[0]),
    Column("speed", "speed", lambda j: j.speed),
    Column("allowed speed", "speed", lambda j: j.allowed_speed),
    Column("grade under the train", "grade", lambda j: j.grade),
    Column("indicated tractive effort", "force", lambda j: j.effort),
    Column("helper tractive effort", "force", lambda j: j.helper_effort),
    Column("total resistance", "force", lambda j: j.total_resistance),
    Column("brake force", "force", lambda j: j.brake),
    Column("cutoff", "ratio", lambda j: j.cutoff),
    Column("throttle opening", "ratio", lambda j: j.throttle),
    Column("adhesion coefficient at rest", "ratio", lambda j: j.adhesion),
    Column("gauge pressure", "pressure", lambda j: j.pressure - ATMOSPHERE),
    Column("water in the boiler", "small_mass", lambda j: j.boiler_water),
    Column("water over the crown sheet", "small_length", lambda j: j.crown_cover),
    Column("water in the water glass", "small_length", lambda j: j.glass_reading),
    Column("steam to the cylinders", "steam_rate", lambda j: j.steam),
    Column("feedwater", "steam_rate", lambda j: j.feed),
    Column("fuel burned", "fuel_rate", lambda j: j.firing),
    Column("fuel on the grate", "mass", lambda j: j.grate_fuel),
    Column("water carried", "water", lambda j: j.tender_water),
    Column("fuel carried", "mass", lambda j: j.tender_fuel),
)


def run_csv(journey: Journey) -> str:
    """Write the samples of a run; cells of steps are blank at the last node."""
    out = io.StringIO()
    writer = TableWriter(out)
    columns = [column for column in COLUMNS if len(column.values(journey))]
    headings = [f"{column.name} [{scale(column.kind)[1]}]" for column in columns]
    excursion = f"{journey.excursion.name}: {journey.outcome}"
    source = source_columns(made_from(journey), excursion, journey.performance.method)
    writer.writerow(["clock", "time [s]", *headings, "limited by", *source])
    count = len(journey.time)
    clock = [show(float(t), "clock") for t in journey.time]
    start = journey.stops[0].depart if journey.stops else 0.0
    elapsed = _cells(journey.time - start, count)
    values = [_cells(number(_values(column, journey), column.kind), count) for column in columns]
    limits = [*(LIMITS[int(code)] for code in journey.limit), ""]
    sources = [[text, *[""] * (count - 1)] for text in source.values()]
    writer.writerows(zip(clock, elapsed, *values, limits, *sources, strict=True))
    return out.getvalue()


def _values(column: Column, journey: Journey) -> Any:
    return np.asarray(column.values(journey), dtype=float)


def _cells(values: Any, count: int) -> list[str]:
    """Values to seven figures; blank where not finite or missing at the end."""
    cells = [f"{value:.7g}" if np.isfinite(value) else "" for value in values]
    return cells + [""] * (count - len(cells))
