"""Bands: a verdict that an assumed figure can change says so."""

from __future__ import annotations

from dataclasses import replace

import pytest
import trials
from judged import boilered, hills, trial_runs

from locosim.model import Criteria, Excursion
from locosim.model.assumptions import Assumptions
from locosim.planning.bands import (
    BOOKED_RULE,
    FULL_EFFORT_RULE,
    RULE_ASSUMPTIONS,
    _findings_at,
    deciding_assumptions,
    in_doubt,
    with_bands,
    with_bands_that_count,
)
from locosim.planning.check import (
    BOOKED_RULES,
    FULL_EFFORT_RULES,
    Check,
    check_runs,
    run_and_check,
    worst_finding,
)
from locosim.planning.finding import TIGHT, Band, Finding


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


@pytest.mark.parametrize("name", RULE_ASSUMPTIONS["crown sheet"])
def test_the_ends_of_a_band_are_those_of_a_run_with_the_assumption_there(name: str) -> None:
    """Where the run need not be made again, and where its driving begins from that with the assumed value."""
    asked = over_a_summit(0.08)
    found = of(banded(asked)[1], "crown sheet")
    (band,) = (each for each in found.bands if each.assumption == name)
    data = Assumptions.declared()[name].metadata
    for end, margin in ((data["low"], band.at_low), (data["high"], band.at_high)):
        changed = replace(asked, assumptions=replace(asked.assumptions, **{name: end}))
        by_hand = of(run_and_check(changed, trials.performance(changed)), "crown sheet")
        assert margin == pytest.approx(by_hand.margin, abs=2e-3)
        assert abs(margin - found.margin) > 0.02


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


LONG_BOILER = {
    "water_space_length": 9.0,
    "shell_inside_diameter": 1.7,
    "crown_sheet_length": 2.2,
    "crown_sheet_height": 1.2,
}


def over_a_summit(least_cover: float, **assumed: float) -> Excursion:
    """A long boiler on a long rise and fall, with a least cover of the crown sheet."""
    line = trials.line([(3000.0, 0.0), (9000.0, 0.012), (8000.0, -0.006)], speed_limit=24.0)
    engine = trials.locomotive()
    engine = replace(engine, boiler=replace(engine.boiler, **LONG_BOILER))
    return trials.excursion(
        line,
        engine=engine,
        criteria=Criteria(min_crown_sheet_cover=least_cover),
        assumptions=Assumptions(**assumed),
    )


def test_a_crown_sheet_with_a_wide_margin_is_tight_where_the_lowest_level_bares_it() -> None:
    """A margin of two thirds had no band, though the lowest level the register believes leaves too little water."""
    check = with_bands(run_and_check(over_a_summit(0.051)))
    found = of(check, "crown sheet")
    assert found.margin > 0.5
    assert (found.verdict, found.flips) == ("tight", True)
    low = Assumptions.declared()["working_level_in_glass"].metadata["low"]
    lowest = run_and_check(over_a_summit(0.051, working_level_in_glass=low))
    assert of(lowest, "crown sheet").verdict == "stop"


@pytest.mark.parametrize("least_cover", [0.01, 0.051, 0.07, 0.08, 0.09])
def test_the_bands_that_count_give_the_verdict_of_all_bands(least_cover: float) -> None:
    """Clear; tight by a band with a wide and with a narrow margin; tight and stop without any."""
    plain = run_and_check(over_a_summit(least_cover))
    whole, short = worst_finding(with_bands(plain)), worst_finding(with_bands_that_count(plain))
    assert whole is not None
    assert short is not None
    assert (short.rule, short.verdict, short.margin) == (whole.rule, whole.verdict, whole.margin)


def test_a_figure_that_is_given_has_no_band() -> None:
    """The verdict that is tight until a figure is known is that of the figure, once it is given."""
    known = with_bands(run_and_check(over_a_summit(0.051, working_level_in_glass=0.13)))
    found = of(known, "crown sheet")
    assert {band.assumption for band in found.bands} == {"crown_sheet_setback"}
    assert (found.verdict, found.flips) == ("clear", False)


