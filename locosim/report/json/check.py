"""The check as JSON."""

from __future__ import annotations

from typing import Any

from locosim.planning.answer import Answer
from locosim.planning.contingencies import Contingency
from locosim.planning.finding import Finding
from locosim.report.helper_schedule import helper_content
from locosim.report.json.envelope import envelope
from locosim.report.json.run import totals
from locosim.report.made_from import made_from
from locosim.report.text.layout import format_text_si
from locosim.units import si_label


def check_json(answer: Answer) -> str:
    """Write the answer to a proposed excursion as JSON."""
    journey = answer.journey
    return envelope(
        "check",
        answer.performance.method,
        made_from(answer),
        {
            "excursion": answer.excursion.name,
            "helpers": helper_content(answer.excursion),
            "locomotive_notes": answer.performance.notes,
            "verdict": answer.verdict,
            "outcome": journey.outcome,
            "findings": [_finding(finding) for finding in answer.findings],
            "totals": totals(journey),
            "latest_departure_s": answer.latest_departure,
            "contingencies": [_contingency(contingency) for contingency in answer.contingencies],
        },
    )


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "verdict": finding.verdict,
        "place": finding.place,
        "chainage_m": finding.chainage,
        # A value that is not finite is null; the text says what it means.
        "value": finding.value,
        "limit": finding.limit,
        "unit": si_label(finding.kind),
        "margin": finding.margin,
        "because": format_text_si(finding.because, finding.facts),
        "remedy": format_text_si(finding.remedy, finding.facts),
    }


def _contingency(contingency: Contingency) -> dict[str, Any]:
    worst = contingency.worst
    return {
        "contingency": contingency.name,
        "verdict": contingency.verdict,
        "not_run": contingency.not_run or None,
        "becomes_stop": contingency.becomes_stop,
        "worst_rule": worst.rule if worst else None,
        "worst_place": worst.place if worst else None,
        "worst_margin": worst.margin if worst else None,
    }
