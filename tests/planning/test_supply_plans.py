"""A plan of water and fuel stops: its legs from filling to filling, its cost, its places, and the water car."""

from __future__ import annotations

from dataclasses import replace

import pytest
import trials

from locosim.engine.performance import compute_excursion_performance
from locosim.errors import OutOfRange
from locosim.model import Excursion
from locosim.planning.supply_plans import SupplyPlan, legs, run_plan, supply_places
from locosim.planning.water_stops import plan_water_stops

LINE = trials.line([(30000.0, 0.003)], stops=(8000.0, 16000.0, 24000.0))


def asked(cars: int = 5, *, water: float = 3.0, **changes: object) -> Excursion:
    engine = trials.locomotive()
    tender = replace(engine.tender, water_capacity=water, fuel_capacity=1500.0)
    return trials.excursion(
        LINE, engine=replace(engine, tender=tender), made_of=trials.train(trials.coaches(cars)), **changes
    )  # type: ignore[arg-type]


def planned(excursion: Excursion, takings: dict[str, tuple[str, ...]]) -> SupplyPlan:
    performance = compute_excursion_performance(excursion)
    return run_plan(excursion, performance, supply_places(excursion), takings)


@pytest.fixture(scope="module")
def plan() -> SupplyPlan:
    return planned(asked(), {"B": ("water",), "D": ("water", "fuel")})


def test_a_leg_is_from_one_filling_to_the_next(plan: SupplyPlan) -> None:
    a, b, _, d, e = plan.journey.stops
    assert legs(plan, "water") == [
        (a.water_on_departure, b.water_on_arrival),
        (3000.0, d.water_on_arrival),
        (3000.0, e.water_on_arrival),
    ]
    assert legs(plan, "fuel") == [(a.fuel_on_departure, d.fuel_on_arrival), (1500.0, e.fuel_on_arrival)]
    assert plan.stations == ("B", "D")
    assert (plan.takings, plan.new_stops) == (3, 0)


def test_the_spare_is_the_least_of_all_legs_over_what_each_uses(plan: SupplyPlan) -> None:
    kept = {
        "water": 3000.0 * plan.excursion.criteria.water_reserve,
        "fuel": 1500.0 * plan.excursion.criteria.fuel_reserve,
    }
    spare = [
        (start - kept[supply]) / (start - end) - 1.0 for supply in kept for start, end in legs(plan, supply)
    ]
    assert plan.spare_use == pytest.approx(min(spare))
    assert plan.keeps == (min(spare) >= 0.0)
    smaller = planned(asked(water=2.0), {"B": ("water",), "D": ("water", "fuel")})
    assert smaller.spare_use < plan.spare_use


def test_what_is_taken_fills_the_tank_and_the_least_keeps_the_reserve_to_the_next_filling(
    plan: SupplyPlan,
) -> None:
    stop = plan.stops[0]
    taking = stop.takings["water"]
    assert taking.left + taking.taken == pytest.approx(3000.0)
    assert taking.time == pytest.approx(taking.taken / (1000.0 * 0.05))
    assert stop.stand >= taking.time
    spare = legs(plan, "water")[1][1] - 3000.0 * plan.excursion.criteria.water_reserve
    assert taking.least == pytest.approx(max(taking.taken - spare, 0.0))


def test_a_run_that_ends_short_is_judged_by_where_it_ends() -> None:
    stalled = planned(asked(cars=120), {})
    assert not stalled.keeps
    assert stalled.worst is not None
    assert stalled.worst.rule not in ("water", "fuel")
    assert legs(stalled, "water") == []
    assert stalled.spare_use == 0.0


def test_a_place_out_of_use_is_left_out_and_must_be_a_station() -> None:
    assert [place.station for place in supply_places(asked())] == ["B", "C", "D"]
    assert [place.station for place in supply_places(asked(), closed=("C",))] == ["B", "D"]
    with pytest.raises(OutOfRange, match="no station 'F' on trial line to close"):
        supply_places(asked(), closed=("F",))


def test_the_cost_is_the_time_that_the_stops_take() -> None:
    through = replace(asked(), stops=(asked().stops[0], asked().stops[-1]))
    found = plan_water_stops(through)
    best = found.least.best
    assert best is not None
    assert found.confirmed
    assert found.cost == pytest.approx(best.arrival - float(found.least.without_stops.time[-1]))
    assert found.cost > sum(stop.stand for stop in best.stops) > 0.0  # it brakes and starts again besides
    ample = plan_water_stops(replace(through, locomotive=trials.locomotive()))
    assert (ample.least.best.stations if ample.least.best else None, ample.cost) == ((), 0.0)
