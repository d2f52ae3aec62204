"""Tests of the Purdue engine: steam rate against pressure, and two tests from a reprint."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from locosim.constants import FOOT, HORSEPOWER, INCH, MPH, POUND_FORCE, PSI
from locosim.engine.cylinders.layout import CycleLayout, build_cycle_layout
from locosim.engine.own_resistance import machine_friction_at_no_effort
from locosim.model import Assumptions, Locomotive, Superheater, ValveGear
from locosim.physics.steam import properties as steam
from locosim.physics.traction import machine_friction
from locosim.physics.traction.tractive_effort import effort_per_pressure

from . import fit_rows
from .comparison import STEAM, Comparison, Grid, Section
from .engines import engine
from .running import POUND_PER_POWER_HOUR, grid_points
from .tables import rows_of

SUPERHEATER = 193.0 * FOOT**2  # from memory, uncertain; assumed
# Superheat against pressure from the summary of the trials [Goss1910], from memory, medium confidence; linear between.
SUPERHEAT_PRESSURES = (120.0 * PSI, 240.0 * PSI)
SUPERHEATS = (171.0 / 1.8, 139.6 / 1.8)  # [K]
SPEEDS = np.array([20.0, 30.0, 40.0, 50.0]) * MPH
CUTOFFS = np.array([0.20, 0.25, 0.30, 0.35, 0.40])
# Slide valve near those of two passenger engines of 17 by 24 in [Sinclair1888]; the lead is that at middle travel.
GEAR = ValveGear(
    lap=0.875 * INCH,
    lead=0.2 * INCH,
    travel=5.375 * INCH,
    port_length=16 * INCH,
    port_width=1.25 * INCH,
)


class Rates(NamedTuple):
    """Steam per indicated horsepower-hour over speeds and cutoffs at one pressure [lb], and the steam [kg/s]."""

    pressure_psi: int
    rates: np.ndarray
    steam: np.ndarray


def purdue(*, pressure_psi: float, superheated: bool) -> Locomotive:
    """The Purdue engine at a boiler pressure, with or without a superheater."""
    plain = engine("purdue_saturated").locomotive
    boiler = replace(
        plain.boiler,
        working_pressure_gauge=pressure_psi * PSI,
        superheater=Superheater(surface=SUPERHEATER) if superheated else None,
    )
    unit = replace(plain.engine_units[0], valve_gear=GEAR)
    return replace(plain, boiler=boiler, engine_units=(unit,))


def temperatures(cycle_layout: CycleLayout, shape: tuple[int, ...]) -> np.ndarray | None:
    """Steam temperature as tested where superheated [K]; None where saturated."""
    boiler = cycle_layout.locomotive.boiler
    if boiler.superheater is None:
        return None
    superheat = float(np.interp(boiler.working_pressure_gauge, SUPERHEAT_PRESSURES, SUPERHEATS))
    return np.full(shape, steam.saturation_temperature(pressure=boiler.absolute_pressure) + superheat)


@lru_cache
def rates(*, pressure_psi: int, superheated: bool) -> Rates:
    """Steam rates at each speed and cutoff."""
    cycle_layout = build_cycle_layout(purdue(pressure_psi=pressure_psi, superheated=superheated))
    shape = (len(SPEEDS), len(CUTOFFS))
    speed, _, found = grid_points(
        cycle_layout, speeds=SPEEDS, cutoffs=CUTOFFS, temperatures=temperatures(cycle_layout, shape)
    )
    return Rates(pressure_psi, found.steam / (found.effort * speed) / POUND_PER_POWER_HOUR, found.steam)


@lru_cache
def steam_rates() -> Section:
    """Steam per indicated horsepower-hour against pressure."""
    comparisons = []
    for kind, key in (("saturated", "Goss1907"), ("superheated", "Goss1910")):
        for row in rows_of("purdue_pressures"):
            pressure = int(row["boiler_pressure_psi"])
            found = rates(pressure_psi=pressure, superheated=kind == "superheated").rates
            comparisons.append(
                Comparison(
                    case=f"Purdue, {kind}, {pressure} psi",
                    computed=float(found.mean()),
                    published=float(row[f"steam_{kind}"]),
                    unit="lb/ihp h",
                    digits=".1f",
                    source=key,
                    status="from memory",
                    judged=STEAM,
                    row=fit_rows.purdue(kind, pressure),
                    engine="purdue",
                    remark=f"{found.min():.1f} to {found.max():.1f} over all cutoffs and speeds",
                )
            )
    return Section(
        title="Steam rates: the Purdue engine against pressure",
        text=(
            "The published figures summarize many trials with the throttle wide open; their "
            "speeds and cutoffs are not remembered. Computed: the mean over 20, 30, 40 and 50 mph "
            "and cutoffs of 20 to 40 % in steps of 5 %. Cylinders of 16 by 24 in and 69 in "
            "drivers follow from printed products; assumed: slide valve with 7/8 in lap and 0.2 "
            "in lead, ports 16 by 1 1/4 in, 9 % clearance. Superheat as remembered from the "
            "trials: 171 °F at 120 psi and 139.6 °F at 240 psi.",
        ),
        comparisons=tuple(comparisons),
        plot="purdue_pressures",
        plot_says="Steam per ihp-hour over boiler pressure at Purdue, saturated and superheated",
    )


@lru_cache
def reprint_rows() -> Section:
    """Two tests: cutoff that gives the mean pressure, and friction between indicator and drawbar."""
    cycle_layout = build_cycle_layout(purdue(pressure_psi=120, superheated=True))
    cutoffs = np.linspace(0.3, 0.85, 12)
    rows = []
    for name, mph, mep_psi, pull_lbf in (
        ("30-15-120", 31.2, 74.04, 5288.0),
        ("30-16-120", 30.0, 75.42, 6137.0),
    ):
        _, _, found = grid_points(
            cycle_layout,
            speeds=np.array([mph * MPH]),
            cutoffs=cutoffs,
            temperatures=temperatures(cycle_layout, (1, len(cutoffs))),
        )
        mean = found.mean_pressure[0] / PSI
        reached = mean.max() >= mep_psi
        cutoff = f"{100 * (np.interp(mep_psi, mean, cutoffs)):.0f} %" if reached else "none"
        indicated = (
            mep_psi
            * PSI
            * float(effort_per_pressure(bore=16 * INCH, stroke=24 * INCH, driver_diameter=69 * INCH))
        )
        rows.append(
            (
                name,
                f"{mph} mph, {mep_psi} psi",
                f"{np.interp(0.5, cutoffs, mean):.0f} psi",
                f"{mean.max():.0f} psi",
                cutoff,
                f"{indicated / POUND_FORCE:,.0f} lbf",
                f"{indicated / POUND_FORCE - pull_lbf:,.0f} lbf",
                f"{indicated * mph * MPH / HORSEPOWER:.0f} hp",
            )
        )
    locomotive = engine("purdue_saturated").locomotive
    cole = machine_friction.cole_1914(mass_on_drivers=locomotive.mass_on_drivers)
    by_law = machine_friction.machine_friction(
        at_no_effort=machine_friction_at_no_effort(locomotive),
        thrust_share=Assumptions().machine_friction_share,
        effort=75.0
        * PSI
        * float(effort_per_pressure(bore=16 * INCH, stroke=24 * INCH, driver_diameter=69 * INCH)),
    )
    heads = (
        "test",
        "printed",
        "computed at 50 % cutoff",
        "maximum at any cutoff",
        "cutoff that gives it",
        "indicated tractive effort",
        "less drawbar pull",
        "power",
    )
    return Section(
        title="Two Purdue tests from a reprint",
        text=(
            "Two tests at 120 psi give mean effective pressure and drawbar pull ([GossReprint], "
            "read). Their cutoff is not stated, so the only possible check is whether some cutoff "
            "gives the mean pressure. A third row has no mean pressure.",
        ),
        grids=(Grid(heads=heads, rows=tuple(rows)),),
        after=(
            f"Machine friction by weight and thrust is {by_law / POUND_FORCE:,.0f} lbf at 75 psi, that of "
            f"[Cole1914] {cole / POUND_FORCE:,.0f} lbf, for the 61,000 lb on drivers "
            "assumed here; the two rows, 1.4 psi apart, differ from each "
            "other by more than that. On a testing plant the carrying wheels stand still and the "
            "air is calm.",
            "Where no cutoff gives the mean pressure, locosim throttles the engine too much at so "
            "low a boiler pressure: steam pipe and nozzle are sized by rule for the steam the "
            "grate gives, and these tests used more.",
        ),
    )
