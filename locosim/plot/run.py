"""The run as stacked panels over a common distance."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from locosim.journey.result import Journey
from locosim.planning.answer import Answer
from locosim.planning.finding import Finding
from locosim.planning.station_times import line_chainage
from locosim.plot import panels as run_panels
from locosim.plot.figure import axis_label, group_thousands, new_figure
from locosim.plot.panels import distance_from_start, line_length, shade_not_reached
from locosim.plot.profile import mark_findings, profile
from locosim.plot.station_names import mark_stations, stations
from locosim.units import show, show_milepost

MIN_RUN = 1.0  # shortest run that is drawn [m]
Panel = Callable[[Axes, Journey], Axes]

# Each panel, its share of the height, and whether it needs the transient boiler.
PANELS: tuple[tuple[Panel, float, bool], ...] = (
    (run_panels.speed, 1.1, False),
    (run_panels.limiting_factor, 0.75, False),
    (profile, 1.25, False),
    (run_panels.pull, 1.2, False),
    (run_panels.cutoff, 0.8, False),
    (run_panels.pressure, 1.0, True),
    (run_panels.water_level, 0.9, True),
    (run_panels.steam, 1.1, False),
    (run_panels.tender, 1.0, False),
)


def plot_check(answer: Answer) -> Figure:
    """Draw the run of a check, with its verdict in the title and its findings marked."""
    return plot_run(answer.journey, answer.findings, answer.verdict)


def plot_run(journey: Journey, findings: Sequence[Finding] = (), verdict: str = "") -> Figure:
    """Draw speed, profile, tractive effort, cutoff, boiler and tender over distance, with the stations in all.

    The line is shown to the last stop; what a run that ends early does not reach is shaded.

    Args:
        journey: The run.
        findings: Findings; those that are tight or stop are marked on the profile.
        verdict: Verdict of the check, for the title; empty for a run alone.
    """
    if journey.distance < MIN_RUN:
        return _empty_figure(journey, verdict)
    panels = [
        (panel, share)
        for panel, share, transient in PANELS
        if not transient
        or (journey.transient_boiler and (panel is not run_panels.water_level or len(journey.glass_reading)))
    ]
    shares = [share for _, share in panels]
    figure = new_figure(11.0, 1.8 + 1.55 * sum(shares))
    axes = figure.subplots(len(panels), 1, sharex=True, squeeze=False, height_ratios=shares)[:, 0]
    for (panel, _), ax in zip(panels, axes, strict=True):
        if panel is not run_panels.limiting_factor:
            group_thousands(ax)
        panel(ax, journey)
        for station in stations(journey):
            ax.axvline(station.place, color="#000000", alpha=0.25 if station.stops else 0.1, linewidth=0.8)
        shade_not_reached(ax, journey)
        if panel is profile:
            mark_findings(ax, journey, findings)
    mark_stations(axes[0], journey)
    axes[-1].set_xlim(0.0, line_length(journey))
    axes[-1].set_xlabel(axis_label("distance from the start", "distance"))
    figure.align_ylabels(axes)
    figure.suptitle(_title(journey, verdict), x=0.01, ha="left")
    return figure


def run_span(figure: Figure, journey: Journey) -> tuple[float, float]:
    """Where the run begins and ends in its drawn figure, as fractions of the width of the figure."""
    box = figure.axes[0].get_position()
    done = distance_from_start(journey, float(journey.chainage[-1])) / line_length(journey)
    return float(box.x0), float(box.x0 + box.width * done)


def _title(journey: Journey, verdict: str) -> str:
    """Name, verdict and outcome of a run."""
    if journey.arrived:
        outcome = f"arrives {show(journey.stops[-1].arrive, 'clock')}"
    else:
        place = show_milepost(line_chainage(journey.excursion, journey.end_chainage))
        outcome = f"{journey.outcome} at {place}"
    words = f"{verdict.upper()}, {outcome}" if verdict else outcome
    return f"{journey.excursion.name}: {words} (method {journey.performance.method})"


def _empty_figure(journey: Journey, verdict: str) -> Figure:
    """A picture with a sentence where there is nothing to draw."""
    figure = new_figure(11.0, 1.6)
    figure.suptitle(_title(journey, verdict), x=0.01, ha="left")
    axes = figure.subplots()
    axes.set_axis_off()
    axes.text(0.0, 0.5, "The train does not leave the first station.")
    return figure
