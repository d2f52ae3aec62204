"""Indicator diagrams of both ends, and tractive effort at the rim over one revolution."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from locosim.constants import ATMOSPHERE
from locosim.engine.cylinders.wheel_torque import WheelTorque
from locosim.engine.indicator_diagram import (
    ENDS,
    IndicatorDiagram,
    labeled_stages,
    labeled_wheel_torques,
    pressures_by_stroke,
    stage_events,
    stroke_positions,
)
from locosim.physics.cylinder import valve_gear
from locosim.physics.cylinder.cycle_results import StageDiagram
from locosim.physics.cylinder.revolution import Cylinder
from locosim.physics.types import Floats
from locosim.plot.figure import COLORS, STYLES, axis_label, group_thousands, new_figure
from locosim.units import number, show, show_percent


def plot_diagram(diagram: IndicatorDiagram) -> Figure:
    """Draw one panel for each set of cylinders, and one for the tractive effort of each engine unit.

    Engine units that are alike share a panel.
    """
    stages, revolutions = labeled_stages(diagram), labeled_wheel_torques(diagram)
    figure = new_figure(8.5, 4.2 * (len(stages) + len(revolutions)) + 0.6)
    panels = figure.subplots(len(stages) + len(revolutions), 1, squeeze=False)[:, 0]
    for axes, (name, cylinder, stage), ends in zip(panels, stages, stage_events(diagram), strict=False):
        indicator_panel(axes, diagram, cylinder, stage)
        if ends is not None:
            _mark_events(axes, cylinder, stage, ends)
        if len(stages) > 1:
            axes.set_title(name, loc="right", fontsize=9.5)
    for axes, (unit_label, revolution) in zip(panels[len(stages) :], revolutions, strict=True):
        rim_effort_panel(axes, revolution, unit_label)
    panels[0].set_title(
        f"{diagram.locomotive.name}: {show(diagram.speed, 'speed')}, cutoff {show_percent(diagram.cutoff)}, "
        f"throttle {show_percent(diagram.throttle)}, method cycle",
        loc="left",
    )
    return figure


def _to_units(values: Floats, kind: str) -> Floats:
    """An array in the reader's units."""
    return np.array([number(float(value), kind) for value in values])


def indicator_panel(axes: Axes, diagram: IndicatorDiagram, cylinder: Cylinder, stage: StageDiagram) -> Axes:
    """Draw pressure over stroke for both ends, the back end from the right as on an indicator card."""
    places = {}
    for i, end in enumerate(ENDS):
        place = stroke_positions(cylinder, stage, end)
        position = 100.0 * (place if end == "front" else 1.0 - place)
        pressure = _to_units(getattr(stage, f"pressure_{end}") - ATMOSPHERE, "pressure")
        axes.plot(position, pressure, color=COLORS[i], linestyle=STYLES[i], label=f"{end} end")
        places[end] = place
    levels = [("dashed: boiler", "--", diagram.pressure)]
    if stage is diagram.cycles[0].stages[0]:
        levels.append(("dotted: steam chest", ":", float(diagram.figures.chest_pressure[0])))
    for _, style, absolute in levels:
        level = number(absolute - ATMOSPHERE, "pressure")
        axes.axhline(level, color=COLORS[5], linewidth=0.8, linestyle=style)
    # Above the upper line, where no curve runs except a short compression loop at the ends.
    axes.annotate(
        ", ".join(name for name, _, _ in levels), (50.0, number(diagram.pressure - ATMOSPHERE, "pressure")),
        xytext=(0, 2), textcoords="offset points", ha="center", fontsize=8,
    )  # fmt: skip
    axes.axhline(0.0, color=COLORS[5], linewidth=0.8)
    axes.set_xlim(-2.0, 102.0)
    axes.set_xlabel("piston position from the front [%]")
    axes.set_ylabel(axis_label("gauge pressure", "pressure"))
    # Compression may exceed boiler pressure.
    highest = max(diagram.pressure, float(stage.pressure_front.max()), float(stage.pressure_back.max()))
    axes.set_ylim(top=1.1 * number(highest - ATMOSPHERE, "pressure"))
    # Below the panel: no corner inside it is free at every speed and cutoff.
    axes.legend(loc="upper right", bbox_to_anchor=(1.0, -0.06), ncols=2, borderaxespad=0.0)
    return axes


def _mark_events(
    axes: Axes, cylinder: Cylinder, stage: StageDiagram, ends: Sequence[valve_gear.ValveEvents]
) -> None:
    """Mark the valve events of each end on its own curve; they are named on the front end's."""
    for i, (end, events) in enumerate(zip(ENDS, ends, strict=True)):
        for name, position, returning in (
            ("cutoff", events.cutoff, False),
            ("release", events.release, False),
            ("compression", events.compression, True),
            ("admission", events.admission, True),
        ):
            pair = pressures_by_stroke(cylinder, stage, end, np.array([position]))
            pressure = number(float(pair[1 if returning else 0][0]) - ATMOSPHERE, "pressure")
            place = 100 * (position if end == "front" else 1.0 - position)
            axes.plot([place], [pressure], marker="o", color=COLORS[i], markersize=4.5, linestyle="none")
            if end != "front":
                continue
            axes.annotate(
                name,
                (place, pressure),
                xytext=(5, 5),
                textcoords="offset points",
                fontsize=8,
                color=COLORS[i],
                bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.75, "pad": 0.5},
            )


def rim_effort_panel(axes: Axes, revolution: WheelTorque, unit_label: str) -> Axes:
    """Draw the tractive effort at the rim of an engine unit over one revolution: steam alone, and with inertia."""
    effort, mean = revolution.effort, float(revolution.effort.mean())
    total, degrees = revolution.effort_with_inertia, np.degrees(revolution.angle)
    axes.plot(degrees, _to_units(effort, "force"), color=COLORS[0], linestyle=STYLES[0], label="steam alone")
    axes.plot(
        degrees,
        _to_units(total, "force"),
        color=COLORS[1],
        linestyle=STYLES[1],
        label="with the inertia of the reciprocating parts",
    )
    axes.axhline(number(mean, "force"), color=COLORS[5], linewidth=0.9, linestyle="--")
    axes.set_title(
        f"gray: mean; maximum over mean {revolution.peak_to_mean:.2f} from steam alone, "
        f"{revolution.peak_to_mean_with_inertia:.2f} with inertia",
        loc="right",
        fontsize=8.5,
    )
    # Above the panel on the left: no corner inside it is free for every engine.
    axes.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), borderaxespad=0.2, fontsize=8.5)
    axes.set_xlim(0, 360)
    axes.set_xticks(range(0, 361, 45))
    axes.set_ylim(bottom=min(0.0, number(float(min(effort.min(), total.min())), "force")))
    axes.set_xlabel("crank angle of the first cylinder past front dead center [°]")
    axes.set_ylabel(
        axis_label(f"tractive effort at the rim{f' of {unit_label}' if unit_label else ''}", "force")
    )
    group_thousands(axes)
    return axes
