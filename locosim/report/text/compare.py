"""Two engines side by side as text."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from locosim.engine.comparison import ChangeEffect, ComparedEngine, Comparison
from locosim.report.accuracy import accuracy_text
from locosim.report.caution import CAUTION, METHODS
from locosim.report.made_from import made_from
from locosim.report.text.engine import fuel_description, note_lines
from locosim.report.text.layout import in_reader_units, paragraph, table
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
LARGE_AREA = 0.1  # from here up ft² or m², below in² or cm² [m²]
LARGE_LENGTH = 3.0  # from here up ft or m, below in or mm [m]


def compare_text(comparison: Comparison) -> str:
    """Write two engines side by side, then the effect of each change."""
    sides = (comparison.first, comparison.second)
    names = [side.performance.locomotive.name for side in sides]
    speed = show(comparison.speed, "speed")
    lines = [
        paragraph(f"A: {names[0]}"),
        paragraph(f"B: {names[1]}"),
        paragraph(f"Method: {METHODS[sides[0].performance.method]}."),
        paragraph(f"Fuel: {_fuels(comparison)}."),
    ]
    for letter, side in zip("AB", sides, strict=True):
        lines += map(paragraph, note_lines([f"{letter}: {note}" for note in side.performance.notes]))
    lines += ["", _summary_table(comparison), "", _speed_table(comparison), ""]
    if comparison.changes:
        lines += [
            paragraph(
                "Effect of each change from A to B, applied alone to A; drawbar power and fuel per drawbar "
                f"work at {speed}:"
            ),
            "",
            _change_table(comparison),
            "",
            *_without_effect(comparison),
            paragraph("The effects need not add up: one change can mask or offset another."),
        ]
        for effect in comparison.changes:
            if effect.problem is not None:
                lines.append(paragraph(f"{effect.label} cannot be changed alone: {_problem_text(effect)}."))
    else:
        lines.append(paragraph("The two engines do not differ in any quantity used here."))
    return "\n".join(
        [
            *lines,
            "",
            paragraph(accuracy_text("compare", sides[0].performance.method, made_from(comparison))),
            "",
            paragraph(CAUTION),
        ]
    )


def _summary_table(comparison: Comparison) -> str:
    speed = show(comparison.speed, "speed")
    rows: list[tuple[str, Callable[[ComparedEngine], str]]] = [
        (
            "rated tractive effort",
            lambda s: "-" if s.rated_effort is None else show(s.rated_effort, "force"),
        ),
        (
            "factor of adhesion",
            lambda s: "-" if s.factor_of_adhesion is None else f"{s.factor_of_adhesion:.2f}",
        ),
        ("heaviest driving axle", lambda s: show(s.axle_load, "mass")),
        ("sustained evaporation", lambda s: show(s.performance.supply.sustained, "steam_rate")),
        ("  limited by", lambda s: s.performance.supply.binding.name),
        ("starting tractive effort", lambda s: show(s.start.rim_effort, "force")),
        ("  limited by", lambda s: s.start.limit),
        (f"cheapest cutoff at {speed}", lambda s: f"{s.best_cutoff:.0%}"),
        (
            "  steam rate",
            lambda s: show(s.min_steam_per_work, "specific_steam_consumption"),
        ),
        (f"fuel per drawbar work at {speed}", lambda s: _specific_fuel(s)),
    ]
    cells = [(name, of(comparison.first), of(comparison.second)) for name, of in rows]
    return table(("", "A", "B"), cells, wrapped=(0, 1, 2))


def _specific_fuel(side: ComparedEngine) -> str:
    point = side.at_speed
    if point.drawbar_power <= 0.0:
        return "-"
    return show(point.fuel / point.drawbar_power, "specific_steam_consumption", 2)


def _speed_table(comparison: Comparison) -> str:
    force, power = label("force"), label("power")
    headers = (
        "speed\n" + label("speed"),
        f"A\ndrawbar\npull\n{force}",
        f"B\ndrawbar\npull\n{force}",
        f"A\ndrawbar\npower\n{power}",
        f"B\ndrawbar\npower\n{power}",
        "A\nlimited by",
        "B\nlimited by",
    )
    rows = [
        (
            show_number(a.speed, "speed"),
            show_number(a.drawbar_pull, "force"),
            show_number(b.drawbar_pull, "force"),
            show_number(a.drawbar_power, "power"),
            show_number(b.drawbar_power, "power"),
            a.limit,
            b.limit,
        )
        for a, b in zip(comparison.first.rows, comparison.second.rows, strict=True)
    ]
    return table(headers, rows, left=0, wrapped=(5, 6))


def _fuels(comparison: Comparison) -> str:
    """Fuel of both, or of each where they differ."""
    one, other = (fuel_description(side.performance) for side in (comparison.first, comparison.second))
    return one if one == other else f"A {one}, B {other}"


def _change_table(comparison: Comparison) -> str:
    headers = ("change", "A", "B", "starting\neffort", "drawbar\npower", "fuel per\nwork")
    rows = [
        (
            effect.label,
            *(
                (value_text(v, effect.unit) for v in (effect.before, effect.after))
                if effect.fields
                else ("", "")
            ),
            *(_percent_change(value) for value in (effect.start, effect.power, effect.fuel)),
        )
        for effect in (*(w for w in comparison.changes if w.has_effect), comparison.combined)
    ]
    return table(headers, rows, left=3, wrapped=(0, 1, 2))


def _without_effect(comparison: Comparison) -> list[str]:
    """Names of the changes that do not affect these figures."""
    no_effect = [effect.label for effect in comparison.changes if not effect.has_effect]
    return [paragraph(f"No effect on these figures: {'; '.join(no_effect)}.")] if no_effect else []


def _problem_text(effect: ChangeEffect) -> str:
    """Why a change cannot be made alone, with figures in the reader's units."""
    if not effect.faults:
        return in_reader_units(effect.problem or "")
    parts = (f"{fault.key} {fault.format(value_text)}".replace("_", " ") for fault in effect.faults)
    return "; ".join(parts)


def _percent_change(value: float | None) -> str:
    return "-" if value is None else f"{round(value, 3) + 0.0:+.1%}"  # never a negative zero


def value_text(value: Any, unit: str) -> str:
    """Write the value of a field in the reader's units."""
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
            1 if value >= LARGE_LENGTH else 2,
        )
    if unit == "m^2" and value < LARGE_AREA:
        return show(value, "small_area")
    if unit in KIND_BY_UNIT:
        return show(value, KIND_BY_UNIT[unit])
    return f"{value:g}" if unit in ("", "number") else f"{value:g} {unit}"
