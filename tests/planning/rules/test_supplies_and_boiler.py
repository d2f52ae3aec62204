"""Water, fuel, steam and pressure: values against the run, limits against the files."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import trials
from judged import boilered, hills, one, run, trial_runs, under

from locosim.constants import ATMOSPHERE
from locosim.journey.run import run_full_effort
from locosim.model import Crew, Criteria, Stop
from locosim.planning.check import run_and_check
from locosim.planning.finding import CLEAR, NOTE, STOP, TIGHT
from locosim.planning.rules import boiler as boiler_rules
from locosim.planning.rules import supplies as supply_rules

FILLED = (
    Stop(station="A", take_water="fill", take_fuel="fill"),
    Stop(station="B", take_water="fill", take_fuel="fill"),
    Stop(station="C"),
)


def test_supplies_are_checked_where_they_are_filled_and_at_the_end() -> None:
    assert [f.place for f in supply_rules.water(run(hills(stops=FILLED)))] == ["B", "C"]
    assert [f.place for f in supply_rules.fuel(run(hills(stops=FILLED)))] == ["B", "C"]
    assert [f.place for f in supply_rules.water(run(hills()))] == ["C"]


def test_water_left_is_the_water_not_used() -> None:
    journey = run(hills(initial_water=0.7))
    finding = one(supply_rules.water, journey)
    book = dict(next(b for b in journey.ledgers if b.name.startswith("water [")).entries)
    used = -sum(amount for item, amount in book.items() if item != "taken en route")
    boiler = float(journey.boiler_water[-1] - journey.boiler_water[0])
    assert finding.value == pytest.approx(0.7 * 21e3 - used - boiler, abs=0.5)
    assert finding.limit == pytest.approx(0.15 * 21e3)
    assert finding.margin == pytest.approx(finding.value / finding.limit - 1)


def test_fuel_left_is_the_fuel_not_fired() -> None:
    journey = run(hills(initial_fuel=0.5))
    finding = one(supply_rules.fuel, journey)
    assert finding.value == pytest.approx(0.5 * 7e3 - journey.fuel_fired, abs=1e-6)
    assert finding.limit == pytest.approx(0.15 * 7e3)


@pytest.mark.parametrize(("share", "verdict"), [(0.40, CLEAR), (None, TIGHT), (0.20, STOP)])
def test_a_tender_filled_less_is_tight_and_then_stop(share: float | None, verdict: str) -> None:
    full = one(supply_rules.water, run(hills()))
    used = 1.0 - full.value / 21e3
    start = share if share is not None else used + 0.15 * 1.05
    finding = one(supply_rules.water, run(hills(initial_water=start)))
    assert finding.verdict == verdict


def test_a_run_cut_short_is_checked_only_at_stops_it_reached() -> None:
    journey = run(trials.excursion(trials.line([(40000.0, 0.002)]), initial_water=0.1))
    assert supply_rules.water(journey) == []


@pytest.mark.parametrize(("minutes", "verdict"), [(75.0, CLEAR), (None, TIGHT), (29.0, STOP)])
def test_steam_is_judged_by_what_the_booked_times_need(minutes: float | None, verdict: str) -> None:
    asked = trials.excursion(
        trials.line([(38000.0, 0.003)], speed_limit=25.0), criteria=Criteria(max_lateness=0.0)
    )
    if minutes is None:  # just later than at the sustained evaporation
        minutes = run_full_effort(asked, trials.performance(asked)).duration / 60.0 * 1.01
    stops = (asked.stops[0], replace(asked.stops[1], arrive=asked.departure + 60.0 * minutes))
    runs = trial_runs(replace(asked, stops=stops))
    (finding,) = boiler_rules.steaming(runs.full_effort, runs.need)
    assert finding.verdict == verdict
    assert finding.limit == runs.booked.performance.supply.sustained
    assert finding.margin == pytest.approx(1.0 - finding.value / finding.limit, rel=1e-12)
    assert "to keep the booked time here" in finding.because


def test_the_steam_margin_falls_with_every_car() -> None:
    asked = trials.excursion(trials.line([(3000.0, 0.0), (12000.0, 0.006)], speed_limit=18.0))
    margins = []
    for cars in range(1, 9):
        runs = trial_runs(replace(asked, train=trials.train(trials.coaches(cars))))
        margins.append(boiler_rules.steaming(runs.full_effort, runs.need)[0].margin)
    assert all(after < before - 0.005 for before, after in pairwise(margins))


def test_where_the_cylinders_limit_the_train_the_steam_is_a_note() -> None:
    asked = trials.excursion(trials.line([(3000.0, 0.0), (12000.0, 0.030)]))
    runs = trial_runs(asked)
    (finding,) = boiler_rules.steaming(runs.full_effort, runs.need)
    assert (finding.verdict, finding.margin) == (NOTE, -np.inf)
    assert run_and_check(asked, trials.performance(asked)).verdict == STOP


def test_pressure_is_the_lowest_gauge_pressure_of_the_run() -> None:
    route = trials.line([(2000.0, 0.0), (16000.0, 0.009)], speed_limit=25.0)
    journey = run(trials.excursion(route, crew=Crew(horizon=0.0)))
    finding = one(boiler_rules.pressure, journey)
    assert finding.value == pytest.approx(float(np.min(journey.pressure)) - ATMOSPHERE)
    assert finding.limit == pytest.approx(0.80 * 13.1e5)
    assert finding.facts["working"][0] == 13.1e5
    share = finding.value / 13.1e5
    for least, verdict in ((share / 1.2, CLEAR), (share / 1.05, TIGHT), (min(share * 1.02, 1.0), STOP)):
        assert one(boiler_rules.pressure, under(journey, min_boiler_pressure=least)).verdict == verdict


def test_low_pressure_is_a_note_where_the_crew_overdraws() -> None:
    route = trials.line([(2000.0, 0.0), (16000.0, 0.009)], speed_limit=25.0)
    journey = run(trials.excursion(route, crew=Crew(steam_allowance=1.3)))
    assert one(boiler_rules.pressure, under(journey, min_boiler_pressure=0.5)).verdict == CLEAR
    finding = one(boiler_rules.pressure, under(journey, min_boiler_pressure=0.99))
    assert (finding.verdict, finding.margin < 0.0) == (NOTE, True)
    assert "its doing" in finding.because
    assert "use less steam" in finding.remedy


def test_a_run_with_steady_pressure_has_no_boiler_findings() -> None:
    assert boiler_rules.pressure(run(hills(), live=False)) == []
    assert boiler_rules.crown_cover(run(hills(), live=False)) == []
    # Nor is there a finding of cover where the file gives no water space.
    assert boiler_rules.crown_cover(run(hills())) == []


def test_limits_that_bind_are_named() -> None:
    engine = trials.locomotive(grate=1.0)
    runs = trial_runs(trials.excursion(trials.line([(9000.0, 0.004)]), engine=engine))
    assert "limited by the grate" in boiler_rules.steaming(runs.full_effort, runs.need)[0].because
    engine = replace(engine, boiler=replace(engine.boiler, grate_area=5.0, tube_surface=30.0))
    runs = trial_runs(trials.excursion(trials.line([(9000.0, 0.004)]), engine=engine))
    assert "limited by the heating surface" in boiler_rules.steaming(runs.full_effort, runs.need)[0].because


def test_water_out_of_sight_for_a_minute_stops() -> None:
    journey = run(boilered(hills()))
    steps = len(journey.glass_reading)
    clock = np.diff(journey.time)
    length = journey.excursion.locomotive.boiler.water_space_length
    assert length is not None
    # Speed gained raises the water at the glass, behind the middle of the boiler.
    surge = 0.5 * length * 0.5 * np.diff(journey.speed**2) / np.diff(journey.chainage) / 9.80665
    for seconds, words in ((40.0, {CLEAR}), (50.0, {CLEAR}), (58.0, {TIGHT}), (80.0, {STOP})):
        # Below the glass over a stretch of that time, in sight for the rest of the run.
        first = steps // 3
        last = first + int(np.searchsorted(np.cumsum(clock[first:]), seconds, side="right"))
        glass = np.full(steps, 0.05)
        glass[first:last] = -0.01
        finding = one(boiler_rules.water_glass, replace(journey, glass_reading=glass + surge))
        assert finding.value == pytest.approx(seconds, abs=4.0)
        assert finding.margin == pytest.approx((60.0 - finding.value) / 60.0)
        assert finding.facts["lowest"][0] == pytest.approx(0.01)
        assert finding.chainage == journey.chainage[first]
        assert {finding.verdict} == words
    in_sight = one(boiler_rules.water_glass, replace(journey, glass_reading=0.05 + surge))
    assert (in_sight.value, in_sight.verdict) == (0.0, CLEAR)
