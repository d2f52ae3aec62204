"""Habits of the crew: their arrays, and the runs they give."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trials

from locosim.journey.kernel import arrays as records
from locosim.journey.result import Journey
from locosim.journey.run import run_journey
from locosim.journey.setup.driving_style import (
    DrivingPlan,
    LineAhead,
    climbs,
    coast_to_stops,
    plan_driving,
)
from locosim.journey.setup.prepare import prepare
from locosim.model import Assumptions, Crew, Excursion
from locosim.physics.types import Floats

NODES = np.arange(0.0, 12001.0, 50.0)
ASSUMED = Assumptions()


def line_ahead(
    grade_of: dict[tuple[float, float], float], stops: tuple[float, ...] = (0.0, 12000.0)
) -> LineAhead:
    """Twelve kilometers, level except for the stretches given, at 20 m/s with braking at 0.25 m/s²."""
    middle = 0.5 * (NODES[1:] + NODES[:-1])
    grade = np.zeros(len(middle))
    for (start, end), value in grade_of.items():
        grade[(middle > start) & (middle < end)] = value
    max_energy = np.full(len(NODES), 200.0)
    for stop in stops[1:]:
        max_energy = np.where(stop >= NODES, np.minimum(max_energy, 0.25 * (stop - NODES)), max_energy)
    return LineAhead(nodes=NODES, grade=grade, max_energy=max_energy, stops=stops)


def plan(ahead: LineAhead, assumptions: Assumptions = ASSUMED, **crew: object) -> DrivingPlan:
    return plan_driving(ahead, Crew(**crew), 0.8, assumptions)  # type: ignore[arg-type]


def steam_share(ahead: LineAhead, habit: str, **crew: object) -> Floats:
    return plan(ahead, habit=habit, **crew).steam_share


def at(array: np.ndarray, place: float) -> float:
    return float(array[int(np.searchsorted(NODES, place, side="right")) - 1])


def test_holding_the_speed_limit_draws_the_allowed_steam_everywhere() -> None:
    share = steam_share(line_ahead({}), "hold_speed_limit", steam_allowance=1.2)
    assert set(share) == {1.2}


def test_steady_steam_draws_one_moderate_share() -> None:
    share = steam_share(line_ahead({(2000.0, 5000.0): 0.01}), "steady_steam", steam_allowance=1.0)
    assert len(set(share)) == 1
    assert 0.5 < share[0] < 1.0
    half = steam_share(line_ahead({}), "steady_steam", steam_allowance=0.5)
    assert half[0] == pytest.approx(0.5 * share[0])


def test_steam_is_saved_before_a_long_climb_and_nowhere_else() -> None:
    share = steam_share(line_ahead({(6000.0, 8500.0): 0.01}), "save_steam_before_climbs")
    assert at(share, 2000.0) == 1.0
    assert at(share, 3500.0) == at(share, 5900.0) == ASSUMED.saving_steam_share < 1.0
    assert at(share, 6100.0) == at(share, 8400.0) == at(share, 9000.0) == 1.0


def test_no_steam_is_saved_before_a_short_climb() -> None:
    share = steam_share(line_ahead({(6000.0, 6800.0): 0.01}), "save_steam_before_climbs")
    assert set(share) == {1.0}


def test_no_steam_is_saved_on_a_climb_before_a_climb() -> None:
    share = steam_share(
        line_ahead({(3000.0, 4500.0): 0.01, (6000.0, 8000.0): 0.01}), "save_steam_before_climbs"
    )
    assert at(share, 4000.0) == 1.0
    assert at(share, 5000.0) == ASSUMED.saving_steam_share


def test_climbs_are_long_and_steep() -> None:
    assert climbs(line_ahead({(3000.0, 4500.0): 0.0041, (6000.0, 8000.0): 0.0039}), ASSUMED) == [
        (3000.0, 4500.0)
    ]


def test_cutoff_is_the_shorter_of_crew_and_valve_gear() -> None:
    for crew_cutoff, longest, expected in ((None, 0.8, 0.8), (0.5, 0.8, 0.5), (0.9, 0.8, 0.8)):
        driven = plan_driving(line_ahead({}), Crew(max_cutoff=crew_cutoff), longest, ASSUMED)
        # Starting needs full gear over the first hundred meters after each stop.
        starting = (NODES[:-1] < ASSUMED.starting_distance) | (NODES[:-1] >= 12000.0)
        assert set(driven.max_cutoff[~starting]) == {expected}
        assert set(driven.max_cutoff[starting]) == {longest}
        assert len(driven.max_cutoff) == len(driven.steam_share) == len(NODES) - 1


def run(habit: str, excursion: Excursion | None = None, **crew: float) -> Journey:
    line = trials.line([(3000.0, 0.0), (2500.0, 0.008), (3000.0, -0.004), (3500.0, 0.0)], stops=(8500.0,))
    excursion = excursion or trials.excursion(line, crew=Crew(habit=habit, **crew))
    return run_journey(excursion, trials.performance(excursion), transient_boiler=False)


@pytest.mark.parametrize("habit", ["hold_speed_limit", "steady_steam", "save_steam_before_climbs"])
def test_steam_stays_within_the_habit(habit: str) -> None:
    journey = run(habit)
    prepared = prepare(journey.excursion, journey.performance)
    allowed = prepared.line.steam_share * journey.performance.supply.sustained
    auxiliary = journey.performance.locomotive.auxiliaries.continuous_demand
    assert journey.arrived
    pulling = journey.effort > 0.0
    assert np.all((journey.steam + auxiliary)[pulling] <= allowed[: len(pulling)][pulling] * (1 + 1e-6))
    limited = journey.limit == records.STEAM
    assert limited.any()
    assert (journey.steam + auxiliary)[limited] == pytest.approx(allowed[: len(limited)][limited], rel=0.01)


def test_cutoff_stays_within_that_of_the_crew() -> None:
    journey = run("hold_speed_limit", max_cutoff=0.4)
    stops = [stop.chainage for stop in journey.stops]
    since = np.min(
        [np.where(journey.chainage[:-1] >= s, journey.chainage[:-1] - s, np.inf) for s in stops], axis=0
    )
    under_way = since >= ASSUMED.starting_distance
    assert np.max(journey.cutoff[under_way]) <= 0.4 + 1e-9
    assert (journey.limit[under_way] == records.CYLINDERS).any()
    assert np.max(journey.cutoff[~under_way]) > 0.4


def test_saving_habits_are_no_faster_and_burn_no_more() -> None:
    full = run("hold_speed_limit")
    for habit in ("steady_steam", "save_steam_before_climbs"):
        saved = run(habit)
        assert saved.duration >= full.duration
        assert saved.fuel_burned <= full.fuel_burned


def test_speed_stays_within_that_of_the_crew() -> None:
    assert np.max(run("hold_speed_limit", max_speed=11.0).speed) == pytest.approx(11.0)


# Coasting


def test_coasting_to_stops_arrives() -> None:
    excursion = trials.excursion(trials.line([(10000.0, 0.0)]), crew=Crew(habit="coast_to_stops"))
    assert run("coast_to_stops", excursion).arrived


def test_coasting_between_stops_close_together_arrives() -> None:
    route = trials.line([(10000.0, 0.0)], stops=(3000.0, 6000.0))
    assert run("", trials.excursion(route, crew=Crew(habit="coast_to_stops"))).arrived


def test_coasting_saves_fuel_and_costs_time() -> None:
    route = trials.line([(10000.0, 0.0)])
    full, coasted = (
        run("", trials.excursion(route, crew=Crew(habit=habit)))
        for habit in ("hold_speed_limit", "coast_to_stops")
    )
    assert coasted.arrived
    assert coasted.duration > full.duration
    assert coasted.fuel_burned < full.fuel_burned


def test_coasting_lowers_the_speed_target_before_a_stop_and_meets_the_braking_curve() -> None:
    target = coast_to_stops(line_ahead({}), Crew(), ASSUMED)
    max_energy = line_ahead({}).max_energy
    assert np.all(target <= max_energy)
    # Braking at 0.25 m/s² from 0.36 of 200 J/kg takes 288 m; coasting at 0.03 m/s² down to that, 4.3 km before it.
    assert at(target, 12000.0) == 0.0
    assert at(target, 11750.0) == at(max_energy, 11750.0)
    assert at(target, 9700.0) == pytest.approx(72.0 + 0.03 * 2012.0, rel=0.03)
    assert at(target, 6000.0) == at(max_energy, 6000.0)


def test_coasting_begins_later_on_a_climb() -> None:
    level, climbing = (
        coast_to_stops(line_ahead(grades), Crew(), ASSUMED) for grades in ({}, {(9000.0, 12000.0): 0.005})
    )
    assert at(climbing, 11000.0) > at(level, 11000.0)


def test_without_coasting_the_speed_target_is_the_allowed_speed() -> None:
    assert np.array_equal(plan(line_ahead({})).target_energy, line_ahead({}).max_energy)


def test_a_climb_may_last_to_the_end_of_the_run() -> None:
    assert climbs(line_ahead({(11000.0, 12000.0): 0.01}), ASSUMED) == [(11000.0, 12000.0)]


def test_each_assumption_on_driving_changes_the_plan() -> None:
    ahead = line_ahead({(6000.0, 8500.0): 0.01, (9000.0, 10500.0): -0.02})
    changes = {
        "save_steam_before_climbs": {
            "saving_steam_share": 0.7,
            "climb_approach": 1000.0,
            "long_climb_grade": 0.02,
            "long_climb_length": 4000.0,
        },
        "steady_steam": {"steady_steam_share": 0.7},
        "coast_to_stops": {
            "coasting_deceleration": 0.05,
            "min_coasting_deceleration": 0.02,
            "braking_energy_share": 0.6,
        },
        "hold_speed_limit": {"starting_distance": 300.0},
    }
    for habit, values in changes.items():
        one = plan(ahead, habit=habit, max_cutoff=0.5)
        for name, value in values.items():
            other = plan(ahead, Assumptions(**{name: value}), habit=habit, max_cutoff=0.5)
            same = (
                np.array_equal(one.steam_share, other.steam_share)
                and np.array_equal(one.max_cutoff, other.max_cutoff)
                and np.array_equal(one.target_energy, other.target_energy)
            )
            assert not same, name


def test_the_assumed_drifting_steam_is_drawn_with_the_throttle_shut() -> None:
    line = trials.line([(2000.0, 0.0), (3000.0, -0.012)])
    excursion = trials.excursion(line, assumptions=Assumptions(drifting_steam=0.3))
    journey = run("", excursion)
    drifting = journey.steam[journey.effort == 0.0]
    assert drifting == pytest.approx(0.3 * 2 * math.pi / 4 * 0.52**2)
