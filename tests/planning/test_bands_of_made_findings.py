"""Bands over made-up findings and made-up ends, against the definition written out once more."""

from __future__ import annotations

import random
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest
import trials

from locosim.model.assumptions import Assumptions
from locosim.planning import bands
from locosim.planning.bands import (
    RULE_ASSUMPTIONS,
    deciding_assumptions,
    doubted,
    doubts,
    with_bands,
    with_bands_that_count,
    with_doubts,
)
from locosim.planning.check import Check, sorted_check, worst_finding
from locosim.planning.finding import (
    CLEAR,
    NOTE,
    STOP,
    TIGHT,
    VERDICTS,
    Band,
    Comparison,
    Explanation,
    Finding,
    Location,
    VerdictScale,
    judge,
)

PLAN = trials.excursion(trials.line([(1000.0, 0.0)]))  # with a stoker
TIGHT_MARGIN = 0.1
ENDS = {
    name: (Assumptions.declared()[name].metadata["low"], Assumptions.declared()[name].metadata["high"])
    for names in RULE_ASSUMPTIONS.values()
    for name in names
}
# Of water the level falls by 0.045 m at the low end of its range, and of firing 40 % at that of the stoker.
LOWERED = 0.125 - 0.08
LARGEST_FIRE = ENDS["max_stoker_firing"][0] / 0.6
RUNS: Any = SimpleNamespace(
    booked=SimpleNamespace(
        excursion=PLAN, performance=SimpleNamespace(supply=SimpleNamespace(max_firing=LARGEST_FIRE))
    )
)


def made(rule: str, margin: float, *, place: str = "A to B", mildest: str = CLEAR, note: bool = False,
         value: float = 0.0, limit: float = 1.0, lowest: float = 9.0) -> Finding:  # fmt: skip
    explanation = Explanation(because="", remedy="mend it", facts={"lowest": (lowest, "small_length")})
    compared = Comparison(value, limit, "ratio", margin)
    return judge(rule, compared, Location(place, 1.0), VerdictScale(TIGHT_MARGIN, mildest, note), explanation)


def check_of(*findings: Finding) -> Check:
    return sorted_check(findings, RUNS)


def is_near(finding: Finding) -> bool:
    """Whether its verdict might change, by hand."""
    if finding.rule == "water glass" and finding.facts["lowest"][0] < LOWERED:
        return True
    if finding.rule == "crown sheet" and finding.value - LOWERED < 1.1 * finding.limit:
        return True
    if finding.rule == "steam" and 1.0 - (1.0 - finding.margin) / 0.6 < TIGHT_MARGIN:
        return True
    return finding.margin < 0.30


@pytest.mark.parametrize(
    ("finding", "near"),
    [
        (made("pressure", 0.2999), True),
        (made("pressure", 0.3), False),
        (made("water glass", 1.0, lowest=0.0449), True),
        (made("water glass", 1.0, lowest=0.0451), False),
        (made("crown sheet", 0.5, limit=0.1, value=0.1549), True),
        (made("crown sheet", 0.5, limit=0.1, value=0.1551), False),
        (made("steam", 0.4599), True),  # 0.54 / 0.6 = 0.9 of what the smallest stoker gives
        (made("steam", 0.4601), False),
        (made("climb", 0.4599), False),
    ],
)
def test_a_finding_is_near_where_an_assumption_might_change_its_verdict(finding: Finding, near: bool) -> None:
    assert bands._is_near(finding, check_of(finding)) == near == is_near(finding)


def test_the_steam_of_a_hand_fired_engine_has_no_doubt_by_a_stoker() -> None:
    boiler = replace(PLAN.locomotive.boiler, firing="hand")
    by_hand = replace(PLAN, locomotive=replace(PLAN.locomotive, boiler=boiler))
    booked = SimpleNamespace(excursion=by_hand, performance=RUNS.booked.performance)
    check = sorted_check([made("steam", 0.35)], SimpleNamespace(booked=booked))  # type: ignore[arg-type]
    assert not bands._is_near(check.findings[0], check)
    assert not bands.in_doubt(check, "max_stoker_firing")
    assert bands.in_doubt(check, "air_lag")


