"""Habits of the crew: what each array holds, and what the run makes of it."""

from __future__ import annotations

import numpy as np
import pytest
import trials

from locosim.journey.kernel import arrays as records
from locosim.journey.result import Journey
from locosim.journey.run import run_journey
from locosim.journey.setup import driving_style as driving
from locosim.journey.setup.driving_style import HABITS, LineAhead, climbs, plan_driving
from locosim.journey.setup.prepare import prepare
from locosim.model import Crew, Excursion

NODES = np.arange(0.0, 12001.0, 50.0)


def way(grade_of: dict[tuple[float, float], float], stops: tuple[float, ...] = (0.0, 12000.0)) -> LineAhead:
    """Twelve kilometres, level but for the stretches given, at 20 m/s with braking at 0.25 m/s²."""
    middle = 0.5 * (NODES[1:] + NODES[:-1])
    grade = np.zeros(len(middle))
    for (start, end), value in grade_of.items():
        grade[(middle > start) & (middle < end)] = value
    max_energy = np.full(len(NODES), 200.0)
    for stop in stops[1:]:
        max_energy = np.where(stop >= NODES, np.minimum(max_energy, 0.25 * (stop - NODES)), max_energy)
    return LineAhead(nodes=NODES, grade=grade, max_energy=max_energy, stops=stops)


def at(array: np.ndarray, place: float) -> float:
    return float(array[int(np.searchsorted(NODES, place, side="right")) - 1])


def test_holding_line_speed_draws_what_is_allowed_all_the_way() -> None:
    share = HABITS["hold_speed_limit"](way({}), Crew(steam_allowance=1.2))
    assert set(share) == {1.2}


def test_steady_steam_draws_one_moderate_share() -> None:
    share = HABITS["steady_steam"](way({(2000.0, 5000.0): 0.01}), Crew(steam_allowance=1.0))
    assert len(set(share)) == 1
    assert 0.5 < share[0] < 1.0
    half = HABITS["steady_steam"](way({}), Crew(steam_allowance=0.5))
    assert half[0] == pytest.approx(0.5 * share[0])


def test_nursing_saves_steam_on_the_approach_to_a_long_climb_and_nowhere_else() -> None:
    share = HABITS["save_steam_before_climbs"](way({(6000.0, 8500.0): 0.01}), Crew())
    assert at(share, 2000.0) == 1.0
    assert at(share, 3500.0) == at(share, 5900.0) == driving.SAVING_STEAM_SHARE < 1.0
    assert at(share, 6100.0) == at(share, 8400.0) == at(share, 9000.0) == 1.0


def test_a_short_climb_is_taken_in_the_run() -> None:
    share = HABITS["save_steam_before_climbs"](way({(6000.0, 6800.0): 0.01}), Crew())
    assert set(share) == {1.0}


def test_a_climb_before_a_climb_keeps_its_steam() -> None:
    share = HABITS["save_steam_before_climbs"](way({(3000.0, 4500.0): 0.01, (6000.0, 8000.0): 0.01}), Crew())
    assert at(share, 4000.0) == 1.0
    assert at(share, 5000.0) == driving.SAVING_STEAM_SHARE


def test_climbs_are_long_and_steep() -> None:
    assert climbs(way({(3000.0, 4500.0): 0.0041, (6000.0, 8000.0): 0.0039})) == [(3000.0, 4500.0)]


def test_the_drivers_cutoff_is_the_shorter_of_his_and_the_gears() -> None:
    for wanted, longest, expected in ((None, 0.8, 0.8), (0.5, 0.8, 0.5), (0.9, 0.8, 0.8)):
        driven = plan_driving(way({}), Crew(max_cutoff=wanted), longest)
        # Starting takes full gear over the first hundred metres after each stop.
        starting = (NODES[:-1] < driving.STARTING_DISTANCE) | (NODES[:-1] >= 12000.0)
        assert set(driven.max_cutoff[~starting]) == {expected}
        assert set(driven.max_cutoff[starting]) == {longest}
        assert len(driven.max_cutoff) == len(driven.steam_share) == len(NODES) - 1


def run(habit: str, asked: Excursion | None = None, **crew: float) -> Journey:
    line = trials.line([(3000.0, 0.0), (2500.0, 0.008), (3000.0, -0.004), (3500.0, 0.0)], stops=(8500.0,))
    asked = asked or trials.excursion(line, crew=Crew(habit=habit, **crew))
    return run_journey(asked, trials.performance(asked), transient_boiler=False)


