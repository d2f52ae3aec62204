"""Help for a train: pull and stretch, the named helper, its supplies, and doubling the hill."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from trials import coaches, excursion, line, locomotive, performance, train

from locosim.journey.run import run_full_effort
from locosim.journey.setup.assisting_pull import AssistingPull, with_pull
from locosim.journey.setup.prepare import prepare
from locosim.model import Excursion, Helper, Stop
from locosim.planning.check import run_and_check
from locosim.planning.doubling import SWITCHING_MOVES, divided
from locosim.planning.finding import STOP
from locosim.planning.help_needed import HELP_RULES, PLACE_STEP, PULL_STEP, pull_failures
from locosim.planning.helper_plan import plan_helper, with_helper
from locosim.planning.light_engine import compute_helper_performance, used_by_helper


def hill(seed: int) -> Excursion:
    """A line with one hill in the middle, often too much for one engine."""
    drawn = random.Random(seed)
    climb = drawn.uniform(0.014, 0.026)
    pieces = [(6000.0, 0.0), (drawn.uniform(3000.0, 7000.0), climb), (6000.0, -0.004)]
    route = line(pieces, stops=[5000.0, 14500.0])
    return excursion(route, made_of=train(coaches(drawn.randint(9, 20))))


def stops_by_help_rules(asked: Excursion) -> list[str]:
    return [f.rule for f in run_and_check(asked).findings if f.verdict == STOP and f.rule in HELP_RULES]


@pytest.mark.parametrize("batch", range(4))
def test_each_answer_is_confirmed_and_the_next_cheaper_refused_over_random_trains(batch: int) -> None:
    needed = shorter = 0
    for seed in range(5 * batch, 5 * batch + 5):
        asked = hill(seed)
        plan = plan_helper(asked)
        assert plan.needed == bool(stops_by_help_rules(asked))
        if not plan.needed:
            assert plan.service is None
            continue
        needed += 1
        known = performance(asked)
        for each in plan.need.stretches:
            pull = AssistingPull(force=each.force, start=each.start, end=each.end)
            assert pull_failures(asked, known, pull) == ()
            late = replace(pull, start=each.start + PLACE_STEP)
            assert pull_failures(asked, known, late) != ()
            early = replace(pull, end=each.end - PLACE_STEP)
            assert pull_failures(asked, known, early) != ()
        if plan.need.stretches:
            least = plan.need.stretches[0]
            whole = AssistingPull(force=(1.0 - 1.01 * PULL_STEP) * least.force, start=0.0, end=1e6)
            assert pull_failures(asked, known, whole) != ()
            lengths = [each.end - each.start for each in plan.need.stretches]
            assert all(a >= b - 2 * PLACE_STEP for a, b in pairwise(lengths))
        if plan.service is not None:
            assert plan.service.suffices
            assert stops_by_help_rules(plan.service.answer.excursion) == []
            for pair in plan.service.refused:
                shorter += 1
                tried = with_helper(asked, plan.helper, pair.coupled, pair.cut_off)
                assert stops_by_help_rules(tried) != []
        else:
            assert all(
                stops_by_help_rules(with_helper(asked, plan.helper, pair.coupled, pair.cut_off))
                for pair in plan.refused
            )
    assert needed >= 2


def test_the_least_pull_on_a_long_steady_climb_is_the_shortage_at_the_climbing_speed() -> None:
    # On a climb so long that momentum is spent, the pull is what resistance at the least climbing speed is more than
    # the engine's own effort there: forces in balance, not a run.
    route = line([(4000.0, 0.0), (25000.0, 0.016), (2000.0, 0.0)])
    asked = excursion(route, made_of=train(coaches(14)))
    plan = plan_helper(asked)
    least = plan.need.stretches[0]
    journey = run_full_effort(
        asked, performance(asked), pull=AssistingPull(force=least.force, start=0.0, end=1e6)
    )
    climb = slice(*np.searchsorted(journey.chainage, [6000.0, 29000.0]))
    slowest = climb.start + int(np.argmin(journey.speed[climb]))
    on_grade = slice(slowest - 5, slowest + 5)
    resistance = journey.total_resistance[on_grade].mean()
    own = journey.effort[on_grade].mean()
    assert journey.speed[on_grade].min() == pytest.approx(asked.criteria.min_climbing_speed, rel=0.002)
    assert least.force == pytest.approx(resistance - own, rel=0.03)


def test_a_pull_does_the_work_of_its_force_and_adds_no_weight() -> None:
    asked = hill(3)
    known = performance(asked)
    prepared = prepare(asked, known)
    pulled = with_pull(prepared, AssistingPull(force=30e3, start=4000.0, end=9000.0))
    assert np.array_equal(pulled.line.helper_mass, prepared.line.helper_mass)
    journey = run_full_effort(asked, known, pull=AssistingPull(force=30e3, start=4000.0, end=9000.0))
    inside = (journey.chainage[:-1] >= 4000.0) & (journey.chainage[1:] <= 9000.0)
    assert journey.helper_effort[~inside].max() == 0.0
    assert journey.helper_effort.max() == pytest.approx(30e3)


def test_more_cars_never_need_less_pull() -> None:
    pulls = []
    for count in range(10, 16):
        route = line([(6000.0, 0.0), (6000.0, 0.018), (6000.0, -0.004)], stops=[5000.0, 14500.0])
        need = plan_helper(excursion(route, made_of=train(coaches(count)))).need
        pulls.append(need.stretches[0].force if need.stretches else 0.0)
    assert pulls == sorted(pulls)
    assert pulls[-1] > pulls[0]


def test_a_helper_like_the_train_engine_uses_about_what_the_train_engine_does() -> None:
    route = line([(1000.0, 0.012), (12000.0, 0.012)])
    asked = excursion(route, made_of=train(coaches(12)), helpers=(Helper(locomotive=locomotive()),))
    journey = run_full_effort(asked, performance(asked))
    used = used_by_helper(journey, compute_helper_performance(asked, locomotive()), 0)
    # Both give the same effort on the climb; the train engine's cylinders also take the steam of acceleration.
    cylinders = float(np.sum(journey.steam * np.diff(journey.time)))
    assert journey.arrived
    assert used.water == pytest.approx(cylinders, rel=0.08)
    assert used.time == pytest.approx(journey.duration, rel=1e-6)
    assert 5.0 < used.water / used.fuel < 11.0


def test_doubling_counts_three_trips_and_the_switching() -> None:
    asked = next(hill(seed) for seed in range(40) if plan_helper(hill(seed)).needed)
    doubling = plan_helper(asked).doubling
    assert doubling is not None
    assert sum(part.mass for part in doubling.parts) == pytest.approx(asked.train.mass)
    trips = [check.journey.duration for check in doubling.trips]
    assert doubling.switching == SWITCHING_MOVES * 600.0
    assert doubling.used.time == pytest.approx(sum(trips) + doubling.back.duration + doubling.switching)
    assert doubling.back.excursion.direction == "reverse"
    assert doubling.back.excursion.engine_facing == "tender_first"
    longer = plan_helper(
        replace(asked, assumptions=replace(asked.assumptions, switching_time=900.0))
    ).doubling
    assert longer is not None
    assert longer.used.time == pytest.approx(doubling.used.time + SWITCHING_MOVES * 300.0)


def test_a_train_is_divided_between_vehicles_and_one_vehicle_is_not() -> None:
    parts = divided(train(coaches(5), coaches(2, empty_mass=60e3)))
    assert parts is not None
    assert [sum(v.count for v in part.vehicles) for part in parts] == [4, 3]
    assert divided(train(coaches(1))) is None


def test_the_helper_of_the_file_is_tried_where_no_engine_is_given() -> None:
    asked = replace(hill(1), helpers=(Helper(locomotive=locomotive(bore=0.4), place="rear"),))
    plan = plan_helper(asked)
    assert plan.helper.place == "rear"
    assert plan.helper.locomotive == locomotive(bore=0.4)
    assert plan_helper(asked, locomotive=locomotive(), place="front").helper.locomotive == locomotive()


def test_a_new_stop_is_named() -> None:
    asked = next(hill(seed) for seed in range(40) if plan_helper(hill(seed)).service)
    ends = (asked.stops[0], asked.stops[-1])
    plan = plan_helper(replace(asked, stops=tuple(Stop(station=stop.station) for stop in ends)))
    assert plan.service is None or set(plan.service.new_stops) <= {"B", "C"}
