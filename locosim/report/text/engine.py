"""Speed curve and cutoff table as text."""

from __future__ import annotations

from collections.abc import Sequence

from locosim.constants import ATMOSPHERE
from locosim.engine.boiler.stored_heat import ShortEffort
from locosim.engine.cutoff_table import CutoffPoint, PullChoice, by_opening
from locosim.engine.performance import Performance
from locosim.engine.rated_effort import factor_of_adhesion, rated_effort
from locosim.engine.speed_curve import CurvePoint
from locosim.report.caution import CAUTION, METHODS
from locosim.report.text.layout import paragraph, table
from locosim.units import figure, label, share, show


def heading(performance: Performance, system: str) -> list[str]:
    """Name the engine, what she is rated at, what the boiler keeps up, the method and what it assumes."""
    said = [*engine_lines(performance, system), *method_lines(performance)]
    return [performance.locomotive.name, *map(paragraph, said), ""]


def engine_lines(performance: Performance, system: str) -> list[str]:
    """What the engine is rated at and what the boiler keeps up, in sentences."""
    engine, supply = performance.locomotive, performance.supply
    rated, factor = rated_effort(engine), factor_of_adhesion(engine)
    limits = "; ".join(
        f"{limit.name} {show(limit.steam, 'steam_rate', system)}"
        for limit in sorted(supply.limits, key=lambda limit: limit.steam)
        if limit.reached
    )
    idle = " and ".join(limit.name for limit in supply.limits if not limit.reached)
    return [
        f"Rated tractive effort {'-' if rated is None else show(rated, 'force', system)}, factor of adhesion "
        f"{'-' if factor is None else format(factor, '.2f')}.",
        f"On {fuel_words(performance, system)} the boiler keeps up {show(supply.sustained, 'steam_rate', system)}, "
        f"held by the {supply.binding.name} ({limits}{f'; {idle} not reached' if idle else ''}).",
    ]


def fuel_words(performance: Performance, system: str) -> str:
    """What is burnt, with its heating value."""
    heat = show(performance.supply.heating_value, "heating_value", system)
    names = {"bituminous": "bituminous coal", "sub_bituminous": "sub-bituminous coal"}
    return f"{names.get(performance.fuel.kind, performance.fuel.kind)} of {heat}"


def method_lines(performance: Performance) -> list[str]:
    """The method, and what it takes by rule where the engine file gives no figure."""
    return [f"Method: {METHODS[performance.method]}.", *rule_lines(performance.notes)]


def rule_lines(notes: Sequence[str]) -> list[str]:
    """Say what was taken by a rule, and what in the file looks odd, if anything."""
    return [f"To note of the engine: {'; '.join(notes)}."] if notes else []


def curve_text(
    performance: Performance,
    points: Sequence[CurvePoint],
    rail: str,
    system: str,
    short: tuple[Sequence[ShortEffort], Sequence[CurvePoint]] | None = None,
) -> str:
    """Write a speed curve as a table, with that of a short effort below.

    Args:
        performance: The engine.
        points: The sustained curve.
        rail: Condition of the rail.
        system: Units, `us`, `metric` or `british`.
        short: A short effort, by falls of pressure, and its curve.
    """
    note = f"Sustained, on {rail} rail; the drawbar is behind a full tender on straight level track."
    lines = [*heading(performance, system), _curve_table(points, system), "", paragraph(note)]
    if short is not None:
        efforts, effort_points = short
        lines += ["", paragraph(effort_note(efforts, system)), ""]
        lines += [_curve_table(effort_points, system), ""]
    return "\n".join([*lines, paragraph(CAUTION)])


def effort_note(efforts: Sequence[ShortEffort], system: str) -> str:
    """Say what a short effort is paid from."""
    none, most = efforts[0], efforts[-1]
    return (
        f"For {most.duration / 60:g} minutes above that, the fire at its limit: "
        f"{show(most.water, 'small_mass', system)} of feed is put off, which alone gives "
        f"{show(none.extra_steam, 'steam_rate', system)} more steam; pressure let fall to "
        f"{show(most.pressure_end - ATMOSPHERE, 'pressure', system)} makes it "
        f"{show(most.extra_steam, 'steam_rate', system)}. At each speed the fall that gives most pull is taken, "
        "and pull is read at the mean pressure. Pressure and water have to be won back afterwards."
    )


def _curve_table(points: Sequence[CurvePoint], system: str) -> str:
    heads = (
        "speed\n" + label("speed", system),
        "wheel\npull\n" + label("force", system),
        "drawbar\npull\n" + label("force", system),
        "indicated\npower\n" + label("power", system),
        "drawbar\npower\n" + label("power", system),
        "cutoff\n%",
        "steam\n" + label("steam_rate", system),
        "fuel\n" + label("fuel_rate", system),
        *(("ends at\n" + label("pressure", system),) if points[0].pressure_end is not None else ()),
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
            *(() if p.pressure_end is None else (figure(p.pressure_end - ATMOSPHERE, "pressure", system),)),
            p.limit,
        )
        for p in points
    ]
    return table(heads, rows, left=0)


