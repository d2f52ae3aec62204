"""Speed curve and cutoff table as text."""

from __future__ import annotations

from collections.abc import Sequence

from locosim.constants import ATMOSPHERE
from locosim.engine.boiler.stored_heat import ShortEffort
from locosim.engine.cutoff_table import CutoffPoint, PullOptions, group_by_throttle
from locosim.engine.performance import Performance
from locosim.engine.rated_effort import factor_of_adhesion, rated_effort
from locosim.engine.speed_curve import CurvePoint
from locosim.report.caution import CAUTION, METHODS
from locosim.report.text.layout import paragraph, table
from locosim.units import label, show, show_number, show_percent


def heading(performance: Performance, system: str) -> list[str]:
    """Name the engine, what she is rated at, what the boiler keeps up, the method and what it assumes."""
    sentences = [*engine_lines(performance, system), *method_lines(performance)]
    return [performance.locomotive.name, *map(paragraph, sentences), ""]


def engine_lines(performance: Performance, system: str) -> list[str]:
    """What the engine is rated at and what the boiler keeps up, in sentences."""
    engine, supply = performance.locomotive, performance.supply
    rated, factor = rated_effort(engine), factor_of_adhesion(engine)
    limits = "; ".join(
        f"{limit.name} {show(limit.steam, 'steam_rate', system)}"
        for limit in sorted(supply.limits, key=lambda limit: limit.steam)
        if limit.reached
    )
    not_reached = " and ".join(limit.name for limit in supply.limits if not limit.reached)
    return [
        f"Rated tractive effort {'-' if rated is None else show(rated, 'force', system)}, factor of adhesion "
        f"{'-' if factor is None else format(factor, '.2f')}.",
        f"On {fuel_description(performance, system)} the boiler keeps up {show(supply.sustained, 'steam_rate', system)}, "
        f"held by the {supply.binding.name} ({limits}{f'; {not_reached} not reached' if not_reached else ''}).",
    ]


def fuel_description(performance: Performance, system: str) -> str:
    """What is burned, with its heating value."""
    heat = show(performance.supply.heating_value, "heating_value", system)
    names = {"bituminous": "bituminous coal", "subbituminous": "sub-bituminous coal"}
    return f"{names.get(performance.fuel.kind, performance.fuel.kind)} of {heat}"


def method_lines(performance: Performance) -> list[str]:
    """The method, and what it takes by rule where the engine file gives no figure."""
    return [f"Method: {METHODS[performance.method]}.", *note_lines(performance.notes)]


def note_lines(notes: Sequence[str]) -> list[str]:
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
        f"{show(most.deferred_feed, 'small_mass', system)} of feed is put off, which alone gives "
        f"{show(none.extra_steam, 'steam_rate', system)} more steam; pressure let fall to "
        f"{show(most.final_pressure - ATMOSPHERE, 'pressure', system)} makes it "
        f"{show(most.extra_steam, 'steam_rate', system)}. At each speed the fall that gives most pull is taken, "
        "and pull is read at the mean pressure. Pressure and water have to be won back afterwards."
    )


def _curve_table(points: Sequence[CurvePoint], system: str) -> str:
    headers = (
        "speed\n" + label("speed", system),
        "tractive\neffort\n" + label("force", system),
        "drawbar\npull\n" + label("force", system),
        "indicated\npower\n" + label("power", system),
        "drawbar\npower\n" + label("power", system),
        "cutoff\n%",
        "steam\n" + label("steam_rate", system),
        "fuel\n" + label("fuel_rate", system),
        *(("ends at\n" + label("pressure", system),) if points[0].final_pressure is not None else ()),
        "limited by",
    )
    rows = [
        (
            show_number(p.speed, "speed", system),
            show_number(p.rim_effort, "force", system),
            show_number(p.drawbar_pull, "force", system),
            show_number(p.indicated_power, "power", system),
            show_number(p.drawbar_power, "power", system),
            show_number(p.cutoff, "ratio", system, 0),
            show_number(p.steam, "steam_rate", system),
            show_number(p.fuel, "fuel_rate", system),
            *(
                ()
                if p.final_pressure is None
                else (show_number(p.final_pressure - ATMOSPHERE, "pressure", system),)
            ),
            p.limit,
        )
        for p in points
    ]
    return table(headers, rows, left=0)


