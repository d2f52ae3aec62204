"""Water and fuel in the tender along the line, with the least set of stops."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from locosim.journey.result import Journey
from locosim.planning.station_times import line_chainage
from locosim.planning.supply_plans import full_tank, reserve
from locosim.planning.water_stops import WaterStops
from locosim.plot.figure import COLORS, axis_label, group_thousands, new_figure
from locosim.plot.panels import LEGEND, distance_from_start, distances, line_length
from locosim.plot.profile import profile
from locosim.plot.station_names import mark_stations
from locosim.units import number

HEADROOM = 1.38  # top of the axis over a full tank, so that the legend is above the lines


def plot_water_stops(found: WaterStops) -> Figure:
    """Draw water and fuel along the line with the least set and without any stop, the reserve, and the profile."""
    base = found.least.without_stops
    shown = found.least.best.journey if found.least.best is not None else base
    figure = new_figure(11.0, 7.6)
    axes = figure.subplots(3, 1, sharex=True, height_ratios=(1.3, 1.0, 1.0))
    for ax, supply, kind in ((axes[0], "water", "water"), (axes[2], "fuel", "mass")):
        _panel(ax, found, supply, kind)
        group_thousands(ax)
    profile(axes[1], shown)
    for ax in axes:
        _mark_places(ax, found, base)
    mark_stations(axes[0], shown)
    axes[-1].set_xlim(0.0, line_length(base))
    axes[-1].set_xlabel(axis_label("distance from the start", "distance"))
    figure.align_ylabels(axes)
    figure.suptitle(_title(found), x=0.01, ha="left")
    return figure


def _title(found: WaterStops) -> str:
    best = found.least.best
    if best is None:
        return f"{found.excursion.name}: the places of the line do not suffice"
    if not best.stations:
        return f"{found.excursion.name}: no stop needed"
    name = "least set of stops" if found.least.proven else "least set of stops found"
    return f"{found.excursion.name}: {name}, {', '.join(best.stations)}"


def _panel(axes: Axes, found: WaterStops, supply: str, kind: str) -> None:
    best, base = found.least.best, found.least.without_stops
    full = max(full_tank(found.excursion, supply), 1.0)
    lines: list[tuple[str, Journey, dict[str, Any]]] = [
        ("without any stop for supplies", base, {"color": COLORS[5], "linestyle": "--", "linewidth": 1.0})
    ]
    if best is not None and best.stops:
        lines.append(("least set", best.journey, {"color": COLORS[0], "linewidth": 1.8}))
    if found.least.runner_up is not None:
        lines.append(("runner-up", found.least.runner_up.journey, {"color": COLORS[2], "linestyle": "-."}))
    for name, journey, style in lines:
        level = journey.tender_water if supply == "water" else journey.tender_fuel
        axes.plot(distances(journey), number(np.asarray(level), kind), label=name, **style)
    kept = reserve(found.excursion, supply)
    axes.axhline(number(kept, kind), color=COLORS[1], linewidth=1.0, linestyle=":", label="reserve")
    low = min(0.0, float(base.tender_water[-1] if supply == "water" else base.tender_fuel[-1]))
    axes.set_ylim(number(1.08 * low, kind), number(HEADROOM * full, kind))
    if low < 0.0:
        axes.axhline(0.0, color="#000000", linewidth=0.6)
    for gap in found.gaps:
        if gap.supply == supply:
            for stretch in gap.stretches:
                ends = [
                    distance_from_start(base, _as_run(found, end))
                    for end in (stretch.earliest, stretch.latest)
                ]
                axes.axvspan(*ends, color=COLORS[4], alpha=0.22, linewidth=0.0, label="a stop must lie here")
    handles, names = axes.get_legend_handles_labels()
    single = dict(zip(names, handles, strict=True))
    axes.set_ylabel(axis_label(supply, kind))
    axes.legend(single.values(), single.keys(), ncols=3, **LEGEND)


def _as_run(found: WaterStops, milepost: float) -> float:
    """Chainage in the direction of travel of a milepost; mirroring twice gives it back [m]."""
    return line_chainage(found.excursion, milepost)


def _mark_places(axes: Axes, found: WaterStops, journey: Journey) -> None:
    """A line at each place with water or fuel, strong where the least set stops."""
    chosen = found.least.best.stations if found.least.best is not None else ()
    for place in found.places:
        strong = place.station in chosen
        axes.axvline(
            distance_from_start(journey, place.chainage), color=COLORS[0] if strong else "#000000",
            alpha=0.9 if strong else 0.25, linewidth=1.4 if strong else 0.8,
        )  # fmt: skip
