"""Plans of water and fuel over a line on which both are used evenly: sets, gaps and stretches by plain arithmetic."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from itertools import combinations, pairwise, product
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import trials
from even_use import SPEED, STANDS, even_runs

from locosim.errors import OutOfRange
from locosim.model import Excursion, Stop
from locosim.model.route import MIN_STATION_DISTANCE
from locosim.planning import supply_plans, supply_stretches, water_stops
from locosim.planning.finding import (
    WHOLE_LINE,
    Comparison,
    Explanation,
    VerdictScale,
    judge,
)
from locosim.planning.supply_plans import run_plan, supply_places, with_supplies
from locosim.planning.water_stops import LARGE_TENDER, car_like_tender, plan_water_stops

WATER, FUEL = 0.1, 0.05  # [kg/m]
LENGTH = 60000.0
CALLS = {"run": 0}  # plans run in a test


def line(at: list[float], offers: list[str]) -> Any:
    """Stations at some kilometers from the first, each with some of water `w` and fuel `f`."""
    route = trials.line([(LENGTH, 0.0)], stops=[1000.0 * km for km in at])
    rates = ["", *offers, ""]
    stations = tuple(
        replace(s, water_rate=0.05 if "w" in offer else 0.0, fuel_rate=8.0 if "f" in offer else 0.0)
        for s, offer in zip(route.stations, rates, strict=True)
    )
    return replace(route, stations=stations)


def asked(route: Any, *, water: float, fuel: float, stops: str | None = None, **changes: Any) -> Excursion:
    """A run with a tender of some water and fuel [t], of which 15 % are a reserve."""
    engine = trials.locomotive()
    engine = replace(engine, tender=replace(engine.tender, water_capacity=water, fuel_capacity=1000.0 * fuel))
    names = stops or f"A{route.stations[-1].name}"
    made = trials.excursion(route, engine=engine, made_of=trials.train(trials.coaches(2)))
    return replace(made, stops=tuple(Stop(station=name) for name in names), **changes)


@pytest.fixture
def even(monkeypatch: pytest.MonkeyPatch) -> None:
    run = even_runs(WATER, FUEL)
    CALLS["run"] = 0

    def counted(excursion: Any, performance: Any, **begin: Any) -> Any:
        CALLS["run"] += 1
        return run(excursion, performance, **begin)

    monkeypatch.setattr(supply_plans, "run_to_timetable", counted)
    for module in (water_stops, supply_stretches):
        monkeypatch.setattr(module, "run_with_endless_supplies", even_runs(WATER, FUEL, endless=True))
    monkeypatch.setattr(water_stops, "compute_excursion_performance", lambda excursion: None)
    monkeypatch.setattr(
        water_stops, "check_excursion", lambda excursion, **wanted: ("checked", excursion, wanted)
    )


def lasts(at: list[float], filled: list[float], usable: float, use: float) -> bool:
    """Whether a tank lasts from the start over places where it is filled to the end."""
    points = [0.0, *filled, LENGTH]
    return all(use * (b - a) <= usable + 1e-9 for a, b in pairwise(points))


def keeps(at: list[float], taken: dict[int, str], water: float, fuel: float) -> bool:
    filled = {what: [1000.0 * at[k] for k in sorted(taken) if what in taken[k]] for what in ("w", "f")}
    return lasts(at, filled["w"], 850.0 * water, WATER) and lasts(at, filled["f"], 850.0 * fuel, FUEL)


Choice = tuple[int, int, int, tuple[str, ...]]


def smallest_sets(
    excursion: Excursion, at: list[float], offers: list[str], *, least: int = 0
) -> tuple[int, list[Choice]]:
    """The fewest stops that keep the reserves, and each set of so many: new stops, arrival, fillings and names."""
    tender = excursion.locomotive.tender
    called = {stop.station for stop in excursion.stops[1:-1]}
    for size in range(least, len(at) + 1):
        found: list[Choice] = []
        for chosen in combinations(range(len(at)), size):
            ways = product(*(("w", "f", "wf") if offers[k] == "wf" else (offers[k],) for k in chosen))
            fillings = [
                sum(map(len, taken))
                for taken in ways
                if keeps(
                    at,
                    dict(zip(chosen, taken, strict=True)),
                    tender.water_capacity,
                    tender.fuel_capacity / 1e3,
                )
            ]
            names = tuple("BCDEF"[k] for k in chosen)
            if fillings:
                stops = len({*called, *names})
                arrival = round(excursion.departure + LENGTH / SPEED + STANDS * stops)
                found.append((len(set(names) - called), arrival, min(fillings), names))
        if found:
            return size, sorted(found)
    return -1, []


def order(plan: Any) -> tuple[int, int, int]:
    return plan.new_stops, round(plan.arrival), plan.takings


@pytest.mark.usefixtures("even")
def test_the_least_set_its_runner_up_and_what_was_refused_are_those_of_a_count_of_all() -> None:
    sizes = set()
    for seed in range(14):
        draw = random.Random(seed)
        count = draw.randint(1, 5)
        at = [float(km) for km in sorted(draw.sample(range(2, 59), count))]
        offers = [draw.choice(("w", "f", "wf", "wf")) for _ in at]
        water, fuel = draw.choice((1.7, 2.5, 4.0, 8.0)), draw.choice((0.9, 1.5, 4.0))
        names = "ABCDEFG"[: count + 2]
        called = [name for name in names[1:-1] if draw.random() < 0.4]
        excursion = asked(line(at, offers), water=water, fuel=fuel, stops="".join(["A", *called, names[-1]]))
        found = plan_water_stops(excursion)
        size, sets = smallest_sets(excursion, at, offers)
        sizes.add(size)
        if len(sets) == 1:
            _, more = smallest_sets(excursion, at, offers, least=size + 1)
            others = [
                each for each in more if not set(sets[0][3]) <= set(each[3]) and len(each[3]) == size + 1
            ]
            runner_up = found.least.runner_up
            assert (None if runner_up is None else order(runner_up)) == (others[0][:3] if others else None)
        _check_least(found, size, sets, count)
        if sets:
            assert found.least.best is not None
            assert found.answer == (
                "checked", found.least.best.excursion, {"contingencies": False, "remedies": False}
            )  # fmt: skip
            new = len(found.least.best.excursion.stops) - len(excursion.stops)
            assert found.cost == pytest.approx(STANDS * new)
    assert {-1, 0, 1, 2} <= sizes


def _check_least(found: Any, size: int, sets: list[Choice], count: int) -> None:
    least = found.least
    margins = [each.finding.margin for each in least.refused]
    assert margins == sorted(margins, reverse=True)
    assert (least.left_out, least.untried, least.capped) == (0, 0, False)
    if not sets:
        assert (least.best, found.answer, found.cost, found.confirmed) == (None, None, 0.0, False)
        assert len(least.refused) == 2**count
        assert found.gaps
        return
    assert order(least.best) == sets[0][:3]
    assert least.best.stations in [each[3] for each in sets if each[:3] == sets[0][:3]]
    assert all(len(each.stations) < size for each in least.refused)
    assert len(least.refused) == sum(math.comb(count, k) for k in range(size))
    assert found.gaps == ()
    assert least.fewest_by_reach <= size
    if len(sets) > 1:
        assert order(least.runner_up) == sets[1][:3]


@pytest.mark.usefixtures("even")
def test_a_stop_that_is_made_anyhow_comes_before_one_more() -> None:
    found = plan_water_stops(asked(line([28.0, 32.0], ["w", "w"]), water=4.0, fuel=9.0, stops="ACD"))
    assert found.least.best is not None
    assert found.least.runner_up is not None
    assert (found.least.best.stations, found.least.runner_up.stations) == (("C",), ("B",))


@pytest.mark.usefixtures("even")
def test_of_ways_to_fill_as_often_that_with_less_fuel_is_chosen() -> None:
    excursion = asked(line([30.0], ["wf"]), water=30.0, fuel=30.0)
    places = supply_places(excursion)
    journey = even_runs(WATER, FUEL, endless=True)(with_supplies(excursion, {}), None)
    trials_ = water_stops._Trials(excursion, None, places, journey)  # type: ignore[arg-type]
    assert list(trials_.best_of((0,)).stops[0].takings) == ["water"]
    assert trials_.best_of(()).stations == ()


@pytest.mark.parametrize("use", [None, 1.0])
def test_the_reach_begins_with_what_the_tanks_have_and_goes_on_with_full_ones(use: float | None) -> None:
    """A tank of 4 t at 0.6 and fuel of 2 t at 0.8, each with 15 % in reserve; places at 20, 30 and 40 km."""
    excursion = asked(
        line([20.0, 30.0, 40.0], ["w", "wf", "f"]),
        water=4.0,
        fuel=2.0,
        stops="ACE",
        initial_water=0.6,
        initial_fuel=0.8,
    )
    journey = even_runs(WATER, FUEL, endless=True)(with_supplies(excursion, {}), None)
    places = supply_places(excursion)
    more = {} if use is None else {"use": use}
    water, fuel = water_stops.reach_of(journey, places, **more).tanks
    assert (water.first, water.full) == pytest.approx((2400.0 - 600.0, 4000.0 - 600.0))
    assert (fuel.first, fuel.full) == pytest.approx((1600.0 - 300.0, 2000.0 - 300.0))
    share = use or 0.9
    assert water.used == pytest.approx([share * 0.1 * at for at in (20e3, 30e3, 40e3, 60e3)])
    assert fuel.used == pytest.approx([share * 0.05 * at for at in (20e3, 30e3, 40e3, 60e3)])
    assert (tuple(water.offered), tuple(fuel.offered)) == ((True, True, False), (False, True, True))


@pytest.mark.usefixtures("even")
def test_twelve_ways_to_fill_at_a_set_are_run_before_all_of_both(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three places with both have 27 ways; those with the fewest fillings come first, and less fuel before more."""
    excursion = asked(line([15.0, 30.0, 45.0], ["wf", "wf", "wf"]), water=30.0, fuel=30.0)
    places = supply_places(excursion)
    journey = even_runs(WATER, FUEL, endless=True)(with_supplies(excursion, {}), None)
    ran: list[Any] = []
    for keeps, runs in ((13, 13), (11, 12), (0, 1)):
        trials_ = water_stops._Trials(excursion, None, places, journey)  # type: ignore[arg-type]
        ran.clear()

        def run(chosen: Any, way: Any, keeps: int = keeps) -> Any:
            ran.append(way)
            return SimpleNamespace(keeps=len(ran) == keeps + 1)

        monkeypatch.setattr(trials_, "_may_suffice", lambda chosen, way: True)
        monkeypatch.setattr(trials_, "_run", run)
        trials_.best_of((0, 1, 2))
        assert len(ran) == runs
        fillings = [(sum(map(len, way)), sum("fuel" in each for each in way)) for way in ran[:12]]
        assert fillings == sorted(fillings)
        assert ran[0] == (("water",), ("water",), ("water",))
        assert (ran[-1] == (("water", "fuel"),) * 3) == (runs == 13)


