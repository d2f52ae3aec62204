"""Indicator diagrams of both ends, and pull over the crank's turn."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from locosim.constants import ATMOSPHERE
from locosim.engine.cylinders.operating_points import Turn
from locosim.engine.indicator_diagram import ENDS, Indicator, stages_of, stroke_places, strokes, turns_of
from locosim.physics.cylinder.results import StageDiagram
from locosim.physics.cylinder.revolution import Cylinder
from locosim.physics.types import Floats
from locosim.plot.figure import COLOURS, STYLES, axis_label, group_thousands, new_figure
from locosim.units import number, share, show


def plot_diagram(drawn: Indicator, system: str) -> Figure:
    """One panel for each set of cylinders, one below for each engine unit's pull over a turn; like units have one.

    Args:
        drawn: The operating point.
        system: Units, `us`, `metric` or `british`.
    """
    stages, turns = stages_of(drawn), turns_of(drawn)
    figure = new_figure(8.5, 4.2 * (len(stages) + len(turns)) + 0.6)
    panels = figure.subplots(len(stages) + len(turns), 1, squeeze=False)[:, 0]
    for axes, (name, cylinder, stage) in zip(panels, stages, strict=False):
        indicator_panel(axes, drawn, cylinder, stage, system)
        if len(stages) > 1:
            axes.set_title(name, loc="right", fontsize=9.5)
    for axes, (whose, turn) in zip(panels[len(stages) :], turns, strict=True):
        pull_panel(axes, turn, whose, system)
    panels[0].set_title(
        f"{drawn.locomotive.name}: {show(drawn.speed, 'speed', system)}, cutoff {share(drawn.cutoff)}, "
        f"regulator {share(drawn.regulator)}, method cycle",
        loc="left",
    )
    return figure


def _shown(values: Floats, kind: str, system: str) -> Floats:
    """An array in the reader's units."""
    return np.array([number(float(value), kind, system) for value in values])


def indicator_panel(
    axes: Axes, drawn: Indicator, cylinder: Cylinder, stage: StageDiagram, system: str
) -> Axes:
    """Pressure over the stroke, both ends, the back end drawn from the right as on the card."""
    places = {}
    for i, end in enumerate(ENDS):
        place = stroke_places(cylinder, stage, end)
        along = 100.0 * (place if end == "front" else 1.0 - place)
        pressure = _shown(getattr(stage, f"pressure_{end}") - ATMOSPHERE, "pressure", system)
        axes.plot(along, pressure, color=COLOURS[i], linestyle=STYLES[i], label=f"{end} end")
        places[end] = place
    levels = [("dashed: boiler", "--", drawn.pressure)]
    if stage is drawn.cycles[0].stages[0]:
        levels.append(("dotted: steam chest", ":", float(drawn.figures.chest_pressure[0])))
    for _, style, absolute in levels:
        level = number(absolute - ATMOSPHERE, "pressure", system)
        axes.axhline(level, color=COLOURS[5], linewidth=0.8, linestyle=style)
    # Above the upper line, where no curve runs but a short loop of compression at the ends.
    axes.annotate(
        ", ".join(name for name, _, _ in levels), (50.0, number(drawn.pressure - ATMOSPHERE, "pressure", system)),
        xytext=(0, 2), textcoords="offset points", ha="center", fontsize=8,
    )  # fmt: skip
    axes.axhline(0.0, color=COLOURS[5], linewidth=0.8)
    _mark_events(axes, drawn, cylinder, stage, system)
    axes.set_xlim(-2.0, 102.0)
    axes.set_xlabel("stroke from the front [%]")
    axes.set_ylabel(axis_label("gauge pressure", "pressure", system))
    # Compression may go above the boiler's pressure.
    greatest = max(drawn.pressure, float(stage.pressure_front.max()), float(stage.pressure_back.max()))
    axes.set_ylim(top=1.1 * number(greatest - ATMOSPHERE, "pressure", system))
    # Below the panel: within it, there is no corner that the curves leave free at every speed and cutoff.
    axes.legend(loc="upper right", bbox_to_anchor=(1.0, -0.06), ncols=2, borderaxespad=0.0)
    return axes


def _mark_events(axes: Axes, drawn: Indicator, cylinder: Cylinder, stage: StageDiagram, system: str) -> None:
    """Dots on the front diagram where the valve opens and closes; of the first stage, whose lever it is."""
    events = drawn.events
    if events is None or stage is not drawn.cycles[0].stages[0]:
        return
    for name, place, returning in (
        ("cutoff", events.cutoff, False),
        ("release", events.release, False),
        ("compression", events.compression, True),
        ("admission", events.admission, True),
    ):
        pair = strokes(cylinder, stage, "front", np.array([place]))
        pressure = number(float(pair[1 if returning else 0][0]) - ATMOSPHERE, "pressure", system)
        axes.plot([100 * place], [pressure], marker="o", color=COLOURS[0], markersize=4.5, linestyle="none")
        axes.annotate(
            name,
            (100 * place, pressure),
            xytext=(5, 5),
            textcoords="offset points",
            fontsize=8,
            color=COLOURS[0],
            bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.75, "pad": 0.5},
        )


def pull_panel(axes: Axes, turn: Turn, whose: str, system: str) -> Axes:
    """Pull at the rim of an engine unit over a turn, by steam alone, with its mean."""
    pull, mean = turn.pull, float(turn.pull.mean())
    axes.plot(np.degrees(turn.angle), _shown(pull, "force", system), color=COLOURS[0])
    axes.axhline(number(mean, "force", system), color=COLOURS[5], linewidth=0.9, linestyle="--")
    axes.set_title(f"dashed: mean; greatest over mean {turn.unevenness:.2f}", loc="right", fontsize=8.5)
    axes.set_xlim(0, 360)
    axes.set_xticks(range(0, 361, 45))
    axes.set_ylim(bottom=min(0.0, number(float(pull.min()), "force", system)))
    axes.set_xlabel("crank of the first cylinder past front dead centre [°]")
    axes.set_ylabel(axis_label(f"pull at the rim{f' of {whose}' if whose else ''}", "force", system))
    group_thousands(axes)
    return axes
