"""Bands: a verdict that an assumed figure can change says so."""

from __future__ import annotations

from dataclasses import replace

import pytest
import trials
from judged import boilered, hills, trial_runs

from locosim.model import Excursion
from locosim.model.assumptions import Assumptions
from locosim.planning.bands import BOOKED_RULE, FULL_EFFORT_RULE, RULE_ASSUMPTIONS, with_bands
from locosim.planning.check import BOOKED_RULES, FULL_EFFORT_RULES, Check, check_runs, run_and_check
from locosim.planning.finding import Finding


def banded(excursion: Excursion) -> tuple[Check, Check]:
    plain = check_runs(trial_runs(excursion))
    return plain, with_bands(plain)


def of(check: Check, rule: str) -> Finding:
    return min((f for f in check.findings if f.rule == rule), key=lambda f: f.margin)


def test_every_named_assumption_exists() -> None:
    names = {name for names in RULE_ASSUMPTIONS.values() for name in names}
    assert names <= set(Assumptions.declared())


def test_every_rule_that_rests_on_an_assumption_is_judged_where_the_check_judges_it() -> None:
    assert set(RULE_ASSUMPTIONS) == {"steam", *BOOKED_RULE, *FULL_EFFORT_RULE}
    assert set(BOOKED_RULE.values()) <= set(BOOKED_RULES)
    assert set(FULL_EFFORT_RULE.values()) <= set(FULL_EFFORT_RULES)
    runs = trial_runs(boilered(hills()))
    for judges, run in ((BOOKED_RULE, runs.booked), (FULL_EFFORT_RULE, runs.full_effort)):
        assert all({f.rule for f in judge(run)} <= {rule} for rule, judge in judges.items())


def test_a_clear_verdict_that_an_assumption_can_change_is_tight_and_says_which() -> None:
    asked = boilered(hills())
    cover = of(check_runs(trial_runs(asked)), "crown sheet").value
    asked = replace(asked, criteria=replace(asked.criteria, min_crown_sheet_cover=cover / 1.15))
    before, after = (of(check, "crown sheet") for check in banded(asked))
    assert (before.verdict, after.verdict, after.flips) == ("clear", "tight", True)
    assert after.margin == before.margin
    glass = next(band for band in after.bands if band.assumption == "working_level_in_glass")
    assert glass.at_low < before.margin < glass.at_high
    # By hand: the check with the assumption at its low end.
    low = Assumptions.declared()["working_level_in_glass"].metadata["low"]
    changed = replace(asked, assumptions=Assumptions(working_level_in_glass=low))
    by_hand = of(run_and_check(changed, trials.performance(changed)), "crown sheet")
    assert glass.at_low == pytest.approx(by_hand.margin)


def test_a_stop_stays_a_stop() -> None:
    asked = boilered(hills())
    cover = of(check_runs(trial_runs(asked)), "crown sheet").value
    asked = replace(asked, criteria=replace(asked.criteria, min_crown_sheet_cover=1.02 * cover))
    _, after = banded(asked)
    found = of(after, "crown sheet")
    assert (found.verdict, found.flips) == ("stop", True)
    assert max(max(band.at_low, band.at_high) for band in found.bands) > 0.0


def test_a_large_margin_has_no_band() -> None:
    _, after = banded(hills())
    assert all(f.bands == () for f in after.findings if f.margin >= 0.3)
