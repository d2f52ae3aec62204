"""The run as stacked panels over a common distance."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from locosim.journey.result import Journey
from locosim.planning.answer import Answer
from locosim.planning.finding import CLEAR, STOP, Finding
from locosim.plot import panels as run_panels
from locosim.plot.figure import COLORS, TEXT_BOX, axis_label, group_thousands, new_figure
from locosim.plot.panels import distance_from_start, distances

MIN_RUN = 1.0  # shortest run that is drawn [m]
Panel = Callable[[Axes, Journey], Axes]

# Each panel, its share of the height, and whether it needs the transient boiler.
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


def plot_check(answer: Answer) -> Figure:
    """Draw the run of a check, with its findings marked."""
    return plot_run(answer.journey, answer.findings)


def plot_run(journey: Journey, findings: Sequence[Finding] = ()) -> Figure:
    """Draw speed, profile, tractive effort, cutoff, boiler and tender over distance, with the stations in all.

    Args:
        journey: The run.
        findings: Findings; those that are not clear are marked on the profile.
    """
    if journey.distance < MIN_RUN:
        return _empty_figure(journey)
    panels = [
        (panel, share)
        for panel, share, transient in PANELS
        if not transient
        or (journey.transient_boiler and (panel is not run_panels.water_level or len(journey.glass_reading)))
    ]
    shares = [share for _, share in panels]
    figure = new_figure(11.0, 1.2 + 1.55 * sum(shares))
    axes = figure.subplots(len(panels), 1, sharex=True, squeeze=False, height_ratios=shares)[:, 0]
    for (panel, _), ax in zip(panels, axes, strict=True):
        if panel is not run_panels.limiting_factor:
            group_thousands(ax)
        panel(ax, journey)
        for place, _name in stations(journey):
            ax.axvline(place, color="#000000", alpha=0.25, linewidth=0.8)
        if panel is run_panels.profile:
            mark_findings(ax, journey, findings)
    mark_stations(axes[0], journey)
    distance = distances(journey)
    axes[-1].set_xlim(distance[0], max(distance[-1], distance[0] + 1e-6))
    axes[-1].set_xlabel(axis_label("distance from the start", "distance"))
    figure.align_ylabels(axes)
    title = f"{journey.excursion.name}: {journey.outcome} (method {journey.performance.method})"
    figure.suptitle(title, x=0.01, ha="left")
    return figure


def _empty_figure(journey: Journey) -> Figure:
    """A picture with a sentence where there is nothing to draw."""
    figure = new_figure(11.0, 1.6)
    figure.suptitle(
        f"{journey.excursion.name}: {journey.outcome} (method {journey.performance.method})",
        x=0.01,
        ha="left",
    )
    axes = figure.subplots()
    axes.set_axis_off()
    axes.text(0.0, 0.5, "The train does not leave the first station.")
    return figure


def stations(journey: Journey) -> list[tuple[float, str]]:
    """Distance from the start and name of each station of the run."""
    start, end = float(journey.chainage[0]), float(journey.chainage[-1])
    return [
        (distance_from_start(journey, s.chainage), s.name)
        for s in journey.excursion.route_as_run.stations
        if start - 1 <= s.chainage <= end + 1
    ]


def mark_stations(axes: Axes, journey: Journey) -> Axes:
    """Write station names slanted above an axes, except those too close to a neighbor."""
    span = max(float(distances(journey)[-1]), 1e-6)
    stops = {stop.station for stop in journey.excursion.stops}
    taken = [place for place, name in stations(journey) if name in stops]
    for place, name in stations(journey):
        if name not in stops:
            if any(abs(place - other) < 0.022 * span for other in taken):
                continue
            taken.append(place)
        axes.annotate(
            name, (place, 1.0), xycoords=("data", "axes fraction"), xytext=(2, 3), textcoords="offset points",
            rotation=35, ha="left", va="bottom", fontsize=8.5, fontweight="bold" if name in stops else "normal",
        )  # fmt: skip
    return axes


def mark_findings(axes: Axes, journey: Journey, findings: Sequence[Finding]) -> Axes:
    """Mark the findings that are not clear on the profile; labels close together are stacked."""
    span = max(float(distances(journey)[-1]), 1e-6)
    marked = sorted(
        {
            (min(max(distance_from_start(journey, f.chainage), 0.0), span), f.verdict, f.rule)
            for f in findings
            if f.verdict != CLEAR and f.chainage is not None
        }
    )
    last, level, right = -span, 0, False
    for place, verdict, rule in marked:
        # The first label to the left of its marker can meet the one before it, to the right of its own.
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
            bbox=TEXT_BOX,
        )  # fmt: skip
    return axes
