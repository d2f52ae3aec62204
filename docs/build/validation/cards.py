"""Mean pressure over cutoff at low speed: the table of 1857 against the cycle."""

from __future__ import annotations

import csv
from dataclasses import replace
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from locosim.constants import ATMOSPHERE, INCH, MPH, PSI
from locosim.engine.cylinders.layout import build_cycle_layout
from locosim.model import ValveGear
from locosim.physics.traction.mean_pressure import mean_effective_pressure_clark

from .comparison import Grid, Section
from .engines import ROOT, engine
from .running import grid_points

VOSE = ROOT / "tests" / "published" / "mean_pressure_vose.csv"
SPEED = 12.0  # [mph]
INITIAL = 100  # [psi]
CUTOFFS = np.array([0.20, 0.25, 0.30, 0.40, 0.50, 0.60, 0.70, 0.75])
# Valves of the 1850s, assumed: their short lap closes the exhaust early when the gear is hooked up.
OLD = ValveGear(
    lap=0.75 * INCH, lead=0.3125 * INCH, travel=5.0 * INCH, exhaust_lap=0.03125 * INCH, port_length=16 * INCH,
    port_width=1.25 * INCH,
)  # fmt: skip
NEW = ValveGear(
    lap=1.6 * INCH, lead=0.2 * INCH, travel=7.0 * INCH, port_length=24 * INCH, port_width=2.0 * INCH
)


class Card(NamedTuple):
    """Mean effective over initial gauge pressure."""

    cutoffs: np.ndarray
    ratio: np.ndarray


@lru_cache
def computed(gear: str) -> Card:
    """The cycle at low speed; the initial pressure is that in the steam chest."""
    plain = engine("purdue_saturated").locomotive
    unit = replace(
        plain.engine_units[0],
        valve_gear={"old": OLD, "new": NEW}[gear],
        min_cutoff=0.1,
        max_cutoff=0.8,
    )
    boiler = replace(plain.boiler, working_pressure_gauge=INITIAL * PSI)
    cycle_layout = build_cycle_layout(replace(plain, boiler=boiler, engine_units=(unit,)))
    cutoffs = CUTOFFS[cycle_layout.min_cutoff <= CUTOFFS]
    _, _, found = grid_points(cycle_layout, speeds=np.array([SPEED * MPH]), cutoffs=cutoffs)
    return Card(cutoffs, found.mean_pressure[0] / (found.chest_pressure[0] - ATMOSPHERE))


def published() -> Card:
    """The column of the table for 100 psi."""
    rows = [
        row
        for row in csv.DictReader(
            line for line in VOSE.read_text(encoding="utf-8").splitlines() if line[0] != "#"
        )
        if float(row["initial_pressure_psi"]) == INITIAL
    ]
    cutoffs = np.array([float(row["cutoff_percent_of_stroke"]) / 100 for row in rows])
    means = np.array([float(row["mean_cylinder_pressure_psi"]) for row in rows])
    return Card(cutoffs, means / INITIAL)


@lru_cache
def mean_pressures() -> Section:
    """Table and cycle side by side."""
    table, old, new = published(), computed("old"), computed("new")
    rows = []
    for cutoff in CUTOFFS:
        clark = mean_effective_pressure_clark(initial_pressure=1.0, cutoff=cutoff)
        rows.append(
            (
                f"{100 * cutoff:.0f} %",
                f"{np.interp(cutoff, table.cutoffs, table.ratio):.2f}",
                f"{float(clark):.2f}",
                _at(old, cutoff),
                _at(new, cutoff),
            )
        )
    heads = ("cutoff", "table", "Clark's rule", "cycle, valve of the 1850s", "cycle, long-lap valve")
    return Section(
        title="Mean pressure over cutoff at low speed",
        text=(
            f"Table of 1857 ([Vose1857], read; D. K. Clark's rule is a fit to it) at {INITIAL} "
            "psi: mean over initial gauge pressure. The cycle is for 16 by 24 in cylinders, "
            f"saturated, at {SPEED:.0f} mph. Speed, lap and lead of the engines behind the table "
            "are not known, so no target is set here.",
        ),
        grids=(Grid(heads=heads, rows=tuple(rows)),),
        after=(
            f"With a long-lap valve the cycle is within {_gap(new, table):.2f} of the table. With "
            "the short-lap valve of the 1850s (assumed: lap 3/4 in, lead 5/16 in when hooked up) "
            f"it is {_gap(old, table):.2f} below the table at the shortest cutoff compared: hooked "
            "up, such a valve releases early and closes the exhaust early, which reduces the area "
            "of the diagram where the table shows no loss. The table seems to describe the "
            "expansion alone rather than the valves of its day. The valve gear in locosim has "
            "constant lead; the lead of a shifting-link gear grows as it is hooked up.",
        ),
        plot="mean_pressure",
        plot_says="Mean over initial pressure against cutoff: the table of 1857 and the cycle with two valves",
    )


def _gap(card: Card, table: Card) -> float:
    """Largest difference between a computed card and the table."""
    return float(np.max(np.abs(card.ratio - np.interp(card.cutoffs, table.cutoffs, table.ratio))))


def _at(card: Card, cutoff: float) -> str:
    inside = card.cutoffs[0] - 1e-9 <= cutoff <= card.cutoffs[-1] + 1e-9
    return f"{np.interp(cutoff, card.cutoffs, card.ratio):.2f}" if inside else "outside the gear's range"
