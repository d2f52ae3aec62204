"""Laws of a run, over random engines, trains and lines."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import trials
from drawn import engines, excursions, lines
from hypothesis import Phase, assume, given, settings
from hypothesis import strategies as st

from locosim.journey.kernel import arrays as records
from locosim.journey.result import OUTCOMES, Journey
from locosim.journey.run import run_journey
from locosim.model import Crew, CustomResistance, Excursion
from locosim.planning.check import run_and_check
from locosim.planning.finding import NOTE, VERDICTS

# No shrinking: it takes minutes with whole excursions.
PHASES = (Phase.explicit, Phase.generate)
QUICK = settings(derandomize=True, deadline=None, max_examples=40, phases=PHASES)
MORE = settings(derandomize=True, deadline=None, max_examples=80, phases=PHASES)


def run(excursion: Excursion, *, transient: bool = False) -> Journey:
    return run_journey(excursion, trials.performance(excursion), transient_boiler=transient)


def begins(state: np.ndarray) -> np.ndarray:
    """Steps in which a state begins: it did not hold in the step before."""
    return state & ~np.append(False, state[:-1])


@MORE
@given(excursions(), st.booleans())
def test_every_ledger_closes(excursion: Excursion, transient: bool) -> None:
    journey = run(excursion, transient=transient)
    assert len(journey.ledgers) == (7 if transient else 5)
    for ledger in journey.ledgers:
        assert abs(ledger.residual) <= 1e-9, ledger
    assert journey.outcome in OUTCOMES.values()


@MORE
@given(excursions())
def test_a_run_stays_within_its_bounds(excursion: Excursion) -> None:
    journey = run(excursion, transient=True)
    assert np.all(np.isfinite(journey.speed))
    assert np.all(journey.speed <= journey.allowed_speed * (1 + 1e-9))
    assert np.all(journey.speed <= journey.performance.map.max_speed * (1 + 1e-9))
    assert np.all(np.diff(journey.time) > 0.0)
    assert np.all(np.diff(journey.chainage) > 0.0)
    assert np.all(journey.tender_water[:-1] >= 0.0)
    assert np.all(journey.tender_fuel[:-1] >= 0.0)
    longest = float(journey.performance.map.cutoffs[-1])
    assert np.all((journey.cutoff >= 0.0) & (journey.cutoff <= longest + 1e-9))
    assert np.all(journey.brake >= 0.0)
    assert np.all(journey.effort >= 0.0)
    # Never throttle and brake at the same time: both only in a step that begins with steam and ends with the brakes.
    both = (journey.effort > 0.0) & (journey.brake > 0.0)
    assert not np.any(both & ~begins(journey.brake > 0.0))
    coefficient = journey.adhesion * 1.0 * 9.80665 * journey.performance.mass_on_drivers
    assert np.all(journey.performance.map.rim_effort(journey.effort) <= coefficient + 1e-6)


@MORE
@given(excursions())
def test_verdicts_follow_from_margins(excursion: Excursion) -> None:
    checked = run_and_check(excursion, trials.performance(excursion))
    tight = excursion.criteria.tight_margin
    for finding in checked.findings:
        assert finding.verdict in (*VERDICTS, NOTE)
        if finding.verdict != NOTE and finding.rule not in ("axle load", "curve", "stall", "end of run"):
            expected = "stop" if finding.margin < 0 else "tight" if finding.margin < tight else "clear"
            if finding.rule == "start" and finding.facts["worst"][0] < finding.facts["with_slack"][0]:
                expected = max(expected, "tight", key=VERDICTS.index)
            assert finding.verdict == expected, finding
        assert not math.isnan(finding.value)
        assert not math.isnan(finding.margin)
        if finding.verdict == "stop":
            assert finding.margin < 0.0
            assert finding.remedy
    words = {finding.verdict for finding in checked.findings} - {NOTE}
    assert checked.verdict == max(words, key=VERDICTS.index)
    assert (checked.verdict == "stop") >= (not checked.journey.arrived)


@QUICK
@given(engines(), lines(least=0.0), st.floats(0.02, 0.5))
def test_a_heavier_train_is_never_faster_and_never_burns_less(
    engine: object, route: object, more: float
) -> None:
    # On a line without descents, where a heavier train may run faster. Length and resistance per mass are the same.
    own = CustomResistance(a=0.015, b=2e-4, c=1e-5)
    light = trials.coaches(4, load=10e3, resistance_law="custom", custom_resistance=own)
    heavy = replace(light, load=10e3 + more * light.mass)
    one, other = (
        run(trials.excursion(route, engine=engine, made_of=trials.train(vehicle)))
        for vehicle in (light, heavy)
    )
    if not one.arrived:
        assert not other.arrived
        assert other.end_chainage <= one.end_chainage + 20.0
        return
    assume(other.arrived)
    assert other.duration >= one.duration * (1 - 1e-5)
    assert other.fuel_burned >= one.fuel_burned * (1 - 2e-3)
    assert np.all(other.speed <= one.speed * (1 + 1e-3) + 1e-3)


@QUICK
@given(excursions(helpers=(), initial_water=1.0, crew=Crew()))
def test_a_better_rail_is_never_slower(excursion: Excursion) -> None:
    worse, better = (run(replace(excursion, rail=rail)) for rail in ("wet", "very dry"))
    if not better.arrived:
        assert worse.outcome != "arrived"
        return
    assume(worse.arrived)
    assert better.duration <= worse.duration * (1 + 1e-4)


@QUICK
@given(excursions(helpers=(), initial_water=1.0, crew=Crew()), st.floats(1.05, 1.4))
def test_more_steam_is_never_slower(excursion: Excursion, more: float) -> None:
    usual, freer = (run(replace(excursion, crew=Crew(steam_allowance=share))) for share in (1.0, more))
    assume(usual.arrived)
    assert freer.arrived
    assert freer.duration <= usual.duration * (1 + 1e-4)


@QUICK
@given(excursions(helpers=(), initial_water=1.0, crew=Crew()), st.floats(0.5, 6.0))
def test_a_headwind_is_never_faster(excursion: Excursion, wind: float) -> None:
    calm, windy = (
        run(replace(excursion, weather=replace(excursion.weather, headwind=speed))) for speed in (0.0, wind)
    )
    assume(windy.arrived)
    assert calm.arrived
    assert windy.duration >= calm.duration * (1 - 1e-5)


@QUICK
@given(excursions(crew=Crew()))
def test_each_step_is_at_the_limit_it_names(excursion: Excursion) -> None:
    journey = run(excursion)
    braking = journey.limit == records.BRAKING
    assert np.all(journey.brake[braking] > 0.0)
    assert np.all(journey.brake[~braking] == 0.0)
    shut = braking | (journey.limit == records.COASTING)
    assert np.all(journey.effort[shut & ~begins(shut)] == 0.0)
    steaming = journey.limit == records.STEAM
    auxiliary = excursion.locomotive.auxiliaries.continuous_demand
    allowed = max(journey.performance.supply.sustained - auxiliary, 0.0)
    assert journey.steam[steaming] == pytest.approx(np.full(steaming.sum(), allowed), rel=1e-6, abs=1e-9)
