"""Speed curve and cutoff table as text."""

from __future__ import annotations

from collections.abc import Sequence

from locosim.performance.cutoff_table import CutoffPoint
from locosim.performance.engine import Performance
from locosim.performance.rated import rated_effort
from locosim.performance.speed_curve import CurvePoint
from locosim.report.cautions import CAUTION, METHODS
from locosim.report.text import paragraph, table
from locosim.units import figure, label, show


def heading(performance: Performance, system: str) -> list[str]:
    """Name the engine, what she is rated at, what the boiler keeps up, the method and what it assumes."""
    said = [*engine_lines(performance, system), *method_lines(performance)]
    return [performance.locomotive.name, *map(paragraph, said), ""]


def engine_lines(performance: Performance, system: str) -> list[str]:
    """What the engine is rated at and what the boiler keeps up, in sentences."""
    engine, supply = performance.locomotive, performance.supply
    factor = engine.adhesive_mass * 9.80665 / rated_effort(engine)
    limits = "; ".join(
        f"{limit.name} {show(limit.steam, 'steam_rate', system)}"
        for limit in sorted(supply.limits, key=lambda limit: limit.steam)
    )
    return [
        f"Rated tractive effort {show(rated_effort(engine), 'force', system)}, factor of adhesion {factor:.2f}.",
        f"The boiler keeps up {show(supply.sustained, 'steam_rate', system)}, held by the "
        f"{supply.binding.name} ({limits}).",
    ]


def method_lines(performance: Performance) -> list[str]:
    """The method, and what it takes by rule where the engine file gives no figure."""
    lines = [f"Method: {METHODS[performance.method]}."]
    if performance.notes:
        lines.append(f"Taken by rule for want of a figure: {'; '.join(performance.notes)}.")
    return lines


def curve_text(performance: Performance, points: Sequence[CurvePoint], rail: str, system: str) -> str:
    """Write a speed curve as a table."""
    heads = (
        "speed\n" + label("speed", system),
        "wheel\npull\n" + label("force", system),
        "drawbar\npull\n" + label("force", system),
        "indicated\npower\n" + label("power", system),
        "drawbar\npower\n" + label("power", system),
        "cutoff\n%",
        "steam\n" + label("steam_rate", system),
        "fuel\n" + label("fuel_rate", system),
        "held by",
    )
    rows = [
        (
            figure(p.speed, "speed", system),
            figure(p.wheel_pull, "force", system),
            figure(p.drawbar_pull, "force", system),
            figure(p.indicated_power, "power", system),
            figure(p.drawbar_power, "power", system),
            figure(p.cutoff, "ratio", system, 0),
            figure(p.steam, "steam_rate", system),
            figure(p.fuel, "fuel_rate", system),
            p.limit,
        )
        for p in points
    ]
    note = f"Sustained, on {rail} rail; the drawbar is behind a full tender on straight level track."
    return "\n".join(
        [*heading(performance, system), table(heads, rows, left=0), "", paragraph(note), paragraph(CAUTION)]
    )


def cutoff_text(performance: Performance, points: Sequence[CutoffPoint], speed: float, system: str) -> str:
    """Write what each cutoff gives and costs as a table."""
    heads = (
        "cutoff\n%",
        "wheel\npull\n" + label("force", system),
        "indicated\npower\n" + label("power", system),
        "steam\n" + label("steam_rate", system),
        "steam\nper\nwork\n" + label("specific_steam", system),
        "fuel\n" + label("fuel_rate", system),
        "fuel\nper\ndistance\n" + label("fuel_per_distance", system),
        "back\npressure\n" + label("pressure", system),
        "of the\nboiler's\nsteam, %",
    )
    beyond = any(p.steam_share > 1.0 for p in points)
    rows = [
        (
            figure(p.cutoff, "ratio", system, 0),
            figure(p.wheel_pull, "force", system),
            figure(p.indicated_power, "power", system),
            figure(p.steam, "steam_rate", system),
            figure(p.steam_per_work, "specific_steam", system) if p.indicated_power > 0 else "-",
            figure(p.fuel, "fuel_rate", system) if p.steam_share <= 1.0 else "-",
            figure(p.fuel / speed, "fuel_per_distance", system)
            if p.steam_share <= 1.0 and speed > 0
            else "-",
            figure(p.back_pressure, "pressure", system),
            figure(p.steam_share, "ratio", system, 0),
        )
        for p in points
    ]
    notes = [f"At {show(speed, 'speed', system)}, regulator open, full boiler pressure."]
    if beyond:
        notes.append(
            "Above 100 % of the boiler's steam a cutoff is for a short effort only; its fuel is not given."
        )
    return "\n".join(
        [
            *heading(performance, system),
            table(heads, rows, left=0),
            "",
            paragraph(" ".join(notes)),
            paragraph(CAUTION),
        ]
    )