@pytest.mark.usefixtures("even")
def test_on_a_line_with_many_places_only_what_nine_tenths_of_the_use_permit_is_run() -> None:
    at = [4.0 * k for k in range(1, 15)]
    excursion = asked(line(at, ["w"] * 14), water=1.36, fuel=9.0)  # 1,156 kg to use: 11.6 km
    found = plan_water_stops(excursion)
    least = found.least
    assert least.best is not None
    # Every 8 km: 7 stops. By nine tenths of the use a tank lasts 12.8 km, over three places: 4 stops.
    assert (len(least.best.stops), least.fewest_by_reach) == (7, 4)
    run = len(least.refused)
    assert run + least.left_out + least.untried == sum(math.comb(14, k) for k in range(7))
    # 1 + 14 sets are run and refused; 91 more would be too many, of which the reach permits none, nor any of three.
    assert [len(r.stations) for r in least.refused].count(0) == 1
    assert [len(r.stations) for r in least.refused].count(1) == 14
    assert [len(r.stations) for r in least.refused].count(2) == 0
    assert sum(1 for _ in _permitted_sets_of_seven()) > 60
    assert least.capped


@pytest.mark.parametrize(
    ("count", "limit", "proven"), [(14, 11.0, False), (14, 10.0, True), (20, 13.6, False), (20, 12.0, True)]
)
@pytest.mark.usefixtures("even")
def test_of_smaller_sets_those_permitted_and_not_run_are_counted_apart(
    count: int, limit: float, proven: bool
) -> None:
    """A tank lasts so many kilometers; the reach permits nine tenths of the use, so a ninth more of them."""
    at = [60.0 * k / (count + 1) for k in range(1, count + 1)]
    excursion = asked(line_of(at), water=0.1 * limit / 0.85, fuel=9.0)
    least = water_stops._search(excursion, None, supply_places(excursion))  # type: ignore[arg-type]
    assert least.best is not None
    left_out = untried = 0
    run = 0
    for size in range(len(least.best.stops)):
        total = math.comb(count, size)
        if run + total <= 60:
            run += total
            continue
        permitted = sum(
            lasts(at, [1000.0 * km for km in c], 1e2 * limit / 0.9, WATER) for c in combinations(at, size)
        )
        run += min(permitted, 60)
        left_out += total - permitted
        untried += max(permitted - 60, 0)
    assert (len(least.refused), least.left_out, least.untried) == (run, left_out, untried)
    assert least.proven == (untried == 0) == proven


