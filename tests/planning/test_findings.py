"""Margins, verdicts, locations, and the check as a whole."""

from __future__ import annotations

import numpy as np
import pytest
import trials
from hypothesis import given, settings
from hypothesis import strategies as st
from judged import boilered, hills, run, trial_runs

from locosim.journey.climbing import SlowestStep, StepsRun, slowest_steps
from locosim.journey.kernel.arrays import STEAM
from locosim.journey.result import Journey
from locosim.planning.check import BOOKED_RULES, FULL_EFFORT_RULES, check_runs, run_and_check
from locosim.planning.finding import (
    CLEAR,
    NOTE,
    STOP,
    VERDICTS,
    Explanation,
    Location,
    VerdictScale,
    at_least,
    at_most,
    judge,
    severity,
    verdict_for,
    worst_verdict,
)
from locosim.planning.locations import descents, location_at, step_ranges


def test_verdicts_are_three_from_best_to_worst() -> None:
    assert VERDICTS == ("clear", "tight", "stop")


@pytest.mark.parametrize(
    ("margin", "verdict"),
    [(0.5, "clear"), (0.1, "clear"), (0.0999, "tight"), (0.0, "tight"), (-1e-12, "stop")],
)
def test_a_margin_gives_one_verdict(margin: float, verdict: str) -> None:
    assert verdict_for(margin, VerdictScale(0.1)) == verdict


@pytest.mark.parametrize(
    ("scale", "verdicts"),
    [
        (VerdictScale(), (CLEAR, CLEAR, STOP)),
        (VerdictScale(0.1, note=True), (CLEAR, NOTE, NOTE)),
        (VerdictScale(0.1, mildest=STOP), (STOP, STOP, STOP)),
    ],
)
def test_a_scale_may_leave_verdicts_out(scale: VerdictScale, verdicts: tuple[str, ...]) -> None:
    assert tuple(verdict_for(margin, scale) for margin in (0.5, 0.05, -0.05)) == verdicts


@pytest.mark.parametrize(("value", "verdict", "remedy"), [(9.0, CLEAR, ""), (5.0, STOP, "carry more")])
def test_a_finding_has_a_remedy_only_where_it_is_not_clear(value: float, verdict: str, remedy: str) -> None:
    explanation = Explanation(because="{left} is left", remedy="carry more", facts={"left": (value, "mass")})
    compared = at_least(value, 6.0, "mass")
    finding = judge("fuel", compared, Location("A", 7.0), VerdictScale(0.1), explanation)
    assert (finding.verdict, finding.remedy) == (verdict, remedy)
    assert (finding.rule, finding.place, finding.chainage) == ("fuel", "A", 7.0)
    assert (finding.value, finding.limit, finding.kind) == (value, 6.0, "mass")
    assert finding.margin == (value - 6.0) / 6.0
    assert finding.because.format(left=value) == f"{value} is left"


@settings(derandomize=True, deadline=None, max_examples=200)
@given(st.floats(-1e6, 1e6), st.floats(1e-3, 1e6))
def test_a_margin_is_negative_where_the_limit_is_broken(value: float, limit: float) -> None:
    low, high = at_least(value, limit, "force").margin, at_most(value, limit, "force").margin
    assert (low >= 0) == (value >= limit)
    assert (high >= 0) == (value <= limit)
    assert low == pytest.approx(-high, abs=1e-12)


def test_a_limit_of_zero_is_met_or_not() -> None:
    assert at_least(0.1, 0.0, "force").margin == 1.0
    assert at_least(-0.1, 0.0, "force").margin == -1.0
    assert at_most(0.0, 0.0, "force").margin == 1.0
    assert at_most(0.1, 0.0, "force").margin == -1.0


def test_the_worst_verdict_counts() -> None:
    assert worst_verdict(["clear", "stop", "tight"]) == "stop"
    assert worst_verdict(["clear", "tight"]) == "tight"
    assert worst_verdict([]) == "clear"
    assert worst_verdict(["note", "tight"]) == "tight"  # a note informs and does not count


def test_findings_come_worst_first() -> None:
    checked = check_runs(trial_runs(boilered(hills())))
    order = [(-severity(f.verdict), f.margin) for f in checked.findings]
    assert order == sorted(order)
    assert checked.verdict == checked.findings[0].verdict
    assert {f.verdict for f in checked.findings} <= {*VERDICTS, NOTE}


def test_every_rule_that_applies_has_a_finding() -> None:
    # The hill with everything given: the rules without a finding lack their subject.
    asked = boilered(hills())
    judged = run(asked)
    silent = {rule.__name__ for rule in (*FULL_EFFORT_RULES, *BOOKED_RULES) if not rule(judged)}
    assert silent == {
        "timekeeping",
        "axle_load",
        "curves",
        "curve_speeds",
        "data_range",
        "water_glass_in_braking",
    }


def test_the_check_runs_with_the_transient_boiler() -> None:
    assert run_and_check(hills()).journey.transient_boiler


def test_locations_are_named_by_the_stations_around_them() -> None:
    journey = run(hills())
    assert location_at(journey, 1000.0) == ("A", 1000.0)
    assert location_at(journey, 1020.0) == ("A", 1020.0)
    assert location_at(journey, 4000.0) == ("A to B", 4000.0)
    assert location_at(journey, 9000.0) == ("B", 9000.0)
    assert location_at(journey, 9031.0) == ("B to C", 9031.0)
    assert location_at(journey, 500.0) == ("before A", 500.0)
    assert location_at(journey, 99999.0) == ("beyond C", 99999.0)


def test_step_ranges_are_consecutive_steps() -> None:
    mask = np.array([True, True, False, False, True, False, True])
    assert [(s.first, s.last) for s in step_ranges(mask)] == [(0, 2), (4, 5), (6, 7)]
    assert step_ranges(np.zeros(4, dtype=bool)) == []
    assert [(s.first, s.last) for s in step_ranges(np.ones(3, dtype=bool))] == [(0, 3)]


def climbs_at_steady_speed(journey: Journey) -> list[SlowestStep]:
    """Climbs of a run, as if steam kept its speed the same all along, so that every step counts."""
    n = len(journey.grade)
    steps = StepsRun(journey.chainage, np.full(n + 1, 0.5), journey.grade, np.full(n, STEAM, dtype=np.int8))
    return slowest_steps(steps, journey.excursion.assumptions)


def test_climbs_and_descents_are_where_the_train_lies_on_them() -> None:
    journey = run(hills())
    (climb,) = climbs_at_steady_speed(journey)
    assert journey.chainage[climb.first] == pytest.approx(3500.0, abs=90.0)
    assert journey.chainage[climb.last] == pytest.approx(7500.0, abs=150.0)
    (fall,) = descents(journey)
    assert journey.chainage[fall.first] == pytest.approx(9000.0, abs=150.0)
    short = trials.excursion(trials.line([(2000.0, 0.0), (200.0, 0.01), (2000.0, 0.0)]))
    assert climbs_at_steady_speed(run(short)) == []
