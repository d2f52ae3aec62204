"""A finding in words: figures, place, reason, the assumptions that change its verdict, and its remedies."""

from __future__ import annotations

import math
from collections.abc import Sequence

from locosim.model.assumptions import Assumptions
from locosim.planning.answer import Answer
from locosim.planning.check import END_RULES
from locosim.planning.finding import CLEAR, NOTE, Band, Finding, VerdictScale, verdict_for
from locosim.planning.remedies import Remedy
from locosim.report.text.layout import finer_kind, format_text, margin_text
from locosim.report.text.stations import milepost_text
from locosim.units import current_system, show

HEADERS = ("verdict", "rule", "place", "value", "limit", "margin")
SMALL_LENGTH = 1.0  # an assumed length below this is shown in inches or millimeters [m]
# A mass below the first would have one digit in tons, and lb or kg do for the other up to the second [kg].
ONE_DIGIT_MASS, MASS_IN_SMALL_UNITS = 200.0, 5000.0


def finding_row(finding: Finding) -> tuple[str, ...]:
    """One finding as a table row under `HEADERS`; the limit says whether the value must reach it or stay within it."""
    side = "≥" if _is_minimum(finding) else "≤"
    unjudged = finding.verdict == NOTE and math.isinf(finding.margin)
    kind = _kind(finding)
    return (
        finding.verdict,
        finding.rule,
        finding.place,
        finding.value_text or show(finding.value, kind),
        "" if unjudged else f"{side} {show(finding.limit, kind)}",
        "" if unjudged else margin_text(finding.margin),
    )


def _kind(finding: Finding) -> str:
    """Kind of quantity that a finding is shown as: one for its value and its limit."""
    small, large = sorted(map(abs, (finding.value, finding.limit)))
    if finding.kind == "mass" and 0.0 < small < ONE_DIGIT_MASS and large < MASS_IN_SMALL_UNITS:
        return "small_mass"
    return finer_kind(finding.kind, large)


def _is_minimum(finding: Finding) -> bool:
    """Whether the limit of a finding, as shown, is a minimum.

    A degree of curve is larger where the radius is smaller.
    """
    turned = finding.kind == "curve" and current_system() == "us"
    return finding.is_minimum != turned


def place_text(answer: Answer, finding: Finding) -> str:
    """Place of a finding with its milepost, as the line counts it."""
    milepost = milepost_text(answer.journey, finding.chainage)
    return f"{finding.place}, {milepost}" if milepost else finding.place


def figures_text(finding: Finding) -> str:
    """Value, limit and margin of a finding in a phrase."""
    kind = _kind(finding)
    value, limit = finding.value_text or show(finding.value, kind), show(finding.limit, kind)
    if finding.rule in END_RULES:
        return f"after {value} of {limit}"
    if finding.verdict == NOTE and math.isinf(finding.margin):
        return value
    bound = f"at least {limit} needed" if _is_minimum(finding) else f"at most {limit} allowed"
    return f"{value}, {bound}, margin {margin_text(finding.margin)}"


def reason_text(finding: Finding) -> str:
    """The reason of a finding, as a sentence."""
    reason = format_text(finding.because, finding.facts)
    return f"{reason[:1].upper()}{reason[1:]}."


def band_lines(answer: Answer, finding: Finding) -> list[str]:
    """The assumptions that the finding rests on, each with value and verdict at the low and the high end."""
    scale = VerdictScale(answer.excursion.criteria.tight_margin)
    return [_band_line(answer, finding, band, scale) for band in finding.bands]


def _band_line(answer: Answer, finding: Finding, band: Band, scale: VerdictScale) -> str:
    declared = Assumptions.declared()[band.assumption].metadata
    ends = [
        f"{_value_at(finding, margin)} with {_assumed(declared[end], declared['unit'])}, "
        f"{verdict_for(margin, scale).upper()}"
        for end, margin in (("low", band.at_low), ("high", band.at_high))
    ]
    value = _assumed(getattr(answer.excursion.assumptions, band.assumption), declared["unit"])
    doubted = verdict_for(finding.margin, scale) == CLEAR != verdict_for(band.least, scale)
    until = " So it is TIGHT until that figure is known and given." if doubted else ""
    return f"Rests on assumptions.{band.assumption}, {value}: {'; '.join(ends)}.{until}"


def _value_at(finding: Finding, margin: float) -> str:
    """The value of a finding at another margin."""
    if not math.isfinite(margin):
        return "out of reach"
    side = 1.0 if finding.is_minimum else -1.0
    value = finding.limit * (1.0 + side * margin)
    return (
        finding.value_text if value == finding.value and finding.value_text else show(value, _kind(finding))
    )


def _assumed(value: float, unit: str) -> str:
    """An assumed value with its unit."""
    if unit == "m":
        return show(value, "small_length" if value < SMALL_LENGTH else "length")
    return show(value, "ratio") if not unit else f"{value:g} {unit}"


def remedy_lines(answer: Answer, finding: Finding) -> list[str]:
    """The remedies that were run, each with the verdicts it gives; where none of them helps, what was tried.

    A rule with several findings has them at its first one.
    """
    if finding.verdict == NOTE:
        return []
    tried = [_remedy_text(remedy) for remedy in answer.remedies_for(finding.rule)]
    return tried_lines(answer, finding, tried, answer.changes_tried.get(finding.rule, ()))


def tried_lines(answer: Answer, finding: Finding, remedies: Sequence[str], kinds: Sequence[str]) -> list[str]:
    """The texts of the remedies of a rule at its first finding; where there are none, the kinds of change tried."""
    alike = [f for f in answer.findings if f.rule == finding.rule and f.verdict not in (CLEAR, NOTE)]
    if remedies and alike[0] is not finding:
        return [f"Remedies tried: see {finding.rule} at {milepost_text(answer.journey, alike[0].chainage)}."]
    if remedies:
        return [f"Remedy tried: {remedy}." for remedy in remedies]
    return [f"No change tried helps: {', '.join(kinds)}."] if kinds and alike[0] is finding else []


def _remedy_text(remedy: Remedy) -> str:
    """A remedy with what it does for its rule, and what the whole check then is."""
    change = format_text(remedy.change, remedy.facts)
    if remedy.whole_verdict == CLEAR:
        return f"{change}: the whole check is CLEAR"
    rule = f"{remedy.rule} {remedy.verdict.upper()}"
    if remedy.remaining == (remedy.rule,):
        return f"{change}: {rule}"
    return f"{change}: {rule}, but still {remedy.whole_verdict.upper()} for {', '.join(remedy.remaining)}"
