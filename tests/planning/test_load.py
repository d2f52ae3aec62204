"""The largest load: proofs by the check itself, laws, momentum, and what a user may get wrong."""

from __future__ import annotations

import os
import random
from dataclasses import replace

import numpy as np
import pytest
import trials

from locosim.engine.performance import compute_excursion_performance
from locosim.errors import OutOfRange
from locosim.journey.entry_speeds import steady_surplus
from locosim.journey.run import run_journey
from locosim.journey.setup.prepare import prepare
from locosim.model import Crew, Excursion, Helper, Stop, Vehicle
from locosim.physics.operation.momentum import speed_after_rise
from locosim.planning.bands import with_bands
from locosim.planning.check import run_and_check
from locosim.planning.finding import STOP, VERDICTS
from locosim.planning.largest_number import Spare, last_between, last_that
from locosim.planning.load import LoadQuestion, LoadRating, conditions_of, find_load
from locosim.planning.load_search import WORSE_WITH_LOAD
from locosim.planning.partial_check import PARTS, PartialCheck
from locosim.planning.varied_train import varied_train

HILL = trials.line([(3000.0, 0.001), (4000.0, 0.008), (3000.0, -0.004)], stops=(3000.0,), speed_limit=18.0)
PLANS = int(os.environ.get("LOAD_PLANS", "30"))  # more by hand, with the variable set
ALONE = LoadQuestion(conditions=False)


def planned(cars: int = 6, **changes: object) -> Excursion:
    return trials.excursion(HILL, made_of=trials.train(trials.coaches(cars)), **changes)  # type: ignore[arg-type]


def with_cars(excursion: Excursion, rating: LoadRating, number: int) -> Excursion:
    return replace(excursion, train=rating.varied.at(number))


def verdict_of(excursion: Excursion) -> str:
    """Verdict as the command `check` gives it."""
    return with_bands(run_and_check(excursion)).verdict


def refusing(excursion: Excursion, goal: str) -> set[str]:
    """Rules that refuse a plan."""
    return {f.rule for f in with_bands(run_and_check(excursion)).findings if f.verdict in goal_worse(goal)}


def goal_worse(goal: str) -> tuple[str, ...]:
    return VERDICTS[VERDICTS.index(goal) + 1 :]


def accepted(verdict: str, goal: str) -> bool:
    return VERDICTS.index(verdict) <= VERDICTS.index(goal)


def test_only_a_load_that_no_file_may_exceed_has_a_note() -> None:
    rating = find_load(planned(), ALONE)
    assert rating.whole.number is not None
    assert rating.whole.refused is not None
    assert rating.whole.note == ""


@pytest.mark.parametrize("goal", ["clear", "tight"])
def test_the_check_accepts_the_answer_and_refuses_the_next_larger_load(goal: str) -> None:
    rating = find_load(planned(), LoadQuestion(conditions=False, verdict=goal))
    number = rating.whole.number
    assert number is not None
    assert accepted(verdict_of(with_cars(planned(), rating, number)), rating.verdict)
    assert not accepted(verdict_of(with_cars(planned(), rating, number + 1)), rating.verdict)
    assert rating.whole.limit is not None
    assert rating.whole.refused is not None


def test_the_answer_does_not_depend_on_the_train_as_described() -> None:
    found = {find_load(planned(cars), ALONE).whole.number for cars in (1, 6, 40)}
    assert len(found) == 1


def random_plans(count: int) -> list[Excursion]:
    """Plans over hills of many shapes, with engines, rails, crews and times of many kinds."""
    draw = random.Random(20261126)
    plans = []
    for _ in range(count):
        pieces = [(draw.uniform(1500.0, 5000.0), draw.uniform(-0.008, 0.014)) for _ in range(4)]
        line = trials.line(pieces, stops=(pieces[0][0],), speed_limit=draw.uniform(11.0, 22.0))
        minutes = sum(length for length, _ in pieces) / draw.uniform(5.0, 12.0) / 60.0 + 6.0
        arrive = 36000.0 + 60.0 * round(minutes)
        stops = (
            Stop(station="A"),
            Stop(station="B", take_water=draw.choice(("no", "fill"))),
            Stop(station="C", arrive=arrive if draw.random() < 0.5 else None),
        )
        plans.append(
            trials.excursion(
                line,
                engine=trials.locomotive(bore=draw.uniform(0.42, 0.56), superheater=draw.random() < 0.7),
                made_of=trials.train(trials.coaches(draw.randrange(1, 15))),
                stops=stops,
                rail=draw.choice(("dry", "dry sanded", "wet", "moist")),
                crew=Crew(horizon=draw.choice((0.0, 1800.0))),
                initial_water=draw.uniform(0.2, 1.0),
            )
        )
    return plans


