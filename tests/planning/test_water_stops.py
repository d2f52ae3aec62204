"""Water and fuel stops: the least set, its proof, and where the line offers too little."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import combinations, product

import pytest
from trials import coaches, excursion, line, locomotive, train

from locosim.errors import OutOfRange
from locosim.model import Excursion, Stop
from locosim.planning.check import run_and_check
from locosim.planning.supply_plans import supply_places, with_supplies
from locosim.planning.water_stops import plan_water_stops, reach_of

TENDER = locomotive().tender


def drawn_excursion(seed: int) -> Excursion:
    """A hilly line of 40 km with four places, some without fuel or water, and a small tender."""
    drawn = random.Random(seed)
    stops = sorted(drawn.sample(range(4, 37), 4))
    pieces = [(8000.0, drawn.choice([-0.008, -0.004, 0.0, 0.003, 0.006])) for _ in range(5)]
    route = line(pieces, stops=[1000.0 * at for at in stops])
    stations = [
        replace(
            station,
            water_rate=station.water_rate * (drawn.random() < 0.8),
            fuel_rate=station.fuel_rate * (drawn.random() < 0.5),
        )
        for station in route.stations
    ]
    tender = replace(
        TENDER,
        water_capacity=drawn.uniform(1.5, 4.0),
        fuel_capacity=drawn.uniform(250.0, 900.0),
    )
    made = excursion(
        replace(route, stations=tuple(stations)),
        engine=locomotive(tender=tender),
        made_of=train(coaches(drawn.randint(2, 6))),
        direction="forward",
    )
    calls = [stop for stop in made.stops[1:-1] if drawn.random() < 0.5]
    return replace(made, stops=(made.stops[0], *calls, made.stops[-1]))


def keeps(asked: Excursion, takings: dict[str, tuple[str, ...]]) -> bool:
    """By the whole check, not by the search."""
    check = run_and_check(with_supplies(asked, takings))
    wrong = [
        f for f in check.findings if f.rule in ("water", "fuel", "end of run", "stall") and f.margin < 0.0
    ]
    return not wrong


def ways(offers: tuple[str, ...]) -> list[tuple[str, ...]]:
    return [each for n in (1, 2) for each in combinations(offers, n)]


@pytest.mark.parametrize("batch", range(4))
def test_the_least_set_is_that_of_all_sets_checked(batch: int) -> None:
    seen = set()
    for seed in range(6 * batch, 6 * batch + 6):
        asked = drawn_excursion(seed)
        found = plan_water_stops(asked)
        places = supply_places(asked)
        fewest = None
        for size in range(len(places) + 1):
            plans = [
                dict(zip((place.station for place in chosen), way, strict=True))
                for chosen in combinations(places, size)
                for way in product(*(ways(place.offers) for place in chosen))
            ]
            if any(keeps(asked, plan) for plan in plans):
                fewest = size
                break
        best = found.least.best
        assert (None if best is None else len(best.stops)) == fewest
        assert found.confirmed == (best is not None)
        assert found.least.left_out == 0
        assert all(not keeps(asked, dict.fromkeys(r.stations, ("water", "fuel"))) for r in found.least.refused
                   if all(set(p.offers) == {"water", "fuel"} for p in places if p.station in r.stations))  # fmt: skip
        # The reach refuses nothing that a run keeps.
        reach = reach_of(found.least.without_stops, places)
        assert fewest is None or (reach.fewest() is not None and reach.fewest() <= fewest)
        seen.add(fewest)
    assert len(seen) >= 2


def test_a_wider_reserve_never_needs_fewer_stops() -> None:
    rising = 0
    for seed in range(12):
        asked = drawn_excursion(seed)
        counts = []
        for reserve in (0.05, 0.2, 0.35):
            wider = replace(
                asked, criteria=replace(asked.criteria, water_reserve=reserve, fuel_reserve=reserve)
            )
            best = plan_water_stops(wider).least.best
            counts.append(99 if best is None else len(best.stops))
        assert counts == sorted(counts)
        rising += counts[0] < counts[-1]
    assert rising >= 3


def test_a_line_with_many_places_is_solved_by_reach_and_says_so() -> None:
    asked = many_places(14)
    found = plan_water_stops(asked)
    best = found.least.best
    assert best is not None
    assert found.confirmed
    assert found.least.left_out > 0
    assert found.least.fewest_by_reach is not None
    assert found.least.fewest_by_reach <= len(best.stops)
    # With fewer places the smaller sets are all run, and the count is the same or larger.
    fewer = plan_water_stops(asked, closed=[place.station for place in found.places[1::2]])
    assert fewer.least.left_out == 0
    assert fewer.least.best is None or len(fewer.least.best.stops) >= len(best.stops)


def many_places(count: int) -> Excursion:
    route = line([(60000.0, 0.002)], stops=[4000.0 * (k + 1) for k in range(count)])
    made = excursion(
        route,
        engine=locomotive(tender=replace(TENDER, water_capacity=2.0, fuel_capacity=6000.0)),
        made_of=train(coaches(4)),
    )
    return replace(made, stops=(made.stops[0], made.stops[-1]))


def test_the_tank_is_filled_and_less_would_do_only_down_to_the_reserve() -> None:
    asked = many_places(14)
    best = plan_water_stops(asked).least.best
    assert best is not None
    for stop, after in zip(best.stops, best.stops[1:], strict=False):
        taking, later = stop.takings["water"], after.takings["water"]
        assert taking.left + taking.taken == pytest.approx(2000.0)
        assert taking.time == pytest.approx(taking.taken / 50.0)
        assert taking.taken - taking.least == pytest.approx(later.left - 0.15 * 2000.0)


@pytest.mark.parametrize(
    ("direction", "capacity", "count"), [("forward", 2.6, 1), ("reverse", 2.6, 1), ("forward", 1.3, 2)]
)
def test_without_places_the_stretches_hold_just_where_a_stop_keeps_the_reserve(
    direction: str, capacity: float, count: int
) -> None:
    route = line([(20000.0, 0.004), (20000.0, -0.003)], stops=[15000.0, 30000.0])
    dry = replace(route, stations=tuple(replace(s, water_rate=0.0) for s in route.stations))
    made = excursion(
        dry,
        engine=locomotive(tender=replace(TENDER, water_capacity=capacity)),
        made_of=train(coaches(4)),
    )
    names = ("A", "D") if direction == "forward" else ("D", "A")
    asked = replace(made, direction=direction, stops=tuple(Stop(station=name) for name in names))
    found = plan_water_stops(asked)
    assert found.least.best is None
    (gap,) = found.gaps
    assert gap.supply == "water"
    assert gap.short > 0.0
    assert len(gap.stretches) == count
    forward = direction == "forward"
    assert all((s.earliest < s.latest) == forward for s in gap.stretches)

    ahead = 100.0 if forward else -100.0

    def kept(mileposts: list[float]) -> bool:
        added = [
            replace(dry.stations[0], name=f"tank {k}", chainage=at + 0.005 * ahead, water_rate=1.0)
            for k, at in enumerate(mileposts)
        ]
        with_tanks = replace(
            dry, stations=tuple(sorted((*dry.stations, *added), key=lambda station: station.chainage))
        )
        taken = {station.name: ("water",) for station in added}
        return keeps(replace(asked, route=with_tanks), taken)

    latest = [stretch.latest for stretch in gap.stretches]
    earliest = [stretch.earliest for stretch in gap.stretches]
    assert kept(latest)
    # Places are found in steps of 100 m, and the tanks here stand half a meter on: the first may lie one step later.
    assert kept(earliest) or kept([earliest[0] + ahead, *earliest[1:]])
    assert not kept([latest[0] + ahead, *latest[1:]])
    assert not kept([*latest[:-1], earliest[-1] - ahead])
    assert not kept(latest[:-1])


@pytest.mark.parametrize(("direction", "offset"), [("forward", -6.0), ("reverse", 4.0)])
def test_a_station_passed_within_ten_meters_of_where_a_stop_must_lie_changes_nothing(
    direction: str, offset: float
) -> None:
    route = line([(20000.0, 0.004), (20000.0, -0.003)])
    dry = replace(route, stations=tuple(replace(s, water_rate=0.0) for s in route.stations))
    engine = locomotive(tender=replace(TENDER, water_capacity=2.6))
    made = excursion(dry, engine=engine, made_of=train(coaches(4)))
    ends = made.stops if direction == "forward" else made.stops[::-1]
    asked = replace(made, direction=direction, stops=tuple(Stop(station=stop.station) for stop in ends))
    (alone,) = plan_water_stops(asked).gaps
    beside = replace(dry.stations[0], name="Beside", chainage=alone.stretches[0].latest + offset)
    (first, last) = dry.stations
    route = replace(dry, stations=(first, beside, last))
    (found,) = plan_water_stops(replace(asked, route=route)).gaps
    assert found.stretches == alone.stretches


def test_the_water_car_of_the_train_is_taken_off_or_one_is_put_on() -> None:
    asked = many_places(14)
    found = plan_water_stops(asked)
    assert found.water_car.put_on
    assert found.water_car.plan is not None
    assert found.least.best is not None
    assert len(found.water_car.plan.stops) < len(found.least.best.stops)
    changed = found.water_car.plan.excursion
    back = plan_water_stops(replace(asked, train=changed.train))
    assert not back.water_car.put_on
    assert back.water_car.plan is not None
    assert back.water_car.plan.stations == found.least.best.stations
    assert back.least.best is not None
    assert back.least.best.stations == found.water_car.plan.stations


def test_a_train_that_stalls_is_answered_by_the_check() -> None:
    route = line([(5000.0, 0.05)])
    with pytest.raises(OutOfRange, match="does not arrive, whatever water"):
        plan_water_stops(excursion(route, made_of=train(coaches(12))))
