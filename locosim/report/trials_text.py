"""What else a check tells: the latest departure, and the check again with something gone wrong."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from locosim.planning.trials import Trial
from locosim.report.text import margin_text, paragraph, table
from locosim.units import show


def departure_text(latest: float | None, departure: float, system: str) -> str:
    """Say how late she may leave and keep every advertised arrival."""
    if latest is None:
        return ""
    asked, found = show(departure, "clock", system), show(latest, "clock", system)
    word = "still" if latest >= departure else "only"
    return paragraph(
        f"Worked backwards from the advertised arrivals, a departure at {found} {word} keeps them all; "
        f"the plan is {asked}."
    )


def trials_text(trials: Sequence[Trial]) -> str:
    """Write the repeated checks as a table."""
    if not trials:
        return ""
    rows = [
        (
            trial.name,
            trial.verdict,
            f"{trial.worst.rule}, {trial.worst.place}" if trial.worst else "",
            margin_text(trial.worst.margin) if trial.worst else "",
        )
        for trial in trials
    ]
    turned = [trial.name for trial in trials if trial.turned]
    if turned:
        outcome = f"Turned into stop by: {'; '.join(turned)}."
    elif any(trial.verdict == "stop" for trial in trials):
        outcome = "The plan stops without any of these."
    else:
        outcome = "None of these turns the verdict into stop."
    return "\n".join(
        [
            table(("with", "verdict", "gravest finding", "margin"), rows, left=3, wrapped=(0, 2)),
            paragraph(outcome),
        ]
    )


def trials_content(trials: Sequence[Trial], latest: float | None) -> dict[str, Any]:
    """The same for JSON."""
    return {
        "latest_departure_s": latest,
        "trials": [
            {
                "with": trial.name,
                "verdict": trial.verdict,
                "turned_to_stop": trial.turned,
                "gravest_rule": trial.worst.rule if trial.worst else None,
                "gravest_place": trial.worst.place if trial.worst else None,
                "gravest_margin": trial.worst.margin if trial.worst else None,
            }
            for trial in trials
        ],
    }
