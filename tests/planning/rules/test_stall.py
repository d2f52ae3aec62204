"""Runs that end short of the last stop: place, reason, and remedies that work when run."""

from __future__ import annotations

from dataclasses import replace

import pytest
import trials
from judged import hills, one, run

from locosim.model import Crew, CustomResistance
from locosim.planning.check import run_and_check
from locosim.planning.finding import STOP
from locosim.planning.rules import stall as stall_rules


def test_a_run_that_arrives_does_not_stall() -> None:
    assert stall_rules.stalling(run(hills())) == []


def test_a_stall_names_its_place_and_its_limit() -> None:
    own = trials.coaches(10, resistance_law="custom", custom_resistance=CustomResistance(a=0.02))
    route = trials.line([(2500.0, 0.0), (4000.0, 0.03)], speed_limit=8.0)
    journey = run(trials.excursion(route, made_of=trials.train(own), rail="wet"))
    finding = one(stall_rules.stalling, journey)
    assert (finding.rule, finding.verdict, finding.place) == ("stall", STOP, "A to B")
    assert finding.value == pytest.approx(journey.end_chainage - 1000.0)
    assert finding.limit == pytest.approx(6500.0)
    assert finding.margin == pytest.approx(finding.value / 6500.0 - 1.0)
    assert "limited by adhesion" in finding.because


def test_a_train_that_cannot_start_has_a_finding_of_its_own() -> None:
    asked = trials.excursion(trials.line([(3000.0, 0.03)]), made_of=trials.train(trials.coaches(20)))
    checked = run_and_check(asked, trials.performance(asked))
    assert checked.verdict == STOP
    first, second = checked.findings[:2]
    assert (first.rule, first.value, first.place) == ("stall", 0.0, "A")
    assert first.because == "the train does not start, limited by the cylinders"
    assert "sand" not in first.remedy
    assert (second.rule, second.verdict) == ("start", STOP)


@pytest.mark.parametrize(
    ("changes", "outcome", "words"),
    [
        ({"initial_water": 0.1}, "out of water", "runs out of water"),
        ({"initial_fuel": 0.02}, "out of fuel", "fuel runs out"),
    ],
)
def test_running_out_ends_the_run(changes: dict[str, float], outcome: str, words: str) -> None:
    journey = run(trials.excursion(trials.line([(40000.0, 0.002)]), **changes))
    assert journey.outcome == outcome
    finding = one(stall_rules.stalling, journey)
    assert finding.rule == "end of run"
    assert words in finding.because
    assert finding.verdict == STOP


def test_a_start_short_of_steam_names_the_steam() -> None:
    # Cylinders and adhesion are enough; with a fiftieth of the steam, the auxiliaries take nearly all of it.
    level = trials.line([(6000.0, 0.002)])
    asked = trials.excursion(level, crew=Crew(steam_allowance=0.02))
    journey = run(asked)
    finding = one(stall_rules.stalling, journey)
    assert "the train does not start: the crew uses at most {allowed} of steam" in finding.because
    assert finding.facts["allowed"][0] == pytest.approx(0.02 * journey.performance.supply.sustained)
    assert finding.facts["auxiliary"][0] == pytest.approx(0.03 + 0.012)
    assert finding.remedy.endswith("use more steam (crew.steam_allowance)")
    assert "sand" not in finding.remedy
    assert run(replace(asked, crew=Crew(steam_allowance=0.5))).arrived


def test_a_failed_start_at_a_stop_is_no_stall_on_the_way() -> None:
    # A stop on 1.4 %, reached by momentum; on a wet rail the train does not start from it.
    route = trials.line([(3000.0, 0.0), (3000.0, 0.014)], stops=(3400.0,), speed_limit=20.0)
    asked = trials.excursion(route, rail="wet")
    journey = run(asked)
    assert (journey.outcome, float(journey.speed[-1]), journey.stops[-1].station) == ("stalled", 0.0, "B")
    finding = one(stall_rules.stalling, journey)
    assert finding.place == "B"
    assert finding.because == "the train does not start, limited by adhesion, {here} after the start"
    assert finding.remedy.endswith("or sand the rail")
    assert run(replace(asked, rail="dry sanded")).arrived


@pytest.mark.parametrize(
    ("crew", "advice"),
    [
        (Crew(steam_allowance=0.4), "(crew.steam_allowance)"),
        (Crew(habit="steady_steam", steam_allowance=0.4), "(crew.habit, crew.steam_allowance)"),
        (Crew(max_cutoff=0.1), "(crew.max_cutoff)"),
    ],
)
def test_the_remedy_names_the_crew_key_that_limits_the_train(crew: Crew, advice: str) -> None:
    route = trials.line([(1000.0, 0.0), (9000.0, 0.015)])
    held, free = (run(trials.excursion(route, rail="dry sanded", crew=made)) for made in (crew, Crew()))
    found = run_and_check(held.excursion, held.performance).findings
    named = [finding for finding in found if finding.rule in ("climb", "stall")]
    assert named
    assert all(advice in finding.remedy for finding in named)
    assert free.arrived
    assert not held.arrived or held.duration > 1.1 * free.duration
