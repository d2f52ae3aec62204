"""A finding: what one rule computed at one place, its limit, the margin and the verdict."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

CLEAR, TIGHT, STOP = "clear", "tight", "stop"
VERDICTS = (CLEAR, TIGHT, STOP)  # from best to worst

Fact = tuple[float, str]  # a value in SI and its kind of quantity, for display


class Comparison(NamedTuple):
    """A computed value against its limit.

    Attributes:
        value: Computed value [SI].
        limit: Limit [SI].
        kind: Kind of quantity of both, for display.
        margin: Room left, over the limit [1]; below 0 the limit is broken.
    """

    value: float
    limit: float
    kind: str
    margin: float


def at_least(value: float, limit: float, kind: str) -> Comparison:
    """Comparison of a value that must not be below its limit; with a limit of 0 the margin is 1 or -1."""
    if limit <= 0.0:
        return Comparison(value, limit, kind, 1.0 if value >= limit else -1.0)
    return Comparison(value, limit, kind, (value - limit) / limit)


def at_most(value: float, limit: float, kind: str) -> Comparison:
    """Comparison of a value that must not be above its limit; with a limit of 0 the margin is 1 or -1."""
    if limit <= 0.0:
        return Comparison(value, limit, kind, 1.0 if value <= limit else -1.0)
    return Comparison(value, limit, kind, (limit - value) / limit)


class Location(NamedTuple):
    """A place on the line.

    Attributes:
        name: Station, or the stations on both sides.
        chainage: In the direction of travel [m]; None for the train or the line as a whole.
    """

    name: str
    chainage: float | None


WHOLE_LINE = Location("whole line", None)


class VerdictScale(NamedTuple):
    """How a margin becomes a verdict.

    Attributes:
        tight_margin: A margin from 0 up to this is tight [1]; 0 for a limit that is met or not.
        mildest: Best verdict the rule can give.
        worst: Worst verdict the rule can give.
    """

    tight_margin: float = 0.0
    mildest: str = CLEAR
    worst: str = STOP


MET_OR_NOT = VerdictScale()


def verdict_for(margin: float, scale: VerdictScale) -> str:
    """Verdict for a margin: below 0 stop, below the tight margin tight, else clear, within the ends of the scale."""
    verdict = STOP if margin < 0.0 else TIGHT if margin < scale.tight_margin else CLEAR
    rank = min(max(VERDICTS.index(verdict), VERDICTS.index(scale.mildest)), VERDICTS.index(scale.worst))
    return VERDICTS[rank]


def worst_verdict(verdicts: Iterable[str]) -> str:
    """Worst of several verdicts; clear when there are none."""
    return max(verdicts, key=VERDICTS.index, default=CLEAR)


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """Reason and remedy of a finding, before its verdict is known.

    Attributes:
        because: Reason, with `{name}` where a fact is shown.
        remedy: Remedy if the finding is not clear, likewise.
        facts: Figures for both texts, by name.
        value_text: Text shown in place of a value that is not finite.
    """

    because: str
    remedy: str
    facts: Mapping[str, Fact] = field(default_factory=dict)
    value_text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Result of one rule at one place.

    Attributes:
        rule: Short name of the rule.
        verdict: `clear`, `tight` or `stop`.
        place: Name of the place.
        chainage: In the direction of travel [m]; None for the train or the line as a whole.
        value: Computed value [SI].
        limit: Limit [SI].
        kind: Kind of quantity of value and limit, for display.
        margin: Room left, over the limit [1]; below 0 the limit is broken.
        because: Reason, with `{name}` where a fact is shown.
        remedy: Remedy, likewise; empty where the verdict is clear.
        facts: Figures for both texts, by name.
        value_text: Text shown in place of a value that is not finite.
    """

    rule: str
    verdict: str
    place: str
    chainage: float | None
    value: float
    limit: float
    kind: str
    margin: float
    because: str
    remedy: str
    facts: Mapping[str, Fact] = field(default_factory=dict)
    value_text: str = ""


def judge(
    rule: str, compared: Comparison, location: Location, scale: VerdictScale, explanation: Explanation
) -> Finding:
    """Make the finding of a rule: the verdict from the margin, the remedy only where the verdict is not clear.

    Args:
        rule: Short name of the rule.
        compared: Value, limit and margin.
        location: Where.
        scale: How the margin becomes a verdict.
        explanation: Reason and remedy.
    """
    verdict = verdict_for(compared.margin, scale)
    return Finding(
        rule=rule,
        verdict=verdict,
        place=location.name,
        chainage=location.chainage,
        value=compared.value,
        limit=compared.limit,
        kind=compared.kind,
        margin=compared.margin,
        because=explanation.because,
        remedy="" if verdict == CLEAR else explanation.remedy,
        facts=explanation.facts,
        value_text=explanation.value_text,
    )
