"""Bands: margins of findings at the ends of the believable range of the assumptions they rest on."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from locosim.engine.performance import compute_excursion_performance
from locosim.journey.run import run_full_effort
from locosim.model.assumptions import Assumptions
from locosim.planning.check import Check, judge_booked, judge_full_effort, sorted_check
from locosim.planning.finding import CLEAR, NOTE, STOP, TIGHT, Band, Finding, VerdictScale, verdict_for
from locosim.planning.trial_runs import run_booked

MAX_BAND_MARGIN = 0.30  # from here on no assumption was found to change a verdict

# Assumptions that can change a verdict, by rule; those that move a margin by less than 0.005 are left out.
RULE_ASSUMPTIONS: dict[str, tuple[str, ...]] = {
    "steam": ("max_stoker_firing",),
    "climb": ("acceleration_distance", "min_climb_length"),
    "pressure": ("air_lag",),
    "crown sheet": ("working_level_in_glass", "crown_sheet_setback"),
    "water glass": ("working_level_in_glass",),
    "descending grade": ("low_running_resistance",),
}
READ_BY_SUPPLY = {"max_stoker_firing"}
READ_BY_RULES = {
    "acceleration_distance",
    "min_climb_length",
    "low_running_resistance",
}


def with_bands(check: Check) -> Check:
    """Add bands to the findings with a small margin; a clear one whose verdict changes within a band is tight.

    A finding that stops stays a stop: the assumed value is the most likely one.
    """
    near = [
        f for f in check.findings if f.verdict != NOTE and (f.margin < MAX_BAND_MARGIN or _shallow(f, check))
    ]
    names = sorted({name for finding in near for name in RULE_ASSUMPTIONS.get(finding.rule, ())})
    judged = {name: tuple(_findings_at(check, name, end) for end in _ends(name)) for name in names}
    tight_margin = check.runs.booked.excursion.criteria.tight_margin
    findings = []
    for finding in check.findings:
        if finding in near:
            bands = tuple(
                Band(name, *(_margin_like(finding, found) for found in judged[name]))
                for name in RULE_ASSUMPTIONS.get(finding.rule, ())
            )
            finding = _with_band(finding, [b for b in bands if b.at_low != b.at_high], tight_margin)
        findings.append(finding)
    return sorted_check(findings, check.runs)


def _shallow(finding: Finding, check: Check) -> bool:
    """Whether a lower working level, within its range, takes the water out of the glass."""
    level = check.runs.booked.excursion.assumptions.working_level_in_glass
    lowered = level - _ends("working_level_in_glass")[0]
    return finding.rule == "water glass" and finding.facts["lowest"][0] < lowered


def doubts(check: Check) -> dict[str, float]:
    """What the margin of each rule can lose to an assumption [1], for rules with a verdict that changes."""
    return {
        finding.rule: finding.margin - min(band.least for band in finding.bands)
        for finding in check.findings
        if finding.bands and finding.flips
    }


def with_doubts(check: Check, lost: dict[str, float]) -> Check:
    """A similar check with the doubts of another one: a clear finding that may lose its margin is tight.

    Args:
        check: A check with one thing changed.
        lost: What the margin of each rule can lose, from `doubts` of the check without the change [1].
    """
    tight_margin = check.journey.excursion.criteria.tight_margin
    findings = [
        replace(f, verdict=TIGHT)
        if f.verdict == CLEAR and f.margin - lost.get(f.rule, 0.0) < tight_margin and f.rule in lost
        else f
        for f in check.findings
    ]
    return sorted_check(findings, check.runs)


def _with_band(finding: Finding, bands: Iterable[Band], tight_margin: float) -> Finding:
    """The finding with its bands and, where its verdict changes within one, marked so."""
    bands = tuple(bands)
    scale = VerdictScale(tight_margin)
    verdicts = {verdict_for(margin, scale) for band in bands for margin in (band.at_low, band.at_high)}
    flips = bool(verdicts - {finding.verdict})
    worse = finding.verdict == CLEAR and bool(verdicts & {TIGHT, STOP})
    if worse:
        finding = replace(finding, verdict=TIGHT, remedy=finding.advice)
    return replace(finding, bands=bands, flips=flips)


def _ends(name: str) -> tuple[float, float]:
    data = Assumptions.declared()[name].metadata
    return data["low"], data["high"]


def _findings_at(check: Check, name: str, value: float) -> list[Finding]:
    """Findings that rest on an assumption, with another value of it."""
    runs = check.runs
    excursion = runs.booked.excursion
    changed = replace(excursion, assumptions=replace(excursion.assumptions, **{name: value}))
    if name in READ_BY_SUPPLY:
        supply = compute_excursion_performance(changed).supply
        if runs.need.share is None:
            return []
        share = runs.need.share * runs.booked.performance.supply.sustained / supply.sustained
        return [replace(f, margin=1.0 - share) for f in check.findings if f.rule == "steam"]
    if name in READ_BY_RULES:
        return [
            *judge_booked(replace(runs.booked, excursion=changed)),
            *judge_full_effort(replace(runs.full_effort, excursion=changed)),
        ]
    performance = runs.booked.performance
    found = judge_booked(run_booked(changed, performance, begin=runs))
    if any(name in RULE_ASSUMPTIONS.get(f.rule, ()) for f in judge_full_effort(runs.full_effort)):
        found += judge_full_effort(run_full_effort(changed, performance))
    return found


def _margin_like(finding: Finding, found: Iterable[Finding]) -> float:
    """Margin of the finding of the same rule at the same place, or the least of the rule."""
    alike = [f for f in found if f.rule == finding.rule]
    here = [f for f in alike if f.place == finding.place]
    return min((f.margin for f in here or alike), default=finding.margin)
