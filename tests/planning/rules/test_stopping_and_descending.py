"""Stopping and descending: values against figures worked out here."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trials
from judged import hills, one, run
from scipy.integrate import solve_ivp

from locosim.journey.run import run_journey
from locosim.model import Diesel, Helper
from locosim.physics.operation import braking
from locosim.planning.check import run_and_check
from locosim.planning.finding import CLEAR, STOP, TIGHT
from locosim.planning.rules import braking as braking_rules
from locosim.report.text.finding import finding_row

G = 9.80665


def test_braking_ratio_leaves_out_the_engine_brakes() -> None:
    journey = run(hills())
    coach, engine = trials.coaches(), trials.locomotive()
    everything = 8 * coach.mass + engine.mass + engine.tender.empty_mass + 28e3
    finding = one(braking_rules.stopping, journey)
    assert finding.facts["ratio"][0] == pytest.approx(0.6 * 8 * coach.empty_mass / everything, rel=1e-6)


def test_the_brakes_of_engine_and_tender_count_where_given() -> None:
    engine = trials.locomotive()
    braked = replace(engine, braking_ratio=0.6, tender=replace(engine.tender, braking_ratio=0.9))
    without, with_ = (one(braking_rules.stopping, run(hills(locomotive=e))) for e in (engine, braked))
    everything = trials.train().mass + engine.mass + engine.tender.empty_mass + 28e3
    gain = (0.6 * 51e3 + 0.9 * 23e3) / everything
    assert with_.facts["ratio"][0] - without.facts["ratio"][0] == pytest.approx(gain, rel=1e-6)
    assert with_.value < 0.9 * without.value
    assert "the brakes of engine and tender are counted" in with_.because


def test_a_light_engine_runs_and_stops_with_its_own_brakes() -> None:
    engine = trials.locomotive(braking_ratio=0.6)
    light = hills(locomotive=engine, train=replace(trials.train(), vehicles=()))
    journey = run(light)
    assert journey.arrived
    assert one(braking_rules.stopping, journey).margin > 0.0
    assert run_and_check(light, trials.performance(light)).verdict in ("clear", "tight")


def test_a_vacuum_brake_takes_longer_to_stop() -> None:
    air, vacuum = (
        one(braking_rules.stopping, run(hills(train=replace(trials.train(trials.coaches(12)), brake=brake))))
        for brake in ("air", "vacuum")
    )
    # Half of 1.4 s for each of 12 cars, instead of 6 s, at the same speed.
    assert vacuum.value - air.value == pytest.approx((8.4 - 6.0) * air.facts["speed"][0], rel=1e-3)


def test_stopping_is_the_integral_of_galton_shoe_friction() -> None:
    # The distance again, by a general solver over the published shoe friction.
    journey = run(hills())
    finding = one(braking_rules.stopping, journey)
    ratio, speed, grade = (finding.facts[k][0] for k in ("ratio", "speed", "grade"))

    def rates(_: float, y: np.ndarray) -> list[float]:
        friction = float(braking.galton_shoe_friction(speed=float(y[1])))
        return [y[1], -G * (ratio * friction + min(grade, 0.0))]

    def stood(_: float, y: np.ndarray) -> float:
        return float(y[1])

    stood.terminal = True  # type: ignore[attr-defined]
    found = solve_ivp(rates, (0, 1e4), [0.0, speed], events=[stood], rtol=1e-9, max_step=1.0)
    reaction = journey.excursion.criteria.brake_reaction_time
    # Before the brakes apply the train runs on, and gains speed on a falling grade.
    assert finding.value == pytest.approx(found.y[0, -1] + speed * reaction, rel=0.03)


def test_the_longest_stop_is_among_all_steps() -> None:
    journey = run(hills())
    finding = one(braking_rules.stopping, journey)
    middle = 0.5 * (journey.speed[1:] + journey.speed[:-1])
    ratio = finding.facts["ratio"][0]
    longest = max(
        braking.stopping_distance_with_shoes(
            speed=float(v), braking_ratio=ratio, grade=float(min(g, 0.0)), reaction_time=6.0
        )
        for v, g in zip(middle, journey.grade, strict=True)
    )
    assert finding.value == pytest.approx(longest, rel=1e-3)


def test_the_longest_stop_may_be_neither_the_fastest_nor_the_steepest() -> None:
    # 300 steps fast on a slight descent, ten slower on a steeper one, ten slow on the steepest.
    asked = hills(made_of=trials.train(trials.coaches(braking_ratio=0.24)))
    journey = run_journey(asked, trials.performance(asked), step=15.0)
    steps = len(journey.grade)
    assert steps > 600
    speed, grade = np.full(steps + 1, 5.0), np.zeros(steps)
    speed[:301], grade[:300] = 20.0, -0.002
    speed[400:411], grade[400:410] = 18.0, -0.011
    grade[500:510] = -0.013
    finding = one(braking_rules.stopping, replace(journey, speed=speed, grade=grade))
    ratio = finding.facts["ratio"][0]
    fast, steep, slow = (
        braking.stopping_distance_with_shoes(speed=v, braking_ratio=ratio, grade=i, reaction_time=6.0)
        for v, i in ((20.0, -0.002), (18.0, -0.011), (5.0, -0.013))
    )
    assert steep > 1.15 * max(fast, slow)
    assert finding.value == pytest.approx(steep)
    assert finding.chainage in journey.chainage[400:410]


def helped(place: str, **stations: str) -> Helper:
    diesel = Diesel(name="D1", mass=200e3, length=19.0, rail_power=0.9e6, starting_tractive_effort=200e3)
    return Helper(diesel=diesel, place=place, **stations)


@pytest.mark.parametrize("place", ["front", "rear"])
def test_a_helper_engine_is_weight_that_the_shoes_must_stop(place: str) -> None:
    weak = trials.train(trials.coaches(braking_ratio=0.35))
    alone, together, up_to_b = (
        run(hills(made_of=weak, helpers=help_))
        for help_ in ((), (helped(place),), (helped(place, to_station="B"),))
    )
    coach, engine = trials.coaches(), trials.locomotive()
    force = 0.35 * 8 * coach.empty_mass
    everything = 8 * coach.mass + engine.mass + engine.tender.empty_mass + 28e3
    first, last = braking_rules.braking_ratio(up_to_b)[[0, -1]]
    assert first == pytest.approx(force / (everything + 200e3), rel=1e-3)
    assert last == pytest.approx(force / everything, rel=1e-3)
    # The descent is beyond B: checked with the helper where it is on, and without it where it is off.
    held = [one(braking_rules.descending, journey) for journey in (alone, together, up_to_b)]
    assert held[0].limit == held[2].limit
    needed = 2.0 * (0.012 - 0.02 / G) * (everything + 200e3) / force
    assert float(braking.galton_shoe_friction(speed=held[1].limit)) == pytest.approx(needed, rel=5e-3)
    assert held[1].limit < 0.9 * held[0].limit
    stops = [one(braking_rules.stopping, journey) for journey in (alone, together)]
    assert stops[1].value > 1.2 * stops[0].value


def test_a_train_without_brakes_does_not_stop() -> None:
    journey = run(hills(made_of=trials.train(trials.coaches(braking_ratio=0.0))))
    stop = one(braking_rules.stopping, journey)
    assert (stop.verdict, stop.value_text) == (STOP, "does not stop")
    assert "does not stop the train" in stop.because
    assert "every braking_ratio is 0" in stop.remedy
    assert finding_row(stop)[3:] == ("does not stop", "≤ 5,249 ft", "none")
    fall = one(braking_rules.descending, journey)
    assert (fall.verdict, fall.limit) == (STOP, 0.0)
    assert "holds the train at no speed" in fall.because
    assert one(braking_rules.stopping, run(hills())).value_text == ""


def test_a_long_descent_is_compared_with_half_a_service_application() -> None:
    finding = one(braking_rules.descending, run(hills()))
    assert finding.facts["grade"][0] == pytest.approx(-0.012, rel=1e-3)
    assert finding.facts["length"][0] == pytest.approx(3500.0, abs=150.0)
    assert finding.verdict == CLEAR


@pytest.mark.parametrize(("braking_ratio", "verdict"), [(0.6, CLEAR), (0.06, STOP)])
def test_weak_brakes_do_not_hold_a_descent(braking_ratio: float, verdict: str) -> None:
    asked = hills(made_of=trials.train(trials.coaches(braking_ratio=braking_ratio)))
    finding = one(braking_rules.descending, run(asked))
    assert finding.verdict == verdict


def test_a_descent_is_tight_near_the_speed_that_can_be_held() -> None:
    # Find the ratio at which the speed of the run is just held; a little more is tight.
    def margin(braking_ratio: float) -> float:
        asked = hills(made_of=trials.train(trials.coaches(braking_ratio=braking_ratio)))
        return one(braking_rules.descending, run(asked)).margin

    low, high = 0.05, 0.6
    for _ in range(12):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if margin(middle) < 0.05 else (low, middle)
    asked = hills(made_of=trials.train(trials.coaches(braking_ratio=high)))
    finding = one(braking_rules.descending, run(asked))
    assert finding.verdict == TIGHT
    assert 0.0 <= finding.margin < 0.10
    # At that speed the friction of half an application and 0.02 N/kg of resistance carry the grade, by hand.
    assert 5.0 < finding.limit < 26.0
    coach, engine = trials.coaches(), trials.locomotive()
    everything = 8 * coach.mass + engine.mass + 23e3 + 28e3
    friction = float(braking.galton_shoe_friction(speed=finding.limit))
    held = 0.5 * high * 8 * coach.empty_mass / everything * friction
    assert held == pytest.approx(0.012 - 0.02 / G, rel=0.01)


def test_a_short_descent_has_no_finding() -> None:
    route = trials.line([(3000.0, 0.0), (450.0, -0.012), (3000.0, 0.0)])
    train = trials.train(trials.coaches(1))
    assert braking_rules.descending(run(trials.excursion(route, made_of=train))) == []


def test_water_in_a_car_of_the_train_is_weighed_once() -> None:
    tank = replace(trials.coaches(1), name="water car", kind="water_car", people=0, water=30.0)
    journey = run(hills(made_of=trials.train(trials.coaches(), tank)))
    coach, engine = trials.coaches(), trials.locomotive()
    everything = 8 * coach.mass + 37e3 + 30e3 + engine.mass + engine.tender.empty_mass + 28e3
    force = 0.6 * 9 * 37e3
    assert braking_rules.braking_ratio(journey)[0] == pytest.approx(force / everything, rel=1e-6)
