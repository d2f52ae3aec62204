"""The driving with the least fuel as text: fuel by section, and the card for the crew."""

from __future__ import annotations

from locosim.planning.crew_card import BRAKE, COAST, CardEntry
from locosim.planning.economy import Economy
from locosim.report.accuracy import accuracy_text
from locosim.report.caution import CAUTION
from locosim.report.made_from import made_from
from locosim.report.text.engine import fuel_word, method_lines
from locosim.report.text.layout import paragraph, table
from locosim.units import label, show, show_number, show_percent

SAME_SPEED = 1.3  # change of speed below which a train holds it [m/s]


def economy_text(economy: Economy) -> str:
    """Write what the driving saves, fuel by section, and the card."""
    return "\n".join(
        [
            paragraph(f"{economy.excursion.name}: driving with the least fuel"),
            *map(paragraph, method_lines(economy.performance)),
            "",
            *map(paragraph, summary_lines(economy)),
            "",
            table(section_headers(), section_rows(economy), wrapped=(0,)),
            "",
            "Card for the crew",
            table(card_headers(), card_rows(economy), left=1, wrapped=(1,)),
            "",
            paragraph(
                "Times are those of the run, with the assumed wind and rail. Signals, orders and the crew's judgment "
                "come before the card. Cutoff and throttle are what is used between the first and last tenth of each "
                "entry."
            ),
            "",
            paragraph(accuracy_text("economy", economy.performance.method, made_from(economy))),
            "",
            paragraph(CAUTION),
        ]
    )


def summary_lines(economy: Economy) -> list[str]:
    """What is saved, or why the plan is not better, in sentences."""
    fuel = fuel_word(economy.excursion.fuel.kind)
    everyday, planned = (show(each, "small_mass") for each in (economy.everyday_fuel, economy.planned_fuel))
    if economy.refused:
        return [
            f"The everyday driving stands, {everyday} of {fuel}: {economy.refused} (plan {planned}). The card is that "
            "of the everyday driving."
        ]
    lines = [
        f"{fuel.capitalize()} {planned} instead of {everyday} in the everyday driving, {show_percent(economy.saving)} "
        "less, for the same booked times, boiler restored to the heat it began with. Both are run with the boiler."
    ]
    unplanned = [f"{each.start} to {each.end}" for each in economy.sections if not each.planned]
    if unplanned:
        lines.append(f"{', '.join(unplanned)}: no plan burns less, and the everyday driving stands there.")
    if economy.alternating_fuel < economy.planned_fuel:
        lines.append(
            "Steam and shut off in turn every few hundred yards, wide open at a short cutoff instead of an eased "
            f"throttle, would need {show(economy.alternating_fuel, 'small_mass')}; that is not put on a card."
        )
    return lines


def section_headers() -> tuple[str, ...]:
    """Headings of `section_rows`."""
    unit = label("small_mass")
    return (
        "section",
        "booked",
        "everyday\narrives",
        "least fuel\narrives",
        f"everyday\n{unit}",
        f"least fuel\n{unit}",
    )


def section_rows(economy: Economy) -> list[tuple[str, ...]]:
    """Arrivals and fuel of each section, running only."""
    return [
        (
            f"{section.start} to {section.end}",
            "" if section.booked is None else show_number(section.booked, "clock"),
            show_number(section.everyday_arrival, "clock"),
            show_number(section.arrival, "clock"),
            show_number(section.everyday_fuel, "small_mass"),
            show_number(section.fuel, "small_mass"),
        )
        for section in economy.sections
    ]


def card_headers() -> tuple[str, ...]:
    """Headings of `card_rows`."""
    return ("milepost\n" + label("distance"), "do", "clock", "cutoff\n%", "throttle\n%")


def card_rows(economy: Economy) -> list[tuple[str, ...]]:
    """The card, one row for each entry."""
    return [
        (
            show_number(entry.milepost, "distance"),
            task_text(entry),
            show_number(entry.time, "clock"),
            _range_text(entry.cutoff),
            _range_text(entry.throttle),
        )
        for entry in economy.card
    ]


def task_text(entry: CardEntry) -> str:
    """What to do, in words."""
    speed = show(entry.to_speed, "speed", 0)
    if entry.task == BRAKE:
        if entry.stop:
            return f"brake, stop at {entry.stop}"
        held = abs(entry.to_speed - entry.from_speed) < SAME_SPEED
        return f"brakes, hold {speed}" if held else f"brakes, to {speed}"
    if entry.task == COAST:
        return f"SHUT OFF, drift to {speed}" if not entry.stop else f"SHUT OFF, stop at {entry.stop}"
    if entry.stop:
        return f"steam to {entry.stop}"
    if entry.from_speed <= 0.0:
        return f"start, work up to {speed}"
    if abs(entry.to_speed - entry.from_speed) < SAME_SPEED:
        return f"hold {speed}"
    return f"work up to {speed}" if entry.to_speed > entry.from_speed else f"steam, speed falls to {speed}"


def _range_text(values: tuple[float, float] | None) -> str:
    """A range in whole percent."""
    if values is None:
        return ""
    low, high = (round(100.0 * value) for value in values)
    return f"{low}" if low == high else f"{low}-{high}"
