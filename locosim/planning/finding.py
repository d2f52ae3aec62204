"""A finding: one rule, held against one excursion, with its value, limit and margin."""

from __future__ import annotations

from dataclasses import dataclass, field

CLEAR, TIGHT, STOP = "clear", "tight", "stop"
VERDICTS = (CLEAR, TIGHT, STOP)

Fact = tuple[float, str]  # a value in SI and the kind of quantity it is, for showing


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What one rule says of one place.

    Attributes:
        rule: Short name of the rule.
        verdict: `clear`, `tight` or `stop`.
        place: Where, in the words of the line.
        chainage: Where, in the direction of travel [m]; None for the train as a whole.
        value: What was computed [SI].
        limit: What it is held against [SI].
        kind: Kind of quantity of value and limit, for showing.
        margin: Room left, over the limit [1]; below 0 the limit is broken.
        because: Why, with `{name}` where a fact is to be shown.
        remedy: What would mend it, likewise.
        facts: Figures for the two texts, by name.
        value_text: What is shown for a value that no figure tells.
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
    facts: dict[str, Fact] = field(default_factory=dict)
    value_text: str = ""


def verdict_for(margin: float, tight: float) -> str:
    """Name a margin: below 0 stop, below the tight share tight, else clear."""
    if margin < 0.0:
        return STOP
    return TIGHT if margin < tight else CLEAR


def worst_verdict(verdicts: list[str]) -> str:
    """The gravest of several verdicts; clear when there are none."""
    return max(verdicts, key=VERDICTS.index, default=CLEAR)


def margin_above(value: float, limit: float) -> float:
    """Margin of a value that must not be below its limit, over the limit [1]."""
    if limit <= 0.0:
        return 1.0 if value >= limit else -1.0
    return (value - limit) / limit


def margin_below(value: float, limit: float) -> float:
    """Margin of a value that must not be above its limit, over the limit [1]."""
    if limit <= 0.0:
        return 1.0 if value <= limit else -1.0
    return (limit - value) / limit
