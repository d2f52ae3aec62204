"""What else a check tells: the latest departure, and the check again with something gone wrong."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from locosim.planning.check import Check
from locosim.planning.contingencies import Trial
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


HEADS = ("with", "verdict", "gravest finding", "margin")


def trials_text(trials: Sequence[Trial]) -> str:
    """Write the repeated checks as a table."""
    if not trials:
        return ""
    return "\n".join(
        [table(HEADS, trial_rows(trials), left=3, wrapped=(0, 2)), paragraph(trials_outcome(trials))]
    )


def trial_rows(trials: Sequence[Trial]) -> list[tuple[str, ...]]:
    """Each trial that was made, with its verdict and gravest finding."""
    return [
        (
            trial.name,
            trial.verdict,
            f"{trial.worst.rule}, {trial.worst.place}" if trial.worst else "",
            margin_text(trial.worst.margin) if trial.worst else "",
        )
        for trial in trials
        if trial.verdict is not None
    ]


def trials_outcome(trials: Sequence[Trial]) -> str:
    """Say which trials turn a plan that would go into one that stops, and which were not tried."""
    turned = [trial.name for trial in trials if trial.turned]
    left_out = [f"{trial.name} ({trial.not_tried})" for trial in trials if trial.not_tried]
    not_tried = f" Not tried: {'; '.join(left_out)}." if left_out else ""
    if turned:
        return f"Turned into stop by: {'; '.join(turned)}.{not_tried}"
    if any(trial.verdict == STOP for trial in trials):
        return f"The plan stops without any of these.{not_tried}"
    return f"None of these turns the verdict into stop.{not_tried}"


def trials_content(trials: Sequence[Trial], latest: float | None) -> dict[str, Any]:
    """The same for JSON."""
    return {
        "latest_departure_s": latest,
        "trials": [
            {
                "with": trial.name,
                "verdict": trial.verdict,
                "not_tried": trial.not_tried or None,
                "turned_to_stop": trial.turned,
                "gravest_rule": trial.worst.rule if trial.worst else None,
                "gravest_place": trial.worst.place if trial.worst else None,
                "gravest_margin": trial.worst.margin if trial.worst else None,
            }
            for trial in trials
        ],
    }
