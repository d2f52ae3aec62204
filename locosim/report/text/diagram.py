"""The indicator diagram and the tractive effort over one revolution as text."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from locosim.constants import ATMOSPHERE
from locosim.engine.cutoff_table import ValveEvents
from locosim.engine.cylinders.starting import StartingEffort
from locosim.engine.cylinders.wheel_torque import WheelTorque
from locosim.engine.indicator_diagram import (
    ENDS,
    IndicatorDiagram,
    end_mean_pressure,
    labeled_stages,
    labeled_wheel_torques,
    pressures_by_stroke,
    stage_events,
)
from locosim.physics.cylinder import valve_gear
from locosim.physics.cylinder.cycle_results import StageDiagram
from locosim.physics.cylinder.revolution import Cylinder
from locosim.physics.types import Floats
from locosim.report.accuracy import accuracy_text
from locosim.report.caution import CAUTION, METHODS
from locosim.report.made_from import made_from
from locosim.report.text.engine import note_lines
from locosim.report.text.layout import paragraph, table
from locosim.units import label, show, show_number, show_percent

STROKE_POSITIONS = tuple(np.concatenate([[0.0, 0.02], np.linspace(0.05, 1.0, 20)]))  # of the stroke
CRANK_STEP = 15  # degrees of the torque table


def diagram_text(diagram: IndicatorDiagram) -> str:
    """Write an operating point: figures, pressures of both ends, tractive effort over one revolution."""
    lines = [
        diagram.locomotive.name,
        paragraph(f"Method: {METHODS['cycle']}."),
        *map(paragraph, note_lines(diagram.notes)),
        "",
        paragraph(_summary(diagram)),
    ]
    if diagram.events is not None:
        lines.append(paragraph(_valve_events(diagram.events)))
    lines += [paragraph(text) for text in (*_compound_lines(diagram), _starting_line(diagram.starting))]
    for (name, cylinder, stage), ends in zip(labeled_stages(diagram), stage_events(diagram), strict=True):
        lines += ["", paragraph(f"{name}, gauge pressure over the stroke of each end:"), ""]
        lines.append(_stroke_table(cylinder, stage))
        means = [show(end_mean_pressure(stage, end), "pressure") for end in ENDS]
        lines.append(paragraph(f"Mean effective pressure: front {means[0]}, back {means[1]}."))
        if ends is not None:
            lines.append(paragraph(_events_by_end(ends)))
    for unit_label, revolution in labeled_wheel_torques(diagram):
        which = f" of {unit_label}" if unit_label else ""
        lines += [
            "",
            paragraph(
                f"Tractive effort at the wheel rim{which} over one revolution, from steam alone: mean "
                f"{show(float(np.mean(revolution.effort)), 'force')}, {_extremes(revolution.effort)}; maximum over "
                f"mean {revolution.peak_to_mean:.2f}. With the inertia of the reciprocating parts: "
                f"{_extremes(revolution.effort_with_inertia)}; maximum over mean "
                f"{revolution.peak_to_mean_with_inertia:.2f}."
            ),
            "",
            _torque_table(revolution),
        ]
    return "\n".join(
        [*lines, "", paragraph(accuracy_text("diagram", "cycle", made_from(diagram))), "", paragraph(CAUTION)]
    )


def _summary(diagram: IndicatorDiagram) -> str:
    figures = diagram.figures
    power = diagram.effort * diagram.speed
    steam = show(diagram.steam / power, "specific_steam_consumption") if power > 0.0 else "-"
    return (
        f"At {show(diagram.speed, 'speed')}, cutoff {show_percent(diagram.cutoff)}, throttle open "
        f"{show_percent(diagram.throttle)}, boiler pressure {show(diagram.pressure - ATMOSPHERE, 'pressure')} gauge: "
        f"indicated tractive effort {show(diagram.effort, 'force')}, indicated power {show(power, 'power')}, steam "
        f"{show(diagram.steam, 'steam_rate')} at {show(_temperature(diagram), 'temperature')} (steam rate {steam}). "
        f"Gauge pressure {show(float(figures.chest_pressure[0]) - ATMOSPHERE, 'pressure')} in the steam chest, "
        f"{show(float(figures.back_pressure[0]), 'pressure')} in the exhaust passage. Condensed on the walls: "
        f"{float(figures.wall_condensation_share[0]):.1%} of the steam admitted."
    )


def _temperature(diagram: IndicatorDiagram) -> float:
    return float(diagram.figures.steam_temperature[0])


def _valve_events(events: ValveEvents) -> str:
    digits = 1 if label("small_length") == "mm" else 2
    port = (
        ""
        if events.lead is None or events.opening is None
        else f"lead {show(events.lead, 'small_length', digits)}, maximum port opening "
        f"{show(events.opening, 'small_length', digits)}, "
    )
    return (
        f"Valve events, mean of both ends: {port}preadmission {events.admission:.2%} of the stroke, cutoff "
        f"{events.cutoff:.1%}, release {events.release:.1%}, compression over the last {events.compression:.1%}."
    )


def _events_by_end(ends: Sequence[valve_gear.ValveEvents]) -> str:
    """Valve events of each end of a set of cylinders; the rod's obliquity makes them differ."""
    parts = [
        f"{name} cutoff {events.cutoff:.1%}, release {events.release:.1%}, compression over the last "
        f"{events.compression:.1%}"
        for name, events in zip(ENDS, ends, strict=True)
    ]
    return f"Valve events: {'; '.join(parts)}."


