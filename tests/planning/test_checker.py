"""Checks of similar excursions, and the searches that begin from a guess."""

from __future__ import annotations

from dataclasses import replace

import pytest
import trials

from locosim.engine.performance import compute_excursion_performance
from locosim.journey.needs import adhesion_need, steam_need
from locosim.model import Crew, Excursion, Stop
from locosim.planning.bands import with_bands
from locosim.planning.check import run_and_check
from locosim.planning.checker import Checker
from locosim.planning.latest_departure import _last_kept

LINE = trials.line([(4000.0, 0.001), (6000.0, 0.007), (4000.0, -0.004)], stops=(9000.0,), speed_limit=17.0)


def timed(cars: int = 6, *, minutes: float = 22.0) -> Excursion:
    stops = (Stop(station="A"), Stop(station="B"), Stop(station="C", arrive=36000.0 + 60.0 * minutes))
    return trials.excursion(LINE, made_of=trials.train(trials.coaches(cars)), stops=stops)


def figures(check: object) -> list[tuple[str, str, float]]:
    return [(f.rule, f.verdict, f.margin) for f in check.findings]  # type: ignore[attr-defined]


def test_a_check_does_not_depend_on_what_was_checked_before() -> None:
    base = with_bands(run_and_check(timed()))
    asked = [timed(4), timed(9), timed(7, minutes=19.0)]
    forward, backward = Checker(base), Checker(base)
    first = [figures(forward.check(each)) for each in asked]
    second = [figures(backward.check(each)) for each in reversed(asked)]
    assert first == second[::-1]
    assert len({str(each) for each in first}) == len(asked)


def test_a_similar_check_says_what_a_check_by_itself_says() -> None:
    checker = Checker(run_and_check(timed()))
    for changed in (timed(8), replace(timed(), crew=Crew(horizon=0.0)), timed(6, minutes=25.0)):
        alone = run_and_check(changed)
        similar = checker.check(changed)
        assert similar.verdict == alone.verdict
        assert similar.runs.need == alone.runs.need
        assert similar.runs.adhesion_need == alone.runs.adhesion_need
        # The driving begins from another guess, and may end elsewhere within the tolerance of its search.
        assert [f.rule for f in similar.findings] == [f.rule for f in alone.findings]
        assert [f.margin for f in similar.findings] == pytest.approx(
            [f.margin for f in alone.findings], abs=0.01
        )


@pytest.mark.parametrize("begin", [0.001, 0.2, 0.9, 1.0, 3.0])
def test_the_needs_do_not_depend_on_where_their_search_begins(begin: float) -> None:
    for excursion in (timed(3), timed(8, minutes=17.0), timed(60), replace(timed(40), rail="wet")):
        performance = compute_excursion_performance(excursion)
        steam = steam_need(excursion, performance)
        assert steam_need(excursion, performance, begin=replace(steam, share=begin)) == steam
        least = adhesion_need(excursion, performance, steam)
        assert adhesion_need(excursion, performance, steam, begin=replace(least, share=begin)) == least


@pytest.mark.parametrize("count", [1, 2, 7, 64])
def test_the_last_that_keeps_is_found_from_any_guess(count: int) -> None:
    for kept in range(count + 1):
        for guess in range(count):
            found = _last_kept(lambda number, kept=kept: number < kept, count, guess)  # type: ignore[misc]
            assert found == (kept - 1 if kept > 0 else None)
