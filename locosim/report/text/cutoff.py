"""The cutoff table as text."""

from __future__ import annotations

from collections.abc import Sequence

from locosim.constants import ATMOSPHERE
from locosim.engine.command_results import CutoffTable
from locosim.engine.cutoff_table import CutoffPoint, PullOptions, group_by_throttle
from locosim.report.accuracy import accuracy_text
from locosim.report.caution import CAUTION
from locosim.report.made_from import made_from
from locosim.report.text.engine import heading
from locosim.report.text.layout import paragraph, table
from locosim.units import label, show, show_number, show_percent


def cutoff_text(cutoffs: CutoffTable) -> str:
    """Write tractive effort, steam and fuel at each cutoff, one table for each throttle opening."""
    groups = group_by_throttle(cutoffs.points)
    lines = heading(cutoffs.performance)
    for points in groups:
        opening = points[0].throttle
        words = "throttle open" if opening == 1.0 else f"throttle open {show_percent(opening)}"
        title = f"At {show(cutoffs.speed, 'speed')}, {words}, full boiler pressure:"
        lines += [paragraph(title), "", _cutoff_table(points), ""]
    if any(point.steam_share > 1.0 for point in cutoffs.points):
        lines.append(
            paragraph(
                "Above 100 % of sustained evaporation a cutoff is for a short effort only; no fuel is given."
            )
        )
    if cutoffs.points[0].events is not None:
        lines += ["", *_valve_events(groups[0])]
    if cutoffs.options is not None:
        lines += ["", *_effort_options(cutoffs.options)]
    return "\n".join(
        [
            *lines,
            "",
            paragraph(accuracy_text("cutoff", cutoffs.performance.method, made_from(cutoffs))),
            "",
            paragraph(CAUTION),
        ]
    )


def _cutoff_table(points: Sequence[CutoffPoint]) -> str:
    computed = points[0].chest_pressure is not None
    chest = ("steam\nchest\n" + label("pressure"), "steam\n" + label("temperature")) if computed else ()
    headers = ("cutoff\n%", *_cost_headers(), *chest, "share of\nsustained\nevap., %")
    rows = []
    for p in points:
        row = [show_number(p.cutoff, "ratio", 0), *_cost_cells(p)]
        if p.chest_pressure is not None and p.steam_temperature is not None:
            row += [
                show_number(p.chest_pressure - ATMOSPHERE, "pressure"),
                show_number(p.steam_temperature, "temperature"),
            ]
        rows.append((*row, show_number(p.steam_share, "ratio", 0)))
    return table(headers, rows, left=0)


def _cost_headers() -> tuple[str, ...]:
    """Headings of `_cost_cells`."""
    return (
        "tractive\neffort\n" + label("force"),
        "indicated\npower\n" + label("power"),
        "steam\n" + label("steam_rate"),
        "steam\nrate\n" + label("specific_steam_consumption"),
        "fuel\n" + label("fuel_rate"),
        "fuel\nper\ndistance\n" + label("fuel_per_distance"),
        "back\npressure\n" + label("pressure"),
    )


def _cost_cells(p: CutoffPoint) -> list[str]:
    """Tractive effort, power, steam, fuel and back pressure of a point, under `_cost_headers`."""
    sustained = p.steam_share <= 1.0
    return [
        show_number(p.rim_effort, "force"),
        show_number(p.indicated_power, "power"),
        show_number(p.steam, "steam_rate"),
        show_number(p.steam_per_work, "specific_steam_consumption") if p.indicated_power > 0 else "-",
        show_number(p.fuel, "fuel_rate") if sustained else "-",
        show_number(p.fuel_per_distance, "fuel_per_distance") if sustained and p.speed > 0 else "-",
        show_number(p.back_pressure, "pressure"),
    ]


def _valve_events(points: Sequence[CutoffPoint]) -> list[str]:
    """Valve events at each cutoff, mean of both ends."""
    digits = 1 if label("small_length") == "mm" else 2
    headers = (
        "cutoff\n%",
        "lead\n" + label("small_length"),
        "port\nopening\n" + label("small_length"),
        "preadmission\n% of\nstroke",
        "release\nat % of\nstroke",
        "compression\nover last\n% of stroke",
    )
    rows = [
        (
            show_number(p.cutoff, "ratio", 0),
            *(
                "-" if length is None else show_number(length, "small_length", digits)
                for length in (p.events.lead, p.events.opening)
            ),
            show_number(p.events.admission, "ratio", 2),
            show_number(p.events.release, "ratio", 1),
            show_number(p.events.compression, "ratio", 1),
        )
        for p in points
        if p.events is not None
    ]
    return [paragraph("Valve events, mean of both ends:"), "", table(headers, rows, left=0)]


def _effort_options(options: PullOptions) -> list[str]:
    """Settings that give the required tractive effort, the cheapest marked."""
    headers = ("throttle\n%", "cutoff\n%", *_cost_headers(), "")
    rows = [
        (
            show_percent(p.throttle).removesuffix("%"),
            show_number(p.cutoff, "ratio", 1),
            *_cost_cells(p),
            "cheapest" if p is options.most_economical else "",
        )
        for p in options.points
    ]
    lines = [
        paragraph(f"For a tractive effort of {show(options.effort, 'force')} at the wheel rim:"),
        "",
        table(headers, rows, left=0),
    ]
    for opening, nearest in options.unreachable:
        lines.append(
            paragraph(
                f"With the throttle open {show_percent(opening)} the nearest tractive effort is "
                f"{show(nearest, 'force')}."
            )
        )
    if options.most_economical.steam_share > 1.0:
        lines.append(paragraph("Even the cheapest setting needs more than the sustained evaporation."))
    return lines
