"""A run as stacked panels over a common distance."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from locosim.constants import ATMOSPHERE
from locosim.journey.journey import Journey
from locosim.physics.real import Floats
from locosim.plot.engine_plots import axis_label
from locosim.plot.figure import COLOURS, new_figure
from locosim.units import number as in_units


def plot_run(journey: Journey, system: str) -> Figure:
    """Speed, profile, pull, cutoff, boiler and tender over distance, stations marked in all."""
    panels = [speed_panel, profile_panel, pull_panel, cutoff_panel]
    if journey.live_boiler:
        panels.append(pressure_panel)
    panels += [steam_panel, tender_panel]
    figure = new_figure(11.0, 1.0 + 1.75 * len(panels))
    axes = figure.subplots(len(panels), 1, sharex=True, squeeze=False)[:, 0]
    for panel, ax in zip(panels, axes, strict=True):
        panel(ax, journey, system)
        for station in _stations(journey, system):
            ax.axvline(station[0], color="#000000", alpha=0.25, linewidth=0.8)
    mark_stations(axes[0], journey, system)
    distance = distances(journey, system)
    axes[-1].set_xlim(distance[0], max(distance[-1], distance[0] + 1e-6))
    axes[-1].set_xlabel(axis_label("distance from the start", "distance", system))
    figure.align_ylabels(axes)
    figure.suptitle(
        f"{journey.excursion.name}: {journey.outcome} (method {journey.performance.method})",
        x=0.01,
        ha="left",
    )
    return figure


def shown(value: Any, kind: str, system: str) -> Any:
    """Convert a number or an array to the reader's units."""
    return in_units(value, kind, system)


def distances(journey: Journey, system: str) -> Floats:
    """Distance of the nodes from the start."""
    return np.asarray(shown(journey.chainage - journey.chainage[0], "distance", system))


def _steps(
    values: Floats,
) -> Floats:
    """Values of steps laid on the nodes, for a stepped line."""
    return np.concatenate([values, values[-1:]]) if len(values) else np.zeros(1)


def _stations(journey: Journey, system: str) -> list[tuple[float, str]]:
    start, end = float(journey.chainage[0]), float(journey.chainage[-1])
    return [
        (float(shown(s.chainage - start, "distance", system)), s.name)
        for s in journey.excursion.line.stations
        if start - 1 <= s.chainage <= end + 1
    ]


def mark_stations(axes: Axes, journey: Journey, system: str) -> Axes:
    """Write station names slanted above an axes, leaving out names that would run into their neighbour."""
    span = max(float(distances(journey, system)[-1]), 1e-6)
    last = -span
    stops = {call.station for call in journey.excursion.calls}
    names = _stations(journey, system)
    for place, name in names:
        if place - last < 0.022 * span and name not in stops:
            continue
        axes.annotate(
            name, (place, 1.0), xycoords=("data", "axes fraction"), xytext=(2, 3), textcoords="offset points",
            rotation=35, ha="left", va="bottom", fontsize=8.5, fontweight="bold" if name in stops else "normal",
        )  # fmt: skip
        last = place
    return axes


def speed_panel(axes: Axes, journey: Journey, system: str) -> Axes:
    """Speed and what the line allows."""
    x = distances(journey, system)
    allowed = shown(journey.top_speed, "speed", system)
    axes.fill_between(x, allowed, color="#000000", alpha=0.08, linewidth=0, label="allowed, braking included")
    axes.plot(x, shown(journey.speed, "speed", system), color=COLOURS[0], label="run")
    axes.set_ylim(0, 1.25 * float(np.max(allowed)))
    axes.set_ylabel(axis_label("speed", "speed", system))
    axes.legend(loc="upper right", ncols=2, fontsize=8)
    return axes


def profile_panel(axes: Axes, journey: Journey, system: str) -> Axes:
    """Height of the rail above the start."""
    line = journey.excursion.line
    places, heights = [line.start], [0.0]
    for start, end, grade in line.grade_pieces():
        places.append(end)
        heights.append(heights[-1] + grade * (end - start))
    height = np.interp(journey.chainage, places, heights)
    height -= height[0]
    x = distances(journey, system)
    rise = np.asarray(shown(height, "length", system))
    axes.fill_between(x, rise, float(np.min(rise)), color=COLOURS[4], alpha=0.25, linewidth=0)
    axes.plot(x, rise, color=COLOURS[4])
    axes.set_ylabel(axis_label("rise", "length", system))
    return axes


