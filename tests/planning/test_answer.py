"""The answer: one object with everything a check gives."""

from __future__ import annotations

from dataclasses import replace

import pytest
import trials

import locosim
from locosim.model import Stop
from locosim.planning.answer import check_excursion
from locosim.planning.check import run_and_check
from locosim.planning.contingencies import CHANGES, run_contingencies
from locosim.planning.latest_departure import latest_departure

LINE = trials.line([(4000.0, 0.001), (6000.0, 0.007), (4000.0, -0.004)], stops=(9000.0,), speed_limit=17.0)
TIMED = trials.excursion(
    LINE, stops=(Stop(station="A"), Stop(station="B"), Stop(station="C", arrive=36000.0 + 2 * 3600.0))
)


def test_an_answer_has_what_its_parts_give_by_themselves() -> None:
    answer = check_excursion(TIMED)
    check = run_and_check(TIMED)
    assert answer.verdict == check.verdict
    assert [(f.rule, f.margin) for f in answer.findings] == [(f.rule, f.margin) for f in check.findings]
    assert answer.contingencies == run_contingencies(check)
    assert answer.latest_departure == latest_departure(TIMED, answer.performance)
    assert answer.excursion is TIMED
    assert answer.journey.excursion is TIMED
    assert answer.version == locosim.__version__
    assert answer.provenance is None  # made in code


def test_contingencies_that_do_not_apply_are_listed_by_themselves() -> None:
    answer = check_excursion(TIMED)
    assert len(answer.contingencies) == len(CHANGES)
    assert [each.name for each in answer.not_run] == ["one air compressor failed"]


def test_contingencies_may_be_left_out() -> None:
    answer = check_excursion(TIMED, contingencies=False)
    assert answer.contingencies == answer.not_run == ()
    assert answer.latest_departure == pytest.approx(check_excursion(TIMED).latest_departure)


def test_without_an_advertised_arrival_there_is_no_latest_departure() -> None:
    untimed = replace(TIMED, stops=(Stop(station="A"), Stop(station="C")))
    assert check_excursion(untimed, contingencies=False).latest_departure is None
