"""Axle loads, curves and rotation: values against figures worked out here."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import trials
from judged import hill_route, hills, one, run, under

from locosim.model import Criteria, Curve
from locosim.planning import passing_rules
from locosim.planning.finding import CLEAR, STOP


def test_the_heaviest_axle_is_found_wherever_it_is() -> None:
    route = hill_route(axle_load_greatest=25e3)

    def heaviest(**changes: object) -> tuple[str, float]:
        finding = one(passing_rules.axle_load, run(trials.excursion(route, **changes)))
        return finding.because, finding.value

    because, value = heaviest()
    assert "coupled axles" in because
    assert value == pytest.approx(51e3 / 3)
    because, value = heaviest(made_of=trials.train(trials.coaches(tare=60e3, load=20e3, people=0)))
    assert "coach" in because
    assert value == pytest.approx(20e3)
    engine = replace(trials.locomotive(), tender=replace(trials.locomotive().tender, axles=2))
    because, value = heaviest(engine=engine)
    assert "full tender" in because
    assert value == pytest.approx((23e3 + 28e3) / 2)


def test_an_axle_load_is_met_or_not() -> None:
    journey = run(trials.excursion(hill_route(axle_load_greatest=17.1e3)))
    assert one(passing_rules.axle_load, journey).verdict == CLEAR
    journey = run(trials.excursion(hill_route(axle_load_greatest=16.9e3)))
    assert one(passing_rules.axle_load, journey).verdict == STOP
    assert passing_rules.axle_load(run(hills())) == []


def test_the_tightest_curve_of_the_run_counts_and_no_other() -> None:
    bends = (
        Curve(start=100.0, end=300.0, radius=90.0),  # before the first call
        Curve(start=4100.0, end=4500.0, radius=400.0),
        Curve(start=9000.0, end=9400.0, radius=310.0),
    )
    route = replace(hill_route(), curves=bends)
    for least, verdict in ((250.0, CLEAR), (300.0, CLEAR), (320.0, STOP)):
        engine = trials.locomotive(curve_radius_least=least)
        finding = one(passing_rules.curves, run(trials.excursion(route, engine=engine)))
        assert (finding.value, finding.limit, finding.chainage) == (310.0, least, 9000.0)
        assert finding.margin == pytest.approx(310.0 / least - 1.0)
        assert finding.verdict == verdict
    assert passing_rules.curves(run(hills())) == []


def test_rotation_is_speed_over_the_circumference() -> None:
    journey = run(hills())
    turns = one(passing_rules.rotation, journey, rule="driver speed")
    pistons = one(passing_rules.rotation, journey, rule="piston speed")
    fastest = float(np.max(journey.speed))
    assert turns.value == pytest.approx(fastest / (math.pi * 1.57))
    assert pistons.value == pytest.approx(2 * 0.65 * fastest / (math.pi * 1.57))
    assert turns.limit == Criteria().driver_speed_greatest
    assert (
        one(passing_rules.rotation, under(journey, driver_speed_greatest=1.0), rule="driver speed").verdict
        == STOP
    )
