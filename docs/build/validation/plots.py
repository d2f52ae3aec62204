"""Pictures of the page, one function each; the function gives the file its name."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from locosim.constants import MILE, MPH, PSI, ZERO_CELSIUS
from locosim.plot.figure import COLORS, STYLES, new_figure

from . import boiler, cards, factors, power, purdue, road
from .comparison import COMPOUND
from .tables import rows_of

BLUE, RED, GREEN = COLORS[:3]
PUBLISHED = {"linestyle": "none", "marker": "o", "markersize": 5, "markerfacecolor": "white"}


def _named(axes: Axes, title: str, across: str, up: str) -> None:
    axes.set_title(title, loc="left", fontsize=10)
    axes.set_xlabel(across)
    axes.set_ylabel(up)


def powers() -> Figure:
    """Computed over published power, engine by engine."""
    rows = [c for section in (power.indicated_power(), power.german_ratings()) for c in section.comparisons]
    figure = new_figure(8.0, 0.34 * len(rows) + 1.3)
    axes = figure.subplots()
    places = np.arange(len(rows))[::-1]
    ratio = np.array([c.computed / c.published for c in rows])
    axes.axvspan(0.9, 1.1, color="#000000", alpha=0.08, linewidth=0)
    axes.axvline(1.0, color="#000000", linewidth=0.8)
    for i, (c, place) in enumerate(zip(rows, places, strict=True)):
        axes.plot(
            ratio[i], place, marker="o" if c.fitted else "s", color=BLUE if c.judged != COMPOUND else COLORS[5],
            markerfacecolor="white" if c.fitted else (BLUE if c.judged != COMPOUND else COLORS[5]), markersize=6,
        )  # fmt: skip
    axes.set_yticks(places, [c.case.removesuffix(", power") for c in rows], fontsize=8.5)
    axes.set_xlim(0.5, 1.25)
    _named(
        axes,
        "Open circles: used in the fit. Squares: not used. Gray squares: compounds. Band: 10 %",
        "computed over published power",
        "",
    )
    return figure


def speed_factors() -> Figure:
    """Speed factors over piston speed."""
    figure = new_figure(8.0, 4.6)
    panels = figure.subplots(1, 2, sharey=True)
    for axes, kind in zip(panels, ("saturated", "superheated"), strict=True):
        found = factors.curve(kind)
        axes.fill_between(
            found.piston_speed, found.factor - 0.05, found.factor + 0.05, color=BLUE, alpha=0.12, linewidth=0,
            label="within 0.05",
        )  # fmt: skip
        axes.plot(found.piston_speed, found.factor, color=BLUE, label="computed, steam of a 100 % boiler")
        axes.plot(
            list(found.published), list(found.published.values()), color=RED, label="published, from memory",
            **PUBLISHED,
        )  # fmt: skip
        axes.set_ylim(0, 1.1)
        _named(axes, kind, "piston speed [ft/min]", "tractive effort over rated")
    panels[1].set_ylabel("")
    panels[1].legend(loc="upper right", fontsize=8.5)
    return figure


def purdue_pressures() -> Figure:
    """Steam rate over boiler pressure."""
    figure = new_figure(7.0, 4.4)
    axes = figure.subplots()
    rows = rows_of("purdue_pressures")
    pressures = [int(row["boiler_pressure_psi"]) for row in rows]
    for i, kind in enumerate(("saturated", "superheated")):
        found = [purdue.rates(pressure_psi=p, superheated=kind == "superheated").rates for p in pressures]
        axes.fill_between(
            pressures, [np.percentile(f, 10) for f in found], [np.percentile(f, 90) for f in found],
            color=COLORS[i], alpha=0.12, linewidth=0,
        )  # fmt: skip
        axes.plot(
            pressures, [f.mean() for f in found], color=COLORS[i], linestyle=STYLES[i],
            label=f"{kind}, computed: mean and the middle 80 % of cutoffs and speeds",
        )  # fmt: skip
        axes.plot(
            pressures, [float(row[f"steam_{kind}"]) for row in rows], color=COLORS[i],
            label=f"{kind}, published (from memory)", **PUBLISHED,
        )  # fmt: skip
    axes.set_ylim(15, 35)
    axes.legend(fontsize=8.5)
    _named(axes, "Purdue engine", "boiler pressure [psi]", "steam [lb per ihp-hour]")
    return figure


def evaporation() -> Figure:
    """Evaporation over firing rate, and the Purdue lines."""
    figure = new_figure(8.5, 4.4)
    left, right = figure.subplots(1, 2)
    rates = np.linspace(20, 210, 39)
    for i, (name, label) in enumerate(
        (("nyc_j3a", "J-3a"), ("prr_k4s", "K4s"), ("lms_coronation", "Coronation"))
    ):
        left.plot(
            rates, boiler.of_engine(name, rates).evaporation, color=COLORS[i], linestyle=STYLES[i],
            label=f"boiler of the {label}",
        )  # fmt: skip
    left.plot([50, 200], [7.5, 5.0], color=RED, label="American boilers [Bruce1952]", **PUBLISHED)
    left.plot([130], [6.15], color=GREEN, label="LMS rating", **(PUBLISHED | {"marker": "D"}))
    left.set_ylim(0, 9)
    left.legend(fontsize=8.5, loc="lower left")
    _named(left, "Boilers of three engines", "coal fired [lb/ft² of grate h]", "steam per coal [lb/lb]")
    surface = np.array(boiler.SURFACE_RATES)
    for i, superheated in enumerate((False, True)):
        made, line = boiler.goss_line(superheated=superheated)
        kind = "superheated" if superheated else "saturated"
        right.plot(surface, made, color=COLORS[i], linestyle=STYLES[i], label=f"{kind}, computed")
        right.plot(surface, line, color=COLORS[i], label=f"{kind}, published line", **PUBLISHED)
    right.set_ylim(0, 12)
    right.legend(fontsize=8.5, loc="lower left")
    _named(
        right, "Purdue", "evaporation [lb/ft² of surface h]", "equivalent evaporation per dry coal [lb/lb]"
    )
    return figure


def efficiency() -> Figure:
    """Efficiency and steam temperature over firing rate."""
    figure = new_figure(8.5, 3.9)
    left, right = figure.subplots(1, 2)
    rates = np.linspace(15, 220, 42)
    for i, (name, label) in enumerate(
        (("nyc_j3a", "J-3a"), ("prr_k4s", "K4s"), ("lms_coronation", "Coronation"))
    ):
        found = boiler.of_engine(name, rates)
        left.plot(rates, 100 * found.efficiency, color=COLORS[i], linestyle=STYLES[i], label=label)
        hot = 1.8 * (found.steam_temperature - ZERO_CELSIUS) + 32.0
        right.plot(rates, hot, color=COLORS[i], linestyle=STYLES[i], label=label)
    left.plot(
        [30, 70, 110, 150], [80, 70, 60, 50], color=RED, label="from memory, low confidence", **PUBLISHED
    )
    right.plot([30, 120], [560, 660], color=RED, label="Type A, from memory, low confidence", **PUBLISHED)
    left.set_ylim(0, 90)
    right.set_ylim(400, 900)
    for axes in (left, right):
        axes.legend(fontsize=8.5, loc="lower left" if axes is left else "lower right")
    _named(left, "Boilers", "coal fired [lb/ft² of grate h]", "efficiency [%]")
    _named(right, "Their steam", "coal fired [lb/ft² of grate h]", "steam temperature [°F]")
    return figure


def mean_pressure() -> Figure:
    """Mean over initial pressure against cutoff."""
    figure = new_figure(7.0, 4.4)
    axes = figure.subplots()
    table = cards.published()
    axes.plot(100 * table.cutoffs, table.ratio, color=RED, label="table of 1857", **PUBLISHED)
    for i, (gear, label) in enumerate((("new", "long-lap valve"), ("old", "valve of the 1850s"))):
        card = cards.computed(gear)
        axes.plot(
            100 * card.cutoffs, card.ratio, color=COLORS[i * 3], linestyle=STYLES[i], label=f"cycle, {label}"
        )
    axes.set_ylim(0, 1)
    axes.legend(fontsize=8.5)
    _named(
        axes,
        f"100 psi, {cards.SPEED:.0f} mph",
        "cutoff [% of stroke]",
        "mean effective over initial pressure",
    )
    return figure


def long_grade() -> Figure:
    """The run of the 4-8-8-4 up the grade."""
    figure = new_figure(8.5, 5.6)
    above, below = figure.subplots(2, 1, sharex=True)
    for i, heating_value in enumerate((13_500.0, 8000.0)):
        case = road.on_grade(heating_value)
        run = case.journey
        mile = run.chainage / MILE
        label = f"coal of {heating_value:,.0f} Btu/lb"
        above.plot(mile, run.speed / MPH, color=COLORS[i], linestyle=STYLES[i], label=label)
        gauge = (run.pressure - run.pressure[0]) / PSI + 300.0
        below.plot(mile, gauge, color=COLORS[i], linestyle=STYLES[i], label=label)
    above.axhline(41.1, color=COLORS[5], linewidth=1, linestyle=":")
    above.annotate("41.1 mph, as measured", (35, 41.1), ha="right", va="bottom", fontsize=8.5)
    above.axvline(5, color="#000000", alpha=0.4, linewidth=0.8)
    above.annotate("0.57 % begins", (5.2, 2), fontsize=8.5)
    above.set_ylim(0, 65)
    above.legend(fontsize=8.5, loc="upper right")
    below.set_ylim(240, 315)
    _named(above, "3,883 tons behind the 4-8-8-4, boiler simulated", "", "speed [mph]")
    _named(below, "", "miles", "boiler pressure [psi]")
    return figure


PLOTS: dict[str, Callable[[], Figure]] = {
    plot.__name__: plot
    for plot in (
        powers,
        speed_factors,
        purdue_pressures,
        evaporation,
        efficiency,
        mean_pressure,
        long_grade,
    )
}
