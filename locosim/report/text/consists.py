"""Consists compared as text."""

from __future__ import annotations

from locosim.planning.consists import Consist, ConsistTable
from locosim.report.accuracy import accuracy_text
from locosim.report.caution import CAUTION, METHODS
from locosim.report.made_from import made_from
from locosim.report.text.layout import finer_kind, margin_text, paragraph, table
from locosim.units import label, show_number

ORDER_WORDS = {
    "verdict": "best verdict and margin first",
    "time": "shortest time first",
    "water": "least water first",
    "fuel": "least fuel first",
    "cost": "least cost first",
    "mass": "heaviest train first",
}


def consists_text(compared: ConsistTable) -> str:
    """Write consists compared as a table, with the problems of those that could not be checked."""
    lines = [each.route_as_run.name for each in compared.excursions[:1]]
    where = f" on {lines[0]}" if lines else ""
    count = len(compared.consists)
    noun = "consist" if count == 1 else "consists"
    parts = [
        paragraph(f"{count} {noun}{where}, {ORDER_WORDS[compared.order]}"),
        _table(compared) if compared.checked else "",
        "\n".join(_doubt_lines(compared)),
        "\n".join(
            paragraph(f"Not checked: {each.name}: {' '.join(each.problem.split())}", indent="  ", first="")
            for each in compared.consists
            if each.problem
        ),
    ]
    if compared.checked:
        parts.append(paragraph(_methods(compared)))
    if compared.method is not None:
        parts.append(paragraph(accuracy_text("consists", compared.method, made_from(compared))))
    return "\n\n".join(part for part in [*parts, paragraph(CAUTION)] if part)


def _table(compared: ConsistTable) -> str:
    priced = compared.prices.given
    water = finer_kind("water", *(each.water or 0.0 for each in compared.checked))
    fuel = finer_kind("small_mass", *(each.fuel or 0.0 for each in compared.checked))
    headers = (
        "consist",
        "verdict",
        "rule, place",
        "margin",
        "trailing\n" + label("mass"),
        "time",
        "water\n" + label(water),
        "fuel\n" + label(fuel),
        *(("cost",) if priced else ()),
    )
    rows = [_row(each, water, fuel, priced=priced) for each in compared.checked]
    return table(headers, rows, left=3, wrapped=(0, 2))


def _row(each: Consist, water: str, fuel: str, *, priced: bool) -> tuple[str, ...]:
    worst, mass = each.worst, each.excursion.train.mass if each.excursion else 0.0
    return (
        each.name,
        each.verdict or "",
        f"{worst.rule}, {worst.place}" if worst else "",
        margin_text(worst.margin) if worst else "",
        show_number(mass, "mass"),
        _or_dash(each.time, "time"),
        _or_dash(each.water, water),
        _or_dash(each.fuel, fuel),
        *(("-" if each.cost is None else f"{each.cost:,.2f}",) if priced else ()),
    )


def _or_dash(value: float | None, kind: str) -> str:
    return "-" if value is None else show_number(value, kind)


def _doubt_lines(compared: ConsistTable) -> list[str]:
    """Assumptions within whose range a verdict changes, by consist."""
    lines = []
    for each in compared.checked:
        findings = each.check.findings if each.check is not None else ()
        names = dict.fromkeys(band.assumption for f in findings if f.flips for band in f.bands)
        if names:
            lines.append(
                paragraph(
                    f"{each.name}: a verdict changes within the range of an assumption: {', '.join(names)}.",
                    indent="  ",
                    first="",
                )
            )
    if any(not each.arrives for each in compared.checked):
        lines.append(paragraph("A dash: the train does not arrive; `check` says where and why it ends."))
    return lines


def _methods(compared: ConsistTable) -> str:
    methods = dict.fromkeys(excursion.method for excursion in compared.excursions)
    return f"Method: {'; '.join(METHODS[method] for method in methods)}."
