"""Where a train needs help: speed without and with the helper, pull over its stretch, and the profile."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from locosim.journey.result import Journey
from locosim.planning.helper_plan import HelperPlan
from locosim.plot.figure import COLORS, STYLES, axis_label, group_thousands, new_figure
from locosim.plot.panels import LEGEND, LEGEND_HEADROOM, distance_from_start, distances, line_length
from locosim.plot.profile import profile
from locosim.plot.station_names import mark_stations
from locosim.units import number


def plot_helper_plan(plan: HelperPlan) -> Figure:
    """Draw the speed alone and with the helper, both at full effort, the line, and the pulls that suffice."""
    alone = plan.alone.runs.full_effort
    helped = plan.service.answer.full_effort if plan.service else None
    shown = helped if helped is not None else alone
    figure = new_figure(11.0, 7.4)
    axes = figure.subplots(3, 1, sharex=True, height_ratios=(1.2, 1.0, 0.9))
    _speed(axes[0], alone, helped)
    profile(axes[1], shown)
    _pulls(axes[2], plan, shown)
    for ax in axes:
        if plan.service is not None:
            line = shown.excursion.route_as_run
            ends = [line.station(name).chainage for name in (plan.service.coupled, plan.service.cut_off)]
            ax.axvspan(
                *(distance_from_start(shown, at) for at in ends),
                color=COLORS[2],
                alpha=0.10,
                linewidth=0.0,
                zorder=0,
            )
    mark_stations(axes[0], shown)
    axes[-1].set_xlim(0.0, line_length(shown))
    axes[-1].set_xlabel(axis_label("distance from the start", "distance"))
    figure.align_ylabels(axes)
    figure.suptitle(_title(plan), x=0.01, ha="left")
    return figure


def _title(plan: HelperPlan) -> str:
    name = plan.alone.journey.excursion.name
    if not plan.needed:
        return f"{name}: no help needed"
    if plan.service is None:
        return f"{name}: {plan.helper_name} does not suffice"
    return f"{name}: helper from {plan.service.coupled} to {plan.service.cut_off} (shaded)"


def _speed(axes: Axes, alone: Journey, helped: Journey | None) -> None:
    axes.plot(
        distances(alone), number(alone.speed, "speed"), color=COLORS[5], linestyle="--", linewidth=1.1,
        label="alone, at full effort",
    )  # fmt: skip
    if not alone.arrived:
        end = distance_from_start(alone, alone.end_chainage)
        axes.plot([end], [0.0], marker="x", color=COLORS[1], markersize=9, clip_on=False, linestyle="none",
                  label=f"alone: {alone.outcome}")  # fmt: skip
    if helped is not None:
        axes.plot(distances(helped), number(helped.speed, "speed"), color=COLORS[0], label="with the helper")
    least = number(alone.excursion.min_climbing_speed, "speed")
    axes.axhline(least, color=COLORS[1], linewidth=1.0, linestyle=":", label="least climbing speed")
    journeys = [alone] if helped is None else [alone, helped]
    top = max(float(np.max(journey.speed)) for journey in journeys)
    axes.set_ylim(0.0, LEGEND_HEADROOM * number(max(top, 1.0), "speed"))
    axes.set_ylabel(axis_label("speed", "speed"))
    axes.legend(ncols=4, **LEGEND)


def _pulls(axes: Axes, plan: HelperPlan, journey: Journey) -> None:
    """A bar for each pull over its stretch."""
    stretches = plan.need.stretches
    for k, stretch in enumerate(stretches):
        ends = [distance_from_start(journey, at) for at in (stretch.start, stretch.end)]
        axes.plot(
            ends, [number(stretch.force, "force")] * 2, color=COLORS[k % len(COLORS)], linewidth=4.0,
            linestyle=STYLES[0], solid_capstyle="butt",
        )  # fmt: skip
    top = max((number(stretch.force, "force") for stretch in stretches), default=1.0)
    axes.set_ylim(0.0, 1.2 * top)
    axes.set_ylabel(axis_label("pull that suffices", "force"))
    group_thousands(axes)
    if not stretches:
        axes.text(0.5, 0.5, "none", transform=axes.transAxes, ha="center", va="center")
