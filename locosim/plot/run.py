"""A run as stacked panels over a common distance."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from locosim.journey.result import Journey
from locosim.planning.finding import CLEAR, STOP, Finding
from locosim.plot import panels as run_panels
from locosim.plot.figure import COLORS, axis_label, group_thousands, new_figure
from locosim.plot.panels import distance_from_start, distances

MIN_RUN = 1.0  # of which a picture can tell anything [m]
Panel = Callable[[Axes, Journey, str], Axes]

# Each panel, its share of the height, and whether it wants the boiler's state.
PANELS: tuple[tuple[Panel, float, bool], ...] = (
    (run_panels.speed, 1.1, False),
    (run_panels.limiting_factor, 0.75, False),
    (run_panels.profile, 0.9, False),
    (run_panels.pull, 1.2, False),
    (run_panels.cutoff, 0.8, False),
    (run_panels.pressure, 1.0, True),
    (run_panels.water_level, 0.9, True),
    (run_panels.steam, 1.1, False),
    (run_panels.tender, 1.0, False),
)


def plot_run(journey: Journey, system: str, findings: Sequence[Finding] = ()) -> Figure:
    """Speed, profile, pull, cutoff, boiler and tender over distance, stations marked in all.

    Args:
        journey: The run.
        system: Units, `us`, `metric` or `british`.
        findings: Findings whose places are marked on the profile, where they are not clear.
    """
    if journey.distance < MIN_RUN:
        return _empty_figure(journey)
    panels = [
        (panel, share)
        for panel, share, live in PANELS
        if not live
        or (journey.transient_boiler and (panel is not run_panels.water_level or len(journey.glass_reading)))
    ]
    shares = [share for _, share in panels]
    figure = new_figure(11.0, 1.2 + 1.55 * sum(shares))
    axes = figure.subplots(len(panels), 1, sharex=True, squeeze=False, height_ratios=shares)[:, 0]
    for (panel, _), ax in zip(panels, axes, strict=True):
        if panel is not run_panels.limiting_factor:
            group_thousands(ax)
        panel(ax, journey, system)
        for place, _name in stations(journey, system):
            ax.axvline(place, color="#000000", alpha=0.25, linewidth=0.8)
        if panel is run_panels.profile:
            mark_findings(ax, journey, findings, system)
    mark_stations(axes[0], journey, system)
    distance = distances(journey, system)
    axes[-1].set_xlim(distance[0], max(distance[-1], distance[0] + 1e-6))
    axes[-1].set_xlabel(axis_label("distance from the start", "distance", system))
    figure.align_ylabels(axes)
    title = f"{journey.excursion.name}: {journey.outcome} (method {journey.performance.method})"
    figure.suptitle(title, x=0.01, ha="left")
    return figure


def _empty_figure(journey: Journey) -> Figure:
    """A picture that says there is nothing to draw."""
    figure = new_figure(11.0, 1.6)
    figure.suptitle(
        f"{journey.excursion.name}: {journey.outcome} (method {journey.performance.method})",
        x=0.01,
        ha="left",
    )
    axes = figure.subplots()
    axes.set_axis_off()
    axes.text(0.0, 0.5, "The train does not leave the first station; nothing to plot.")
    return figure


def stations(journey: Journey, system: str) -> list[tuple[float, str]]:
    """Stations of the run: distance from the start, and name."""
    start, end = float(journey.chainage[0]), float(journey.chainage[-1])
    return [
        (distance_from_start(journey, s.chainage, system), s.name)
        for s in journey.excursion.route_as_run.stations
        if start - 1 <= s.chainage <= end + 1
    ]


def mark_stations(axes: Axes, journey: Journey, system: str) -> Axes:
    """Write station names slanted above an axes, leaving out names that would run into their neighbour."""
    span = max(float(distances(journey, system)[-1]), 1e-6)
    stops = {stop.station for stop in journey.excursion.stops}
    taken = [place for place, name in stations(journey, system) if name in stops]
    for place, name in stations(journey, system):
        if name not in stops:
            if any(abs(place - other) < 0.022 * span for other in taken):
                continue
            taken.append(place)
        axes.annotate(
            name, (place, 1.0), xycoords=("data", "axes fraction"), xytext=(2, 3), textcoords="offset points",
            rotation=35, ha="left", va="bottom", fontsize=8.5, fontweight="bold" if name in stops else "normal",
        )  # fmt: skip
    return axes


def mark_findings(axes: Axes, journey: Journey, findings: Sequence[Finding], system: str) -> Axes:
    """Mark on the profile where findings are not clear; names that would meet are written above each other."""
    span = max(float(distances(journey, system)[-1]), 1e-6)
    marked = sorted(
        {
            (min(max(distance_from_start(journey, f.chainage, system), 0.0), span), f.verdict, f.rule)
            for f in findings
            if f.verdict != CLEAR and f.chainage is not None
        }
    )
    last, level, right = -span, 0, False
    for place, verdict, rule in marked:
        # The first name written to the left of its place meets the one before it, written to the right.
        turns = place > 0.88 * span and not right
        right = place > 0.88 * span
        level = (level + 1) % 4 if place - last < (0.24 if turns else 0.12) * span else 0
        last = place
        axes.plot(
            [place], [0.06], transform=axes.get_xaxis_transform(), marker="^", color=COLORS[1],
            fillstyle="full" if verdict == STOP else "none", clip_on=False,
        )  # fmt: skip
        axes.annotate(
            f"{verdict}: {rule}", (place, 0.06), xycoords=axes.get_xaxis_transform(), fontsize=8.5, color=COLORS[1],
            xytext=(-7 if right else 7, -3 + 11 * level), textcoords="offset points", ha="right" if right else "left",
            bbox={"boxstyle": "square,pad=0.1", "facecolor": "#ffffff", "alpha": 0.75, "linewidth": 0},
        )  # fmt: skip
    return axes