def cutoff_text(
    performance: Performance,
    points: Sequence[CutoffPoint],
    speed: float,
    system: str,
    choice: PullChoice | None = None,
) -> str:
    """Write what each cutoff gives and costs, a table for each regulator opening.

    Args:
        performance: The engine.
        points: Points of one regulator opening or several.
        speed: Train speed [m/s].
        system: Units, `us`, `metric` or `british`.
        choice: The ways to a wanted pull.
    """
    lines = heading(performance, system)
    for rows in by_opening(points):
        opening = rows[0].regulator
        words = "regulator open" if opening == 1.0 else f"regulator open {share(opening)}"
        lines += [
            paragraph(f"At {show(speed, 'speed', system)}, {words}, full boiler pressure:"),
            "",
            _cutoff_rows(rows, system),
            "",
        ]
    if any(p.steam_share > 1.0 for p in points):
        lines += [
            paragraph(
                "Above 100 % of the boiler's steam a cutoff is for a short effort only; its fuel is not given."
            )
        ]
    if points[0].events is not None:
        lines += ["", *_events(by_opening(points)[0], system)]
    if choice is not None:
        lines += ["", *_choice(choice, system)]
    return "\n".join([*lines, "", paragraph(CAUTION)])


def _cutoff_rows(points: Sequence[CutoffPoint], system: str) -> str:
    heads = [
        "cutoff\n%",
        *_cost_heads(system),
        "of the\nboiler's\nsteam, %",
    ]
    computed = points[0].chest_pressure is not None
    if computed:
        heads[8:8] = ["steam\nchest\n" + label("pressure", system), "steam\n" + label("temperature", system)]
    rows = []
    for p in points:
        row = [figure(p.cutoff, "ratio", system, 0), *_cost(p, system)]
        if p.chest_pressure is not None and p.steam_temperature is not None:
            row += [
                figure(p.chest_pressure - ATMOSPHERE, "pressure", system),
                figure(p.steam_temperature, "temperature", system),
            ]
        rows.append((*row, figure(p.steam_share, "ratio", system, 0)))
    return table(heads, rows, left=0)


def _cost_heads(system: str) -> tuple[str, ...]:
    """Headings of `_cost`."""
    return (
        "wheel\npull\n" + label("force", system),
        "indicated\npower\n" + label("power", system),
        "steam\n" + label("steam_rate", system),
        "steam\nper\nwork\n" + label("specific_steam", system),
        "fuel\n" + label("fuel_rate", system),
        "fuel\nper\ndistance\n" + label("fuel_per_distance", system),
        "back\npressure\n" + label("pressure", system),
    )


def _cost(p: CutoffPoint, system: str) -> list[str]:
    """Pull, power, steam, fuel and back pressure of a point."""
    kept_up = p.steam_share <= 1.0
    return [
        figure(p.wheel_pull, "force", system),
        figure(p.indicated_power, "power", system),
        figure(p.steam, "steam_rate", system),
        figure(p.steam_per_work, "specific_steam", system) if p.indicated_power > 0 else "-",
        figure(p.fuel, "fuel_rate", system) if kept_up else "-",
        figure(p.fuel_per_distance, "fuel_per_distance", system) if kept_up and p.speed > 0 else "-",
        figure(p.back_pressure, "pressure", system),
    ]


def _events(points: Sequence[CutoffPoint], system: str) -> list[str]:
    """The valve at each cutoff, mean of both ends."""
    digits = 1 if label("small_length", system) == "mm" else 2
    heads = (
        "cutoff\n%",
        "lead\n" + label("small_length", system),
        "port\nopening\n" + label("small_length", system),
        "opens to steam\nbefore the end\nof stroke, %",
        "release\nat %\nof stroke",
        "compression\nfor the last\n% of stroke",
    )
    rows = [
        (
            figure(p.cutoff, "ratio", system, 0),
            figure(p.events.lead, "small_length", system, digits),
            figure(p.events.opening, "small_length", system, digits),
            figure(p.events.admission, "ratio", system, 2),
            figure(p.events.release, "ratio", system, 1),
            figure(p.events.compression, "ratio", system, 1),
        )
        for p in points
        if p.events is not None
    ]
    return [paragraph("The valve, mean of both ends:"), "", table(heads, rows, left=0)]


def _choice(choice: PullChoice, system: str) -> list[str]:
    """The ways to a wanted pull, the cheapest marked."""
    heads = (
        "regulator\n%",
        "cutoff\n%",
        *_cost_heads(system),
        "",
    )
    rows = [
        (
            share(p.regulator).removesuffix("%"),
            figure(p.cutoff, "ratio", system, 1),
            *_cost(p, system),
            "cheapest" if p is choice.cheapest else "",
        )
        for p in choice.points
    ]
    lines = [
        paragraph(f"For a pull of {show(choice.pull, 'force', system)} at the rim:"),
        "",
        table(heads, rows, left=0),
    ]
    for opening, most in choice.fails:
        lines.append(
            paragraph(
                f"With the regulator open {share(opening)} the nearest she gives is {show(most, 'force', system)}."
            )
        )
    if choice.cheapest.steam_share > 1.0:
        lines.append(paragraph("Even the cheapest takes more steam than the boiler keeps up."))
    return lines