def _compound_lines(diagram: IndicatorDiagram) -> list[str]:
    """Receiver pressure and division of work of a compound."""
    receiver = diagram.figures.receiver_pressure
    if receiver is None:
        return []
    high, low = (float(share[0]) for share in diagram.figures.stage_work_shares)
    return [
        f"Receiver pressure {show(float(receiver[0]) - ATMOSPHERE, 'pressure')} gauge. The high-pressure cylinders do "
        f"{high:.0%} of the work, the low-pressure cylinders {low:.0%}."
    ]


def _starting_line(starting: StartingEffort) -> str:
    """Tractive effort at starting, mean and worst."""
    angles = " and ".join(f"{np.degrees(angle):.0f}°" for angle in dict.fromkeys(starting.worst_angles))
    how = ", live steam in the low-pressure cylinders" if starting.live_steam else ""
    return (
        f"Starting in full gear at working pressure{how}: indicated tractive effort {show(starting.mean, 'force')} "
        f"over a slow revolution, {show(starting.worst, 'force')} at rest at the worst crank angle ({angles}), "
        f"{starting.worst_ratio:.0%} of the mean. Taking the slack moves the cranks to a better angle."
    )


def _extremes(effort: Floats) -> str:
    """Maximum and minimum of a tractive effort."""
    return f"maximum {show(float(np.max(effort)), 'force')}, minimum {show(float(np.min(effort)), 'force')}"


def _stroke_table(cylinder: Cylinder, stage: StageDiagram) -> str:
    unit = label("pressure")
    headers = (
        "stroke\n%",
        f"front end\nworking\n{unit}",
        f"front end\nreturn\n{unit}",
        f"back end\nworking\n{unit}",
        f"back end\nreturn\n{unit}",
    )
    positions = np.array(STROKE_POSITIONS)
    columns = [part for end in ENDS for part in pressures_by_stroke(cylinder, stage, end, positions)]
    rows = [
        (
            show_number(float(place), "ratio", 0),
            *(show_number(float(column[i]) - ATMOSPHERE, "pressure") for column in columns),
        )
        for i, place in enumerate(positions)
    ]
    return table(headers, rows, left=0)


def _torque_table(revolution: WheelTorque) -> str:
    """Tractive effort at even crank angles, two halves of the revolution side by side."""
    degrees = np.arange(0, 360, CRANK_STEP)
    columns = [
        np.interp(np.radians(degrees), revolution.angle, effort, period=2 * np.pi)
        for effort in (revolution.effort, revolution.effort_with_inertia)
    ]
    half = len(degrees) // 2
    headers = ("crank\n°", "steam\nalone\n" + label("force"), "with\ninertia\n" + label("force")) * 2
    rows = [
        tuple(
            cell
            for j in (i, i + half)
            for cell in (
                f"{degrees[j]}",
                *(show_number(float(column[j]), "force") for column in columns),
            )
        )
        for i in range(half)
    ]
    return table(headers, rows, left=0)
