"""Two engines side by side as text."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from locosim.engine.comparison import ChangeEffect, ComparedEngine, Comparison
from locosim.report.caution import CAUTION, METHODS
from locosim.report.text.engine import fuel_description, note_lines
from locosim.report.text.layout import paragraph, table
from locosim.units import label, show, show_number

# How a field is shown, by the unit the model declares for it.
KIND_BY_UNIT = {
    "Pa": "pressure",
    "m^2": "area",
    "m^3": "volume",
    "kg": "small_mass",
    "kg/s": "steam_rate",
    "m/s": "speed",
    "curve": "curve",
    "grade": "grade",
}
LARGE_AREA = (
    0.1  # from this area on square feet or metres are shown rather than square inches or centimetres [m²]
)
LARGE_LENGTH = 3.0  # from this length on feet or metres are shown rather than inches or millimetres [m]


def compare_text(comparison: Comparison, system: str) -> str:
    """Write two engines side by side, then what each change is worth.

    Args:
        comparison: The engines compared.
        system: Units, `us`, `metric` or `british`.
    """
    sides = (comparison.first, comparison.second)
    names = [side.performance.locomotive.name for side in sides]
    speed = show(comparison.speed, "speed", system)
    lines = [
        paragraph(f"A: {names[0]}"),
        paragraph(f"B: {names[1]}"),
        paragraph(f"Method: {METHODS[sides[0].performance.method]}."),
        paragraph(f"Fuel: {_fuels(comparison, system)}."),
    ]
    for letter, side in zip("AB", sides, strict=True):
        lines += map(paragraph, note_lines([f"{letter}: {note}" for note in side.performance.notes]))
    lines += ["", _summary_table(comparison, system), "", _speed_table(comparison, system), ""]
    if comparison.changes:
        lines += [
            paragraph(
                f"What each change from A to B is worth alone, made to A; power and fuel at the drawbar at {speed}:"
            ),
            "",
            _change_table(comparison, system),
            "",
            *_without_effect(comparison),
            paragraph(
                "Changes need not add up: what one gives, another may already have given or may take away."
            ),
        ]
        for worth in comparison.changes:
            if worth.problem is not None:
                lines.append(paragraph(f"{worth.label} cannot be changed alone: {worth.problem}."))
    else:
        lines.append(paragraph("The two files do not differ in anything that is computed with."))
    return "\n".join([*lines, paragraph(CAUTION)])


def _summary_table(comparison: Comparison, system: str) -> str:
    speed = show(comparison.speed, "speed", system)
    rows: list[tuple[str, Callable[[ComparedEngine], str]]] = [
        (
            "rated tractive effort",
            lambda s: "-" if s.rated_effort is None else show(s.rated_effort, "force", system),
        ),
        (
            "factor of adhesion",
            lambda s: "-" if s.factor_of_adhesion is None else f"{s.factor_of_adhesion:.2f}",
        ),
        ("heaviest driving axle", lambda s: show(s.axle_load, "mass", system)),
        ("sustained evaporation", lambda s: show(s.performance.supply.sustained, "steam_rate", system)),
        ("  limited by", lambda s: s.performance.supply.binding.name),
        ("starting tractive effort", lambda s: show(s.start.rim_effort, "force", system)),
        ("  limited by", lambda s: s.start.limit),
        (f"cheapest cutoff at {speed}", lambda s: f"{s.best_cutoff:.0%}"),
        (
            "  steam for indicated work",
            lambda s: show(s.min_steam_per_work, "specific_steam_consumption", system),
        ),
        (f"fuel for drawbar work at {speed}", lambda s: _specific_fuel(s, system)),
    ]
    cells = [(name, of(comparison.first), of(comparison.second)) for name, of in rows]
    return table(("", "A", "B"), cells, wrapped=(0, 1, 2))


def _specific_fuel(side: ComparedEngine, system: str) -> str:
    point = side.at_speed
    if point.drawbar_power <= 0.0:
        return "-"
    return show(point.fuel / point.drawbar_power, "specific_steam_consumption", system, 2)


def _speed_table(comparison: Comparison, system: str) -> str:
    force, power = label("force", system), label("power", system)
    headers = (
        "speed\n" + label("speed", system),
        f"A\ndrawbar\npull\n{force}",
        f"B\ndrawbar\npull\n{force}",
        f"A\ndrawbar\npower\n{power}",
        f"B\ndrawbar\npower\n{power}",
        "A\nlimited by",
        "B\nlimited by",
    )
    rows = [
        (
            show_number(a.speed, "speed", system),
            show_number(a.drawbar_pull, "force", system),
            show_number(b.drawbar_pull, "force", system),
            show_number(a.drawbar_power, "power", system),
            show_number(b.drawbar_power, "power", system),
            a.limit,
            b.limit,
        )
        for a, b in zip(comparison.first.rows, comparison.second.rows, strict=True)
    ]
    return table(headers, rows, left=0, wrapped=(5, 6))


def _fuels(comparison: Comparison, system: str) -> str:
    """What both burn, or each."""
    one, other = (
        fuel_description(side.performance, system) for side in (comparison.first, comparison.second)
    )
    return one if one == other else f"A {one}, B {other}"


def _change_table(comparison: Comparison, system: str) -> str:
    headers = ("change", "A", "B", "starting\neffort", "drawbar\npower", "fuel for\nwork")
    rows = [
        (
            worth.label,
            *(
                (value_text(v, worth.unit, system) for v in (worth.before, worth.after))
                if worth.fields
                else ("", "")
            ),
            *(_percent_change(value) for value in (worth.start, worth.power, worth.fuel)),
        )
        for worth in (*(w for w in comparison.changes if w.has_effect), comparison.combined)
    ]
    return table(headers, rows, left=3, wrapped=(0, 1, 2))


def _without_effect(comparison: Comparison) -> list[str]:
    """Name the changes that do nothing to these figures."""
    no_effect = [worth.label for worth in comparison.changes if not worth.has_effect]
    return [paragraph(f"Without effect on these figures: {'; '.join(no_effect)}.")] if no_effect else []


def _percent_change(value: float | None) -> str:
    return "-" if value is None else f"{value:+.1%}"


def value_text(value: Any, unit: str, system: str) -> str:
    """Write the value of a field as the reader knows it."""
    if value is None:
        return "none"
    if isinstance(value, tuple):
        return f"{len(value)} item{'' if len(value) == 1 else 's'}"
    if isinstance(value, str):
        return value
    if not isinstance(value, int | float):
        return "fitted"
    if unit == "m":
        return show(
            value,
            "length" if value >= LARGE_LENGTH else "small_length",
            system,
            1 if value >= LARGE_LENGTH else 2,
        )
    if unit == "m^2" and value < LARGE_AREA:
        return show(value, "small_area", system)
    if unit in KIND_BY_UNIT:
        return show(value, KIND_BY_UNIT[unit], system)
    return f"{value:g}" if unit in ("", "number") else f"{value:g} {unit}"


def effect_row(worth: ChangeEffect) -> dict[str, Any]:
    """One change as plain data."""
    numbers = (int, float, str, type(None))
    return {
        "change": worth.name,
        "fields": list(worth.fields),
        "unit": worth.unit,
        "before": worth.before if isinstance(worth.before, numbers) else value_text(worth.before, "", "us"),
        "after": worth.after if isinstance(worth.after, numbers) else value_text(worth.after, "", "us"),
        "starting_tractive_effort_change": worth.start,
        "drawbar_power_change": worth.power,
        "fuel_per_work_change": worth.fuel,
        "problem": worth.problem,
    }
