"""Clearance and starts over made-up runs: which axle, curve and wheel counts, and what each finding says of it."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials

from locosim.model import Curve, Diesel, Helper
from locosim.physics.operation import superelevation
from locosim.planning.rules import clearance, traction

LINE = trials.line([(9000.0, 0.0)], stops=(4000.0,))
PLAN = trials.excursion(LINE)  # 20 m of engine and tender, and eight coaches of 20.4 m
LENGTH = 11.7 + 8.3 + 8 * 20.4


def run(
    speed: Any, *, step: float = 100.0, helpers: tuple[Any, ...] = (), active: Any = (), **changes: Any
) -> Any:
    speeds = np.asarray(speed, dtype=float)
    return SimpleNamespace(
        excursion=replace(PLAN, **changes), speed=speeds, chainage=1000.0 + step * np.arange(len(speeds)),
        helpers=helpers, helper_active=np.array(active, dtype=bool).reshape(len(helpers), len(speeds) - 1),
    )  # fmt: skip


# Axles


@pytest.mark.parametrize(
    ("axles", "heaviest"), [(1, "the full tender"), (0, "the driving axles"), (4, "the driving axles")]
)
def test_a_tender_counts_where_it_has_axles(axles: int, heaviest: str) -> None:
    engine = trials.locomotive()
    engine = replace(engine, tender=replace(engine.tender, axles=axles, empty_mass=23e3 if axles else 0.0))
    loads = dict(clearance._axle_loads(replace(PLAN, locomotive=engine)))
    assert max(loads, key=loads.__getitem__) == heaviest
    assert ("the full tender" in loads) == (axles > 0)
    if axles:
        assert loads["the full tender"] == pytest.approx((23e3 + 21e3 + 7e3) / axles)


def test_helpers_of_both_kinds_and_every_vehicle_count() -> None:
    diesel = Diesel(name="D1", mass=96e3, axles=4, length=17.0, rail_power=1e6, starting_tractive_effort=15e4)
    pusher = trials.locomotive(name="pusher", mass_on_drivers=60e3)
    made = replace(PLAN, helpers=(Helper(locomotive=pusher), Helper(diesel=diesel)))
    loads = dict(clearance._axle_loads(made))
    assert loads["D1"] == pytest.approx(24e3)
    assert loads["pusher"] == pytest.approx(20e3)
    assert loads["coach"] == pytest.approx(PLAN.train.vehicles[0].axle_load)


# Curves


def bend(start: float, radius: float, height: float | None = 0.05, *, length: float = 50.0) -> Curve:
    return Curve(start=start, end=start + length, radius=radius, superelevation=height)


def allowed(radius: float, height: float) -> float:
    return float(
        superelevation.curve_speed(
            degree_of_curve=superelevation.degree_of_curve(radius=radius), superelevation=height,
            unbalanced_superelevation=0.0762,
        )
    )  # fmt: skip


def test_the_curve_with_the_least_margin_is_the_finding() -> None:
    curves = (bend(1500.0, 400.0), bend(2500.0, 350.0), bend(4000.0, 200.0), bend(4500.0, 90.0, None))
    speed = [20.0] * 20 + [8.0] * 40
    (found,) = clearance.curve_speeds(run(speed, route=replace(LINE, curves=curves)))
    assert (found.rule, found.chainage, found.value) == ("curve speed", 2500.0, 20.0)
    assert found.limit == pytest.approx(allowed(350.0, 0.05))
    assert found.margin == pytest.approx(1.0 - 20.0 / found.limit)
    assert found.facts == {
        "radius": (350.0, "curve"), "height": (0.05, "small_length"), "unbalance": (0.0762, "small_length")
    }  # fmt: skip
    assert found.because.startswith("highest speed on a curve of {radius} with {height} of superelevation")
    assert found.advice == "run slower there, or have the track raised to more superelevation"
    assert clearance.curve_speeds(run(speed)) == []
    beyond = run(speed, route=replace(LINE, curves=(bend(9000.0, 90.0),)))
    assert clearance.curve_speeds(beyond) == []  # the run ends before it


@pytest.mark.parametrize(("at", "counts"), [(14, False), (15, True), (16, True), (17, False)])
def test_a_curve_counts_until_the_rear_of_the_train_has_left_it(at: int, counts: bool) -> None:
    """It lies from 2,450 to 2,500 m, and the train is 183 m long: from the node at 2,500 m to that at 2,600."""
    assert 183.0 < LENGTH < 184.0
    speed = np.full(40, 5.0)
    speed[at] = 25.0
    (found,) = clearance.curve_speeds(run(speed, route=replace(LINE, curves=(bend(2450.0, 350.0),))))
    # 2,450 + 50 + 183 m: nodes from 2,500 to 2,600
    assert found.value == (25.0 if counts else 5.0)


def test_the_sharpest_curve_met_by_an_engine_counts() -> None:
    curves = (bend(500.0, 100.0), bend(2000.0, 300.0), bend(6000.0, 250.0))
    engine = trials.locomotive(min_curve_radius=200.0)
    made = run([5.0] * 91, route=replace(LINE, curves=curves), locomotive=engine)
    (found,) = clearance.curves(made)
    assert (found.value, found.limit, found.chainage, found.verdict) == (250.0, 200.0, 6000.0, "clear")
    assert found.because == "sharpest curve of the run against the sharpest that trial engine can pass"
    assert found.advice == "keep trial engine off this curve"
    assert clearance.curves(run([5.0] * 91, locomotive=engine)) == []


@pytest.mark.parametrize(
    ("start", "met"), [(900.0, False), (970.0, True), (4900.0, True), (4990.0, True), (5050.0, False)]
)
def test_a_helper_ahead_meets_the_curves_from_where_it_stands_to_where_it_is_cut_off(
    start: float, met: bool
) -> None:
    """Coupled on at A, 1,000 m, and cut off at B, 5,000 m: its 20 m are ahead of the train, to 1,020 and 5,020 m."""
    pusher = trials.locomotive(name="pilot", min_curve_radius=200.0)
    helper = SimpleNamespace(place="front", mass=9e4, length=20.0, first_stop=0, last_stop=1)
    made = run(
        [5.0] * 91, route=replace(LINE, curves=(bend(start, 150.0, length=55.0),)),
        helpers=(helper,), active=[[1] * 40 + [0] * 50],
    )  # fmt: skip
    made.excursion = replace(
        made.excursion, helpers=(Helper(locomotive=pusher, from_station="A", to_station="B"),)
    )
    found = clearance.curves(made)
    assert [f.place.split(",")[0] for f in found] == (["pilot"] if met else [])


# Wheels and pistons


def test_the_smallest_wheel_and_the_longest_stroke_count_at_the_highest_speed() -> None:
    engine = trials.locomotive(units=2)
    small, large = engine.engine_units
    cylinders = replace(large.cylinders[0], stroke=0.9)
    engine = replace(
        engine,
        engine_units=(
            replace(small, driver_diameter=1.4),
            replace(large, driver_diameter=1.7, cylinders=(cylinders,)),
        ),
    )
    made = run([1.0, 14.0, 17.0, 3.0], locomotive=engine)
    wheels, pistons = clearance.rotation(made)
    assert wheels.value == pytest.approx(17.0 / (math.pi * 1.4))
    assert pistons.value == pytest.approx(2.0 * engine.engine_units[1].stroke * 17.0 / (math.pi * 1.7))
    assert (wheels.limit, pistons.limit, wheels.kind, pistons.kind) == (
        5.6,
        8.128,
        "rotation",
        "piston_speed",
    )
    assert (wheels.chainage, wheels.facts) == (1200.0, {"speed": (17.0, "speed")})
    assert wheels.because == "at the highest speed of the run, {speed}"


@pytest.mark.parametrize(
    ("steps", "speed"),
    [((0, 1, 1, 0, 0), 9.0), ((1, 1, 1, 0, 0), 9.0), ((0, 1, 1, 1, 0), 12.0), ((0,) * 5, None)],
)
def test_a_helper_counts_at_the_nodes_of_the_steps_it_is_on(
    steps: tuple[int, ...], speed: float | None
) -> None:
    helper = SimpleNamespace(place="rear", mass=9e4, length=20.0, first_stop=0, last_stop=1)
    made = run([3.0, 4.0, 5.0, 9.0, 12.0, 15.0], helpers=(helper,), active=[steps])
    pusher = trials.locomotive(name="pusher", wheel=1.2)
    made.excursion = replace(made.excursion, helpers=(Helper(locomotive=pusher),))
    found = [f for f in clearance.rotation(made) if f.place.startswith("pusher, ")]
    assert [f.value for f in found[:1]] == ([] if speed is None else [pytest.approx(speed / (math.pi * 1.2))])
    assert all("at the highest speed with pusher, {speed}" in f.because for f in found)


# Starts


def test_what_one_car_and_the_engines_take_to_start_with_the_slack_in() -> None:
    """Of 10 kN of breakaway for 400 t, engines of 90 t and the heaviest car of 40 t have 130 t; the rest stays."""
    cars = trials.train(
        trials.coaches(9, empty_mass=30e3, people=0), trials.coaches(1, empty_mass=40e3, people=0)
    )
    demand: Any = SimpleNamespace(mass=400e3, starting=10e3, gravity=700.0, curve=50.0)
    journey: Any = SimpleNamespace(excursion=replace(PLAN, train=cars))
    assert traction._demand_with_slack(journey, demand) == pytest.approx(10e3 * 130.0 / 400.0 + 750.0)
    light: Any = SimpleNamespace(excursion=replace(PLAN, train=replace(cars, vehicles=())))
    alone: Any = SimpleNamespace(mass=90e3, starting=2e3, gravity=-100.0, curve=0.0)
    assert traction._demand_with_slack(light, alone) == pytest.approx(1900.0)


@pytest.mark.parametrize(("shortage", "mass"), [(500.0, 0.25), (2000.0, 1.0), (9000.0, 1.0)])
def test_cars_too_many_are_those_that_need_what_is_short(
    monkeypatch: pytest.MonkeyPatch, shortage: float, mass: float
) -> None:
    """The whole train needs 3,000 N and the engines 1,100; 10 t less turn at 0.01 m/s², which is 100 N."""
    asked = []

    def alone(light: Any, helpers: Any, chainage: float) -> Any:
        asked.append((light.train.vehicles, [h.name for h in helpers], chainage))
        return SimpleNamespace(total=1100.0, inertia=90e3)

    monkeypatch.setattr(traction, "starting_demand", alone)
    helpers = [
        SimpleNamespace(name=f"{a}{b}", first_stop=a, last_stop=b) for a, b in ((0, 1), (0, 2), (1, 2))
    ]
    excursion = replace(PLAN, criteria=replace(PLAN.criteria, min_starting_acceleration=0.01))
    journey: Any = SimpleNamespace(excursion=excursion, helpers=helpers)
    demand: Any = SimpleNamespace(total=3000.0, inertia=100e3)
    assert traction._excess_mass(journey, 1, demand, shortage) == pytest.approx(mass * PLAN.train.mass)
    assert asked == [((), ["02", "12"], 5000.0)]
    no_more: Any = SimpleNamespace(total=1000.0, inertia=90e3)  # cars that run down by themselves
    assert traction._excess_mass(journey, 1, no_more, shortage) == PLAN.train.mass
