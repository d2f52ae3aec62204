"""What else a check tells: the latest departure, and the check again with something gone wrong."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from locosim.planning.check import Check
from locosim.planning.contingencies import Contingency
from locosim.planning.finding import STOP
from locosim.report.text.layout import margin_text, paragraph, table
from locosim.units import show


def departure_line(latest: float | None, check: Check, system: str) -> str:
    """Say how late she may leave and keep every advertised arrival; empty where that is not known."""
    if latest is None:
        return ""
    departure = check.journey.excursion.departure
    asked, found = show(departure, "clock", system), show(latest, "clock", system)
    word = "still" if latest >= departure else "only"
    others = sorted({f.rule for f in check.findings if f.verdict == STOP and f.rule != "time"})
    stops = f" The plan stops all the same, by {', '.join(others)}." if others else ""
    return (
        f"Worked backwards from the advertised arrivals, a departure at {found} {word} keeps them all; "
        f"the plan is {asked}.{stops}"
    )


HEADERS = ("with", "verdict", "worst finding", "margin")


def contingency_text(contingencies: Sequence[Contingency]) -> str:
    """Write the repeated checks as a table."""
    if not contingencies:
        return ""
    return "\n".join(
        [
            table(HEADERS, contingency_rows(contingencies), left=3, wrapped=(0, 2)),
            paragraph(contingency_outcome(contingencies)),
        ]
    )


def contingency_rows(contingencies: Sequence[Contingency]) -> list[tuple[str, ...]]:
    """Each contingency that was run, with its verdict and worst finding."""
    return [
        (
            contingency.name,
            contingency.verdict,
            f"{contingency.worst.rule}, {contingency.worst.place}" if contingency.worst else "",
            margin_text(contingency.worst.margin) if contingency.worst else "",
        )
        for contingency in contingencies
        if contingency.verdict is not None
    ]


def contingency_outcome(contingencies: Sequence[Contingency]) -> str:
    """List the contingencies that turn the verdict to stop, and those not run."""
    becomes_stop = [contingency.name for contingency in contingencies if contingency.becomes_stop]
    skipped = [
        f"{contingency.name} ({contingency.not_run})" for contingency in contingencies if contingency.not_run
    ]
    not_run = f" Not tried: {'; '.join(skipped)}." if skipped else ""
    if becomes_stop:
        return f"Turned into stop by: {'; '.join(becomes_stop)}.{not_run}"
    if any(contingency.verdict == STOP for contingency in contingencies):
        return f"The plan stops without any of these.{not_run}"
    return f"None of these turns the verdict into stop.{not_run}"


def contingency_content(contingencies: Sequence[Contingency], latest: float | None) -> dict[str, Any]:
    """The same for JSON."""
    return {
        "latest_departure_s": latest,
        "contingencies": [
            {
                "with": contingency.name,
                "verdict": contingency.verdict,
                "not_run": contingency.not_run or None,
                "becomes_stop": contingency.becomes_stop,
                "worst_rule": contingency.worst.rule if contingency.worst else None,
                "worst_place": contingency.worst.place if contingency.worst else None,
                "worst_margin": contingency.worst.margin if contingency.worst else None,
            }
            for contingency in contingencies
        ],
    }
