"""Axle loads, curves and rotation: values against figures worked out here."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import trials
from judged import hill_route, hills, one, run, under

from locosim.model import Criteria, Curve, Helper
from locosim.planning.finding import CLEAR, STOP
from locosim.planning.rules import clearance as clearance_rules


def test_the_heaviest_axle_is_found_wherever_it_is() -> None:
    route = hill_route(axle_load_limit=25e3)

    def heaviest(**changes: object) -> tuple[str, float]:
        finding = one(clearance_rules.axle_load, run(trials.excursion(route, **changes)))
        return finding.because, finding.value

    because, value = heaviest()
    assert "driving axles" in because
    assert value == pytest.approx(51e3 / 3)
    because, value = heaviest(made_of=trials.train(trials.coaches(empty_mass=60e3, load=20e3, people=0)))
    assert "coach" in because
    assert value == pytest.approx(20e3)
    engine = replace(trials.locomotive(), tender=replace(trials.locomotive().tender, axles=2))
    because, value = heaviest(engine=engine)
    assert "full tender" in because
    assert value == pytest.approx((23e3 + 28e3) / 2)


def test_an_axle_load_is_met_or_not() -> None:
    journey = run(trials.excursion(hill_route(axle_load_limit=17.1e3)))
    assert one(clearance_rules.axle_load, journey).verdict == CLEAR
    journey = run(trials.excursion(hill_route(axle_load_limit=16.9e3)))
    assert one(clearance_rules.axle_load, journey).verdict == STOP
    assert clearance_rules.axle_load(run(hills())) == []


def test_the_sharpest_curve_of_the_run_counts_and_no_other() -> None:
    bends = (
        Curve(start=100.0, end=300.0, radius=90.0),  # before the first stop
        Curve(start=4100.0, end=4500.0, radius=400.0),
        Curve(start=9000.0, end=9400.0, radius=310.0),
    )
    route = replace(hill_route(), curves=bends)
    for least, verdict in ((250.0, CLEAR), (300.0, CLEAR), (320.0, STOP)):
        engine = trials.locomotive(min_curve_radius=least)
        finding = one(clearance_rules.curves, run(trials.excursion(route, engine=engine)))
        assert (finding.value, finding.limit, finding.chainage) == (310.0, least, 9000.0)
        assert finding.margin == pytest.approx(310.0 / least - 1.0)
        assert finding.verdict == verdict
    assert clearance_rules.curves(run(hills())) == []


def test_rotation_is_speed_over_the_circumference() -> None:
    journey = run(hills())
    turns = one(clearance_rules.rotation, journey, rule="driving-wheel speed")
    pistons = one(clearance_rules.rotation, journey, rule="piston speed")
    fastest = float(np.max(journey.speed))
    assert turns.value == pytest.approx(fastest / (math.pi * 1.57))
    assert pistons.value == pytest.approx(2 * 0.65 * fastest / (math.pi * 1.57))
    assert turns.limit == Criteria().max_driver_rotation
    assert (
        one(
            clearance_rules.rotation, under(journey, max_driver_rotation=1.0), rule="driving-wheel speed"
        ).verdict
        == STOP
    )


BENDS = (
    Curve(start=4100.0, end=4500.0, radius=200.0),
    Curve(start=8700.0, end=8850.0, radius=250.0),
    Curve(start=9500.0, end=9900.0, radius=310.0),
)


@pytest.mark.parametrize(
    ("place", "stations", "radius"),
    [
        ("front", {"to_station": "B"}, 200.0),
        # Coupled at B in front, it meets the last curve only; at the rear it starts where the train ends, in the
        # curve at 8.7 km: the head of train engine and train, 203 m long, is at 9 km.
        ("front", {"from_station": "B"}, 310.0),
        ("rear", {"from_station": "B"}, 250.0),
    ],
)
def test_a_helper_engine_meets_the_curves_where_it_is_on(
    place: str, stations: dict[str, str], radius: float
) -> None:
    second = replace(trials.locomotive(min_curve_radius=260.0), name="second engine")
    helper = Helper(locomotive=second, place=place, **stations)
    route = replace(hill_route(), curves=BENDS)
    finding = one(clearance_rules.curves, run(trials.excursion(route, helpers=(helper,))))
    assert finding.place.startswith("second engine, ")
    assert (finding.value, finding.limit) == (radius, 260.0)
    assert finding.verdict == (STOP if radius < 260.0 else CLEAR)
    assert ("keep second engine off this curve" in finding.remedy) == (radius < 260.0)


def test_a_helper_engine_turns_its_own_wheels_where_it_is_on() -> None:
    small = replace(trials.locomotive(wheel=1.1, stroke=0.6), name="second engine")
    helper = Helper(locomotive=small, from_station="B")
    journey = run(hills(helpers=(helper,)))
    beyond = float(np.max(journey.speed[journey.chainage >= 9000.0]))
    turns, pistons = (
        one(clearance_rules.rotation, journey, rule=rule, place="second engine, B to C")
        for rule in ("driving-wheel speed", "piston speed")
    )
    assert turns.value == pytest.approx(beyond / (math.pi * 1.1))
    assert pistons.value == pytest.approx(2 * 0.6 * beyond / (math.pi * 1.1))
    limited = under(journey, max_driver_rotation=0.99 * turns.value)
    assert (
        one(
            clearance_rules.rotation, limited, rule="driving-wheel speed", place="second engine, B to C"
        ).verdict
        == STOP
    )
    # The wheels of the train engine are larger, and are checked by themselves.
    own = [
        f
        for f in clearance_rules.rotation(limited)
        if f.rule == "driving-wheel speed" and "second" not in f.place
    ]
    assert [f.verdict for f in own] == [CLEAR]


def test_a_helper_engine_is_not_checked_at_speeds_it_does_not_run() -> None:
    helper = Helper(locomotive=replace(trials.locomotive(), name="second engine"), to_station="B")
    journey = run(hills(helpers=(helper,)))
    nodes = np.flatnonzero(journey.chainage > 9100.0)
    faster = journey.speed.copy()
    faster[nodes] = 40.0
    found = clearance_rules.rotation(replace(journey, speed=faster))
    assert [f.value > 40.0 / (math.pi * 1.57) * 0.999 for f in found if f.rule == "driving-wheel speed"] == [
        True,
        False,
    ]


def test_curve_speed_by_superelevation_is_that_of_the_published_table() -> None:
    # 2 degrees with 3 in: 65 mph; 4 degrees with 0 in: 33 mph [CFR213] appendix A, 3 in of unbalance.
    for degree, inches, mph in ((2.0, 3.0, 65.0), (4.0, 0.0, 33.0)):
        radius = 50 * 0.3048 / math.sin(math.radians(degree / 2))
        bend = Curve(start=4100.0, end=4500.0, radius=radius, superelevation=inches * 0.0254)
        journey = run(trials.excursion(replace(hill_route(), curves=(bend,))))
        finding = one(clearance_rules.curve_speeds, journey)
        assert finding.limit / 0.44704 == pytest.approx(mph, abs=0.6)
        on = (journey.chainage >= 4100.0) & (journey.chainage <= 4500.0 + 183.2)
        assert finding.value == float(np.max(journey.speed[on]))
    assert clearance_rules.curve_speeds(run(hills())) == []  # no superelevation is given