@pytest.mark.parametrize("habit", ["hold_speed_limit", "steady_steam", "save_steam_before_climbs"])
def test_no_more_steam_is_drawn_than_the_habit_allows(habit: str) -> None:
    journey = run(habit)
    prepared = prepare(journey.excursion, journey.performance)
    allowed = prepared.line.steam_share * journey.performance.supply.sustained
    auxiliary = journey.performance.locomotive.auxiliaries.continuous_demand
    assert journey.arrived
    pulling = journey.effort > 0.0
    assert np.all((journey.steam + auxiliary)[pulling] <= allowed[: len(pulling)][pulling] * (1 + 1e-6))
    held = journey.limit == records.STEAM
    assert held.any()
    assert (journey.steam + auxiliary)[held] == pytest.approx(allowed[: len(held)][held], rel=0.01)


def test_a_cutoff_that_is_not_to_be_passed_is_not_passed() -> None:
    journey = run("hold_speed_limit", max_cutoff=0.4)
    stops = [stop.chainage for stop in journey.stops]
    since = np.min(
        [np.where(journey.chainage[:-1] >= s, journey.chainage[:-1] - s, np.inf) for s in stops], axis=0
    )
    under_way = since >= driving.STARTING_DISTANCE
    assert np.max(journey.cutoff[under_way]) <= 0.4 + 1e-9
    assert (journey.limit[under_way] == records.CYLINDERS).any()
    assert np.max(journey.cutoff[~under_way]) > 0.4


def test_each_saving_habit_is_no_faster_and_burns_no_more() -> None:
    held = run("hold_speed_limit")
    for habit in ("steady_steam", "save_steam_before_climbs"):
        saved = run(habit)
        assert saved.duration >= held.duration
        assert saved.fuel_burned <= held.fuel_burned


def test_a_speed_the_crew_keeps_to_is_kept() -> None:
    assert np.max(run("hold_speed_limit", max_speed=11.0).speed) == pytest.approx(11.0)


# Coasting


def test_coasting_to_stops_arrives() -> None:
    asked = trials.excursion(trials.line([(10000.0, 0.0)]), crew=Crew(habit="coast_to_stops"))
    assert run("coast_to_stops", asked).arrived


def test_coasting_between_stops_close_together_arrives() -> None:
    route = trials.line([(10000.0, 0.0)], stops=(3000.0, 6000.0))
    assert run("", trials.excursion(route, crew=Crew(habit="coast_to_stops"))).arrived


def test_coasting_saves_fuel_and_costs_time() -> None:
    route = trials.line([(10000.0, 0.0)])
    held, coasted = (
        run("", trials.excursion(route, crew=Crew(habit=habit)))
        for habit in ("hold_speed_limit", "coast_to_stops")
    )
    assert coasted.arrived
    assert coasted.duration > held.duration
    assert coasted.fuel_burned < held.fuel_burned


def test_coasting_aims_lower_before_a_stop_and_meets_the_braking_curve() -> None:
    aim = driving.coast_to_stops(way({}), Crew())
    max_energy = way({}).max_energy
    assert np.all(aim <= max_energy)
    # Braking at 0.25 m/s² from 0.36 of 200 J/kg takes 288 m; rolling at 0.03 down to that, 4.3 km before it.
    assert at(aim, 12000.0) == 0.0
    assert at(aim, 11750.0) == at(max_energy, 11750.0)
    assert at(aim, 9700.0) == pytest.approx(72.0 + 0.03 * 2012.0, rel=0.03)
    assert at(aim, 6000.0) == at(max_energy, 6000.0)


def test_on_a_climb_the_train_sheds_its_speed_sooner() -> None:
    level, climbing = (
        driving.coast_to_stops(way(grades), Crew()) for grades in ({}, {(9000.0, 12000.0): 0.005})
    )
    assert at(climbing, 11000.0) > at(level, 11000.0)


def test_without_coasting_the_aim_is_what_is_allowed() -> None:
    assert np.array_equal(plan_driving(way({}), Crew(), 0.8).target_energy, way({}).max_energy)


def test_a_climb_to_the_end_of_the_run_counts_whole() -> None:
    assert climbs(way({(11000.0, 12000.0): 0.01})) == [(11000.0, 12000.0)]