def cutoff_text(
    performance: Performance,
    points: Sequence[CutoffPoint],
    speed: float,
    system: str,
    choice: PullOptions | None = None,
) -> str:
    """Write what each cutoff gives and costs, a table for each throttle opening.

    Args:
        performance: The engine.
        points: Points of one throttle opening or several.
        speed: Train speed [m/s].
        system: Units, `us`, `metric` or `british`.
        choice: The ways to a wanted pull.
    """
    lines = heading(performance, system)
    for rows in group_by_throttle(points):
        opening = rows[0].throttle
        words = "throttle open" if opening == 1.0 else f"throttle open {show_percent(opening)}"
        lines += [
            paragraph(f"At {show(speed, 'speed', system)}, {words}, full boiler pressure:"),
            "",
            _cutoff_table(rows, system),
            "",
        ]
    if any(p.steam_share > 1.0 for p in points):
        lines += [
            paragraph(
                "Above 100 % of the boiler's steam a cutoff is for a short effort only; its fuel is not given."
            )
        ]
    if points[0].events is not None:
        lines += ["", *_valve_events(group_by_throttle(points)[0], system)]
    if choice is not None:
        lines += ["", *_effort_options(choice, system)]
    return "\n".join([*lines, "", paragraph(CAUTION)])


def _cutoff_table(points: Sequence[CutoffPoint], system: str) -> str:
    headers = [
        "cutoff\n%",
        *_cost_headers(system),
        "share of\nsustained\nevap., %",
    ]
    computed = points[0].chest_pressure is not None
    if computed:
        headers[8:8] = [
            "steam\nchest\n" + label("pressure", system),
            "steam\n" + label("temperature", system),
        ]
    rows = []
    for p in points:
        row = [show_number(p.cutoff, "ratio", system, 0), *_cost_cells(p, system)]
        if p.chest_pressure is not None and p.steam_temperature is not None:
            row += [
                show_number(p.chest_pressure - ATMOSPHERE, "pressure", system),
                show_number(p.steam_temperature, "temperature", system),
            ]
        rows.append((*row, show_number(p.steam_share, "ratio", system, 0)))
    return table(headers, rows, left=0)


def _cost_headers(system: str) -> tuple[str, ...]:
    """Headings of `_cost_cells`."""
    return (
        "tractive\neffort\n" + label("force", system),
        "indicated\npower\n" + label("power", system),
        "steam\n" + label("steam_rate", system),
        "steam\nper\nwork\n" + label("specific_steam_consumption", system),
        "fuel\n" + label("fuel_rate", system),
        "fuel\nper\ndistance\n" + label("fuel_per_distance", system),
        "back\npressure\n" + label("pressure", system),
    )


def _cost_cells(p: CutoffPoint, system: str) -> list[str]:
    """Pull, power, steam, fuel and back pressure of a point."""
    sustained = p.steam_share <= 1.0
    return [
        show_number(p.rim_effort, "force", system),
        show_number(p.indicated_power, "power", system),
        show_number(p.steam, "steam_rate", system),
        show_number(p.steam_per_work, "specific_steam_consumption", system) if p.indicated_power > 0 else "-",
        show_number(p.fuel, "fuel_rate", system) if sustained else "-",
        show_number(p.fuel_per_distance, "fuel_per_distance", system) if sustained and p.speed > 0 else "-",
        show_number(p.back_pressure, "pressure", system),
    ]


def _valve_events(points: Sequence[CutoffPoint], system: str) -> list[str]:
    """The valve at each cutoff, mean of both ends."""
    digits = 1 if label("small_length", system) == "mm" else 2
    headers = (
        "cutoff\n%",
        "lead\n" + label("small_length", system),
        "port\nopening\n" + label("small_length", system),
        "opens to steam\nbefore the end\nof stroke, %",
        "release\nat %\nof stroke",
        "compression\nfor the last\n% of stroke",
    )
    rows = [
        (
            show_number(p.cutoff, "ratio", system, 0),
            show_number(p.events.lead, "small_length", system, digits),
            show_number(p.events.opening, "small_length", system, digits),
            show_number(p.events.admission, "ratio", system, 2),
            show_number(p.events.release, "ratio", system, 1),
            show_number(p.events.compression, "ratio", system, 1),
        )
        for p in points
        if p.events is not None
    ]
    return [paragraph("The valve, mean of both ends:"), "", table(headers, rows, left=0)]


def _effort_options(choice: PullOptions, system: str) -> list[str]:
    """The ways to a wanted pull, the cheapest marked."""
    headers = (
        "throttle\n%",
        "cutoff\n%",
        *_cost_headers(system),
        "",
    )
    rows = [
        (
            show_percent(p.throttle).removesuffix("%"),
            show_number(p.cutoff, "ratio", system, 1),
            *_cost_cells(p, system),
            "cheapest" if p is choice.most_economical else "",
        )
        for p in choice.points
    ]
    lines = [
        paragraph(f"For a pull of {show(choice.effort, 'force', system)} at the rim:"),
        "",
        table(headers, rows, left=0),
    ]
    for opening, most in choice.unreachable:
        lines.append(
            paragraph(
                f"With the throttle open {show_percent(opening)} the nearest she gives is {show(most, 'force', system)}."
            )
        )
    if choice.most_economical.steam_share > 1.0:
        lines.append(
            paragraph("Even the most economical setting needs more steam than the boiler can sustain.")
        )
    return lines
