"""The check as JSON."""

from __future__ import annotations

from typing import Any

from locosim.planning.answer import Answer
from locosim.planning.contingencies import Contingency
from locosim.planning.finding import STOP, TIGHT, Finding
from locosim.planning.remedies import Remedy
from locosim.planning.station_times import StationTimes, line_chainage, station_times
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
            "findings": [finding_content(answer, finding) for finding in answer.findings],
            "stations": [station_content(times) for times in station_times(journey)],
            "totals": totals(journey),
            "latest_departure_s": answer.latest_departure,
            "arrivals_never_kept": [missed.station for missed in answer.arrivals_never_kept],
            "lateness_two_hours_earlier_s": [missed.late for missed in answer.arrivals_never_kept],
            "contingencies": [_contingency(contingency) for contingency in answer.contingencies],
        },
    )


def finding_content(answer: Answer, finding: Finding) -> dict[str, Any]:
    """One finding of a check."""
    return {
        "rule": finding.rule,
        "verdict": finding.verdict,
        "place": finding.place,
        "chainage_m": finding.chainage,
        "milepost_m": None if finding.chainage is None else line_chainage(answer.excursion, finding.chainage),
        **finding_figures(finding),
        "bands": [
            {"assumption": band.assumption, "margin_at_low": band.at_low, "margin_at_high": band.at_high}
            for band in finding.bands
        ],
        "verdict_changes_within_band": finding.flips,
        "changes_tried": list(answer.changes_tried.get(finding.rule, ())),
        "remedies": [_remedy(remedy) for remedy in answer.remedies_for(finding.rule)]
        if finding.verdict in (TIGHT, STOP)
        else [],
    }


def finding_figures(finding: Finding) -> dict[str, Any]:
    """Figures of a finding, its reason and what may help."""
    return {
        # A value that is not finite is null; the text says what it means.
        "value": finding.value,
        "limit": finding.limit,
        "unit": si_label(finding.kind),
        "margin": finding.margin,
        "because": format_text_si(finding.because, finding.facts),
        "advice_not_run": format_text_si(finding.remedy, finding.facts),
    }


def _remedy(remedy: Remedy) -> dict[str, Any]:
    return {
        "kind": remedy.kind,
        "change": format_text_si(remedy.change, remedy.facts),
        "amount": remedy.amount,
        "verdict": remedy.verdict,
        "verdict_of_check": remedy.whole_verdict,
        "rules_not_clear": list(remedy.remaining),
    }


def station_content(times: StationTimes) -> dict[str, Any]:
    """Times at one station."""
    return {
        "name": times.station,
        "milepost_m": times.milepost,
        "stops": times.stops,
        "reached": times.reached,
        "booked_arrival_s": times.booked_arrive,
        "arrival_or_passing_s": times.arrive,
        "booked_departure_s": times.booked_depart,
        "departure_s": times.depart,
        "late_s": times.late,
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