def test_a_hand_fired_engine_does_not_rest_on_the_size_of_a_stoker() -> None:
    steep = trials.line([(2000.0, 0.0), (9000.0, 0.01)], speed_limit=14.0)
    for firing, rests in (("stoker", True), ("hand", False)):
        engine = trials.locomotive(grate=24.0, feed_devices=())
        large = replace(engine.boiler, firebox_surface=120.0, tube_surface=2500.0, firing=firing)
        engine = replace(engine, boiler=large)
        check = with_bands(run_and_check(trials.excursion(steep, engine=engine)))
        assert in_doubt(check, "max_stoker_firing") == rests, firing


def test_the_assumptions_that_decide_a_verdict_are_named() -> None:
    made = with_bands(check_runs(trial_runs(boilered(hills()))))
    tight = made.journey.excursion.criteria.tight_margin
    finding = made.findings[0]

    def with_ends(low: float, high: float, *, flips: bool) -> tuple[str, ...]:
        bands = (Band("air_lag", low, high), Band("crown_sheet_setback", 0.2, 0.2))
        changed = replace(finding, verdict=TIGHT, margin=0.2, bands=bands, flips=flips)
        return deciding_assumptions(replace(made, verdict=TIGHT, findings=(changed,)))

    assert with_ends(0.2, 0.5 * tight, flips=True) == ("air_lag",)
    assert with_ends(0.2, 0.3, flips=False) == ()


def near_its_limits(rule: str) -> Excursion:
    """A plan on which a rule has a small margin that each of its assumptions changes."""
    if rule == "steam":
        steep = trials.line([(2000.0, 0.0), (9000.0, 0.01)], speed_limit=14.0)
        engine = trials.locomotive(grate=24.0, feed_devices=())
        large = replace(engine.boiler, firebox_surface=120.0, tube_surface=2500.0)
        return trials.excursion(steep, engine=replace(engine, boiler=large, mass=150e3))
    if rule == "climb":  # a climb on which the train still gains speed, and a short one later
        pieces = [(300.0, 0.0), (3000.0, 0.005), (2500.0, 0.0), (600.0, 0.012), (500.0, 0.0)]
        return trials.excursion(trials.line(pieces, speed_limit=25.0))
    if rule == "descending grade":
        weak = trials.train(trials.coaches(braking_ratio=0.27))
        return trials.excursion(trials.line([(2000.0, 0.0), (6000.0, -0.016)]), made_of=weak)
    if rule == "water glass":
        fall = trials.line([(3000.0, 0.0), (4000.0, 0.018), (6000.0, -0.018)], speed_limit=12.0)
        engine = trials.locomotive()
        return trials.excursion(fall, engine=replace(engine, boiler=replace(engine.boiler, **LONG_BOILER)))
    return boilered(hills())


@pytest.mark.parametrize(
    ("rule", "name"), [(rule, name) for rule, names in RULE_ASSUMPTIONS.items() for name in names]
)
def test_each_band_is_the_margin_of_a_check_with_the_assumption_at_each_end(rule: str, name: str) -> None:
    asked = near_its_limits(rule)
    plain = check_runs(trial_runs(asked))
    data = Assumptions.declared()[name].metadata
    as_assumed = [f.margin for f in plain.findings if f.rule == rule]
    ends = []
    for end in (data["low"], data["high"]):
        changed = replace(asked, assumptions=replace(asked.assumptions, **{name: end}))
        by_hand = [(f.place, f.margin) for f in check_runs(trial_runs(changed)).findings if f.rule == rule]
        at_end = _findings_at(plain, name, end, {rule})
        assert {f.rule for f in at_end} <= {rule}
        found = [(f.place, f.margin) for f in at_end]
        assert [place for place, _ in sorted(found)] == [place for place, _ in sorted(by_hand)]
        margins = sorted(margin for _, margin in by_hand)
        assert sorted(margin for _, margin in found) == pytest.approx(margins, abs=5e-4)
        ends.append(margins)
    assert ends[0] != ends[1]
    assert as_assumed not in ends or rule in ("climb", "water glass")
