"""The check as text."""

from __future__ import annotations

from locosim.planning.answer import Answer
from locosim.planning.finding import CLEAR, Finding
from locosim.report.caution import CAUTION
from locosim.report.helper_schedule import helper_lines
from locosim.report.text.contingencies import contingency_text, departure_line
from locosim.report.text.engine import fuel_word, method_lines
from locosim.report.text.layout import format_text, margin_text, paragraph, table
from locosim.units import show

HEADERS = ("verdict", "rule", "place", "value", "limit", "margin")


def check_text(answer: Answer, *, everything: bool = False) -> str:
    """Write the answer to a proposed excursion.

    Args:
        answer: The answer.
        everything: Show every clear finding, not only the one with the least margin of each rule.
    """
    shown = select_findings(answer.findings, everything=everything)
    lines = [
        f"{answer.excursion.name}: {answer.verdict.upper()}",
        "",
        *map(paragraph, [*summary_lines(answer), *method_lines(answer.performance)]),
        "",
        table(HEADERS, [finding_row(finding) for finding in shown], left=3, wrapped=(2,)),
    ]
    for finding in shown:
        if finding.verdict != CLEAR:
            lines += ["", *_finding_lines(finding)]
    hidden = len(answer.findings) - len(shown)
    if hidden:
        more = "1 more clear finding" if hidden == 1 else f"{hidden} more clear findings"
        lines += ["", paragraph(f"{more}; shown with --all.")]
    for text in (paragraph(departure_line(answer)), contingency_text(answer)):
        if text:
            lines += ["", text]
    return "\n".join([*lines, "", paragraph(CAUTION)])


def select_findings(findings: tuple[Finding, ...], *, everything: bool) -> list[Finding]:
    """Findings to show: all that are not clear, and the one with the least margin of each rule that is clear."""
    if everything:
        return list(findings)
    rules = {f.rule for f in findings if f.verdict != CLEAR}
    shown = []
    for finding in findings:
        if finding.verdict != CLEAR:
            shown.append(finding)
        elif finding.rule not in rules:
            rules.add(finding.rule)
            shown.append(finding)
    return shown


def summary_lines(answer: Answer) -> list[str]:
    """Engines, train, line and outcome of the run, in sentences."""
    excursion = answer.excursion
    train = excursion.train
    return [
        f"{excursion.locomotive.name} with {train.name}, {show(train.mass, 'mass')} behind the tender; "
        f"{excursion.route_as_run.name}; {excursion.rail} rail.",
        *helper_lines(excursion),
        _outcome(answer),
    ]


def _outcome(answer: Answer) -> str:
    journey = answer.journey
    used = (
        f"{show(journey.distance, 'distance', 1)}, {show(journey.water_used, 'water')} of water, "
        f"{show(journey.fuel_burned, 'mass')} of {fuel_word(answer.excursion.fuel.kind)}"
    )
    if journey.arrived:
        return f"Arrives {show(journey.stops[-1].arrive, 'clock')}, {used}."
    return f"Does not arrive: {journey.outcome} after {show(journey.duration, 'time')}, {used}."


def finding_row(finding: Finding) -> tuple[str, ...]:
    """One finding as a table row under `HEADERS`."""
    return (
        finding.verdict,
        finding.rule,
        finding.place,
        finding.value_text or show(finding.value, finding.kind),
        show(finding.limit, finding.kind),
        margin_text(finding.margin),
    )


def _finding_lines(finding: Finding) -> list[str]:
    head = f"{finding.verdict.upper()} {finding.rule}, {finding.place}: "
    lines = [paragraph(head + format_text(finding.because, finding.facts) + ".", indent="  ", first="")]
    if finding.remedy:
        remedy = f"Remedy: {format_text(finding.remedy, finding.facts)}."
        lines.append(paragraph(remedy, indent="  "))
    return lines
