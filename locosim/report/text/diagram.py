"""Cylinder pressure diagram and crank torque as text."""

from __future__ import annotations

import numpy as np

from locosim.constants import ATMOSPHERE
from locosim.engine.cylinders.operating_points import WheelTorque
from locosim.engine.indicator_diagram import (
    ENDS,
    IndicatorDiagram,
    end_mean_pressure,
    labeled_stages,
    labeled_wheel_torques,
    pressures_by_stroke,
)
from locosim.physics.cylinder.results import StageDiagram
from locosim.physics.cylinder.revolution import Cylinder
from locosim.report.caution import CAUTION, METHODS
from locosim.report.text.engine import note_lines
from locosim.report.text.layout import paragraph, table
from locosim.units import label, show, show_number, show_percent

STROKE_POSITIONS = tuple(np.concatenate([[0.0, 0.02], np.linspace(0.05, 1.0, 20)]))  # of the stroke
CRANK_STEP = 15  # degrees of the torque table


def diagram_text(diagram: IndicatorDiagram, system: str) -> str:
    """Write an operating point: figures, diagrams of both ends, pull over the crank's turn.

    Args:
        diagram: The operating point.
        system: Units, `us`, `metric` or `british`.
    """
    lines = [
        diagram.locomotive.name,
        paragraph(f"Method: {METHODS['cycle']}."),
        *map(paragraph, note_lines(diagram.notes)),
        "",
        paragraph(_summary(diagram, system)),
    ]
    if diagram.events is not None:
        lines.append(paragraph(_valve_events(diagram, system)))
    for name, cylinder, stage in labeled_stages(diagram):
        lines += ["", paragraph(f"{name}, gauge pressure over the stroke of each end:"), ""]
        lines.append(_stroke_table(cylinder, stage, system))
        means = [show(end_mean_pressure(stage, end), "pressure", system) for end in ENDS]
        lines.append(paragraph(f"Mean effective pressure: front {means[0]}, back {means[1]}."))
    for unit_label, revolution in labeled_wheel_torques(diagram):
        which = f" of {unit_label}" if unit_label else ""
        lines += [
            "",
            paragraph(
                f"Pull at the rim{which} over a turn, by steam alone: mean "
                f"{show(float(np.mean(revolution.effort)), 'force', system)}, greatest "
                f"{show(float(np.max(revolution.effort)), 'force', system)}, least "
                f"{show(float(np.min(revolution.effort)), 'force', system)}; greatest over mean {revolution.peak_to_mean:.2f}."
            ),
            "",
            _torque_table(revolution, system),
        ]
    return "\n".join([*lines, "", paragraph(CAUTION)])


def _summary(diagram: IndicatorDiagram, system: str) -> str:
    figures = diagram.figures
    power = diagram.effort * diagram.speed
    steam = show(diagram.steam / power, "specific_steam_consumption", system) if power > 0.0 else "-"
    return (
        f"At {show(diagram.speed, 'speed', system)} with {show_percent(diagram.cutoff)} cutoff and the throttle open "
        f"{show_percent(diagram.throttle)}, boiler {show(diagram.pressure - ATMOSPHERE, 'pressure', system)} by gauge: "
        f"indicated pull {show(diagram.effort, 'force', system)}, indicated power {show(power, 'power', system)}, steam "
        f"{show(diagram.steam, 'steam_rate', system)} at {show(_temperature(diagram), 'temperature', system)} ({steam}), "
        f"steam chest {show(float(figures.chest_pressure[0]) - ATMOSPHERE, 'pressure', system)}, exhaust passage "
        f"{show(float(figures.back_pressure[0]), 'pressure', system)} by gauge, condensed on the walls "
        f"{float(figures.wall_condensation_share[0]):.1%} of the steam admitted."
    )


def _temperature(diagram: IndicatorDiagram) -> float:
    return float(diagram.figures.steam_temperature[0])


def _valve_events(diagram: IndicatorDiagram, system: str) -> str:
    events = diagram.events
    assert events is not None
    digits = 1 if label("small_length", system) == "mm" else 2
    return (
        f"Valve, mean of both ends: lead {show(events.lead, 'small_length', system, digits)}, greatest opening "
        f"{show(events.opening, 'small_length', system, digits)}, steam on {events.admission:.2%} of the stroke before "
        f"its end, cut off at {events.cutoff:.1%}, release at {events.release:.1%}, compression over the last "
        f"{events.compression:.1%}."
    )


def _stroke_table(cylinder: Cylinder, stage: StageDiagram, system: str) -> str:
    unit = label("pressure", system)
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
            show_number(float(place), "ratio", system, 0),
            *(show_number(float(column[i]) - ATMOSPHERE, "pressure", system) for column in columns),
        )
        for i, place in enumerate(positions)
    ]
    return table(headers, rows, left=0)


def _torque_table(revolution: WheelTorque, system: str) -> str:
    """Pull at even crank angles, two halves of the turn side by side."""
    degrees = np.arange(0, 360, CRANK_STEP)
    values = np.interp(np.radians(degrees), revolution.angle, revolution.effort, period=2 * np.pi)
    half = len(degrees) // 2
    headers = ("crank\n°", "effort\n" + label("force", system)) * 2
    rows = [
        (
            f"{degrees[i]}",
            show_number(float(values[i]), "force", system),
            f"{degrees[i + half]}",
            show_number(float(values[i + half]), "force", system),
        )
        for i in range(half)
    ]
    return table(headers, rows, left=0)
