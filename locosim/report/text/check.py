"""The check as text."""

from __future__ import annotations

from collections.abc import Sequence

from locosim.planning.check import Check
from locosim.planning.contingencies import Contingency
from locosim.planning.finding import CLEAR, Finding
from locosim.report.caution import CAUTION
from locosim.report.text.contingencies import contingency_text, departure_line
from locosim.report.text.engine import method_lines
from locosim.report.text.helpers_on_route import helper_lines
from locosim.report.text.layout import format_text, margin_text, paragraph, table
from locosim.units import show

HEADERS = ("verdict", "rule", "place", "value", "limit", "margin")


def check_text(
    check: Check,
    contingencies: Sequence[Contingency],
    latest: float | None,
    system: str,
    *,
    everything: bool = False,
) -> str:
    """Write a check for a reader.

    Args:
        check: The excursion judged.
        contingencies: The check again with something gone wrong.
        latest: Latest departure that keeps every advertised arrival, on the clock [s].
        system: Units, `us`, `metric` or `british`.
        everything: Show every clear finding, not only the closest of each rule.
    """
    journey, excursion = check.journey, check.journey.excursion
    lines = [
        f"{excursion.name}: {check.verdict.upper()}",
        "",
        *map(paragraph, [*summary_lines(check, system), *method_lines(journey.performance)]),
        "",
    ]
    shown = select_findings(check.findings, everything=everything)
    lines += [table(HEADERS, [finding_row(f, system) for f in shown], left=3, wrapped=(2,))]
    for finding in shown:
        if finding.verdict != CLEAR:
            lines += ["", *_finding_lines(finding, system)]
    hidden = len(check.findings) - len(shown)
    if hidden:
        lines += ["", paragraph(f"{hidden} more clear findings are not shown; --all shows them.")]
    for text in (paragraph(departure_line(latest, check, system)), contingency_text(contingencies)):
        if text:
            lines += ["", text]
    lines += ["", paragraph(CAUTION)]
    return "\n".join(lines)


def select_findings(findings: tuple[Finding, ...], *, everything: bool) -> list[Finding]:
    """All that are not clear, and of each rule that is clear throughout the one with the least margin."""
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


def summary_lines(check: Check, system: str) -> list[str]:
    """Engines, train and line, and how the run ends, in sentences."""
    excursion = check.journey.excursion
    train = excursion.train
    return [
        f"{excursion.locomotive.name} with {train.name}, {show(train.mass, 'mass', system)} behind the tender; "
        f"{excursion.route_as_run.name}; {excursion.rail} rail.",
        *helper_lines(excursion),
        _outcome(check, system),
    ]


def _outcome(check: Check, system: str) -> str:
    journey = check.journey
    took = show(journey.duration, "time", system)
    ran = show(journey.distance, "distance", system)
    water = show(journey.water_used, "water", system)
    used = f"{water} of water and {show(journey.fuel_burned, 'mass', system)} of fuel"
    if journey.arrived:
        return f"She arrives after {took} and {ran}, on {used}."
    return f"She does not arrive: {journey.outcome} after {took} and {ran}, on {used}."


def finding_row(finding: Finding, system: str) -> tuple[str, ...]:
    """One finding as a table row under `HEADERS`."""
    return (
        finding.verdict,
        finding.rule,
        finding.place,
        finding.value_text or show(finding.value, finding.kind, system),
        show(finding.limit, finding.kind, system),
        margin_text(finding.margin),
    )


def _finding_lines(finding: Finding, system: str) -> list[str]:
    head = f"{finding.verdict.upper()} {finding.rule}, {finding.place}: "
    lines = [
        paragraph(head + format_text(finding.because, finding.facts, system) + ".", indent="  ", first="")
    ]
    if finding.remedy:
        lines.append(
            paragraph("Remedy: " + format_text(finding.remedy, finding.facts, system) + ".", indent="  ")
        )
    return lines