@pytest.mark.parametrize(("share", "doubt"), [(0.999, False), (1.0, False), (1.001, True)])
def test_a_stoker_is_in_doubt_where_the_smallest_fires_less_than_the_fire_takes(
    share: float, doubt: bool
) -> None:
    supply = SimpleNamespace(max_firing=share * ENDS["max_stoker_firing"][0])
    booked = SimpleNamespace(excursion=PLAN, performance=SimpleNamespace(supply=supply))
    check = sorted_check([], SimpleNamespace(booked=booked))  # type: ignore[arg-type]
    assert bands.in_doubt(check, "max_stoker_firing") == doubt


class Ends:
    """Made-up margins at the ends of the assumptions: drawn once for each finding, assumption and end."""

    def __init__(self, draw: random.Random) -> None:
        self.draw = draw
        self.known: dict[tuple[str, str, str, float], float | None] = {}
        self.asked: set[tuple[str, float]] = set()

    def at(self, finding: Finding, name: str, value: float) -> float | None:
        """Margin there; None where the rule has nothing at this place then."""
        key = (finding.rule, finding.place, name, value)
        if key not in self.known:
            drawn = (finding.margin, None, finding.margin - 0.15, finding.margin + 0.1, -0.2)
            margin = self.draw.choice(drawn)
            # Both ends differ, unless neither changes anything.
            kept = margin is None or margin == finding.margin
            self.known[key] = margin if kept else margin + 0.002 * value
        return self.known[key]

    def findings_at(self, check: Check, name: str, value: float, rules: Any) -> list[Finding]:
        """In place of runs with the assumption at this end."""
        self.asked.add((name, value))
        found = []
        for each in check.findings:
            assert each.rule not in rules or name in RULE_ASSUMPTIONS[each.rule]
            margin = self.at(each, name, value) if each.rule in rules else None
            if margin is not None:
                found.append(replace(each, margin=margin))
        return found

    def margin(self, check: Check, finding: Finding, name: str, value: float) -> float:
        """By hand: at its place, or else the least of the rule, or else as it is."""
        here = self.at(finding, name, value)
        if here is not None:
            return here
        others = [self.at(each, name, value) for each in check.findings if each.rule == finding.rule]
        return min((each for each in others if each is not None), default=finding.margin)


def drawn_check(draw: random.Random) -> Check:
    found = []
    for rule in draw.sample([*RULE_ASSUMPTIONS, "start", "time", "ash"], draw.randint(2, 6)):
        for place in ("A to B", "B to C")[: draw.randint(1, 2)]:
            margin = draw.choice((-0.05, 0.05, 0.12, 0.2, 0.28, 0.5, 0.9)) + 1e-3 * draw.random()
            mildest = TIGHT if rule == "start" and draw.random() < 0.7 else CLEAR
            limit = 0.1
            found.append(
                made(rule, margin, place=place, mildest=mildest, note=rule == "ash", limit=limit,
                     value=(1.0 + margin) * limit, lowest=draw.choice((0.01, 0.2)))
            )  # fmt: skip
    return check_of(*found)


def test_bands_and_verdicts_are_those_of_the_definition(monkeypatch: pytest.MonkeyPatch) -> None:
    flipped = 0
    for seed in range(150):
        draw = random.Random(seed)
        check, ends = drawn_check(draw), Ends(draw)
        monkeypatch.setattr(bands, "_findings_at", ends.findings_at)
        after = with_bands(check)
        assert [(f.rule, f.place) for f in after.findings] == [
            (f.rule, f.place) for f in sorted_check(after.findings, RUNS).findings
        ]
        for before in check.findings:
            (found,) = [f for f in after.findings if (f.rule, f.place) == (before.rule, before.place)]
            names = (
                RULE_ASSUMPTIONS.get(before.rule, ()) if before.verdict != NOTE and is_near(before) else ()
            )
            by_hand = [Band(n, *(ends.margin(check, before, n, end) for end in ENDS[n])) for n in names]
            assert found.bands == tuple(band for band in by_hand if band.at_low != band.at_high)
            verdicts = {_verdict(margin) for band in found.bands for margin in band[1:]}
            worse = before.verdict == CLEAR and bool(verdicts & {TIGHT, STOP})
            assert found.verdict == (TIGHT if worse else before.verdict)
            assert found.flips == bool(verdicts - {before.verdict})
            assert (found.remedy == "mend it") == (found.verdict != CLEAR)
            flipped += worse
        assert after.verdict == max((f.verdict for f in after.findings if f.verdict != NOTE),
                                    key=VERDICTS.index, default=CLEAR)  # fmt: skip
        _check_the_rest(check, after)
    assert flipped > 25