def proven(excursion: Excursion, goal: str) -> bool:
    """Whether check accepts an answer, and refuses the next larger load and one half as large again."""
    rating = find_load(excursion, LoadQuestion(conditions=False, verdict=goal))
    number = -1 if rating.whole.number is None else rating.whole.number
    if number >= 0:
        assert accepted(verdict_of(with_cars(excursion, rating, number)), rating.verdict)
        fewer, none = (with_cars(excursion, rating, each) for each in (number // 2, 0))
        assert refusing(fewer, rating.verdict) <= refusing(none, rating.verdict)  # brakes of a light train
    for more in {number + 1, max(number + 2, round(1.5 * number))}:
        assert not accepted(verdict_of(with_cars(excursion, rating, more)), rating.verdict)
    return number >= 0


def test_random_plans_are_proven_by_the_check() -> None:
    found = [proven(each, "clear") for each in random_plans(PLANS)]
    assert sum(found) >= PLANS // 2  # else the draw proves little


def test_rules_that_get_worse_with_load_refuse_every_train_where_they_refuse_the_lightest() -> None:
    """The search goes by it, and more load never rates higher by it; brakes and speeds may get better."""
    refused = 0
    for excursion in random_plans(PLANS):
        varied = varied_train(excursion.train)
        found: set[str] = set()
        for number in (0, 1, 3, 9, 20):
            rules = refusing(replace(excursion, train=varied.at(number)), "clear")
            if rules & {"stall", "end of run"}:  # a run that ends on the way has no findings beyond
                refused += 1
                break
            assert found <= rules
            found = rules & WORSE_WITH_LOAD
            refused += len(found)
    assert refused >= PLANS


def test_a_better_rail_more_time_and_a_milder_verdict_never_take_load_away() -> None:
    def number(**changes: object) -> int:
        found = find_load(planned(**changes), LoadQuestion(conditions=False, verdict="tight")).whole.number
        return -1 if found is None else found

    rails = [number(rail=rail) for rail in ("frost", "greasy", "wet", "moist", "dry", "dry sanded")]
    assert rails == sorted(rails)
    assert rails[0] < rails[-1]

    def arriving(minutes: float) -> tuple[Stop, ...]:
        return (Stop(station="A"), Stop(station="B"), Stop(station="C", arrive=36000.0 + 60.0 * minutes))

    times = [number(stops=arriving(minutes)) for minutes in (14.0, 16.0, 19.0, 25.0)]
    assert times == sorted(times)
    clear = find_load(planned(), ALONE).whole.number
    assert clear is not None
    assert clear <= number()


def test_a_helper_adds_load() -> None:
    alone = find_load(planned(), ALONE).whole.number or 0
    helped = planned(helpers=(Helper(locomotive=trials.locomotive(), place="front"),))
    with_helper = find_load(helped, ALONE).whole.number or 0
    assert with_helper > 1.5 * alone


def test_by_mass_the_answer_lies_between_the_whole_cars() -> None:
    cars = find_load(planned(), LoadQuestion(conditions=False, verdict="tight"))
    assert cars.whole.number is not None
    assert cars.whole.mass is not None
    same = planned(cars.whole.number)
    by_mass = find_load(same, LoadQuestion(conditions=False, verdict="tight", by_mass=True))
    assert by_mass.whole.mass is not None
    coach = trials.coaches(1).mass
    # The same cars loaded heavier have less resistance for their mass than more cars, so the answer may be larger.
    assert cars.whole.mass - 1000.0 <= by_mass.whole.mass < cars.whole.mass + 1.6 * coach
    assert accepted(verdict_of(with_cars(same, by_mass, by_mass.whole.number or 0)), "tight")


def test_varying_the_mass_keeps_the_cars_and_meets_the_mass() -> None:
    loaded = Vehicle(name="hopper", count=3, empty_mass=2e4, load=3e4, length=11.0, kind="freight_car")
    empty = Vehicle(name="tank", count=2, empty_mass=1.8e4, load=1e3, length=11.0, kind="freight_car")
    train = trials.train(loaded, empty)
    varied = varied_train(train, by_mass=True, step=500.0)
    assert varied.at(varied.as_described).mass == pytest.approx(train.mass, abs=500.0)
    for number in (0, 3, 40, 400):
        made = varied.at(number)
        assert made.mass == pytest.approx(3 * 2e4 + 2 * 1.8e4 + number * 500.0)
        assert [v.count for v in made.vehicles] == [3, 2]
        assert all(v.load >= 0.0 for v in made.vehicles)


def test_steady_surplus_is_what_a_run_at_constant_pressure_has_left() -> None:
    excursion = planned(12)
    performance = compute_excursion_performance(excursion)
    journey, prepared = (
        run_journey(excursion, performance),
        prepare(excursion, performance),
    )  # constant pressure
    pulled = np.flatnonzero(np.isin(journey.limit, (1, 3)) & (journey.speed[:-1] > 8.0))
    assert len(pulled) > 20
    for step in pulled[::10].tolist():
        speed = 0.5 * float(journey.speed[step] + journey.speed[step + 1])
        surplus = float(steady_surplus(prepared, speed)[step])
        ran = float(journey.effort[step] - journey.total_resistance[step])
        assert surplus == pytest.approx(ran, abs=0.02 * float(journey.effort[step]))


def test_momentum_adds_load_and_the_entry_speed_is_the_one_that_just_suffices() -> None:
    line = trials.line([(6000.0, -0.002), (3000.0, 0.010), (3000.0, 0.0)], speed_limit=22.0)
    rating = find_load(trials.excursion(line), LoadQuestion(conditions=False, verdict="tight"))
    assert rating.whole.limit is not None
    assert rating.whole.limit.rule == "climb"
    assert rating.without_momentum is not None
    assert rating.whole.number is not None
    assert rating.without_momentum < rating.whole.number
    (grade,) = rating.momentum
    assert grade.entry == pytest.approx(7000.0, abs=300.0)
    # With the largest load hardly any speed is to spare: it has what it needs, and one car more has not.
    assert grade.required <= grade.speed < 1.1 * grade.required
    limited = replace(
        trials.excursion(line), train=rating.whole.train, crew=Crew(max_speed=0.95 * grade.required)
    )
    assert verdict_of(limited) == STOP


def test_the_entry_speed_is_that_of_the_trade_formula_for_the_rise_not_pulled() -> None:
    """[Webb1906] § 124: speed left after a rise. The rise counted is what steady pull leaves over, step by step."""
    line = trials.line([(6000.0, -0.002), (3000.0, 0.010), (3000.0, 0.0)], speed_limit=22.0)
    asked = trials.excursion(line)
    rating = find_load(asked, LoadQuestion(conditions=False, verdict="tight"))
    (grade,) = rating.momentum
    assert rating.whole.check is not None
    journey = rating.whole.check.runs.full_effort
    prepared = prepare(journey.excursion, journey.performance)
    contents = prepared.start.tender_water + prepared.start.tender_fuel
    mass = prepared.load.mass + contents
    foot, top = (int(np.argmin(np.abs(prepared.chainage - at))) for at in (grade.entry, grade.end))
    energy = 0.5 * grade.required**2
    rise = 0.0
    for step in range(foot, top):
        left = steady_surplus(prepared, float(np.sqrt(2.0 * energy)))[step] * float(
            np.diff(prepared.chainage)[step]
        )
        rise -= left / (mass * 9.80665)
        energy = max(energy + left / (mass + prepared.load.rotating), 0.5)
    least = asked.criteria.min_climbing_speed
    share = prepared.load.rotating / mass
    assert speed_after_rise(speed=grade.required, rise=rise, rotating_mass_fraction=share) == pytest.approx(
        least, rel=0.1
    )


def test_conditions_and_sections_have_their_own_loads() -> None:
    rating = find_load(planned(), LoadQuestion(verdict="tight", rails=("wet", "frost")))
    number = {load.name: load.number or 0 for load in (*rating.sections, *rating.conditions)}
    whole = rating.whole.number or 0
    assert [load.name for load in rating.sections] == ["A to B", "B to C"]
    assert number["frost rail"] < number["wet rail"] < whole
    assert number["one injector failed"] <= whole
    ruling = rating.ruling_section
    assert ruling is not None
    assert number[ruling.name] == min(number["A to B"], number["B to C"])
    for load, change in ((rating.conditions[0], {"rail": "wet"}), (rating.conditions[1], {"rail": "frost"})):
        assert load.number is not None
        changed = planned(**change)
        assert accepted(verdict_of(with_cars(changed, rating, load.number)), "tight")
        assert not accepted(verdict_of(with_cars(changed, rating, load.number + 1)), "tight")


def test_no_load_at_all_names_what_stops_the_light_train() -> None:
    rating = find_load(planned(initial_water=0.02), LoadQuestion(conditions=False))
    assert rating.whole.number is None
    assert rating.whole.limit is not None
    assert rating.whole.limit.rule in ("water", "end of run")


@pytest.mark.parametrize("most", [0, 1, 5, 64])
def test_the_last_that_holds_is_found_from_any_guess(most: int) -> None:
    for last in range(-1, most + 1):
        for guess in range(most + 1):
            found = last_that(lambda number, last=last: one(last - number + 0.5), guess, most)  # type: ignore[misc]
            assert found == (last if last >= 0 else None)


@pytest.mark.parametrize("decoy", [0.0, 1e-6, 0.5])
@pytest.mark.parametrize(("guess", "last"), [(3, 1900), (1900, 3), (40, 75), (75, 40)])
def test_few_numbers_are_tried_on_the_way_to_the_last_that_holds(guess: int, last: int, decoy: float) -> None:
    """Also where something else has ever less to spare, in ever smaller steps, but never lacks."""
    tried = []

    def spare(number: int) -> Spare:
        tried.append(number)
        return {"one": (last - number + 0.5) / 100.0, "other": decoy * 0.99**number}

    assert last_that(spare, guess, 2000) == last
    assert len(set(tried)) <= 14


def test_a_check_in_parts_is_the_whole_check_in_whatever_order_the_parts_are_asked_for() -> None:
    for asked in (planned(6), planned(60)):
        whole = run_and_check(asked)
        performance = compute_excursion_performance(asked)
        for order in (PARTS, PARTS[::-1], ()):
            parts = PartialCheck(asked, performance)
            found = [finding for part in order for finding in parts.findings(part)]
            assert parts.check().findings == whole.findings
            assert {f.rule for f in found} == ({f.rule for f in whole.findings} if order else set())


def one(slack: float) -> Spare:
    return {"one": slack}


@pytest.mark.parametrize("shape", ["line", "cliff", "kink", "one beside"])
@pytest.mark.parametrize("last", [0, 1, 17, 246, 713, 1998])
def test_the_last_between_is_found_in_few_steps_whatever_the_margins_do(shape: str, last: int) -> None:
    shapes = {
        "line": lambda number: one((last - number + 0.5) / 100.0),
        "cliff": lambda number: one(1e-9 if number <= last else -10.0),
        "kink": lambda number: one(0.001 * (last - number) if number <= last else -((number - last) ** 2.0)),
        "one beside": lambda number: {"other": 0.0, "one": (last - number + 0.5) / 100.0},
    }
    tried = []

    def spare(number: int) -> Spare:
        tried.append(number)
        return shapes[shape](number)

    assert last_between(spare, 0, 1999) == last
    assert len(tried) <= 2 + 2 * 11  # two steps for each halving of 2,000
    if shape in ("line", "one beside"):
        assert len(tried) <= 6


@pytest.mark.parametrize(
    ("question", "match"),
    [
        (LoadQuestion(vehicle="coch"), "did you mean 'coach'"),
        (LoadQuestion(verdict="fine"), "must be one of clear, tight"),
        (LoadQuestion(by_mass=True, mass_step=0.0), "mass_step"),
        (LoadQuestion(mass_step=500.0), "mass_step has no effect"),
        (LoadQuestion(rails=("muddy",)), "rail must be one of"),
        (LoadQuestion(temperatures=(10.0,)), "temperature"),
    ],
)
def test_what_a_user_may_get_wrong(question: LoadQuestion, match: str) -> None:
    with pytest.raises(OutOfRange, match=match):
        find_load(planned(), question)


def test_a_light_engine_has_no_load_to_vary() -> None:
    light = replace(planned(), train=replace(planned().train, vehicles=()))
    with pytest.raises(OutOfRange, match="has no cars"):
        find_load(light)


def test_poor_coal_stands_in_only_where_no_heating_value_is_asked() -> None:
    def fuels(question: LoadQuestion) -> list[float]:
        asked = [c.change.excursion for c in conditions_of(planned(), question)]
        values = [e.fuel.heating_value for e in asked if e is not None]
        return [value for value in values if value != planned().fuel.heating_value]

    assert len(fuels(LoadQuestion())) == 1
    assert fuels(LoadQuestion(heating_values=(25e6, 27e6))) == [25e6, 27e6]
