"""The check of a day as text."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from locosim.planning.answer import Answer
from locosim.planning.day import DayAnswer, DayRemedy, LegAnswer
from locosim.planning.finding import CLEAR, NOTE, Finding
from locosim.planning.layover import LayoverRecord
from locosim.report.accuracy import accuracy_text
from locosim.report.caution import CAUTION
from locosim.report.made_from import made_from
from locosim.report.text.check import finding_lines, select_findings
from locosim.report.text.engine import method_lines
from locosim.report.text.finding import HEADERS, figures_text, finding_row, reason_text, tried_lines
from locosim.report.text.layout import carried_kind, format_text, margin_text, paragraph, table
from locosim.units import label, show, show_number

ON_TIME = 2.5  # lateness shown as none [s]


def day_text(answer: DayAnswer, *, everything: bool = False) -> str:
    """Write the answer to a proposed day.

    Args:
        answer: The answer.
        everything: Show every clear finding of the legs, not only the closest one of each leg.
    """
    lines = [f"{answer.day.name}: {answer.verdict.upper()}", "", leg_table(answer), ""]
    lines += _method_lines(answer)
    for finding in answer.findings:
        if finding.verdict != CLEAR:
            lines += ["", *day_finding_lines(answer, finding)]
    for leg in answer.legs:
        lines += ["", *_leg_lines(answer, leg, everything=everything)]
    lines += ["", supply_table(answer)]
    if answer.helps:
        lines += ["", helper_table(answer), *map(paragraph, helper_notes(answer))]
    lines += ["", *map(paragraph, duty_lines(answer))]
    clear = sorted((f for f in answer.findings if f.verdict == CLEAR), key=lambda f: f.margin)
    if clear:
        rows = [finding_row(finding)[1:] for finding in clear]
        lines += ["", "Clear for the day, the closest first:", table(HEADERS[1:], rows, left=2, wrapped=(1,))]
    if answer.answers:
        method = day_method(answer)
        lines += ["", paragraph(accuracy_text("day", method, made_from(answer)))]
    return "\n".join([*lines, "", paragraph(CAUTION)])


def day_method(answer: DayAnswer) -> str:
    """Method of the day: `handbook` where the engine of any leg is computed by it."""
    methods = {each.performance.method for each in answer.answers}
    return "handbook" if "handbook" in methods else "cycle"


def leg_table(answer: DayAnswer) -> str:
    """One row for each leg: engine, places, times, lateness, water and fuel left, verdict."""
    kinds = _left_kinds(answer)
    headers = (
        "leg",
        "verdict",
        "from",
        "to",
        "engine",
        "leaves",
        "arrives",
        "late",
        "water left\n" + label(kinds[0]),
        "fuel left\n" + label(kinds[1]),
    )
    rows = [_leg_row(leg, kinds) for leg in answer.legs]
    return table(headers, rows, left=5, wrapped=(2, 3, 4))


def _left_kinds(answer: DayAnswer) -> tuple[str, str]:
    """Kinds of quantity for the water and the fuel left after each leg."""
    runs = [each.journey for each in answer.answers]
    water, fuel = (
        max((float(np.max(carried)) for carried in each), default=0.0)
        for each in ([run.tender_water for run in runs], [run.tender_fuel for run in runs])
    )
    return carried_kind("water", water), carried_kind("mass", fuel)


def _leg_row(leg: LegAnswer, kinds: tuple[str, str]) -> tuple[str, ...]:
    excursion = leg.leg.excursion
    facing = "" if excursion.engine_facing == "stack_first" else f", {excursion.facing}"
    names = (leg.leg.origin, leg.leg.destination, leg.leg.engine + facing)
    if leg.answer is None:
        return (str(leg.number), "not run", *names, "", "", "", "", "")
    journey = leg.answer.journey
    arrived = journey.arrived
    late = None
    if arrived and (booked := journey.excursion.stops[-1].arrive) is not None:
        late = journey.stops[-1].arrive - booked
    return (
        str(leg.number),
        leg.verdict,
        *names,
        show_number(journey.stops[0].depart, "clock"),
        show_number(journey.stops[-1].arrive, "clock") if arrived else journey.outcome,
        "" if late is None else late_text(late),
        show_number(float(journey.tender_water[-1]), kinds[0]),
        show_number(float(journey.tender_fuel[-1]), kinds[1]),
    )


def late_text(late: float) -> str:
    """Lateness; a minus where early."""
    if abs(late) < ON_TIME:
        return "on time"
    return f"{'-' if late < 0 else ''}{show(abs(late), 'time')}"


def _method_lines(answer: DayAnswer) -> list[str]:
    """Method and notes of each engine, once."""
    lines = [line for each in answer.answers for line in method_lines(each.performance)]
    return [paragraph(line) for line in dict.fromkeys(lines)]


def day_finding_lines(answer: DayAnswer, finding: Finding) -> list[str]:
    """A finding for the day that is not clear, with the remedies that were run, as wrapped lines."""
    figures = figures_text(finding)
    texts = [reason_text(finding), *_remedy_lines(answer, finding)]
    head = f"{finding.verdict.upper()} {finding.rule}, {finding.place}: {figures}."
    return [
        paragraph(head, indent="  ", first=""),
        *(paragraph(text, indent="    ", first="  ") for text in texts),
    ]


def _remedy_lines(answer: DayAnswer, finding: Finding) -> list[str]:
    """The remedies that were run, each with the verdicts it gives; where none of them helps, what was tried."""
    if finding.verdict == NOTE:
        return []
    kinds = answer.changes_tried.get((finding.rule, finding.place), ())
    remedies = [f"Remedy tried: {_remedy_text(remedy)}." for remedy in answer.remedies_for(finding)]
    return remedies or ([f"No change tried helps: {', '.join(kinds)}."] if kinds else [])


def _remedy_text(remedy: DayRemedy) -> str:
    """A remedy with what it does for its finding, and what the day then is."""
    change = format_text(remedy.change, remedy.facts)
    if remedy.whole_verdict == CLEAR:
        return f"{change}: the whole day is CLEAR"
    rule = f"{remedy.rule} {remedy.verdict.upper()}{f' in leg {remedy.leg}' if remedy.leg else ''}"
    return f"{change}: {rule}, and the day {remedy.whole_verdict.upper()} for {', '.join(remedy.remaining)}"


def _leg_remedy_lines(day: DayAnswer, leg: LegAnswer, answer: Answer, finding: Finding) -> list[str]:
    """The remedies for a finding of a leg, each with what it does to the rule there and to the day."""
    if finding.verdict == NOTE:
        return []
    texts = [_remedy_text(remedy) for remedy in day.leg_remedies(leg.number, finding.rule)]
    kinds = day.changes_tried.get((finding.rule, f"leg {leg.number}"), ())
    return tried_lines(answer, finding, texts, kinds)


def _leg_lines(day: DayAnswer, leg: LegAnswer, *, everything: bool) -> list[str]:
    """A leg under its heading: the layover before it, its findings that are not clear, and the closest clear one."""
    lines = [] if leg.layover is None else [paragraph(layover_text(leg.layover), indent="  ", first=""), ""]
    head = f"Leg {leg.number}, {leg.leg.excursion.name}"
    if leg.answer is None:
        return [*lines, paragraph(f"{head}: not run; {leg.not_run}.")]
    answer = leg.answer
    lines.append(f"{head}: {leg.verdict.upper()}")
    shown = select_findings(answer.findings, everything=everything)
    for finding in shown:
        if finding.verdict != CLEAR:
            lines += finding_lines(answer, finding, _leg_remedy_lines(day, leg, answer, finding))
    clear = sorted((f for f in shown if f.verdict == CLEAR), key=lambda f: f.margin)
    if everything and clear:
        rows = [finding_row(finding)[1:] for finding in clear]
        lines.append(table(HEADERS[1:], rows, left=2, wrapped=(1,)))
    elif clear:
        closest = clear[0]
        lines.append(
            paragraph(
                f"Closest of the clear findings: {closest.rule}, {closest.place}, margin {margin_text(closest.margin)}"
                "; all are shown with --all.",
                indent="    ",
                first="  ",
            )
        )
    return lines


def layover_text(layover: LayoverRecord) -> str:
    """A layover in sentences: times, work, cars, and what is taken and used."""
    tasks = ", ".join(f"{task.name} {show(task.time, 'time')}" for task in layover.tasks)
    parts = [
        f"Layover at {layover.station}, {show(layover.arrive, 'clock')} to {show(layover.departure, 'clock')}: work "
        f"{show(layover.work, 'time')}{f' ({tasks})' if tasks else ''}"
        + (f"; departs {show(layover.delay, 'time')} late" if layover.delay > 0.0 else "")
        + "."
    ]
    for word, cars in (("Left", layover.cars_left), ("Taken", layover.cars_taken)):
        if cars:
            parts.append(f"{word}: {cars_text(cars)}.")
    for word, of, carried in (("Water", "water", layover.water), ("Fuel", "mass", layover.fuel)):
        if carried is not None:
            kind = carried_kind(of, max(carried.end, carried.start))
            amounts = [
                (carried.left, "left in cars"),
                (carried.brought, "in cars taken"),
                (carried.taken, "taken on"),
                (carried.used, "used standing"),
            ]
            texts = [f"{show(amount, kind)} {what}" for amount, what in amounts if amount > 0.0]
            parts.append(
                f"{word}: {show(carried.end, kind)} at the end of the leg before, {', '.join(texts)}, "
                f"{show(max(carried.start, 0.0), kind)} at the start."
            )
    return " ".join(parts)


def cars_text(cars: Counter[str]) -> str:
    """Cars by name, with their number."""
    return "; ".join(f"{count} {name}" for name, count in cars.items())


def supply_table(answer: DayAnswer) -> str:
    """Water and fuel of each engine over the day: what it began with, took, used and has left."""
    headers = ("engine", "carried", "at first", "taken", "used\nrunning", "used\nstanding", "in cars", "left")
    rows: list[Sequence[str]] = []
    for each, starts in zip(answer.supplies, first_amounts(answer), strict=True):
        for ledger, of, start in ((each.water, "water", starts[0]), (each.fuel, "mass", starts[1])):
            kind, amounts = carried_kind(of, start), dict(ledger.entries)
            values = (
                start,
                amounts["taken on the way"] + amounts["taken in layovers"],
                -amounts["used on the way"],
                -amounts["used standing"],
                amounts["in cars taken"] + amounts["in cars left"],
                start + ledger.stored,
            )
            what = f"{'water' if of == 'water' else 'fuel'} {label(kind)}"
            rows.append((each.engine, what, *(show_number(value, kind) for value in values)))
    return table(headers, rows, left=2, wrapped=(0,))


def helper_table(answer: DayAnswer) -> str:
    """Water and fuel of each steam helper: what it uses while it helps and on the run back light, and its tender."""
    headers = ("helper", "leg", "from", "to", "used", "helping", "back\nlight", "tender\nholds")
    rows: list[Sequence[str]] = []
    for each in (each for helps in answer.helps for each in helps):
        if each.helping is None:
            continue
        back = None if each.back is None else each.back.used
        for what, of, held in (("water", "water", each.tender[0]), ("fuel", "mass", each.tender[1])):
            kind = carried_kind(of, held)
            values = (getattr(each.helping, what), None if back is None else getattr(back, what), held)
            shown = ("" if value is None else show_number(value, kind) for value in values)
            names = (each.engine, str(each.leg), each.coupled, each.cut_off)
            rows.append((*names, f"{what} {label(kind)}", *shown))
    return table(headers, rows, left=5, wrapped=(0, 2, 3)) if rows else ""


def helper_notes(answer: DayAnswer) -> list[str]:
    """What is not counted of diesel helpers, and which helper does not come back."""
    names = [each[0].engine for each in answer.helps if each[0].helping is None]
    lines = [f"The fuel of {', '.join(names)} is not computed."] if names else []
    lost = (each for helps in answer.helps for each in helps if each.no_return)
    return [
        *lines,
        *(f"{each.engine} does not come back light to {each.coupled}: {each.no_return}." for each in lost),
    ]


def first_amounts(answer: DayAnswer) -> list[tuple[float, float]]:
    """Water and fuel of each engine at its first departure [kg], in the order of `DayAnswer.supplies`."""
    found: dict[str, tuple[float, float]] = {}
    for each in answer.answers:
        first = each.journey.stops[0]
        found.setdefault(each.excursion.locomotive.name, (first.water_on_arrival, first.fuel_on_arrival))
    return [found[each.engine] for each in answer.supplies]


def duty_lines(answer: DayAnswer) -> list[str]:
    """Hours of each crew in a sentence."""
    lines = []
    for duty in answer.duties:
        count = len(duty.breaks)
        breaks = ", ".join(f"{show(start, 'clock')} to {show(end, 'clock')}" for start, end in duty.breaks)
        lines.append(
            f"Duty of {duty.crew}: {show(duty.start, 'clock')} to {show(duty.end, 'clock')}, "
            f"{show(duty.time, 'time')}"
            + "".join(
                f"; runs back light to {run.station}, {show(run.start, 'clock')} to {show(run.end, 'clock')}"
                for run in duty.light_runs
            )
            + f"; {f'free of work {breaks}' if count else 'no break'}; longest without a break "
            f"{show(duty.time_without_break, 'time')}."
        )
    return lines
