"""Starting, climbing, couplers: value and limit against figures worked out here."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trials
from judged import hills, one, run, under

from locosim.engine.own_resistance import engine_resistance_coefficients
from locosim.journey.coupler_force import coupler_force
from locosim.model import Crew, Helper, RailConditionZone, SpeedLimit
from locosim.physics.traction.rail_conditions import ADHESION_BY_RAIL_CONDITION
from locosim.planning.finding import CLEAR, STOP, TIGHT
from locosim.planning.rules import traction as traction_rules

G = 9.80665


def on_grade(grade: float, **changes: object) -> object:
    return trials.excursion(trials.line([(3000.0, grade)]), **changes)


def needed(grade: float, acceleration: float) -> float:
    """Rim effort needed to start the trial train [N], by hand."""
    engine, coach = trials.locomotive(), trials.coaches()
    mass = engine.mass + engine.tender.empty_mass + 21e3 + 7e3 + 8 * coach.mass
    # Turning parts: 6 % of engine and empty tender, 6 % of the coaches' tare.
    turning = 0.06 * (engine.mass + engine.tender.empty_mass + 8 * coach.empty_mass)
    starting = 16 * 4.4482216 / 907.18474 * mass  # [Henderson1907], 16 lb a short ton
    return starting + mass * G * math.sin(math.atan(grade)) + (mass + turning) * acceleration


def available(rail: str) -> float:
    """Rim effort available [N], by hand: rated effort less machine friction, or adhesion."""
    engine = trials.locomotive()
    rated = 0.85 * 13.1e5 * 0.52**2 * 0.65 / 1.57
    # The assumed friction: 8 lb per short ton on drivers, and 8 % of the effort.
    friction = 8 * 4.4482216 / 907.18474 * engine.mass_on_drivers + 0.08 * rated
    return min(rated - friction, ADHESION_BY_RAIL_CONDITION[rail].coefficient * engine.mass_on_drivers * G)


@pytest.mark.parametrize("rail", ["dry", "wet"])
@pytest.mark.parametrize("grade", [0.0, 0.006, -0.004])
def test_starting_is_rim_effort_over_starting_resistance_grade_and_acceleration(
    grade: float, rail: str
) -> None:
    finding = one(traction_rules.starting, run(on_grade(grade, rail=rail)))
    assert finding.place == "A"
    assert finding.chainage == 1000.0
    assert finding.limit == pytest.approx(needed(grade, 0.02), rel=2e-3)
    assert finding.value == pytest.approx(available(rail), rel=5e-3)
    assert finding.margin == pytest.approx(finding.value / finding.limit - 1)
    assert (f"limited by the {rail} rail" in finding.because) == (rail == "wet")


def test_starting_is_clear_tight_or_stop_as_more_acceleration_is_required() -> None:
    # The effort to spare as an acceleration: part of it required, nearly all, and more.
    journey = run(on_grade(0.006))
    spare = (available("dry") - needed(0.006, 0.0)) / (needed(0.006, 1.0) - needed(0.006, 0.0))
    for share, verdict in ((0.1, CLEAR), (0.9, TIGHT), (1.1, STOP)):
        finding = one(traction_rules.starting, under(journey, min_starting_acceleration=share * spare))
        assert finding.verdict == verdict
        assert finding.remedy == "" if verdict == CLEAR else finding.remedy
        assert finding.facts["gravity"][0] == pytest.approx(needed(0.006, 0.0) - needed(0.0, 0.0), rel=1e-3)


def test_a_start_says_what_the_worst_crank_angle_gives() -> None:
    finding = one(traction_rules.starting, run(on_grade(0.0)))
    assert finding.verdict == CLEAR
    assert "worst crank angle it is {worst}, enough to move the train" in finding.because
    assert 0.4 * finding.value < finding.facts["worst"][0] < 0.7 * finding.value


def test_a_train_the_worst_crank_angle_cannot_move_is_tight_and_no_stop() -> None:
    """Slack in and setting back move it; the mean still decides between tight and stop."""
    for cars, verdict in ((4, CLEAR), (5, CLEAR), (6, TIGHT), (30, STOP)):
        asked = on_grade(0.016, made_of=trials.train(trials.coaches(cars)))
        finding = one(traction_rules.starting, run(asked))
        worst, with_slack = finding.facts["worst"][0], finding.facts["with_slack"][0]
        at_rest = finding.facts["at_rest"][0]
        assert with_slack < at_rest
        assert finding.verdict == verdict
        assert (worst < with_slack) == (verdict != CLEAR)
        assert ("reverse and set back" in finding.because) == (verdict != CLEAR)
        assert ("set back if the engine does not move" in finding.remedy) == (verdict == TIGHT)
        if verdict == TIGHT:
            assert finding.margin > 0.15  # by its mean alone the start would be clear


def test_with_the_slack_in_cars_break_away_one_by_one_and_weigh_all_together() -> None:
    """On the level the engine and one car; on a grade gravity of the whole train is added."""
    level, grade = (
        one(traction_rules.starting, run(on_grade(g, made_of=trials.train(trials.coaches(9)))))
        for g in (0.0, 0.008)
    )
    gravity = grade.facts["gravity"][0]
    assert grade.facts["with_slack"][0] - level.facts["with_slack"][0] == pytest.approx(gravity, rel=1e-6)
    assert level.facts["with_slack"][0] < 0.4 * level.facts["at_rest"][0]


def test_the_excess_taken_off_is_enough_to_start() -> None:
    grade = 0.018
    asked = on_grade(grade, made_of=trials.train(trials.coaches(12)))
    finding = one(traction_rules.starting, run(asked))
    assert finding.verdict == STOP
    excess = finding.facts["excess"][0]
    coach = trials.coaches()
    off = math.ceil(excess / coach.mass)
    lighter = on_grade(grade, made_of=trials.train(trials.coaches(12 - off)))
    assert one(traction_rules.starting, run(lighter)).margin > -0.01
    heavier = on_grade(grade, made_of=trials.train(trials.coaches(13 - off)))
    assert one(traction_rules.starting, run(heavier)).margin < 0.01


def test_a_helper_engine_adds_its_effort_and_its_weight() -> None:
    helper_effort = (Helper(locomotive=trials.locomotive(), place="front"),)
    alone, together = (
        one(traction_rules.starting, run(on_grade(0.012, helpers=help_))) for help_ in ((), helper_effort)
    )
    engine = trials.locomotive()
    mass = engine.mass + engine.tender.empty_mass + 28e3
    # The rim effort of the helper less its own needs, machine friction included: the same sum the other way.
    gain = together.value - alone.value
    need = together.limit - alone.limit
    assert gain - need == pytest.approx(
        available("dry")
        - mass * (16 * 4.4482216 / 907.18474 + G * math.sin(math.atan(0.012)))
        - (mass + 0.06 * (engine.mass + engine.tender.empty_mass)) * 0.02,
        abs=600.0,
    )
    assert "helpers" in together.because
    assert "helpers" not in alone.because
    assert together.facts["helpers"][0] > 0.0


def test_every_stop_but_the_last_is_a_start() -> None:
    assert [f.place for f in traction_rules.starting(run(hills()))] == ["A", "B"]


def test_the_rail_condition_at_the_stop_counts() -> None:
    route = trials.line(
        [(3000.0, 0.0)], rail_condition_zones=(RailConditionZone(start=900.0, end=1100.0, rail="wet"),)
    )
    finding = one(traction_rules.starting, run(trials.excursion(route)))
    assert finding.value == pytest.approx(available("wet"), rel=5e-3)
    assert "wet rail" in finding.because


def test_climbing_finds_the_least_speed_on_the_climb() -> None:
    journey = run(hills())
    finding = one(traction_rules.climbing, journey)
    on = (journey.chainage >= 3500.0) & (journey.chainage <= 7700.0)
    assert finding.value == pytest.approx(float(np.min(journey.speed[on])), rel=1e-3)
    assert 3500.0 < finding.chainage < 7800.0
    assert finding.facts["grade"][0] == pytest.approx(0.009, rel=1e-3)
    assert finding.facts["length"][0] == pytest.approx(4000.0, abs=120.0)
    assert finding.place == "A to B"


def test_a_stop_on_a_climb_is_no_low_speed() -> None:
    route = trials.line([(6000.0, 0.004)], stops=(3000.0,), speed_limit=9.0)
    for finding in traction_rules.climbing(run(trials.excursion(route))):
        assert finding.value > 5.0


def test_creeping_up_from_a_start_on_the_grade_is_a_low_speed() -> None:
    # With a quarter of the steam the train gains a little all the way, as the tender gets lighter, and never slows.
    asked = trials.excursion(trials.line([(8000.0, 0.010)]), crew=Crew(steam_allowance=0.25))
    journey = run(asked, live=False)
    on = (journey.chainage >= 2000.0) & (journey.chainage < 8900.0)
    assert np.all(np.diff(journey.speed[on]) > 0.0)
    finding = one(traction_rules.climbing, journey)
    assert finding.verdict == STOP
    assert finding.value == pytest.approx(float(np.min(journey.speed[on])), rel=0.01)
    assert finding.value < 4.0
    assert "creeps at" in finding.because


def test_gaining_speed_well_is_no_creeping() -> None:
    # A light train started on the grade, required to climb at 25 m/s: it gains 0.02 m/s² or more all the way.
    asked = trials.excursion(
        trials.line([(2500.0, 0.006)], speed_limit=30.0), made_of=trials.train(trials.coaches(2))
    )
    journey = run(asked, live=False)
    pulled = journey.effort[:-1] > 0.0
    gains = (np.diff(journey.speed**2) / 2 / np.diff(journey.chainage))[:-1]
    assert np.min(gains[pulled & (journey.chainage[:-2] < 2400.0)]) > 0.02
    assert traction_rules.climbing(under(journey, min_climbing_speed=25.0)) == []


def test_gaining_speed_after_a_slow_order_is_no_creeping() -> None:
    slow = SpeedLimit(start=4000.0, end=4500.0, speed=3.0)
    route = trials.line([(8000.0, 0.006)], speed_limits=(slow,))
    journey = run(trials.excursion(route, crew=Crew(steam_allowance=0.6)), live=False)
    assert float(np.min(journey.speed[journey.chainage > 2000.0][:-5])) < 3.01
    assert one(traction_rules.climbing, journey).value > 8.0


def test_a_level_line_has_no_climb() -> None:
    assert traction_rules.climbing(run(on_grade(0.002))) == []


@pytest.mark.parametrize("grade", [0.0, 0.005, -0.003])
def test_couplers_carry_the_engine_effort_in_every_step(grade: float) -> None:
    # Newton for engine and tender: rim effort beyond their own needs goes through the coupler behind.
    asked = trials.excursion(trials.line([(9000.0, grade)]))
    journey = run(asked, live=False)
    found = coupler_force(journey)
    middle = 0.5 * (journey.speed[1:] + journey.speed[:-1])
    steps = (middle > 4.0) & (journey.effort > 0.0) & (journey.brake == 0.0)
    engine, tender = asked.locomotive, asked.locomotive.tender
    contents = (journey.tender_water + journey.tender_fuel)[:-1]
    acceleration = np.diff(0.5 * journey.speed**2) / np.diff(journey.chainage)
    a, b, c = engine_resistance_coefficients(engine, 27.5e3)
    mass = engine.mass + tender.empty_mass + contents
    own = a + b * middle + c * middle**2 + mass * G * math.sin(math.atan(grade))
    own += (mass + 0.06 * (engine.mass + tender.empty_mass)) * acceleration
    expected = np.maximum(journey.performance.map.rim_effort(journey.effort) - own, 0.0)
    # The run bases the speed term of the law on the empty tender, some 150 N less.
    assert found[steps] == pytest.approx(expected[steps], abs=200.0)
    finding = one(traction_rules.couplers, journey)
    assert finding.value == np.max(found)


def test_a_pusher_relieves_the_couplers_by_its_spare_effort() -> None:
    pushed = Helper(locomotive=trials.locomotive(), place="rear")
    asked = trials.excursion(trials.line([(9000.0, 0.012)]), helpers=(pushed,))
    journey = run(asked, live=False)
    found = coupler_force(journey)
    middle = 0.5 * (journey.speed[1:] + journey.speed[:-1])
    steps = (middle > 4.0) & (journey.effort > 0.0) & (journey.brake == 0.0)
    engine, tender = asked.locomotive, asked.locomotive.tender
    contents = (journey.tender_water + journey.tender_fuel)[:-1]
    acceleration = np.diff(0.5 * journey.speed**2) / np.diff(journey.chainage)
    a, b, c = engine_resistance_coefficients(engine, 27.5e3)
    mass = engine.mass + tender.empty_mass + contents
    own = a + b * middle + c * middle**2 + mass * G * math.sin(math.atan(0.012))
    own += (mass + 0.06 * (engine.mass + tender.empty_mass)) * acceleration
    through_first = journey.performance.map.rim_effort(journey.effort) - own
    # The coupler behind the tender carries the effort of the train engine; no other carries more.
    assert found[steps] == pytest.approx(np.maximum(through_first[steps], 0.0), abs=400.0)
