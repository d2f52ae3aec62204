"""The largest load as text."""

from __future__ import annotations

from collections.abc import Sequence

from locosim.planning.finding import NOTE, Finding
from locosim.planning.load import LoadRating
from locosim.planning.load_search import LargestLoad
from locosim.planning.station_times import line_chainage
from locosim.report.accuracy import accuracy_text
from locosim.report.caution import CAUTION
from locosim.report.made_from import made_from
from locosim.report.text.engine import method_lines
from locosim.report.text.finding import figures_text, reason_text
from locosim.report.text.layout import margin_text, paragraph, table
from locosim.units import label, show, show_number

ACCEPTED = {"clear": "clear", "tight": "not worse than tight"}


def load_text(rating: LoadRating) -> str:
    """Write the largest load of an excursion, with its proof."""
    excursion, whole = rating.excursion, rating.whole
    as_described = f"{show(excursion.train.mass, 'mass')} behind the {excursion.locomotive.coupled_behind}"
    if rating.varied.vehicle is not None:
        as_described = f"{count_text(rating, rating.varied.as_described)}, {as_described}"
    parts = [
        headline(rating),
        "\n".join(
            map(
                paragraph,
                [
                    f"{excursion.locomotive.name} with {excursion.train.name} as described: {as_described}; "
                    f"{excursion.route_as_run.name}; {excursion.rail} rail.",
                    *method_lines(rating.performance),
                ],
            )
        ),
        "\n".join(map(paragraph, proof_lines(rating))),
        _table("section,\nby itself", rating, rating.sections),
        _table("condition", rating, (whole, *rating.conditions)) if rating.conditions else "",
        "\n".join(map(paragraph, note_lines(rating))),
        _momentum(rating),
        paragraph(accuracy_text("load", rating.performance.method, made_from(rating))),
        paragraph(CAUTION),
    ]
    return "\n\n".join(part for part in parts if part)


def headline(rating: LoadRating) -> str:
    """The answer in a line."""
    name = rating.excursion.name
    return paragraph(f"{name}: {load_of(rating, rating.whole)}, check {ACCEPTED[rating.verdict]}")


def count_text(rating: LoadRating, number: int) -> str:
    """A number of vehicles, or of nothing where the mass is varied."""
    if rating.varied.vehicle is None:
        return ""
    return f"{number} x {rating.varied.what}"


def load_of(rating: LoadRating, load: LargestLoad) -> str:
    """The largest load in a phrase."""
    if load.number is None or load.mass is None:
        return "no load"
    count = count_text(rating, load.number)
    behind = rating.excursion.locomotive.coupled_behind
    mass = f"{show(load.mass, 'mass')} behind the {behind}"
    return f"at most {count}, {mass}" if count else f"at most {mass}"


def proof_lines(rating: LoadRating) -> list[str]:
    """The check of the answer and that of the next larger load, in sentences."""
    lines = []
    if rating.not_clear is not None:
        lines.append(
            f"No load is clear: with {_least_load(rating, rating.not_clear_number)} the check is still "
            f"{rating.not_clear.verdict.upper()}, {finding_text(rating.not_clear)}{_doubted(rating)}. "
            "The loads below are those that are not worse than tight."
        )
    whole = rating.whole
    next_load = f"with {_least_load(rating, 1)}" if whole.refused_number else "without any of it"
    if whole.check is not None and whole.number is not None:
        least = min((f for f in whole.check.findings if f.verdict != NOTE), key=lambda f: f.margin)
        lines.append(
            f"Proof: with this load the whole check is {whole.check.verdict.upper()}, least margin "
            f"{margin_text(least.margin)} ({least.rule}, {least.place})."
        )
        step = "1 more" if rating.varied.vehicle is not None else f"{show(rating.varied.step, 'mass')} more"
        next_load = f"with {step}"
    if whole.limit is not None and whole.refused is not None:
        lines.append(
            f"{next_load.capitalize()} the check is {whole.refused.verdict.upper()}: {finding_text(whole.limit)}. "
            f"{reason_text(whole.limit)}{_resting(whole.limit)}"
        )
    elif whole.note:
        lines.append(f"No larger load was checked: {whole.note}.")
    ruling = rating.ruling_section
    if ruling is not None and ruling.limit is not None:
        where = "" if ruling.limit.place == "whole line" else f" at {ruling.limit.place}"
        lines.append(f"Ruling section: {ruling.name}, by {ruling.limit.rule}{where}.")
    return lines


def _least_load(rating: LoadRating, number: int) -> str:
    """The load of the check that refuses every load: none, or the least."""
    if number == 0:
        return "the lightest train"
    return count_text(rating, 1) or f"{show(rating.varied.step, 'mass')} of load"


