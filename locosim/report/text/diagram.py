"""Indicator diagram and crank torque as text."""

from __future__ import annotations

import numpy as np

from locosim.constants import ATMOSPHERE
from locosim.engine.cylinders.operating_points import Turn
from locosim.engine.indicator_diagram import (
    ENDS,
    Indicator,
    end_mean_pressure,
    stages_of,
    strokes,
    turns_of,
)
from locosim.physics.cylinder.results import StageDiagram
from locosim.physics.cylinder.revolution import Cylinder
from locosim.report.caution import CAUTION, METHODS
from locosim.report.text.engine import rule_lines
from locosim.report.text.layout import paragraph, table
from locosim.units import figure, label, share, show

PLACES = tuple(np.concatenate([[0.0, 0.02], np.linspace(0.05, 1.0, 20)]))  # of the stroke
TURN_STEP = 15  # degrees of the torque table


def diagram_text(drawn: Indicator, system: str) -> str:
    """Write an operating point: figures, diagrams of both ends, pull over the crank's turn.

    Args:
        drawn: The operating point.
        system: Units, `us`, `metric` or `british`.
    """
    lines = [
        drawn.locomotive.name,
        paragraph(f"Method: {METHODS['cycle']}."),
        *map(paragraph, rule_lines(drawn.notes)),
        "",
        paragraph(_summary(drawn, system)),
    ]
    if drawn.events is not None:
        lines.append(paragraph(_valve(drawn, system)))
    for name, cylinder, stage in stages_of(drawn):
        lines += ["", paragraph(f"{name}, gauge pressure over the stroke of each end:"), ""]
        lines.append(_strokes(cylinder, stage, system))
        means = [show(end_mean_pressure(stage, end), "pressure", system) for end in ENDS]
        lines.append(paragraph(f"Mean effective pressure: front {means[0]}, back {means[1]}."))
    for whose, turn in turns_of(drawn):
        which = f" of {whose}" if whose else ""
        lines += [
            "",
            paragraph(
                f"Pull at the rim{which} over a turn, by steam alone: mean "
                f"{show(float(np.mean(turn.pull)), 'force', system)}, greatest "
                f"{show(float(np.max(turn.pull)), 'force', system)}, least "
                f"{show(float(np.min(turn.pull)), 'force', system)}; greatest over mean {turn.unevenness:.2f}."
            ),
            "",
            _turn(turn, system),
        ]
    return "\n".join([*lines, "", paragraph(CAUTION)])


def _summary(drawn: Indicator, system: str) -> str:
    figures = drawn.figures
    power = drawn.pull * drawn.speed
    steam = show(drawn.steam / power, "specific_steam", system) if power > 0.0 else "-"
    return (
        f"At {show(drawn.speed, 'speed', system)} with {share(drawn.cutoff)} cutoff and the regulator open "
        f"{share(drawn.regulator)}, boiler {show(drawn.pressure - ATMOSPHERE, 'pressure', system)} by gauge: "
        f"indicated pull {show(drawn.pull, 'force', system)}, indicated power {show(power, 'power', system)}, steam "
        f"{show(drawn.steam, 'steam_rate', system)} at {show(_temperature(drawn), 'temperature', system)} ({steam}), "
        f"steam chest {show(float(figures.chest_pressure[0]) - ATMOSPHERE, 'pressure', system)}, exhaust passage "
        f"{show(float(figures.back_pressure[0]), 'pressure', system)} by gauge, condensed on the walls "
        f"{float(figures.condensed_share[0]):.1%} of the steam admitted."
    )


def _temperature(drawn: Indicator) -> float:
    return float(drawn.figures.steam_temperature[0])


def _valve(drawn: Indicator, system: str) -> str:
    events = drawn.events
    assert events is not None
    digits = 1 if label("small_length", system) == "mm" else 2
    return (
        f"Valve, mean of both ends: lead {show(events.lead, 'small_length', system, digits)}, greatest opening "
        f"{show(events.opening, 'small_length', system, digits)}, steam on {events.admission:.2%} of the stroke before "
        f"its end, cut off at {events.cutoff:.1%}, release at {events.release:.1%}, compression over the last "
        f"{events.compression:.1%}."
    )


def _strokes(cylinder: Cylinder, stage: StageDiagram, system: str) -> str:
    unit = label("pressure", system)
    heads = (
        "stroke\n%",
        f"front end\nworking\n{unit}",
        f"front end\nreturn\n{unit}",
        f"back end\nworking\n{unit}",
        f"back end\nreturn\n{unit}",
    )
    places = np.array(PLACES)
    columns = [part for end in ENDS for part in strokes(cylinder, stage, end, places)]
    rows = [
        (
            figure(float(place), "ratio", system, 0),
            *(figure(float(column[i]) - ATMOSPHERE, "pressure", system) for column in columns),
        )
        for i, place in enumerate(places)
    ]
    return table(heads, rows, left=0)


def _turn(turn: Turn, system: str) -> str:
    """Pull at even crank angles, two halves of the turn side by side."""
    degrees = np.arange(0, 360, TURN_STEP)
    values = np.interp(np.radians(degrees), turn.angle, turn.pull, period=2 * np.pi)
    half = len(degrees) // 2
    heads = ("crank\n°", "pull\n" + label("force", system)) * 2
    rows = [
        (
            f"{degrees[i]}",
            figure(float(values[i]), "force", system),
            f"{degrees[i + half]}",
            figure(float(values[i + half]), "force", system),
        )
        for i in range(half)
    ]
    return table(heads, rows, left=0)
