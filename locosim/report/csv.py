"""The samples of a run as a table for a spreadsheet: one row per node, the unit in each heading."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from locosim import __version__
from locosim.constants import ATMOSPHERE
from locosim.journey.result import LIMITS, Journey
from locosim.physics.types import Floats
from locosim.report.caution import CAUTION, METHODS
from locosim.report.text.helpers_on_route import helper_lines
from locosim.units import number, scale, show


@dataclass(frozen=True, slots=True)
class Column:
    """A quantity of the table: its name, its kind for the unit, and where it is found.

    A quantity of the steps, one shorter than the nodes, stands at the node the step begins at.
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
    Column("adhesion coefficient at rest", "ratio", lambda j: j.adhesion),
    Column("gauge pressure", "pressure", lambda j: j.pressure - ATMOSPHERE),
    Column("water in the boiler", "small_mass", lambda j: j.boiler_water),
    Column("water over the crown sheet", "small_length", lambda j: j.crown_cover),
    Column("water in the water glass", "small_length", lambda j: j.glass_reading),
    Column("steam to the cylinders", "steam_rate", lambda j: j.steam),
    Column("feedwater", "steam_rate", lambda j: j.feed),
    Column("firing rate", "fuel_rate", lambda j: j.firing),
    Column("water carried", "water", lambda j: j.tender_water),
    Column("fuel carried", "mass", lambda j: j.tender_fuel),
)


def run_csv(journey: Journey, system: str) -> str:
    """Write the samples of a run.

    The first rows are remarks, beginning with #. Cells of steps are blank at the last node.

    Args:
        journey: The run.
        system: Units, `us`, `metric` or `british`.
    """
    out = io.StringIO()
    write = csv.writer(out, lineterminator="\n")
    for remark in (
        f"{journey.excursion.name}: {journey.outcome}; locosim {__version__}",
        *helper_lines(journey.excursion),
        f"Method: {METHODS[journey.performance.method]}.",
        CAUTION,
    ):
        out.write(f"# {remark}\n")
    shown = [column for column in COLUMNS if len(column.values(journey))]
    headers = [f"{column.name} [{scale(column.kind, system)[1]}]" for column in shown]
    write.writerow(["clock", "time [s]", *headers, "limited by"])
    clock = [show(float(t), "clock", system) for t in journey.time]
    elapsed = _cells(journey.time - journey.stops[0].depart if journey.stops else journey.time, len(clock))
    columns = [_cells(number(_values(c, journey), c.kind, system), len(clock)) for c in shown]
    limits = [*(LIMITS[int(code)] for code in journey.limit), ""]
    write.writerows(zip(clock, elapsed, *columns, limits, strict=True))
    return out.getvalue()


def _values(column: Column, journey: Journey) -> Any:
    return np.asarray(column.values(journey), dtype=float)


def _cells(values: Any, count: int) -> list[str]:
    """Seven figures each; blank where there is none."""
    cells = [f"{value:.7g}" if np.isfinite(value) else "" for value in values]
    return cells + [""] * (count - len(cells))
