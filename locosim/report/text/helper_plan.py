"""Help for an excursion as text."""

from __future__ import annotations

from collections.abc import Sequence

from locosim.planning.doubling import Doubling, stopping
from locosim.planning.finding import CLEAR, NOTE, Finding
from locosim.planning.help_needed import HELP_RULES, PULL_STEP, HelpStretch
from locosim.planning.helper_plan import HelperPlan, HelperService, RefusedPair
from locosim.planning.light_engine import Used
from locosim.report.accuracy import accuracy_text
from locosim.report.caution import CAUTION
from locosim.report.made_from import made_from
from locosim.report.text.engine import fuel_word, method_lines
from locosim.report.text.finding import band_lines, figures_text
from locosim.report.text.layout import finer_kind, paragraph, table
from locosim.report.text.stations import milepost_text
from locosim.units import label, show, show_number

REFUSED_SHOWN = 3


def helper_plan_text(plan: HelperPlan) -> str:
    """Write where help is needed, what the helper does, and what doubling the hill takes instead."""
    excursion = plan.alone.journey.excursion
    train = excursion.train
    behind = "light"
    if train.vehicles:
        behind = (
            f"with {train.name}, {show(train.mass, 'mass')} behind the {excursion.locomotive.coupled_behind}"
        )
    head = f"{excursion.locomotive.name} {behind}; {excursion.route_as_run.name}; {excursion.rail} rail."
    parts = [
        paragraph(f"{excursion.name}: {_headline(plan)}"),
        "\n".join(map(paragraph, [head, *method_lines(plan.performance)])),
        _alone(plan),
        _pull(plan),
        *_helper(plan),
        _doubling(plan),
        paragraph(accuracy_text("helper", plan.performance.method, made_from(plan))),
        paragraph(CAUTION),
    ]
    return "\n\n".join(part for part in parts if part)


def _headline(plan: HelperPlan) -> str:
    if not plan.needed:
        return "NO HELP NEEDED"
    if plan.service is None:
        return f"HELP NEEDED, AND {plan.helper_name} DOES NOT SUFFICE"
    return f"HELP NEEDED FROM {plan.service.coupled} TO {plan.service.cut_off}".upper()


def _alone(plan: HelperPlan) -> str:
    """The check without a helper."""
    if not plan.needed:
        other = _not_clear(plan.alone.findings)
        pulled, rest = [rule for rule in other if rule in HELP_RULES], ""
        if pulled:
            rest += f" Tight, with a margin that help would raise: {', '.join(pulled)}."
        if others := [rule for rule in other if rule not in pulled]:
            rest += f" Not clear, and not for want of pull: {', '.join(others)}."
        return paragraph(
            f"The engine alone: {plan.alone.verdict.upper()}; nothing stops that help can cure.{rest}"
        )
    lines = [paragraph("The engine alone: STOP.")]
    lines += [paragraph(_failure(plan, finding), indent="    ", first="  ") for finding in plan.need.alone]
    return "\n".join(lines)


def _not_clear(findings: Sequence[Finding]) -> list[str]:
    return list(dict.fromkeys(f.rule for f in findings if f.verdict not in (CLEAR, NOTE)))


def _failure(plan: HelperPlan, finding: Finding) -> str:
    milepost = milepost_text(plan.alone.journey, finding.chainage)
    return f"{finding.rule}, {finding.place}{', ' if milepost else ''}{milepost}: {figures_text(finding)}."


def _pull(plan: HelperPlan) -> str:
    """The pull and its stretch."""
    need = plan.need
    if not plan.needed:
        return ""
    lines = [f"The start at {name} lacks {show(force, 'force')}." for name, force in need.starts]
    if not need.stretches:
        if len(need.starts) < len(need.alone):
            lines.append("No pull on the train cures the rest.")
        return "\n".join(map(paragraph, lines))
    intro = (
        "Pull needed at the coupler, without the weight of the helper, wherever the engine gives full effort. The "
        "first row is the least pull that suffices; more pull is needed over a shorter stretch."
    )
    post = "milepost\n" + label("distance")
    headers = (
        "pull\n" + label("force"),
        f"from\n{post}",
        f"to\n{post}",
        "100 m later\nfails by",
        "100 m less\nfails by",
    )
    rows = [_stretch_row(plan, stretch) for stretch in need.stretches]
    proof = ", ".join(dict.fromkeys(f.rule for f in need.with_less))
    lines.append(f"With {100 * PULL_STEP:g} % less than the least pull over the whole run, {proof} fails.")
    return "\n\n".join(
        [paragraph(intro), table(headers, rows, left=0, wrapped=(3, 4)), *map(paragraph, lines)]
    )


def _stretch_row(plan: HelperPlan, stretch: HelpStretch) -> tuple[str, ...]:
    places = [milepost_text(plan.alone.journey, at).split()[-1] for at in (stretch.start, stretch.end)]
    rules = [
        ", ".join(dict.fromkeys(f.rule for f in found))
        for found in (stretch.later_start, stretch.earlier_end)
    ]
    return (show_number(stretch.force, "force"), *places, *rules)


