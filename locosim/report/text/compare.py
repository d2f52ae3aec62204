"""Two engines side by side as text."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from locosim.engine.comparison import Comparison, Side, Worth
from locosim.report.caution import CAUTION, METHODS
from locosim.report.text.engine import fuel_words, rule_lines
from locosim.report.text.layout import paragraph, table
from locosim.units import figure, label, show

# How a field is shown, by the unit the model declares for it.
KINDS = {
    "Pa": "pressure",
    "m^2": "area",
    "m^3": "volume",
    "kg": "small_mass",
    "kg/s": "steam_rate",
    "m/s": "speed",
    "curve": "curve",
    "gradient": "gradient",
}
WIDE = 0.1  # from this area on square feet or metres are shown rather than square inches or centimetres [m²]
LONG = 3.0  # from this length on feet or metres are shown rather than inches or millimetres [m]


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
        lines += map(paragraph, rule_lines([f"{letter}: {note}" for note in side.performance.notes]))
    lines += ["", _sides(comparison, system), "", _rows(comparison, system), ""]
    if comparison.changes:
        lines += [
            paragraph(
                f"What each change from A to B is worth alone, made to A; power and fuel at the drawbar at {speed}:"
            ),
            "",
            _changes(comparison, system),
            "",
            *_without_effect(comparison),
            paragraph(
                "Changes need not add up: what one gives, another may already have given or may take away."
            ),
        ]
        for worth in comparison.changes:
            if worth.problem is not None:
                lines.append(paragraph(f"{worth.words} cannot be changed alone: {worth.problem}."))
    else:
        lines.append(paragraph("The two files do not differ in anything that is computed with."))
    return "\n".join([*lines, paragraph(CAUTION)])


def _sides(comparison: Comparison, system: str) -> str:
    speed = show(comparison.speed, "speed", system)
    rows: list[tuple[str, Callable[[Side], str]]] = [
        (
            "rated tractive effort",
            lambda s: "-" if s.rated_effort is None else show(s.rated_effort, "force", system),
        ),
        (
            "factor of adhesion",
            lambda s: "-" if s.factor_of_adhesion is None else f"{s.factor_of_adhesion:.2f}",
        ),
        ("heaviest coupled axle", lambda s: show(s.axle_load, "mass", system)),
        ("sustained steam", lambda s: show(s.performance.supply.sustained, "steam_rate", system)),
        ("  held by", lambda s: s.performance.supply.binding.name),
        ("pull at the rim, starting", lambda s: show(s.start.wheel_pull, "force", system)),
        ("  held by", lambda s: s.start.limit),
        (f"cheapest cutoff at {speed}", lambda s: f"{s.cheapest_cutoff:.0%}"),
        ("  steam for indicated work", lambda s: show(s.cheapest_steam, "specific_steam", system)),
        (f"fuel for drawbar work at {speed}", lambda s: _fuel(s, system)),
    ]
    cells = [(name, of(comparison.first), of(comparison.second)) for name, of in rows]
    return table(("", "A", "B"), cells, wrapped=(0, 1, 2))


def _fuel(side: Side, system: str) -> str:
    point = side.at_speed
    if point.drawbar_power <= 0.0:
        return "-"
    return show(point.fuel / point.drawbar_power, "specific_steam", system, 2)


def _rows(comparison: Comparison, system: str) -> str:
    force, power = label("force", system), label("power", system)
    heads = (
        "speed\n" + label("speed", system),
        f"A\ndrawbar\npull\n{force}",
        f"B\ndrawbar\npull\n{force}",
        f"A\ndrawbar\npower\n{power}",
        f"B\ndrawbar\npower\n{power}",
        "A\nheld by",
        "B\nheld by",
    )
    rows = [
        (
            figure(a.speed, "speed", system),
            figure(a.drawbar_pull, "force", system),
            figure(b.drawbar_pull, "force", system),
            figure(a.drawbar_power, "power", system),
            figure(b.drawbar_power, "power", system),
            a.limit,
            b.limit,
        )
        for a, b in zip(comparison.first.rows, comparison.second.rows, strict=True)
    ]
    return table(heads, rows, left=0, wrapped=(5, 6))


def _fuels(comparison: Comparison, system: str) -> str:
    """What both burn, or each."""
    one, other = (fuel_words(side.performance, system) for side in (comparison.first, comparison.second))
    return one if one == other else f"A {one}, B {other}"


def _changes(comparison: Comparison, system: str) -> str:
    heads = ("change", "A", "B", "starting\npull", "drawbar\npower", "fuel for\nwork")
    rows = [
        (
            worth.words,
            *(
                (value_text(v, worth.unit, system) for v in (worth.before, worth.after))
                if worth.fields
                else ("", "")
            ),
            *(_share(value) for value in (worth.start, worth.power, worth.fuel)),
        )
        for worth in (*(w for w in comparison.changes if w.matters), comparison.together)
    ]
    return table(heads, rows, left=3, wrapped=(0, 1, 2))


def _without_effect(comparison: Comparison) -> list[str]:
    """Name the changes that do nothing to these figures."""
    idle = [worth.words for worth in comparison.changes if not worth.matters]
    return [paragraph(f"Without effect on these figures: {'; '.join(idle)}.")] if idle else []


def _share(value: float | None) -> str:
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
        return show(value, "length" if value >= LONG else "small_length", system, 1 if value >= LONG else 2)
    if unit == "m^2" and value < WIDE:
        return show(value, "small_area", system)
    if unit in KINDS:
        return show(value, KINDS[unit], system)
    return f"{value:g}" if unit in ("", "number") else f"{value:g} {unit}"


def worth_row(worth: Worth) -> dict[str, Any]:
    """One change as plain data."""
    numbers = (int, float, str, type(None))
    return {
        "change": worth.name,
        "fields": list(worth.fields),
        "unit": worth.unit,
        "before": worth.before if isinstance(worth.before, numbers) else value_text(worth.before, "", "us"),
        "after": worth.after if isinstance(worth.after, numbers) else value_text(worth.after, "", "us"),
        "starting_pull_change": worth.start,
        "drawbar_power_change": worth.power,
        "fuel_per_work_change": worth.fuel,
        "problem": worth.problem,
    }