def _resting(limit: Finding) -> str:
    """The assumptions that a refusal rests on."""
    names = ", ".join(f"assumptions.{band.assumption}" for band in limit.bands)
    return f" It rests on {names}." if names and limit.margin > 0.0 else ""


def _doubted(rating: LoadRating) -> str:
    """Why a finding with enough margin is tight all the same."""
    finding = rating.not_clear
    enough = finding is not None and finding.margin >= rating.excursion.criteria.tight_margin
    return (
        ", for the range of an assumption that it rests on"
        if enough and finding and not finding.flips
        else ""
    )


def finding_text(finding: Finding) -> str:
    """A finding in a phrase: rule, place and figures."""
    return f"{finding.rule} at {finding.place}, {figures_text(finding)}"


def condition_name(load: LargestLoad) -> str:
    """Name of a condition or section with its figure."""
    return load.name if load.fact is None else f"{load.name} {show(*load.fact)}"


def load_rows(rating: LoadRating, loads: Sequence[LargestLoad]) -> list[tuple[str, ...]]:
    """Loads as table rows: name, what the next larger load fails by, where, margin there, number and mass."""
    by_count = rating.varied.vehicle is not None
    rows = []
    for load in loads:
        limit = load.limit
        rows.append(
            (
                condition_name(load),
                "" if limit is None else limit.rule,
                load.note if limit is None else limit.place,
                "" if limit is None else margin_text(limit.margin),
                *(("none" if load.number is None else str(load.number),) if by_count else ()),
                "none" if load.mass is None else show_number(load.mass, "mass"),
            )
        )
    return rows


def _table(what: str, rating: LoadRating, loads: Sequence[LargestLoad]) -> str:
    if not loads:
        return ""
    headers = (
        what,
        "next larger\nfails by",
        "where",
        "margin",
        *((f"most\n{rating.varied.what}",) if rating.varied.vehicle is not None else ()),
        "trailing\n" + label("mass"),
    )
    return table(headers, load_rows(rating, loads), left=3, wrapped=(0, 2))


def note_lines(rating: LoadRating) -> list[str]:
    """What the table leaves unsaid."""
    lines = []
    if rating.sections:
        lines.append(
            "A section by itself begins with a full boiler and the water and fuel that the whole run has there. "
            "Sections and conditions are judged with the bands found for the whole run, as contingencies are."
        )
    names = rating.whole.rests_on
    if names:
        lines.append(
            f"A verdict of this load changes within the range of an assumption: {', '.join(names)}; `check` shows "
            "where."
        )
    elif rating.whole.check is not None:
        lines.append("No verdict of this load changes within the range of an assumption.")
    return lines


def _momentum(rating: LoadRating) -> str:
    lines = [paragraph(momentum_sentence(rating))]
    if rating.momentum:
        headers = (
            "foot at\n" + label("distance"),
            "to\n" + label("distance"),
            "steepest\n" + label("grade"),
            "needs\n" + label("speed"),
            "has\n" + label("speed"),
            "allowed\n" + label("speed"),
            "slowest\n" + label("speed"),
        )
        rows = [
            (
                show_number(line_chainage(rating.excursion, each.entry), "distance"),
                show_number(line_chainage(rating.excursion, each.end), "distance"),
                show_number(each.steepest, "grade"),
                show_number(each.required, "speed"),
                show_number(each.speed, "speed"),
                show_number(each.allowed, "speed"),
                show_number(each.lowest, "speed"),
            )
            for each in rating.momentum
        ]
        lines.append(table(headers, rows, left=0))
    return "\n".join(lines)


def momentum_sentence(rating: LoadRating) -> str:
    """What momentum adds to the load, and the grades it is needed on."""
    least = show(rating.excursion.min_climbing_speed, "speed")
    without, number = rating.without_momentum, rating.whole.number
    if without is None:
        held = f"Without momentum not even the lightest train keeps {least} on every grade"
    else:
        mass = show(rating.varied.at(without).mass, "mass")
        count = count_text(rating, without)
        held = f"Without momentum {count or mass}{f', {mass},' if count else ''} keeps {least} on every grade"
    if number is None:
        return f"{held}."
    added = number - (-1 if without is None else without)
    if added <= 0:
        return f"{held}; momentum adds nothing to the load that the check allows."
    more = str(added) if rating.varied.vehicle is not None else show(added * rating.varied.step, "mass")
    adds = f"{held}; momentum adds {more}." if without is not None else f"{held}."
    if not rating.momentum:
        return adds
    return (
        f"{adds} Each of these grades must be entered at the speed it needs; a slow order, a stop signal or slack "
        "steaming there takes that load away. Mileposts of foot and end:"
    )
