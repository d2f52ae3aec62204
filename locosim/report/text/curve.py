"""The speed curve as text."""

from __future__ import annotations

from collections.abc import Sequence

from locosim.constants import ATMOSPHERE
from locosim.engine.boiler.stored_heat import ShortEffort
from locosim.engine.command_results import SpeedCurve
from locosim.engine.performance import Performance
from locosim.engine.speed_curve import CurvePoint
from locosim.report.accuracy import accuracy_text
from locosim.report.caution import CAUTION
from locosim.report.made_from import made_from
from locosim.report.text.engine import heading, with_full_supplies
from locosim.report.text.layout import paragraph, table
from locosim.units import label, show, show_number


def curve_text(curve: SpeedCurve) -> str:
    """Write a speed curve as a table, with that of a short effort below."""
    pulled = with_full_supplies(curve.performance.locomotive)
    note = f"Sustained, {curve.rail} rail; drawbar pull {pulled} on level tangent track."
    lines = [*heading(curve.performance), _curve_table(curve.points), "", paragraph(note)]
    lines += [paragraph(_starting_sentence(curve.performance)), ""]
    if curve.stages:
        lines += [paragraph("Receiver and division of work:"), "", _compound_table(curve), ""]
    if curve.efforts:
        lines += [paragraph(_effort_note(curve.efforts)), "", _curve_table(curve.effort_points), ""]
    return "\n".join(
        [
            *lines,
            paragraph(accuracy_text("curve", curve.performance.method, made_from(curve))),
            "",
            paragraph(CAUTION),
        ]
    )


def _starting_sentence(performance: Performance) -> str:
    """Indicated tractive effort at starting: mean, and at rest at the worst crank angle."""
    mean, worst, live_steam = performance.map.starting_efforts(
        performance.locomotive.boiler.absolute_pressure
    )
    how = ", live steam in the low-pressure cylinders" if live_steam else ""
    return (
        f"Starting in full gear{how}: indicated tractive effort {show(mean, 'force')} over a slow revolution, "
        f"{show(worst, 'force')} at rest at the worst crank angle."
    )


def _compound_table(curve: SpeedCurve) -> str:
    """Receiver pressure and division of work over speed."""
    headers = ("speed\n" + label("speed"), "receiver\n" + label("pressure"), "high-pressure\nwork %")
    rows = [
        (
            show_number(point.speed, "speed"),
            show_number(stage.receiver_pressure - ATMOSPHERE, "pressure"),
            show_number(stage.high_pressure_share, "ratio", 0),
        )
        for point, stage in zip(curve.points, curve.stages, strict=True)
    ]
    return table(headers, rows, left=0)


def _effort_note(efforts: Sequence[ShortEffort]) -> str:
    """Where the extra steam of a short effort comes from."""
    none, most = efforts[0], efforts[-1]
    return (
        f"Short effort of {most.duration / 60:g} minutes, fire at its limit: deferring "
        f"{show(most.deferred_feed, 'small_mass')} of feedwater gives {show(none.extra_steam, 'steam_rate')} more "
        f"steam; with a pressure drop to {show(most.final_pressure - ATMOSPHERE, 'pressure')} it is "
        f"{show(most.extra_steam, 'steam_rate')} more. Each speed uses the pressure drop that gives the highest "
        "tractive effort, computed at the mean pressure. Pressure and water must be recovered afterward."
    )


def _curve_table(points: Sequence[CurvePoint]) -> str:
    headers = (
        "speed\n" + label("speed"),
        "tractive\neffort\n" + label("force"),
        "drawbar\npull\n" + label("force"),
        "indicated\npower\n" + label("power"),
        "drawbar\npower\n" + label("power"),
        "cutoff\n%",
        "steam\n" + label("steam_rate"),
        "fuel\n" + label("fuel_rate"),
        *(("ends at\n" + label("pressure"),) if points[0].final_pressure is not None else ()),
        "limited by",
    )
    rows = [
        (
            show_number(p.speed, "speed"),
            show_number(p.rim_effort, "force"),
            show_number(p.drawbar_pull, "force"),
            show_number(p.indicated_power, "power"),
            show_number(p.drawbar_power, "power"),
            show_number(p.cutoff, "ratio", 0),
            show_number(p.steam, "steam_rate"),
            show_number(p.fuel, "fuel_rate"),
            *(() if p.final_pressure is None else (show_number(p.final_pressure - ATMOSPHERE, "pressure"),)),
            p.limit,
        )
        for p in points
    ]
    return table(headers, rows, left=0)
