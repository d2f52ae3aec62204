"""The latest departure and the contingencies of a check as text."""

from __future__ import annotations

from collections.abc import Sequence

from locosim.planning.answer import Answer
from locosim.planning.bands import RULE_ASSUMPTIONS
from locosim.planning.finding import STOP, TIGHT, Finding
from locosim.report.text.layout import margin_text, paragraph, table
from locosim.units import show

HEADERS = ("contingency", "verdict", "worst finding", "margin")


def departure_line(answer: Answer) -> str:
    """The latest departure that keeps every advertised arrival, or the arrivals that none keeps."""
    if answer.arrivals_never_kept:
        return f"Even leaving two hours earlier, the train {_missed_text(answer)}."
    if answer.latest_departure is None:
        return ""
    latest, planned = show(answer.latest_departure, "clock"), show(answer.excursion.departure, "clock")
    others = sorted({f.rule for f in answer.findings if f.verdict == STOP and f.rule != "time"})
    stops = f" The verdict is STOP all the same, for {', '.join(others)}." if others else ""
    return f"Latest departure that keeps every advertised arrival: {latest} (planned {planned}).{stops}"


def _missed_text(answer: Answer) -> str:
    """Where no departure keeps the advertised arrival: how late then, what is allowed, what is not reached."""
    late = [
        f"{show(missed.late, 'time')} late at {missed.station}"
        for missed in answer.arrivals_never_kept
        if missed.late is not None
    ]
    not_reached = [missed.station for missed in answer.arrivals_never_kept if missed.late is None]
    allowed = show(answer.excursion.criteria.max_lateness, "time")
    parts = [f"is {_listed(late)} ({allowed} allowed)"] if late else []
    parts += [f"does not reach {_listed(not_reached, 'or')}"] if not_reached else []
    return " and ".join(parts)


def _listed(words: Sequence[str], joint: str = "and") -> str:
    *before, last = words
    return f"{', '.join(before)} {joint} {last}" if before else last


def contingency_text(answer: Answer) -> str:
    """Write the contingencies as a table and a sentence; empty where none were run."""
    if not answer.contingencies:
        return ""
    rows = contingency_rows(answer)
    lines = [table(HEADERS, rows, left=3, wrapped=(0, 2))] if rows else []
    return "\n".join([*lines, paragraph(contingency_outcome(answer))])


def contingency_rows(answer: Answer) -> list[tuple[str, ...]]:
    """Each contingency that was run, with its verdict and worst finding; marked where an assumption makes it tight."""
    enough = answer.excursion.criteria.tight_margin
    return [
        (
            contingency.name,
            contingency.verdict,
            _worst_text(contingency.worst, enough) if contingency.worst else "",
            margin_text(contingency.worst.margin) if contingency.worst else "",
        )
        for contingency in answer.contingencies
        if contingency.verdict is not None
    ]


def _worst_text(worst: Finding, enough: float) -> str:
    """Rule and place of a worst finding; with a margin that is enough, it is tight by an assumption."""
    doubted = worst.verdict == TIGHT and worst.margin >= enough and worst.rule in RULE_ASSUMPTIONS
    rests = ", by an assumption" if doubted else ""
    return f"{worst.rule}, {worst.place}{rests}"


def contingency_outcome(answer: Answer) -> str:
    """The contingencies that turn the verdict to stop, and those not run with the reason."""
    becomes_stop = [each.name for each in answer.contingencies if each.becomes_stop]
    if becomes_stop:
        outcome = f"Turns the verdict to stop: {'; '.join(becomes_stop)}."
    elif answer.verdict == STOP:
        outcome = "The verdict is stop without any of these."
    else:
        outcome = "None of these turns the verdict to stop."
    not_run = "; ".join(f"{each.name} ({each.not_run})" for each in answer.not_run)
    return f"{outcome} Not run: {not_run}." if not_run else outcome