@pytest.mark.parametrize(("count", "capped"), [(29, True), (19, True), (16, False)])
@pytest.mark.usefixtures("even")
def test_of_more_than_sixty_sets_of_a_size_only_the_first_are_compared(count: int, capped: bool) -> None:
    """One stop does not suffice, by 29 km of 60; two do in many ways, in still more by nine tenths of the use."""
    at = [60.0 * k / (count + 1) for k in range(1, count + 1)]
    least = plan_water_stops(asked(line_of(at), water=2.9 / 0.85, fuel=9.0)).least
    limit = 29.0 / 0.9
    ways = [(a, b) for a, b in combinations(at, 2) if a <= limit and b - a <= limit and 60.0 - b <= limit]
    assert (len(ways) > 60) == capped
    assert least.best is not None
    assert (len(least.best.stops), least.capped) == (2, capped)


def line_of(at: list[float]) -> Any:
    """Many places with water, by number."""
    route = line([], [])
    first, last = route.stations
    places = [
        replace(first, name=f"place {k}", chainage=1000.0 + 1000.0 * km, water_rate=0.05)
        for k, km in enumerate(at)
    ]
    return replace(route, stations=(first, *places, last))


@pytest.mark.parametrize(("count", "all_run"), [(59, True), (60, False)])
@pytest.mark.usefixtures("even")
def test_sixty_smaller_sets_are_each_run_and_no_more(count: int, all_run: bool) -> None:
    """None, and each single place: of these only that near the middle is no more than 30.9 km from both ends."""
    at = [60.0 * k / (count + 1) for k in range(1, count + 1)]
    excursion = asked(line_of(at), water=3.09 / 0.85, fuel=9.0)
    least = water_stops._search(excursion, None, supply_places(excursion), runner_up=False)  # type: ignore[arg-type]
    assert least.best is not None
    assert len(least.best.stops) == 1
    assert (least.left_out == 0, least.runner_up is None) == (True, sum(29.1 <= km <= 30.9 for km in at) == 1)
    near = sum(29.1 <= km <= 30.9 for km in at)
    permitted = sum(60.0 - 30.9 / 0.9 <= km <= 30.9 / 0.9 for km in at)
    ran = CALLS["run"]
    assert ran == (1 + count if all_run else 1 + permitted), near


