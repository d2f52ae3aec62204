"""Adhesion: effort used or needed against the limit by adhesion, by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import trials
from judged import one, run, under

from locosim.model import Crew, Diesel, Excursion, Helper
from locosim.physics.traction.rail_conditions import ADHESION_BY_RAIL_CONDITION
from locosim.planning.finding import CLEAR, STOP, TIGHT
from locosim.planning.rules import adhesion as adhesion_rules

G = 9.80665


def test_adhesion_is_compared_with_the_effort_that_holds_the_speed() -> None:
    # A long even grade at low speed: adhesion against weight and resistance, by hand.
    grade = 0.010
    route = trials.line([(12000.0, grade)], speed_limit=5.0)
    asked = trials.excursion(route, rail="dry", crew=Crew(steam_allowance=1.0))
    journey = run(asked, live=False)
    finding = one(adhesion_rules.adhesion, journey)
    engine = asked.locomotive
    speed = 5.0
    falling = (7.5 / (3.6 * speed + 44) + 0.161) / (7.5 / 44 + 0.161)  # [CurtiusKniffler1944]
    rail = ADHESION_BY_RAIL_CONDITION["dry"].coefficient * engine.mass_on_drivers * G
    # Adhesion is scarcest at starting or at speed; both lie between these.
    assert rail * falling * 0.999 <= finding.value <= rail
    mass = engine.mass + engine.tender.empty_mass + 28e3 + asked.train.mass
    weight = mass * G * math.sin(math.atan(grade))
    assert weight < finding.limit < weight + 16 * 4.4482216 / 907.18474 * mass
    assert finding.facts["share"][0] == pytest.approx(finding.limit / (engine.mass_on_drivers * G))


@pytest.mark.parametrize(("adhesive", "verdict"), [(51e3, CLEAR), (27e3, TIGHT), (24e3, STOP)])
def test_adhesion_is_clear_tight_or_stop_by_the_weight_on_the_wheels(adhesive: float, verdict: str) -> None:
    # A level start and a climb of 1 %: weight 46 kN and resistance of some 12 kN on 0.2 and less of the weight.
    route = trials.line([(2000.0, 0.0), (9000.0, 0.010)], speed_limit=5.0)
    engine = replace(trials.locomotive(mass_on_drivers=adhesive), mass=70e3)
    journey = run(trials.excursion(route, engine=engine), live=False)
    finding = one(adhesion_rules.adhesion, journey)
    assert finding.verdict == verdict
    assert journey.arrived or verdict == STOP
    step = int(np.flatnonzero(journey.chainage == finding.chainage)[0])
    needed_there = float(journey.total_resistance[step]) - journey.performance.map.friction_at(
        float(journey.effort[step])
    )
    assert finding.limit == pytest.approx(needed_there)
    assert finding.margin == pytest.approx(finding.value / needed_there - 1.0)


WEIGHT = 36e3 * G  # on the drivers of `light`


def light(asked: list[tuple[float, float]], **changes: object) -> Excursion:
    """An engine with little weight on its drivers, at line speed to the foot of a hill, on a wet rail."""
    engine = trials.locomotive(mass_on_drivers=36e3, mass=70e3)
    return trials.excursion(trials.line(asked, speed_limit=20.0), engine=engine, rail="wet", **changes)


def wet(speed: float) -> float:
    """Coefficient of a wet rail at a speed, by hand [CurtiusKniffler1944]."""
    return 0.15 * (7.5 / (3.6 * speed + 44) + 0.161) / (7.5 / 44 + 0.161)


def test_all_adhesion_used_and_carried_over_by_momentum_is_tight() -> None:
    # 2.5 km of 1 %: adhesion is some 10 % of the weight on drivers, grade and resistance need 16 %.
    journey = run(light([(4000.0, 0.0), (2500.0, 0.010), (3000.0, 0.0)]), live=False)
    finding = one(adhesion_rules.adhesion, journey)
    assert journey.arrived
    assert (finding.verdict, finding.margin) == (TIGHT, 0.0)
    assert finding.value == pytest.approx(wet(finding.facts["speed"][0]) * WEIGHT, rel=1e-3)
    mass = 70e3 + 23e3 + 28e3 + journey.excursion.train.mass
    assert finding.facts["hold"][0] > mass * G * math.sin(math.atan(0.010)) / WEIGHT > 0.12
    lowest = float(np.min(journey.speed[(journey.chainage > 5500.0) & (journey.chainage < 8000.0)]))
    assert finding.facts["least"][0] == pytest.approx(lowest)
    assert "momentum carries the train on" in finding.because
    # With a higher lowest speed required, the effort that holds the speed is needed.
    for least, verdict in ((lowest - 0.01, TIGHT), (lowest + 0.01, STOP)):
        judged = one(adhesion_rules.adhesion, under(journey, min_climbing_speed=least))
        assert judged.verdict == verdict
    assert judged.margin == pytest.approx(judged.value / (judged.facts["hold"][0] * WEIGHT) - 1.0)
    assert judged.margin < -0.3
    assert "speed falls to" in judged.because


def test_a_stall_for_want_of_adhesion_needs_the_effort_that_holds_the_speed() -> None:
    journey = run(light([(4000.0, 0.0), (9000.0, 0.012)]), live=False)
    assert journey.outcome == "stalled"
    finding = one(adhesion_rules.adhesion, journey)
    assert finding.verdict == STOP
    assert finding.margin == pytest.approx(
        wet(finding.facts["speed"][0]) / finding.facts["hold"][0] - 1.0, abs=1e-3
    )


def test_slowing_for_want_of_steam_is_no_want_of_adhesion() -> None:
    # At the foot of 1 % holding the speed needs more than adhesion allows, but the steam is short of it.
    route = trials.line([(4000.0, 0.0), (6000.0, 0.010), (3000.0, 0.0)])
    engine = trials.locomotive(mass_on_drivers=48e3, mass=70e3)
    journey = run(
        trials.excursion(route, engine=engine, rail="wet", crew=Crew(steam_allowance=0.4)), live=False
    )
    foot = int(np.searchsorted(journey.chainage, 5250.0))
    friction = journey.performance.map.friction_at(journey.effort)
    assert float(journey.total_resistance[foot] - friction[foot]) > wet(float(journey.speed[foot])) * 48e3 * G
    finding = one(adhesion_rules.adhesion, journey)
    assert finding.verdict == CLEAR
    step = int(np.flatnonzero(journey.chainage == finding.chainage)[0])
    assert finding.limit <= float(journey.effort[step] - friction[step]) * (1 + 1e-9)
    by_hand = wet(finding.facts["speed"][0]) * 48e3 * G / finding.limit - 1.0
    assert finding.margin == pytest.approx(by_hand, rel=1e-3)


def test_braking_to_a_stop_on_a_climb_needs_no_adhesion() -> None:
    # The helper gives no effort while the brake is on, and the speed is not to be held.
    pusher = Helper(
        diesel=Diesel(name="D1", mass=100e3, length=17.0, rail_power=1.5e6, starting_tractive_effort=250e3),
        place="rear",
    )
    line = trials.line([(9000.0, 0.012)], stops=(4500.0,), speed_limit=9.0)
    journey = run(trials.excursion(line, rail="wet", helpers=(pusher,)), live=False)
    finding = one(adhesion_rules.adhesion, journey)
    step = int(np.flatnonzero(journey.chainage == finding.chainage)[0])
    assert journey.brake[step] == 0.0
    assert finding.verdict != STOP
    braked = journey.brake > 0.0
    rail = wet(9.0) * 51e3 * G
    assert np.any(journey.total_resistance[braked] - journey.performance.map.friction > rail)