def _helper(plan: HelperPlan) -> list[str]:
    """What the helper does to the verdict, and what it uses."""
    if not plan.needed:
        return []
    helper = f"Helper: {plan.helper_name} at the {plan.helper.place}"
    if plan.service is None:
        lines = [paragraph(f"{helper}: no stretch between two stations suffices. Run, the longest first:")]
        return ["\n".join([*lines, *_refused(plan.refused)])]
    service = plan.service
    new = f" A new stop: {' and '.join(service.new_stops)}." if service.new_stops else ""
    lines = [f"{helper}, coupled on at {service.coupled} and cut off at {service.cut_off}.{new}"]
    lines.append(_verdicts(plan, service))
    for finding in service.answer.findings:
        lines += [f"{finding.rule.capitalize()}: {line}" for line in band_lines(service.answer, finding)]
    shorter = "No shorter stretch between two stations reaches the place." if not service.refused else ""
    text = [*map(paragraph, lines), *([paragraph(shorter)] if shorter else [])]
    if service.refused:
        text += [
            paragraph("Shorter stretches, run and refused, the longest first:"),
            *_refused(service.refused),
        ]
    return ["\n".join(text), paragraph(_supplies(plan, service))] if service.helping else ["\n".join(text)]


def _verdicts(plan: HelperPlan, service: HelperService) -> str:
    """The verdict before and after, and what is still not clear."""
    answer = service.answer
    rest = _not_clear(answer.findings)
    least = min((f for f in answer.findings if f.verdict != NOTE), key=lambda f: f.margin)
    still = (
        f"still not clear: {', '.join(rest)}"
        if rest
        else f"least margin {100 * least.margin:+.0f} % ({least.rule})"
    )
    return (
        f"The check: {plan.alone.verdict.upper()} without, {answer.verdict.upper()} with the helper; {still}. Arrives "
        f"{show(answer.journey.stops[-1].arrive, 'clock')}."
        if answer.journey.arrived
        else f"The check: {plan.alone.verdict.upper()} without, {answer.verdict.upper()} with the helper; {still}."
    )


def _refused(refused: Sequence[RefusedPair]) -> list[str]:
    lines = [
        paragraph(
            f"{pair.coupled} to {pair.cut_off}: {pair.finding.rule} at {pair.finding.place}, "
            f"{figures_text(pair.finding)}.",
            indent="    ",
            first="  ",
        )
        for pair in refused[:REFUSED_SHOWN]
    ]
    more = len(refused) - REFUSED_SHOWN
    return [*lines, f"  and {more} more."] if more > 0 else lines


def _used(used: Used, fuel: str) -> str:
    burned = f"{show(used.fuel, finer_kind('mass', used.fuel))} of {fuel}"
    water = show(used.water, finer_kind("water", used.water))
    return f"{show(used.time, 'time')}, {water} of water and {burned}"


def _supplies(plan: HelperPlan, service: HelperService) -> str:
    """What a steam helper uses, helping and returning light."""
    fuel = fuel_word(plan.excursion.fuel.kind)
    assert service.helping is not None
    text = f"The helper uses {_used(service.helping, fuel)} while it helps"
    back, both = service.back, service.round_trip
    if back is None or both is None:
        return f"{text}."
    if not back.arrived:
        return f"{text}; it does not come back light: {back.outcome}."
    light = Used(time=back.duration, water=back.water_used, fuel=back.fuel_burned)
    share = both.water / service.tender_water
    return (
        f"{text}, and {_used(light, fuel)} to return light, not turned: together {_used(both, fuel)}, "
        f"{100 * share:.0f} % of the water in its tender. Raising steam and waiting are not counted."
    )


def _doubling(plan: HelperPlan) -> str:
    """Doubling the hill instead of a helper."""
    doubling = plan.doubling
    if not plan.needed:
        return ""
    if doubling is None:
        return paragraph("Doubling the hill: the train has fewer than two vehicles to divide.")
    fuel = fuel_word(plan.excursion.fuel.kind)
    share = doubling.used.water / (1000.0 * plan.alone.journey.excursion.locomotive.tender.water_capacity)
    front, rear = (show(part.mass, "mass") for part in doubling.parts)
    text = (
        f"Doubling the hill instead, from {doubling.foot} to {doubling.top}: the train divided in {front} and {rear}, "
        f"two trips with the engine light between them, {_used(doubling.used, fuel)}, with "
        f"{show(doubling.switching, 'time')} to divide, set out and join (assumptions.switching_time). The water "
        f"is {100 * share:.0f} % of what the tender alone carries."
    )
    if doubling.through is not None:
        later = doubling.used.time - doubling.through
        text += f" That is {show(later, 'time')} more than the whole train with the helper."
    return "\n".join(map(paragraph, [text, _doubling_verdict(doubling)]))


def _doubling_verdict(doubling: Doubling) -> str:
    if doubling.works:
        verdicts = " and ".join(check.verdict.upper() for check in doubling.trips)
        rest = ", ".join(check.verdict.upper() for check in doubling.rest)
        rest = f"; the rest of the run with the whole train {rest}" if rest else ""
        return f"The two trips are {verdicts}{rest}, each begun with a full tender."
    rules = dict.fromkeys(rule for check in (*doubling.trips, *doubling.rest) for rule in stopping(check))
    return f"It does not work: STOP for {', '.join(rules) or 'the engine light'}."