def _permitted_sets_of_seven() -> Any:
    for chosen in combinations(range(1, 15), 7):
        points = [0, *chosen, 15]
        if all(b - a <= 3 for a, b in pairwise(points)):
            yield chosen


@pytest.mark.usefixtures("even")
def test_a_train_that_does_not_arrive_is_answered_by_the_check(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(water_stops, "run_with_endless_supplies", even_runs(WATER, FUEL, arrives=False))
    with pytest.raises(OutOfRange, match="whatever water and fuel it takes: stalled, A; run"):
        plan_water_stops(asked(line([30.0], ["w"]), water=9.0, fuel=9.0))


def finding(rule: str, verdict: str) -> Any:
    made = judge(
        rule,
        Comparison(0.0, 1.0, "water", 0.0),
        WHOLE_LINE,
        VerdictScale(),
        Explanation(because="", remedy=""),
    )
    return replace(made, verdict=verdict)


@pytest.mark.parametrize(
    ("rule", "verdict", "confirmed"),
    [("water", "stop", False), ("fuel", "stop", False), ("end of run", "stop", False), ("water", "tight", True),
     ("climb", "stop", True)],
)  # fmt: skip
@pytest.mark.usefixtures("even")
def test_a_set_is_confirmed_by_the_rules_of_supplies_alone(rule: str, verdict: str, confirmed: bool) -> None:
    found = plan_water_stops(asked(line([30.0], ["w"]), water=9.0, fuel=9.0))
    answer: Any = SimpleNamespace(findings=(finding("water", "clear"), finding(rule, verdict)))
    assert replace(found, answer=answer).confirmed == confirmed
    assert not replace(found, answer=None).confirmed
    assert found.cost == 0.0
    assert found.least.best is not None
    assert found.least.best.stations == ()


@pytest.mark.usefixtures("even")
def test_the_water_car_is_put_on_in_front_or_all_are_taken_off() -> None:
    route = line([20.0, 40.0], ["w", "w"])
    without = asked(route, water=3.0, fuel=9.0)
    put_on = plan_water_stops(without).water_car
    tender = without.locomotive.tender
    assert (put_on.put_on, put_on.water, put_on.stalls) == (True, 3000.0, False)
    assert put_on.mass == pytest.approx(tender.empty_mass + 3000.0)
    assert put_on.plan is not None
    assert put_on.plan.excursion.train.vehicles == (car_like_tender(without), *without.train.vehicles)
    assert len(put_on.plan.stops) == 1  # 6 t last 51 km
    cars = trials.coaches(8, name="tank", kind="water_car", people=0, water=0.75, empty_mass=9e3)
    with_cars = replace(without, train=trials.train(cars, *without.train.vehicles))
    off = plan_water_stops(with_cars).water_car
    assert (off.put_on, off.water, off.mass) == (False, 6000.0, pytest.approx(78e3))
    assert off.plan is not None
    assert off.plan.excursion.train.vehicles == without.train.vehicles
    assert len(off.plan.stops) == 2


def test_a_train_that_stalls_with_the_car_is_said_to(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*asked: Any, **more: Any) -> Any:
        raise OutOfRange("does not arrive")

    monkeypatch.setattr(water_stops, "_search", refuse)
    effect = water_stops._water_car_effect(asked(line([], []), water=3.0, fuel=9.0), None, ())  # type: ignore[arg-type]
    assert (effect.plan, effect.stalls, effect.put_on) == (None, True, True)


def test_a_car_made_of_the_tender_or_of_a_tank_engines_water() -> None:
    made = asked(line([], []), water=3.0, fuel=9.0)
    tender = made.locomotive.tender
    car = car_like_tender(made)
    assert (car.kind, car.water, car.empty_mass) == ("water_car", 3.0, tender.empty_mass)
    assert (car.axles, car.length, car.braking_ratio) == (4, tender.length, tender.braking_ratio)
    assert (car.resistance_law, car.custom_resistance) == ("davis_1926_freight", None)

    def tank(water: float) -> Any:
        bare = replace(tender, empty_mass=0.0, axles=0, length=0.0, water_capacity=water)
        return car_like_tender(replace(made, locomotive=replace(made.locomotive, tender=bare)))

    small, large = tank(4.0), tank(15.0)
    assert (small.empty_mass, small.axles, small.length) == (4000.0, 2, 8.0)
    assert large.empty_mass == LARGE_TENDER == 10000.0


# Where places are too far apart


def expected_gap(
    start: float, end: float, first: float, usable: float, use: float
) -> list[tuple[float, float]]:
    """Earliest and latest place of each stop over the steps of 100 m, as chainages."""
    latest: list[float] = []
    while use * (end - (latest[-1] if latest else start)) > (usable if latest else first) + 1e-9:
        reach = (latest[-1] if latest else start) + (usable if latest else first) / use
        latest.append(100.0 * math.floor(reach / 100.0 + 1e-9))
    earliest, beyond = [], end
    for _ in latest:
        earliest.insert(0, 100.0 * math.ceil((beyond - usable / use) / 100.0 - 1e-9))
        beyond = earliest[0]
    return list(zip(earliest, latest, strict=True))


@pytest.mark.parametrize("direction", ["forward", "reverse"])
@pytest.mark.parametrize(
    ("water", "fuel", "at", "offers", "gaps"),
    [
        (4.03, 9.0, [20.0, 40.0], ["", ""], [("water", 0, 3)]),  # 34.25 km of 60
        (2.01, 9.0, [20.0, 40.0], ["", ""], [("water", 0, 3)]),  # 17.1 km: three stops
        (1.51, 9.0, [25.0], ["w"], [("water", 0, 1), ("water", 1, 2)]),  # 12.8 km: 25 and 35 km
        (9.0, 1.49, [20.0, 40.0], ["w", "w"], [("fuel", 0, 3)]),  # 25.3 km
        (3.03, 1.49, [30.0], ["w"], [("water", 0, 1), ("water", 1, 2), ("fuel", 0, 2)]),
        (9.0, 9.0, [30.0], ["wf"], []),
        (3.53, 9.0, [30.0], ["w"], []),  # 30.005 km just last
    ],
)
@pytest.mark.usefixtures("even")
def test_the_stretches_of_each_gap_are_those_of_even_use(
    direction: str, water: float, fuel: float, at: list[float], offers: list[str], gaps: list[Any]
) -> None:
    if direction == "reverse":
        at, offers = [60.0 - km for km in reversed(at)], list(reversed(offers))
    route = line(at, offers)
    asked_for = asked(route, water=water, fuel=fuel)
    if direction == "reverse":
        asked_for = replace(asked_for, direction=direction, stops=tuple(reversed(asked_for.stops)))
    found = supply_stretches.find_gaps(asked_for, None, supply_places(asked_for))  # type: ignore[arg-type]
    along = asked_for.route_as_run
    stations = along.stations
    places = {
        "water": [stations[0], *(s for s in stations[1:-1] if s.water_rate), stations[-1]],
        "fuel": [stations[0], *(s for s in stations[1:-1] if s.fuel_rate), stations[-1]],
    }
    assert [gap.supply for gap in found] == [supply for supply, _, _ in gaps]
    for gap, (supply, number, _) in zip(found, gaps, strict=True):
        capacity, use = (1000.0 * water, WATER) if supply == "water" else (1000.0 * fuel, FUEL)
        a = places[supply][number]
        b = places[supply][number + 1]
        assert (gap.start, gap.end) == (a.name, b.name)
        assert gap.short == pytest.approx(use * (b.chainage - a.chainage) - 0.85 * capacity)
        expected = expected_gap(a.chainage, b.chainage, 0.85 * capacity, 0.85 * capacity, use)
        total = route.start + route.end
        as_line = [(e, x) if direction == "forward" else (total - e, total - x) for e, x in expected]
        assert np.array([(s.earliest, s.latest) for s in gap.stretches]) == pytest.approx(np.array(as_line))
        for k, each in enumerate(gap.stretches):
            before = expected[k - 1][1] if k else a.chainage
            assert each.beyond == pytest.approx(0.85 * capacity - use * (expected[k][1] + 100.0 - before))
            assert each.beyond < 0.0


@pytest.mark.parametrize("initial", [1.0, 0.6])
@pytest.mark.usefixtures("even")
def test_the_first_stretch_is_that_of_what_the_tank_has_at_the_start(initial: float) -> None:
    asked_for = asked(line([30.0], [""]), water=4.03, fuel=9.0, initial_water=initial)
    (gap,) = supply_stretches.find_gaps(asked_for, None, ())  # type: ignore[arg-type]
    first = 4030.0 * (initial - 0.15)
    expected = expected_gap(1000.0, 61000.0, first, 0.85 * 4030.0, WATER)
    expected = [(max(earliest, 1100.0), latest) for earliest, latest in expected]
    assert np.array([(each.earliest, each.latest) for each in gap.stretches]) == pytest.approx(
        np.array(expected)
    )


@pytest.mark.usefixtures("even")
def test_where_stops_would_follow_on_each_other_there_are_no_stretches() -> None:
    asked_for = asked(line([], []), water=0.011, fuel=9.0)  # 94 m
    (gap,) = supply_stretches.find_gaps(asked_for, None, ())  # type: ignore[arg-type]
    assert gap.stretches == ()


@pytest.mark.parametrize(("reach", "stops"), [(2.9, 20), (2.8, 0)])
@pytest.mark.usefixtures("even")
def test_no_more_than_twenty_stops_are_sought_in_one_gap(reach: float, stops: int) -> None:
    """Of 60 km: 21 times 2.9 km are enough, and 2.8 km take one stop more."""
    asked_for = asked(line([], []), water=reach / 8.5, fuel=9.0)
    (gap,) = supply_stretches.find_gaps(asked_for, None, ())  # type: ignore[arg-type]
    assert len(gap.stretches) == stops
    assert gap.short == pytest.approx(6000.0 - 100.0 * reach)
    for each in gap.stretches:
        assert each.earliest <= each.latest


@pytest.mark.usefixtures("even")
def test_invented_places_fill_a_tank_in_seconds(monkeypatch: pytest.MonkeyPatch) -> None:
    """20 m³ of water in 20 s, and 10 t of fuel in 100 s: standing there uses next to nothing."""
    seen: dict[str, Any] = {}
    endless = even_runs(WATER, FUEL, endless=True)

    def run(excursion: Any, performance: Any) -> Any:
        invented = [s for s in excursion.route.stations if s.name.startswith("invented")]
        seen.update(
            {
                s.name: (s.water_rate and 20.0 / s.water_rate, s.fuel_rate and 10e3 / s.fuel_rate)
                for s in invented
            }
        )
        return endless(excursion, performance)

    monkeypatch.setattr(supply_stretches, "run_with_endless_supplies", run)
    for water, fuel, times in ((4.03, 9.0, (20.0, 0.0)), (9.0, 1.49, (0.0, 100.0))):
        seen.clear()
        supply_stretches.find_gaps(asked(line([], []), water=water, fuel=fuel), None, ())  # type: ignore[arg-type]
        assert seen
        assert set(seen.values()) == {times}


@pytest.mark.parametrize("off", [-0.4, 0.0, 0.4])
@pytest.mark.usefixtures("even")
def test_an_invented_place_beside_a_stop_of_the_plan_is_moved_just_beyond_it(off: float) -> None:
    """B stands 20 km from A, and the plan calls there; C, where it does not, makes room."""
    excursion = asked(line([20.0, 30.0], ["", ""]), water=4.0, fuel=9.0, stops="ABD")
    journey = even_runs(WATER, FUEL, endless=True)(with_supplies(excursion, {}), None)
    made = supply_stretches._Line(excursion, None, "water", journey)  # type: ignore[arg-type]
    near = MIN_STATION_DISTANCE * off
    assert made.spare((21000.0 + near,), None) == pytest.approx(
        3400.0 - WATER * (20000.0 + MIN_STATION_DISTANCE)
    )
    assert made.spare((31000.0 + near,), None) == pytest.approx(3400.0 - WATER * (30000.0 + near))


@pytest.mark.parametrize("step", [100.0, -100.0])
def test_the_farthest_place_that_keeps_is_found_from_any_guess(step: float) -> None:
    ends = (1000.0, 9000.0)
    for limit in (1000.0, 1149.0, 1200.0, 4321.0, 8800.0, 8999.0, 9500.0):
        for guess in (0.0, 1000.0, 4300.0, 5049.0, 8999.0, 2e4):

            def spare(place: float, limit: float = limit) -> float:
                return limit - place if step > 0.0 else place - (10000.0 - limit)

            found = supply_stretches._Line._last_that_keeps(None, spare, guess, ends, step)  # type: ignore[arg-type]
            grid = [place for place in range(1100, 9000, 100) if spare(float(place)) >= 0.0]
            if not grid:
                assert found is None or spare(found[0]) >= 0.0
                continue
            assert found is not None
            last = float(max(grid) if step > 0.0 else min(grid))
            assert found[0] == last
            if found[1] != -math.inf:
                assert found[1] == spare(last + step) < 0.0
            else:
                assert last in (1100.0, 8900.0)


def test_a_place_more_than_a_hundred_steps_from_the_guess_is_not_found() -> None:
    def find(guess: float) -> tuple[float, float] | None:
        ends = (1000.0, 50000.0)
        return supply_stretches._Line._last_that_keeps(None, lambda at: 40000.0 - at, guess, ends, 100.0)  # type: ignore[arg-type]

    assert find(30100.0) == (40000.0, -100.0)
    assert find(30000.0) is None
    assert find(49900.0) == (40000.0, -100.0)


# Plans


@pytest.mark.usefixtures("even")
def test_a_plan_keeps_its_stops_and_takes_only_what_it_names() -> None:
    route = line([20.0, 30.0, 40.0], ["wf", "wf", "wf"])
    route = replace(route, stations=tuple(replace(s, water_rate=0.05) for s in route.stations))
    stops = (
        Stop(station="A", take_water="fill"), Stop(station="C", take_fuel="fill", dwell=50.0, arrive=40000.0),
        Stop(station="E", take_water="fill"),
    )  # fmt: skip
    given = replace(asked(route, water=4.0, fuel=2.0), stops=stops)
    made = with_supplies(given, {"D": ("water",), "C": ("water", "fuel")})
    assert made.stops == (
        stops[0], replace(stops[1], take_water="fill", take_fuel="fill"), Stop(station="D", take_water="fill"),
        Stop(station="E"),
    )  # fmt: skip
    assert with_supplies(given, {}).stops == (stops[0], replace(stops[1], take_fuel="no"), Stop(station="E"))
    plan = run_plan(given, None, supply_places(given), {"D": ("water",), "C": ("water", "fuel")})  # type: ignore[arg-type]
    c, d = plan.stops
    assert (c.place.station, d.place.station, c.stand, c.arrive) == (
        "C",
        "D",
        STANDS,
        given.departure + 3000.0,
    )
    assert list(c.takings) == ["water", "fuel"]
    water, fuel = c.takings["water"], c.takings["fuel"]
    assert (water.left, water.taken, water.time) == (
        pytest.approx(1e3),
        pytest.approx(3e3),
        pytest.approx(60.0),
    )
    assert (fuel.left, fuel.taken, fuel.time) == (
        pytest.approx(500.0),
        pytest.approx(1500.0),
        pytest.approx(187.5),
    )
    # To D 10 km, so 3,000 kg are left there and 600 are kept; at D 2,000 kg are used to the end.
    assert water.least == pytest.approx(3000.0 - (3000.0 - 600.0))
    assert fuel.least == pytest.approx(1500.0 - (500.0 - 300.0))
    assert d.takings["water"].least == pytest.approx(max(1000.0 - (2000.0 - 600.0), 0.0))
    assert (plan.takings, plan.new_stops, plan.keeps) == (3, 1, True)
    assert plan.arrival == given.departure + LENGTH / SPEED + 2 * STANDS
    # Of the legs, that over 40 km of water-free line does not exist: A to C 3,000 of 3,400 kg; fuel 1,500 of 1,700.
    assert plan.spare_use == pytest.approx(3400.0 / 3000.0 - 1.0)
    assert plan.worst is not None
    assert plan.worst.margin == min(f.margin for f in plan.findings)


@pytest.mark.usefixtures("even")
def test_a_plan_that_ends_short_is_judged_by_its_end() -> None:
    given = asked(line([20.0, 40.0], ["wf", "wf"]), water=1.9, fuel=9.0)
    plan = run_plan(given, None, supply_places(given), {"B": ("water",)})  # type: ignore[arg-type]
    assert not plan.keeps
    assert plan.worst is not None
    assert plan.worst.rule == "end of run"
    assert plan.stations == ()  # it does not get to B, 20 km away
    none_taken = plan_water_stops(given)
    assert none_taken.least.best is None


def test_places_are_between_the_ends_in_order_of_travel_with_what_they_have() -> None:
    route = line([10.0, 20.0, 30.0], ["w", "f", ""])
    given = asked(route, water=4.0, fuel=2.0, stops="ACE")
    b, c = supply_places(given)
    assert (b.station, b.chainage, b.milepost, b.offers, b.stops) == (
        "B",
        11000.0,
        11000.0,
        ("water",),
        False,
    )
    assert (c.station, c.offers, c.stops) == ("C", ("fuel",), True)
    back = replace(given, direction="reverse", stops=tuple(reversed(given.stops)))
    first, second = supply_places(back)
    assert (first.station, second.station, second.milepost) == ("C", "B", 11000.0)
    assert second.chainage == route.start + route.end - 11000.0
    assert supply_places(replace(given, stops=given.stops[:2])) == (b,)
    assert supply_places(given, closed=("B", "C")) == ()


def test_a_full_tank_takes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(supply_plans, "run_to_timetable", even_runs(0.0, 0.0))
    given = asked(line([20.0], ["wf"]), water=4.0, fuel=2.0)
    plan = run_plan(given, None, supply_places(given), {"B": ("water", "fuel")})  # type: ignore[arg-type]
    for taking in plan.stops[0].takings.values():
        assert (taking.taken, taking.least, taking.time) == (0.0, 0.0, 0.0)
