"""A finding: what one rule computed at one place, its limit, the margin and the verdict."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import field
from typing import NamedTuple

from locosim.frozen import frozen

CLEAR, TIGHT, STOP = "clear", "tight", "stop"
VERDICTS = (CLEAR, TIGHT, STOP)  # from best to worst
NOTE = "note"  # a finding without a verdict: it informs, and does not count in the verdict of the check

Fact = tuple[float, str]  # a value in SI and its kind of quantity, for display


class Comparison(NamedTuple):
    """A computed value against its limit.

    Attributes:
        value: Computed value [SI].
        limit: Limit [SI].
        kind: Kind of quantity of both, for display.
        margin: Room left, over the limit [1]; below 0 the limit is broken.
        is_minimum: Whether the value must reach the limit, and not stay within it.
    """

    value: float
    limit: float
    kind: str
    margin: float
    is_minimum: bool = False


def at_least(value: float, limit: float, kind: str) -> Comparison:
    """Comparison of a value that must not be below its limit; with a limit of 0 the margin is 1 or -1."""
    if limit <= 0.0:
        return Comparison(value, limit, kind, 1.0 if value >= limit else -1.0, is_minimum=True)
    return Comparison(value, limit, kind, (value - limit) / limit, is_minimum=True)


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
        note: Whether a broken limit is only a note.
    """

    tight_margin: float = 0.0
    mildest: str = CLEAR
    note: bool = False


MET_OR_NOT = VerdictScale()


def verdict_for(margin: float, scale: VerdictScale) -> str:
    """Verdict for a margin: below 0 stop, below the tight margin tight, else clear; a note where the scale says so."""
    verdict = STOP if margin < 0.0 else TIGHT if margin < scale.tight_margin else CLEAR
    if scale.note:
        return CLEAR if verdict == CLEAR else NOTE
    return max(verdict, scale.mildest, key=VERDICTS.index)


def worst_verdict(verdicts: Iterable[str]) -> str:
    """Worst of several verdicts, notes left out; clear when there are none."""
    return max((v for v in verdicts if v != NOTE), key=VERDICTS.index, default=CLEAR)


def severity(verdict: str) -> int:
    """Rank of a verdict for sorting: clear, note, tight, stop."""
    return (CLEAR, NOTE, TIGHT, STOP).index(verdict)


class Band(NamedTuple):
    """Margin of a finding at the ends of the believable range of one assumption.

    Attributes:
        assumption: Its name.
        at_low: Margin at its low end [1].
        at_high: Margin at its high end [1].
    """

    assumption: str
    at_low: float
    at_high: float

    @property
    def least(self) -> float:
        """Lower of the two margins [1]."""
        return min(self.at_low, self.at_high)


@frozen
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


@frozen
class Finding:
    """Result of one rule at one place.

    Attributes:
        rule: Short name of the rule.
        verdict: `clear`, `tight` or `stop`; `note` without verdict.
        place: Name of the place.
        chainage: In the direction of travel [m]; None for the train or the line as a whole.
        value: Computed value [SI].
        limit: Limit [SI].
        kind: Kind of quantity of value and limit, for display.
        margin: Room left, over the limit [1]; below 0 the limit is broken.
        because: Reason, with `{name}` where a fact is shown.
        remedy: Advice that was not run, likewise; empty where the verdict is clear.
        advice: The same whatever the verdict, for a finding that becomes tight later.
        facts: Figures for both texts, by name.
        value_text: Text shown in place of a value that is not finite.
        bands: Margins at the ends of the assumptions the finding rests on; computed where the margin is small.
        flips: Whether the verdict changes within one of them; a clear one is then tight.
        is_minimum: Whether the value must reach the limit, and not stay within it.
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
    advice: str = ""
    bands: tuple[Band, ...] = ()
    flips: bool = False
    is_minimum: bool = False


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
        is_minimum=compared.is_minimum,
        because=explanation.because,
        remedy="" if verdict == CLEAR else explanation.remedy,
        facts=explanation.facts,
        value_text=explanation.value_text,
        advice=explanation.remedy,
    )
