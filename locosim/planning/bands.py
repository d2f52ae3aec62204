"""Bands: margins of findings at the ends of the believable range of the assumptions they rest on."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

from locosim.engine.performance import compute_excursion_performance
from locosim.journey.result import with_levels
from locosim.model.assumptions import Assumptions
from locosim.planning.check import Check, Rule, sorted_check, worst_finding
from locosim.planning.finding import CLEAR, NOTE, STOP, TIGHT, Band, Finding, VerdictScale, verdict_for
from locosim.planning.rules import boiler, braking, traction
from locosim.planning.trial_runs import run_booked

MAX_BAND_MARGIN = 0.30  # from here on only the level of the water and the stoker change a verdict

# Assumptions that can change a verdict, by rule; those that move a margin by less than 0.005 are left out.
RULE_ASSUMPTIONS: dict[str, tuple[str, ...]] = {
    "steam": ("max_stoker_firing",),
    "climb": ("acceleration_distance", "min_climb_length"),
    "pressure": ("air_lag",),
    "crown sheet": ("working_level_in_glass", "crown_sheet_setback"),
    "water glass": ("working_level_in_glass",),
    "descending grade": ("low_running_resistance",),
}
# Where each of these rules is judged, with what finds it; steam is judged by the supply.
BOOKED_RULE: dict[str, Rule] = {
    "pressure": boiler.pressure,
    "crown sheet": boiler.crown_cover,
    "water glass": boiler.water_glass,
    "descending grade": braking.descending,
}
FULL_EFFORT_RULE: dict[str, Rule] = {"climb": traction.climbing}
READ_BY_SUPPLY = {"max_stoker_firing"}
READ_BY_RULES = {
    "acceleration_distance",
    "min_climb_length",
    "low_running_resistance",
}
READ_BY_LEVELS = {"crown_sheet_setback"}
WORSE_AT_HIGH = {"air_lag"}  # where the high end is tried first


def with_bands(check: Check, *, rule: str = "") -> Check:
    """Add bands to the findings with a small margin; a clear one whose verdict changes within a band is tight.

    A finding that stops stays a stop: the assumed value is the most likely one. A figure that is given in place of
    the assumed one is known, and has no band.

    Args:
        check: The check without bands.
        rule: The only rule to add bands to; empty for all.
    """
    rests_on = {name: in_doubt(check, name) for names in RULE_ASSUMPTIONS.values() for name in names}
    near = [f for f in check.findings if rule in ("", f.rule) and f.verdict != NOTE and _is_near(f, check)]
    names = sorted({name for f in near for name in RULE_ASSUMPTIONS.get(f.rule, ()) if rests_on[name]})
    reading = {name: [r for r in RULE_ASSUMPTIONS if name in RULE_ASSUMPTIONS[r]] for name in names}
    seen = {finding.rule for finding in near}
    judged = {
        name: tuple(_findings_at(check, name, end, seen.intersection(reading[name])) for end in _ends(name))
        for name in names
    }
    tight_margin = check.runs.booked.excursion.criteria.tight_margin
    findings = []
    for finding in check.findings:
        if finding in near:
            bands = tuple(
                Band(name, *(_margin_like(finding, found) for found in judged[name]))
                for name in RULE_ASSUMPTIONS.get(finding.rule, ())
                if name in judged
            )
            finding = _with_band(finding, [b for b in bands if b.at_low != b.at_high], tight_margin)
        findings.append(finding)
    return sorted_check(findings, check.runs)


def in_doubt(check: Check, name: str) -> bool:
    """Whether an assumption can change anything: not one that is given, nor a stoker larger than the fire needs."""
    excursion = check.runs.booked.excursion
    if any(name == given for given, _, _ in excursion.assumptions.changed()):
        return False
    if name != "max_stoker_firing":
        return True
    fired_by_stoker = excursion.locomotive.boiler.firing == "stoker"
    return fired_by_stoker and check.runs.booked.performance.supply.max_firing > _ends(name)[0]


def _is_near(finding: Finding, check: Check) -> bool:
    """Whether an assumption might change the verdict of a finding."""
    if finding.margin < MAX_BAND_MARGIN:
        return True
    excursion = check.runs.booked.excursion
    # What the water falls by where it is carried at the low end of its range, and the steam of the smallest stoker.
    lowered = excursion.assumptions.working_level_in_glass - _ends("working_level_in_glass")[0]
    if finding.rule == "water glass":
        return finding.facts["lowest"][0] < lowered
    if finding.rule == "crown sheet":
        return finding.value - lowered < (1.0 + excursion.criteria.tight_margin) * finding.limit
    if finding.rule == "steam" and in_doubt(check, "max_stoker_firing"):
        least = _ends("max_stoker_firing")[0] / check.runs.booked.performance.supply.max_firing
        return 1.0 - (1.0 - finding.margin) / least < excursion.criteria.tight_margin
    return False


def with_bands_that_count(check: Check) -> Check:
    """The check with the verdict and the worst finding that bands give it, without the bands themselves.

    Bands only make a clear finding tight, so only those of clear findings with less margin than the worst one count,
    and of these none after the first that becomes tight.
    """
    worst, tight_margin = worst_finding(check), check.journey.excursion.criteria.tight_margin
    below = math.inf if worst is None or worst.verdict == CLEAR else worst.margin
    near = [f for f in check.findings if f.verdict == CLEAR and f.margin < below and _is_near(f, check)]
    seen: dict[tuple[str, float], list[Finding]] = {}

    def margin_at(finding: Finding, name: str, end: float) -> float:
        if (name, end) not in seen:
            rules = {f.rule for f in near if name in RULE_ASSUMPTIONS.get(f.rule, ())}
            seen[name, end] = _findings_at(check, name, end, rules)
        return _margin_like(finding, seen[name, end])

    for finding in near:
        names = [name for name in RULE_ASSUMPTIONS.get(finding.rule, ()) if in_doubt(check, name)]
        ends = [(name, end) for name in names for end in sorted(_ends(name), reverse=name in WORSE_AT_HIGH)]
        if any(margin_at(finding, name, end) < tight_margin for name, end in ends):
            return sorted_check([_tight(f) if f is finding else f for f in check.findings], check.runs)
    return check


def _tight(finding: Finding) -> Finding:
    """A clear finding that is tight by a band."""
    return replace(finding, verdict=TIGHT, remedy=finding.advice, flips=True)


def doubts(check: Check, *, known: str = "") -> dict[str, float]:
    """What the margin of each rule can lose to an assumption [1], for rules with bands.

    Args:
        check: A check with bands.
        known: Assumption that is not in doubt; empty for none.
    """
    lost: dict[str, float] = {}
    for finding in check.findings:
        least = min((b.least for b in finding.bands if b.assumption != known), default=finding.margin)
        if least < finding.margin:
            lost[finding.rule] = max(finding.margin - least, lost.get(finding.rule, 0.0))
    return lost


def deciding_assumptions(check: Check) -> tuple[str, ...]:
    """Assumptions within whose range the verdict of a check with bands may be another one."""
    scale = VerdictScale(check.journey.excursion.criteria.tight_margin)
    names = [
        band.assumption
        for finding in check.findings
        if finding.verdict == check.verdict and finding.flips
        for band in finding.bands
        if {verdict_for(end, scale) for end in (band.at_low, band.at_high)}
        != {verdict_for(finding.margin, scale)}
    ]
    return tuple(dict.fromkeys(names))


def with_doubts(check: Check, lost: dict[str, float]) -> Check:
    """A similar check with the doubts of another one: a clear finding that may lose its margin is tight.

    Args:
        check: A check with one thing changed.
        lost: What the margin of each rule can lose, from `doubts` of the check without the change [1].
    """
    tight_margin = check.journey.excursion.criteria.tight_margin
    return sorted_check(doubted(check.findings, lost, tight_margin), check.runs)


def doubted(findings: Iterable[Finding], lost: dict[str, float], tight_margin: float) -> list[Finding]:
    """Findings with the doubts of a similar check, in their order; arguments as of `with_doubts`."""
    return [
        replace(f, verdict=TIGHT)
        if f.verdict == CLEAR and f.rule in lost and f.margin - lost[f.rule] < tight_margin
        else f
        for f in findings
    ]


def _with_band(finding: Finding, bands: Iterable[Band], tight_margin: float) -> Finding:
    """The finding with its bands and, where its verdict changes within one, marked so."""
    bands = tuple(bands)
    scale = VerdictScale(tight_margin)
    verdicts = {verdict_for(margin, scale) for band in bands for margin in (band.at_low, band.at_high)}
    flips = bool(verdicts - {finding.verdict})
    if finding.verdict == CLEAR and verdicts & {TIGHT, STOP}:
        finding = _tight(finding)
    return replace(finding, bands=bands, flips=flips)


def _ends(name: str) -> tuple[float, float]:
    data = Assumptions.declared()[name].metadata
    return data["low"], data["high"]


def _findings_at(check: Check, name: str, value: float, rules: Iterable[str]) -> list[Finding]:
    """Findings of some rules that rest on an assumption, with another value of it."""
    runs = check.runs
    excursion = runs.booked.excursion
    changed = replace(excursion, assumptions=replace(excursion.assumptions, **{name: value}))
    if name in READ_BY_SUPPLY:
        supply = compute_excursion_performance(changed).supply
        assert runs.need.share is not None  # where no steam suffices, steam is a note and has no bands
        share = runs.need.share * runs.booked.performance.supply.sustained / supply.sustained
        return [replace(f, margin=1.0 - share) for f in check.findings if f.rule == "steam"]
    on_booked = [BOOKED_RULE[rule] for rule in rules if rule in BOOKED_RULE]
    if name in READ_BY_RULES:
        at_full_effort = [FULL_EFFORT_RULE[rule] for rule in rules if rule in FULL_EFFORT_RULE]
        booked, full_effort = (replace(run, excursion=changed) for run in (runs.booked, runs.full_effort))
        found = [finding for rule in on_booked for finding in rule(booked)]
        return [*found, *(finding for rule in at_full_effort for finding in rule(full_effort))]
    if name in READ_BY_LEVELS:
        booked = with_levels(replace(runs.booked, excursion=changed))
    else:  # it changes the run, and only findings of the booked one
        booked = run_booked(changed, runs.booked.performance, begin=runs, same_steam=True)
    return [finding for rule in on_booked for finding in rule(booked)]


def _margin_like(finding: Finding, found: Iterable[Finding]) -> float:
    """Margin of the finding of the same rule at the same place, or the least of the rule."""
    alike = [f for f in found if f.rule == finding.rule]
    here = [f for f in alike if f.place == finding.place]
    return min((f.margin for f in here or alike), default=finding.margin)
