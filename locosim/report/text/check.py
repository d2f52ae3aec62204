"""The check as text."""

from __future__ import annotations

from collections.abc import Sequence

from locosim.planning.answer import Answer
from locosim.planning.finding import CLEAR, Finding
from locosim.report.accuracy import accuracy_text
from locosim.report.caution import CAUTION
from locosim.report.helper_schedule import helper_lines
from locosim.report.made_from import made_from
from locosim.report.text.contingencies import contingency_text, departure_line
from locosim.report.text.engine import method_lines
from locosim.report.text.finding import (
    HEADERS,
    band_lines,
    figures_text,
    finding_row,
    place_text,
    reason_text,
    remedy_lines,
)
from locosim.report.text.layout import margin_text, paragraph, table
from locosim.report.text.run import used_text
from locosim.report.text.stations import station_table
from locosim.units import show


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
    ]
    for finding in shown:
        if finding.verdict != CLEAR:
            lines += ["", *finding_lines(answer, finding)]
    lines += ["", station_table(answer.journey)]
    for text in (paragraph(departure_line(answer)), contingency_text(answer)):
        if text:
            lines += ["", text]
    return "\n".join(
        [
            *lines,
            *_clear_lines(answer, shown),
            "",
            paragraph(accuracy_text("check", answer.performance.method, made_from(answer))),
            "",
            paragraph(CAUTION),
        ]
    )


def _clear_lines(answer: Answer, shown: Sequence[Finding]) -> list[str]:
    """The clear findings, the closest first, and how many are not shown."""
    clear = sorted((f for f in shown if f.verdict == CLEAR), key=lambda f: f.margin)
    if not clear:
        return ["", "No finding is clear."]
    rows = [finding_row(finding)[1:] for finding in clear]
    lines = ["", "Clear, the closest first:", table(HEADERS[1:], rows, left=2, wrapped=(1,))]
    if steady := steady_line(clear):
        lines += ["", paragraph(steady)]
    hidden = len(answer.findings) - len(shown)
    if hidden:
        more = "1 more clear finding" if hidden == 1 else f"{hidden} more clear findings"
        lines += ["", paragraph(f"{more}; shown with --all.")]
    return lines


def steady_line(clear: Sequence[Finding]) -> str:
    """Clear findings that rest on an assumption, and their margins over its range; empty where there are none."""
    named = [
        f"{finding.rule} on assumptions.{band.assumption} ({margin_text(min(band.at_low, band.at_high))} to "
        f"{margin_text(max(band.at_low, band.at_high))})"
        for finding in clear
        for band in finding.bands
    ]
    return (
        f"These rest on an assumption, and are clear over its whole range: {', '.join(named)}."
        if named
        else ""
    )


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
    behind = (
        f"with {train.name}, {show(train.mass, 'mass')} behind the {excursion.locomotive.coupled_behind}"
        if train.vehicles
        else "without a train"
    )
    return [
        f"{excursion.locomotive.name} {behind}; {excursion.route_as_run.name}; {excursion.rail} rail.",
        *helper_lines(excursion),
        _outcome(answer),
    ]


def _outcome(answer: Answer) -> str:
    journey = answer.journey
    used = f"{show(journey.distance, 'distance', 1)}, {used_text(journey)}"
    if journey.arrived:
        return f"Arrives {show(journey.stops[-1].arrive, 'clock')}, {used}."
    return f"Does not arrive: {journey.outcome} after {show(journey.duration, 'time')}, {used}."


def finding_lines(answer: Answer, finding: Finding, remedies: Sequence[str] | None = None) -> list[str]:
    """A finding that is not clear, as wrapped lines.

    Args:
        answer: The answer.
        finding: The finding.
        remedies: Lines of its remedies; those of the answer if omitted.
    """
    head = (
        f"{finding.verdict.upper()} {finding.rule}, {place_text(answer, finding)}: {figures_text(finding)}."
    )
    texts = [reason_text(finding), *band_lines(answer, finding)]
    texts += remedy_lines(answer, finding) if remedies is None else remedies
    return [
        paragraph(head, indent="  ", first=""),
        *(paragraph(text, indent="    ", first="  ") for text in texts),
    ]
