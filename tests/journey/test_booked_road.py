"""A booked run over a climb, its summit and a fall: what engineer and fireman do, and what a stranger does."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import trials

from locosim.journey.result import Journey
from locosim.journey.run import run_full_effort, run_to_timetable
from locosim.model import Crew, Excursion

BAR = 1e5
FOOT, FALL = 10000.0, 16800.0  # chainages; the climb ends 800 m before the fall
SLACK = 1.12


@cache
def road() -> Excursion:
    """A short fall before a stop, a climb of 1.0 %, half a mile of level, a fall of 1.2 %; fired by hand."""
    pieces = [
        (4e3, 0.0),
        (1500.0, -0.008),
        (3500.0, 0.0),
        (6e3, 0.010),
        (800.0, 0.0),
        (4e3, -0.012),
        (3e3, 0.0),
    ]
    made = trials.locomotive()
    engine = replace(made, boiler=replace(made.boiler, firing="hand"))
    free = trials.excursion(trials.line(pieces, stops=(8000.0,)), engine=engine)
    return trials.booked(free, run_full_effort(free, trials.performance(free)), SLACK)


@cache
def driven(crew: str) -> Journey:
    excursion = road()
    if crew == "full effort":
        return run_full_effort(excursion, trials.performance(excursion))
    horizon = 0.0 if crew == "stranger" else 1800.0
    return run_to_timetable(replace(excursion, crew=Crew(horizon=horizon)), trials.performance(excursion))


def at(journey: Journey, values: np.ndarray, chainage: float) -> float:
    return float(np.interp(chainage, journey.chainage, values))


def shut_off(journey: Journey) -> float:
    """Where the throttle is shut on or after the climb."""
    pulling = journey.chainage[1:][journey.effort > 0.0]
    return float(pulling[(pulling > FOOT) & (pulling < FALL + 1000.0)][-1])


def test_the_engineer_eases_over_the_summit_and_does_not_brake_what_he_need_not_have_gained() -> None:
    full, booked = driven("full effort"), driven("crew")
    assert shut_off(full) > FALL - 100.0
    assert shut_off(booked) < FALL - 500.0
    assert at(booked, booked.speed, FALL) < 0.75 * at(full, full.speed, FALL)
    braked = [float(np.sum(run.brake * np.diff(run.chainage))) for run in (full, booked)]
    assert braked[1] < 0.65 * braked[0]
    for run in (full, booked):
        assert run.arrived
    assert booked.fuel_burned < 0.8 * full.fuel_burned


def test_steam_is_shut_off_where_the_grade_takes_the_train_to_the_limit() -> None:
    booked = driven("crew")
    for first, last in ((5100.0, 6400.0), (FALL, FALL + 3900.0)):
        on_fall = (booked.chainage[:-1] >= first) & (booked.chainage[1:] <= last)
        assert np.max(booked.effort[on_fall]) == 0.0
    assert np.max(booked.speed) == pytest.approx(20.0, rel=1e-6)


def test_stored_heat_is_spent_toward_the_top_by_a_fireman_who_knows_the_road() -> None:
    """He lets the fire down before the summit; a stranger makes steam there that he then blows off."""
    known, stranger = driven("crew"), driven("stranger")
    falls = []
    for run in (known, stranger):
        top = shut_off(run)
        low, high = at(run, run.pressure, top), at(run, run.pressure, top - 600.0)
        falls.append(high - low)
        # Up to there the pressure holds: nothing is spent at the foot that is wanted above.
        assert abs(high - at(run, run.pressure, FOOT + 2000.0)) < 0.1 * BAR
    assert falls[0] > 0.1 * BAR
    assert falls[1] < 0.05 * BAR
    top = shut_off(known)
    assert at(known, known.firing, top) < 0.85 * at(known, known.firing, top - 1500.0)
    assert blown_off(known) < 1.0 < blown_off(stranger)


def blown_off(journey: Journey) -> float:
    """Steam through the safety valves [kg]."""
    water = next(ledger for ledger in journey.ledgers if ledger.name == "water [kg]")
    return -dict(water.entries)["safety valves"]
