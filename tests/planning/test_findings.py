"""Margins, verdicts, places, and the check as a whole."""

from __future__ import annotations

import numpy as np
import pytest
import trials
from hypothesis import given, settings
from hypothesis import strategies as st
from judged import boilered, hills, run

from locosim.planning.check import RULES, check_excursion, check_journey
from locosim.planning.finding import VERDICTS, margin_above, margin_below, verdict_for, worst_verdict
from locosim.planning.locations import climbs, descents, location_name, step_ranges


def test_the_three_words() -> None:
    assert VERDICTS == ("clear", "tight", "stop")


@pytest.mark.parametrize(
    ("margin", "word"), [(0.5, "clear"), (0.1, "clear"), (0.0999, "tight"), (0.0, "tight"), (-1e-12, "stop")]
)
def test_a_margin_has_one_word(margin: float, word: str) -> None:
    assert verdict_for(margin, 0.1) == word


@settings(derandomize=True, deadline=None, max_examples=200)
@given(st.floats(-1e6, 1e6), st.floats(1e-3, 1e6))
def test_margins_have_the_sign_of_what_they_judge(value: float, limit: float) -> None:
    assert (margin_above(value, limit) >= 0) == (value >= limit)
    assert (margin_below(value, limit) >= 0) == (value <= limit)
    assert margin_above(value, limit) == pytest.approx(-margin_below(value, limit), abs=1e-12)


def test_a_limit_of_nothing_is_kept_or_broken() -> None:
    assert margin_above(0.1, 0.0) == 1.0
    assert margin_above(-0.1, 0.0) == -1.0
    assert margin_below(0.0, 0.0) == 1.0
    assert margin_below(0.1, 0.0) == -1.0


def test_the_worst_word_counts() -> None:
    assert worst_verdict(["clear", "stop", "tight"]) == "stop"
    assert worst_verdict(["clear", "tight"]) == "tight"
    assert worst_verdict([]) == "clear"


def test_findings_come_gravest_first() -> None:
    checked = check_journey(run(boilered(hills())))
    order = [(-VERDICTS.index(f.verdict), f.margin) for f in checked.findings]
    assert order == sorted(order)
    assert checked.verdict == checked.findings[0].verdict
    assert {f.verdict for f in checked.findings} <= set(VERDICTS)


def test_every_rule_of_the_check_speaks_somewhere() -> None:
    # The hill with everything given: all rules but those of trouble have something to say.
    asked = boilered(hills())
    judged = run(asked)
    silent = {rule.__name__ for rule in RULES if not rule(judged)}
    assert silent == {"stalling", "timekeeping", "axle_load", "curves", "data_range", "glass"}


def test_the_check_runs_with_the_boiler_alive() -> None:
    assert check_excursion(hills()).journey.transient_boiler


def test_places_are_named_by_the_stations_round_them() -> None:
    journey = run(hills())
    assert location_name(journey, 1000.0) == "A"
    assert location_name(journey, 1020.0) == "A"
    assert location_name(journey, 4000.0) == "A to B"
    assert location_name(journey, 9000.0) == "B"
    assert location_name(journey, 9031.0) == "B to C"
    assert location_name(journey, 500.0) == "before A"
    assert location_name(journey, 99999.0) == "beyond C"


def test_stretches_are_runs_of_steps() -> None:
    mask = np.array([True, True, False, False, True, False, True])
    assert [(s.first, s.last) for s in step_ranges(mask)] == [(0, 2), (4, 5), (6, 7)]
    assert step_ranges(np.zeros(4, dtype=bool)) == []
    assert [(s.first, s.last) for s in step_ranges(np.ones(3, dtype=bool))] == [(0, 3)]


def test_climbs_and_falls_are_where_the_train_lies_on_them() -> None:
    journey = run(hills())
    (climb,) = climbs(journey)
    assert journey.chainage[climb.first] == pytest.approx(3500.0, abs=90.0)
    assert journey.chainage[climb.last] == pytest.approx(7500.0, abs=150.0)
    (fall,) = descents(journey, 0.008)
    assert journey.chainage[fall.first] == pytest.approx(9000.0, abs=150.0)
    short = trials.excursion(trials.line([(2000.0, 0.0), (200.0, 0.01), (2000.0, 0.0)]))
    assert climbs(run(short)) == []