def _verdict(margin: float) -> str:
    return STOP if margin < 0.0 else TIGHT if margin < TIGHT_MARGIN else CLEAR


def _check_the_rest(check: Check, after: Check) -> None:
    """Doubts, and what they do to a similar check."""
    lost: dict[str, float] = {}
    for each in after.findings:
        for band in each.bands:
            lost[each.rule] = max(lost.get(each.rule, 0.0), each.margin - min(band.at_low, band.at_high))
    lost = {rule: most for rule, most in lost.items() if most > 0.0}
    assert doubts(after) == pytest.approx(lost)
    without = doubts(after, known="working_level_in_glass")
    assert set(without) <= set(lost)
    for each in after.findings:
        if each.rule == "water glass":  # which rests on nothing else
            assert "water glass" not in without
    expected = {
        (f.rule, f.place): TIGHT
        if f.verdict == CLEAR and f.margin - lost.get(f.rule, -1.0) < TIGHT_MARGIN
        else f.verdict
        for f in check.findings
    }
    like = with_doubts(check, doubts(after))
    assert {(f.rule, f.place): f.verdict for f in like.findings} == expected
    assert [f.place for f in doubted(check.findings, lost, TIGHT_MARGIN)] == [f.place for f in check.findings]
    named = deciding_assumptions(after)
    assert named == tuple(dict.fromkeys(named))
    for name in ENDS:
        decides = any(
            band.assumption == name
            and {_verdict(band.at_low), _verdict(band.at_high)} != {_verdict(f.margin)}
            for f in after.findings
            if f.verdict == after.verdict and f.flips
            for band in f.bands
        )
        assert (name in named) == decides


def test_one_rule_alone_may_get_its_bands(monkeypatch: pytest.MonkeyPatch) -> None:
    check = check_of(made("pressure", 0.2), made("crown sheet", 0.15, value=0.115, limit=0.1))
    ends = Ends(random.Random(1))
    ends.known = {
        (rule, "A to B", name, end): -0.3 + end
        for rule, names in RULE_ASSUMPTIONS.items()
        for name in names
        for end in ENDS[name]
    }
    monkeypatch.setattr(bands, "_findings_at", ends.findings_at)
    alone = with_bands(check, rule="pressure")
    assert {f.rule: len(f.bands) for f in alone.findings} == {"pressure": 1, "crown sheet": 0}
    assert {name for name, _ in ends.asked} == {"air_lag"}


def test_bands_that_count_give_the_worst_finding_of_all_bands(monkeypatch: pytest.MonkeyPatch) -> None:
    kinds = set()
    for seed in range(200):
        draw = random.Random(seed)
        check, ends = drawn_check(draw), Ends(draw)
        monkeypatch.setattr(bands, "_findings_at", ends.findings_at)
        whole = with_bands(check)
        ends.asked.clear()
        short = with_bands_that_count(check)
        assert short.verdict == whole.verdict, seed
        a, b = worst_finding(whole), worst_finding(short)
        assert (a is None) == (b is None)
        if a is not None and b is not None:
            assert (b.rule, b.place, b.verdict, b.margin) == (a.rule, a.place, a.verdict, a.margin), seed
            assert b.remedy == a.remedy
        before = worst_finding(check)
        if before is not None and before.verdict == STOP:
            assert not ends.asked
        kinds.add((None if before is None else before.verdict, short.verdict))
    assert {(CLEAR, CLEAR), (CLEAR, TIGHT), (TIGHT, TIGHT), (STOP, STOP)} <= kinds
    alone = check_of(made("ash", -0.2, note=True))
    assert with_bands_that_count(alone) is alone
