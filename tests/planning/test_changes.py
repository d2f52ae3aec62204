"""Changes that may help a finding, amount by amount, against what they are defined to be."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials
from made_findings import found

from locosim.engine.rated_effort import rated_effort
from locosim.model import Assumptions, Crew, Diesel, Excursion, Helper, Station, Stop
from locosim.planning import changes
from locosim.planning.changes import Trial, changed_excursion, ladders
from locosim.planning.finding import (
    CLEAR,
    NOTE,
    Finding,
)

MPH = 0.44704
LINE = trials.line([(4000.0, 0.0), (4000.0, 0.008), (4000.0, 0.0)], stops=(3000.0, 6000.0, 9000.0))
CARS = trials.train(
    trials.coaches(3, name="rear car"),
    trials.coaches(2, name="water car", kind="water_car", people=0, water=20.0),
    trials.coaches(2, name="last car", people=0, load=5e3),
)


def plan(**changes: Any) -> Excursion:
    """Five stations; a stop at each, and times booked from C on."""
    stops = (
        Stop(station="A"),
        Stop(station="B", dwell=120.0),
        Stop(station="C", arrive=37000.0, depart=37300.0, dwell=60.0),
        Stop(station="D", depart=38000.0),
        Stop(station="E", arrive=39000.0),
    )
    asked = trials.excursion(LINE, made_of=CARS, stops=stops, departure=36000.0, rail="wet")
    return replace(asked, **changes)


def check(asked: Excursion, *findings: Finding, highest: float = 20.0) -> Any:
    booked = SimpleNamespace(excursion=asked, speed=np.array([0.0, 0.7 * highest, highest, 0.1 * highest]))
    return SimpleNamespace(runs=SimpleNamespace(booked=booked), findings=findings)


def trials_of(asked: Excursion, rule: str, kind: str, *findings: Finding, **more: Any) -> list[Trial]:
    (ladder,) = (
        each
        for each in ladders(check(asked, *findings, **more), rule)
        if each.size and each.trial(1).kind == kind
    )
    return [ladder.trial(number) for number in range(1, ladder.size + 1)]


EVERY = ("cars off",)
PULL = ("cars off", "helper")
TIMES = ("earlier departure", "later times")
KINDS = {
    "stall": (*PULL, "sanded rail"),
    "climb": (*PULL, "sanded rail"),
    "start": (*PULL, "sanded rail"),
    "adhesion": (*PULL, "sanded rail", *TIMES),
    "time": (*PULL, "sanded rail", *TIMES),
    "steam": (*PULL, *TIMES),
    "coupler": PULL,
    "pressure": (*PULL, "longer stop", "less steam"),
    "crown sheet": (*PULL, "longer stop", "less steam", "higher water", "gentler braking"),
    "water glass": (*PULL, "longer stop", "higher water"),
    "glass in braking": (*PULL, "gentler braking"),
    "water": (*EVERY, "less steam", "water stop"),
    "fuel": (*EVERY, "less steam"),
    "end of run": (*EVERY, "less steam", "water stop"),
    "curve speed": (*PULL, "slower running"),
    "driving-wheel speed": (*PULL, "slower running"),
    "piston speed": (*PULL, "slower running"),
    "stopping distance": (*PULL, "slower running"),
    "descending grade": (*PULL, "slower running"),
}


@pytest.mark.parametrize("rule", KINDS)
def test_the_kinds_of_change_for_each_rule(rule: str) -> None:
    made = ladders(check(plan(), found(rule, chainage=6500.0)), rule)
    assert tuple(each.trial(1).kind for each in made) == KINDS[rule]
    for each in made:
        rises = each.trial(1).kind in ("cars off", "sanded rail", *TIMES, "longer stop")
        assert each.rising == rises, each.trial(1).kind


def test_cars_come_off_the_rear_and_water_cars_stay() -> None:
    made = trials_of(plan(), "water", "cars off")
    assert [each.amount for each in made] == [1, 2, 3, 4, 5]
    assert [each.change for each in made[:2]] == ["1 car off ({off})", "2 cars off ({off})"]
    counts = [[(v.name, v.count) for v in each.excursion.train.vehicles] for each in made]
    assert counts == [
        [("rear car", 3), ("water car", 2), ("last car", 1)],
        [("rear car", 3), ("water car", 2)],
        [("rear car", 2), ("water car", 2)],
        [("rear car", 1), ("water car", 2)],
        [("water car", 2)],
    ]
    last, rear = CARS.vehicles[2].mass, CARS.vehicles[0].mass
    off = [each.facts["off"] for each in made]
    assert [kind for _, kind in off] == ["mass"] * 5
    masses = [last, 2 * last, 2 * last + rear, 2 * last + 2 * rear, 2 * last + 3 * rear]
    assert [mass for mass, _ in off] == pytest.approx(masses)
    dead = trials.train(trials.coaches(2), trials.coaches(1, name="dead", kind="diesel", people=0))
    assert [v.name for v in trials_of(plan(train=dead), "water", "cars off")[1].excursion.train.vehicles] == [
        "dead"
    ]


def test_a_helper_is_tried_over_the_fewest_sections_from_the_first_on() -> None:
    made = trials_of(plan(), "stall", "helper")
    stretches = [(h.from_station, h.to_station) for each in made for h in each.excursion.helpers]
    assert ["".join(map(str, each)) for each in stretches] == [
        "AB", "BC", "CD", "DE", "AC", "BD", "CE", "AD", "BE", "AE",
    ]  # fmt: skip
    assert {each.amount for each in made} == {1.0}
    pull = rated_effort(trials.locomotive())
    assert made[4].change == "a helper like trial engine, rated {pull}, at the front from A to C"
    assert made[4].facts == {"pull": (pull, "force")}
    assert all(each.excursion.helpers[0].locomotive == trials.locomotive() for each in made)
    diesel = Diesel(name="D1", mass=90e3, length=17.0, rail_power=0.9e6, starting_tractive_effort=150e3)
    helper = Helper(diesel=diesel, place="rear", from_station="B", to_station="D")
    more = trials_of(plan(helpers=(helper,)), "stall", "helper")
    assert more[0].change == "one more helper like D1, rated {pull}, at the rear from A to B"
    assert more[0].facts == {"pull": (150e3, "force")}
    assert more[0].excursion.helpers == (helper, replace(helper, from_station="A", to_station="B"))


def test_the_rail_is_sanded_where_it_is_not() -> None:
    (made,) = trials_of(plan(), "stall", "sanded rail")
    assert (made.amount, made.change, made.facts) == (1.0, "sand on the rail (wet sanded)", {})
    assert made.excursion == plan(rail="wet sanded")
    kinds = [each.trial(1).kind for each in ladders(check(plan(rail="dry sanded")), "stall")]
    assert kinds == ["cars off", "helper"]


@pytest.mark.parametrize(("departure", "count"), [(36000.0, 60), (3600.0, 60), (1859.0, 30), (59.0, 0)])
def test_the_departure_is_earlier_by_whole_minutes_up_to_an_hour_of_the_same_day(
    departure: float, count: int
) -> None:
    ladder = next(
        each
        for each in ladders(check(plan(departure=departure)), "steam")
        if each.trial(1).kind == "earlier departure"
    )
    assert ladder.size == count
    made = ladder.trial(7)
    assert made.amount == 420.0
    assert made.change == "departure at {departure}, {earlier} earlier"
    assert made.facts == {"departure": (departure - 420.0, "clock"), "earlier": (420.0, "time")}
    assert made.excursion == plan(departure=departure - 420.0)


@pytest.mark.parametrize(
    ("place", "first"), [(None, 1), (1000.0, 1), (6999.0, 2), (7000.9, 2), (7001.1, 3), (1e6, 4)]
)
def test_times_are_put_back_from_the_stop_at_or_beyond_the_first_finding(
    place: float | None, first: int
) -> None:
    """A stands at 1 km, B at 4, C at 7, D at 10 and E at 13; within a meter of a stop is at it."""
    findings = (
        found("time", CLEAR, chainage=900.0), found("time", NOTE, chainage=900.0), found("steam", chainage=900.0),
        found("time", chainage=12000.0 if place is not None and place < 12000.0 else None),
        found("time", chainage=place),
    )  # fmt: skip
    if place == 1e6:
        findings = (found("time", chainage=place),)
    made = trials_of(plan(), "time", "later times", *findings)
    assert len(made) == 60
    shift = 180.0
    assert made[2].amount == shift
    assert made[2].facts == {"shift": (shift, "time")}
    assert made[2].change == f"booked times {{shift}} later from {'ABCDE'[first]} on"
    stops = list(plan().stops)
    for k in range(first, 5):
        arrive, depart = stops[k].arrive, stops[k].depart
        stops[k] = replace(
            stops[k],
            arrive=None if arrive is None else arrive + shift,
            depart=None if depart is None else depart + shift,
        )
    assert made[2].excursion == plan(stops=tuple(stops))


def test_a_finding_of_the_whole_train_puts_back_all_times_on_a_line_whose_mileposts_begin_below_zero() -> (
    None
):
    places = {"A": -9000.0, "B": -5000.0, "C": -1000.0}
    line = SimpleNamespace(station=lambda name: SimpleNamespace(chainage=places[name]))
    asked: Any = SimpleNamespace(route_as_run=line, stops=tuple(Stop(station=name) for name in places))
    assert changes._first_stop_beyond(check(asked, found("time")), "time") == 1
    assert changes._first_stop_beyond(check(asked, found("time", chainage=-4000.0)), "time") == 2


def test_where_no_time_is_booked_none_is_put_back() -> None:
    free = plan(stops=tuple(replace(stop, arrive=None, depart=None) for stop in plan().stops))
    kinds = [each.trial(1).kind for each in ladders(check(free, found("steam", chainage=5000.0)), "steam")]
    assert kinds == ["cars off", "helper", "earlier departure"]
    only_departure = replace(
        free, stops=(*free.stops[:3], replace(free.stops[3], depart=38000.0), free.stops[4])
    )
    assert trials_of(only_departure, "steam", "later times", found("steam", chainage=5000.0))


@pytest.mark.parametrize(("place", "before"), [(4500.0, 1), (7500.0, 2), (12000.0, 3)])
def test_the_last_stop_before_the_finding_is_longer_and_all_later_times_as_much(
    place: float, before: int
) -> None:
    made = trials_of(plan(), "pressure", "longer stop", found("pressure", chainage=place))
    assert len(made) == 60
    stops = list(plan().stops)
    stops[before] = replace(
        stops[before],
        dwell=stops[before].dwell + 300.0,
        depart=None if stops[before].depart is None else stops[before].depart + 300.0,  # type: ignore[operator]
    )
    for k in range(before + 1, 5):
        arrive, depart = stops[k].arrive, stops[k].depart
        stops[k] = replace(
            stops[k],
            arrive=None if arrive is None else arrive + 300.0,
            depart=None if depart is None else depart + 300.0,
        )
    assert made[4].excursion == plan(stops=tuple(stops))
    assert (made[4].amount, made[4].facts) == (300.0, {"shift": (300.0, "time")})
    name = "ABCDE"[before]
    assert made[4].change == f"stop at {name} {{shift}} longer, and booked times beyond it as much later"


def test_before_the_first_stop_on_the_way_nothing_can_stand_longer() -> None:
    kinds = [
        each.trial(1).kind for each in ladders(check(plan(), found("pressure", chainage=3900.0)), "pressure")
    ]
    assert kinds == ["cars off", "helper", "less steam"]


def test_less_steam_is_in_twentieths_of_the_allowance_down_to_half() -> None:
    made = trials_of(plan(crew=Crew(steam_allowance=0.8)), "fuel", "less steam")
    shares = [0.95, 0.9, 0.85, 0.8, 0.75, 0.7, 0.65, 0.6, 0.55, 0.5]
    assert [each.amount for each in made] == pytest.approx([0.8 * share for share in shares])
    assert [each.excursion.crew.steam_allowance for each in made] == [each.amount for each in made]
    assert made[0].change == "at most 76 % of the sustained evaporation used (crew.steam_allowance)"
    assert made[0].excursion == plan(crew=Crew(steam_allowance=made[0].amount))


def test_the_water_is_kept_higher_by_centimeters_and_is_known_then() -> None:
    made = trials_of(plan(), "water glass", "higher water")
    levels = [0.09, 0.10, 0.11, 0.12, 0.13, 0.14, 0.15, 0.16, 0.17, 0.18]
    assert [each.amount for each in made] == pytest.approx(levels)
    assert made[3].facts == {"level": (made[3].amount, "small_length")}
    assert {each.settles for each in made} == {"working_level_in_glass"}
    assert made[3].excursion == plan(assumptions=Assumptions(working_level_in_glass=made[3].amount))
    other = trials_of(plan(), "crown sheet", "gentler braking")
    assert {each.settles for each in other} == {""}


def test_braking_is_gentler_by_tenths_down_to_a_fifth() -> None:
    made = trials_of(plan(), "glass in braking", "gentler braking")
    assert [each.amount for each in made] == pytest.approx([0.25 * k / 10 for k in range(9, 1, -1)])
    for each in made:
        assert each.excursion.criteria.service_deceleration == each.amount
        assert each.facts == {"rate": (each.amount, "acceleration")}


@pytest.mark.parametrize(
    ("highest", "speeds"),
    [
        (10.0, [9, 8, 7, 6, 5, 4]),
        (10.3, [10, 9, 8, 7, 6, 5]),
        (10.0 + 0.95e-6, [9, 8, 7, 6, 5]),  # a millionth over a whole number is rounding
        (10.0 + 1.05e-6, [10, 9, 8, 7, 6, 5]),
        (1.0, []),
        (2.0, []),
        (3.5, [3, 2]),
        (30.0, range(29, 11, -1)),
    ],
)
def test_the_line_is_run_slower_by_whole_miles_an_hour_down_to_two_fifths(
    highest: float, speeds: list[int]
) -> None:
    ladder = ladders(check(plan(), highest=highest * MPH), "piston speed")[-1]
    made = [ladder.trial(number) for number in range(1, ladder.size + 1)]
    assert [each.amount for each in made] == pytest.approx([mph * MPH for mph in speeds])
    for each in made:
        assert each.excursion == plan(crew=Crew(max_speed=each.amount))
        assert each.facts == {"speed": (each.amount, "speed")}
        assert each.kind == "slower running"


def with_rates(*rates: float) -> Any:
    stations = zip(LINE.stations, rates, strict=True)
    return replace(LINE, stations=tuple(replace(station, water_rate=rate) for station, rate in stations))


def test_water_is_taken_at_one_place_or_two_between_the_first_stop_and_the_last() -> None:
    asked = plan(route=with_rates(0.1, 0.1, 0.0, 0.1, 0.1))
    asked = replace(asked, stops=tuple(stop for stop in asked.stops if stop.station != "B"))
    made = trials_of(asked, "water", "water stop")
    assert [(each.change, each.amount) for each in made] == [
        ("water taken at B", 1.0),
        ("water taken at D", 1.0),
        ("water taken at B and D", 2.0),
    ]
    taken = [[(stop.station, stop.take_water) for stop in each.excursion.stops] for each in made]
    assert taken[0] == [("A", "no"), ("B", "fill"), ("C", "no"), ("D", "no"), ("E", "no")]
    assert taken[1] == [("A", "no"), ("C", "no"), ("D", "fill"), ("E", "no")]
    assert taken[2] == [("A", "no"), ("B", "fill"), ("C", "no"), ("D", "fill"), ("E", "no")]
    assert made[1].excursion.stops[2] == replace(asked.stops[2], take_water="fill")
    assert made[0].excursion.stops[1] == Stop(station="B", take_water="fill")


def test_where_water_is_taken_already_it_is_not_tried_and_stops_without_are_kept() -> None:
    stops = [replace(stop, take_water="fill") if stop.station == "D" else stop for stop in plan().stops]
    made = trials_of(plan(stops=tuple(stops)), "end of run", "water stop")
    assert [each.change for each in made] == [
        "water taken at B", "water taken at C", "water taken at B and C",
    ]  # fmt: skip
    assert [stop.take_water for stop in made[2].excursion.stops] == ["no", "fill", "fill", "fill", "no"]
    backward = plan(direction="reverse", stops=(Stop(station="D"), Stop(station="B")))
    made = trials_of(backward, "water", "water stop")
    assert [[stop.station for stop in each.excursion.stops] for each in made] == [["D", "C", "B"]]


def test_a_change_is_found_again_by_its_words_and_amount() -> None:
    judged = check(plan(), found("crown sheet", chainage=7500.0))
    for ladder in ladders(judged, "crown sheet"):
        for number in (1, ladder.size):
            made = ladder.trial(number)
            assert changed_excursion(judged, "crown sheet", made.change, made.amount) == made.excursion
    with pytest.raises(LookupError, match="no change for water is 'less water'"):
        changed_excursion(judged, "water", "less water", 1.0)
    with pytest.raises(LookupError):
        changed_excursion(judged, "water", "1 car off ({off})", 2)


def test_a_station_without_a_rate_offers_no_water() -> None:
    dry = plan(route=with_rates(0.1, 0.0, 0.0, 0.0, 0.1))
    assert [each.trial(1).kind for each in ladders(check(dry), "water") if each.size] == [
        "cars off",
        "less steam",
    ]
    beyond = replace(LINE.stations[0], name="Z", chainage=500.0)
    assert isinstance(beyond, Station)
    outside = plan(route=replace(dry.route, stations=(beyond, *dry.route.stations)))
    assert not [
        each for each in ladders(check(outside), "water") if each.size and "water" in each.trial(1).kind
    ]
    assert math.isclose(beyond.water_rate, 0.05)
