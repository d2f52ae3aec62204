"""Frost along a run: smooth in temperature and in time standing."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
import trials

from locosim.journey.coupler_force import coupler_force
from locosim.journey.result import Journey
from locosim.journey.run import run_journey
from locosim.journey.setup.train_forces import train_load
from locosim.journey.setup.weather import in_weather
from locosim.model import Assumptions, Excursion, Weather


def at(celsius: float, *, dwell: float = 120.0, **changes: object) -> Excursion:
    """A run with one stop on a grade of 0.4 %, all cars alike."""
    route = trials.line([(9000.0, 0.004)], stops=(4500.0,), speed_limit=12.0)
    asked = trials.excursion(route, weather=Weather(temperature=273.15 + celsius), **changes)
    stops = tuple(replace(stop, dwell=dwell) if stop.station == "B" else stop for stop in asked.stops)
    return replace(asked, stops=stops)


def run(asked: Excursion) -> Journey:
    return run_journey(asked, trials.performance(asked), transient_boiler=False)


def test_a_tenth_of_a_degree_about_freezing_changes_nothing_that_matters() -> None:
    below, above = run(at(-0.1)), run(at(0.1))
    for name in ("duration", "water_used", "fuel_burned"):
        assert getattr(below, name) == pytest.approx(getattr(above, name), rel=0.01)
    for cold, warm in zip(below.starting_demands, above.starting_demands, strict=True):
        assert cold.total == pytest.approx(warm.total, rel=0.01)
        assert cold.starting > warm.starting
    assert np.max(coupler_force(below)) == pytest.approx(np.max(coupler_force(above)), rel=0.01)


def test_colder_is_never_easier() -> None:
    found = [run(at(celsius)) for celsius in (30.0, 15.0, 5.0, -5.0, -20.0, -25.0)]
    for name in ("duration", "fuel_burned"):
        values = [getattr(journey, name) for journey in found]
        assert all(later >= earlier * (1 - 1e-9) for earlier, later in itertools.pairwise(values))
    starts = [journey.starting_demands[0].starting for journey in found]
    assert all(later >= earlier for earlier, later in itertools.pairwise(starts))


def test_cold_raises_the_bearings_and_not_the_air_twice() -> None:
    a, b, c = in_weather((1.0, 1.0, 1.0), at(-15.0), "plain")
    assert c == pytest.approx(288.15 / 258.15)  # density alone
    assert b == 1.0
    assert 1.2 < a < 1.5
    mild = in_weather((1.0, 1.0, 1.0), at(15.0), "plain")
    assert tuple(mild) == pytest.approx((1.0, 1.0, 1.0))


def test_a_train_that_stands_long_in_the_cold_starts_harder() -> None:
    demands = [
        run(at(-20.0, dwell=dwell)).starting_demands[1].starting for dwell in (0.0, 120.0, 3600.0, 86400.0)
    ]
    assert all(later > earlier for earlier, later in itertools.pairwise(demands))
    load = train_load(at(-20.0))
    assert demands[0] == pytest.approx(load.starting_warm)
    assert demands[-1] == pytest.approx(load.starting)
    # The first stop has stood through the night.
    assert run(at(-20.0)).starting_demands[0].starting == pytest.approx(load.starting)
    short = run(at(-20.0, dwell=120.0))
    long = run(at(-20.0, dwell=14400.0))
    stop = int(np.flatnonzero(short.speed[1:] == 0.0)[0]) + 1
    assert long.total_resistance[stop] > short.total_resistance[stop]
    assert coupler_force(long)[stop] != coupler_force(short)[stop]


def test_the_assumptions_of_the_cold_act() -> None:
    quick = run(at(-20.0, assumptions=Assumptions(bearing_cooling_time=1800.0))).starting_demands[1]
    slow = run(at(-20.0, assumptions=Assumptions(bearing_cooling_time=9000.0))).starting_demands[1]
    assert quick.starting > slow.starting
    coaches = trials.train(trials.coaches(bearing="roller"))
    loads = [
        train_load(at(-20.0, made_of=coaches, assumptions=Assumptions(roller_cold_share=share)))
        for share in (0.3, 0.9)
    ]
    assert loads[0].a < loads[1].a
    assert loads[0].starting < loads[1].starting