def pull_panel(axes: Axes, journey: Journey, system: str) -> Axes:
    """Pull at the rim, brake below zero."""
    x = distances(journey, system)
    net = np.maximum(journey.pull - journey.performance.map.friction, 0.0)
    axes.step(x, shown(_steps(net), "force", system), where="post", color=COLOURS[0], label="pull at the rim")
    axes.step(
        x, shown(_steps(-journey.brake), "force", system), where="post", color=COLOURS[1], linestyle="--",
        label="brake", linewidth=1,
    )  # fmt: skip
    if np.any(journey.assist_pull > 0):
        axes.step(
            x, shown(_steps(journey.assist_pull), "force", system), where="post", color=COLOURS[2], linestyle="-.",
            label="assistance",
        )  # fmt: skip
    top = 1.25 * float(shown(float(np.max(net, initial=1.0)), "force", system))
    axes.set_ylim(-0.6 * top, top)
    axes.set_ylabel(axis_label("pull", "force", system))
    axes.legend(loc="upper right", ncols=3, fontsize=8)
    return axes


def cutoff_panel(axes: Axes, journey: Journey, system: str) -> Axes:
    """Cutoff; nothing where the regulator is shut."""
    cutoff = np.where(journey.cutoff > 0.0, 100.0 * journey.cutoff, np.nan)
    axes.step(distances(journey, system), _steps(cutoff), where="post", color=COLOURS[3])
    axes.set_ylim(0, 95)
    axes.set_ylabel("cutoff [% of stroke]")
    return axes


def pressure_panel(axes: Axes, journey: Journey, system: str) -> Axes:
    """Boiler pressure by gauge, with the working pressure and the floor of the check."""
    gauge = shown(journey.pressure - ATMOSPHERE, "pressure", system)
    working = journey.performance.locomotive.boiler.working_pressure_gauge
    floor = journey.excursion.criteria.pressure_least * working
    axes.plot(distances(journey, system), gauge, color=COLOURS[1], label="pressure")
    axes.axhline(
        shown(working, "pressure", system), color=COLOURS[5], linewidth=0.9, label="working pressure"
    )
    axes.axhline(
        shown(floor, "pressure", system),
        color=COLOURS[5],
        linewidth=0.9,
        linestyle="--",
        label="least by the check",
    )
    low = min(float(np.min(gauge)), shown(floor, "pressure", system))
    high = shown(working, "pressure", system)
    axes.set_ylim(low - 0.15 * (high - low), high + 0.45 * (high - low))
    axes.set_ylabel(axis_label("gauge\npressure", "pressure", system))
    axes.legend(loc="upper right", ncols=3, fontsize=8)
    return axes


def steam_panel(axes: Axes, journey: Journey, system: str) -> Axes:
    """Steam to the cylinders against what the boiler keeps up."""
    x = distances(journey, system)
    axes.step(
        x,
        shown(_steps(journey.steam), "steam_rate", system),
        where="post",
        color=COLOURS[0],
        label="to the cylinders",
    )
    limit = shown(journey.performance.cylinder_steam, "steam_rate", system)
    axes.axhline(limit, color=COLOURS[5], linewidth=0.9, linestyle="--", label="kept up by the boiler")
    axes.set_ylim(
        0, 1.35 * max(limit, float(shown(float(np.max(journey.steam, initial=0.0)), "steam_rate", system)))
    )
    axes.set_ylabel(axis_label("steam", "steam_rate", system))
    axes.legend(loc="upper right", ncols=2, fontsize=8)
    return axes


def tender_panel(axes: Axes, journey: Journey, system: str) -> Axes:
    """Water on the tender, with the reserve; fuel as a share of the bunker on the right."""
    tender = journey.excursion.locomotive.tender
    x = distances(journey, system)
    water_full = 1000.0 * tender.water_capacity
    axes.plot(x, 100 * journey.tender_water / water_full, color=COLOURS[0], label="water")
    axes.plot(
        x, 100 * journey.tender_fuel / tender.fuel_capacity, color=COLOURS[4], linestyle="--", label="fuel"
    )
    reserve = 100 * journey.excursion.criteria.water_reserve
    axes.axhline(reserve, color=COLOURS[5], linewidth=0.9, linestyle=":", label="water reserve")
    top = 100 * float(np.max(journey.tender_water)) / water_full
    axes.set_ylim(0, 1.3 * max(100.0, top))
    axes.set_ylabel("tender\n[% of full]")
    axes.legend(loc="upper right", ncols=3, fontsize=8)
    return axes
