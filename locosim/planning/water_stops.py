"""The least set of water and fuel stops with which an excursion keeps its reserves.

A set is judged by the run to the booked times and the rules of water and fuel of the check. The fewest stops come
first, then the fewest new ones, the earliest arrival and the fewest fillings. While there are few smaller sets, each is
run and refused. On a line with more places, sets are left out that would fail even with a tenth less than the train
uses without any stop for supplies: `supply_reach` finds the fewest stops for that use exactly. Of the sets it permits,
only the first of each size are run; where there are more, the least set found is not proven to be the least.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from itertools import chain, combinations, islice, product
from math import comb

import numpy as np

from locosim.constants import WATER_DENSITY
from locosim.engine.performance import Performance, compute_excursion_performance
from locosim.errors import OutOfRange
from locosim.frozen import frozen
from locosim.journey.result import Journey
from locosim.journey.run import run_with_endless_supplies
from locosim.model import Excursion, Vehicle
from locosim.planning.answer import Answer, check_excursion
from locosim.planning.finding import STOP, Finding
from locosim.planning.locations import location_at
from locosim.planning.supply_plans import (
    SUPPLIES,
    SupplyPlace,
    SupplyPlan,
    full_tank,
    left_on_arrival,
    left_on_departure,
    reserve,
    run_plan,
    supply_places,
    with_supplies,
)
from locosim.planning.supply_reach import Reach, Tank
from locosim.planning.supply_stretches import Gap, find_gaps

MAX_REFUSED = (
    60  # smaller sets that are each run and refused; beyond, only those that the use permits are run
)
MAX_ALIKE = 60  # sets of one size that are run to choose the best
# Use in the reach, over that of a run without stops for supplies. A run with such stops may use a little less: in 2 of
# 193 drawn excursions a set lasted that full use refused, with 1 and 5 % less. A tenth leaves room; ours, no source.
LEAST_USE = 0.9
# Ways of taking water, fuel or both at the places of a set that are run before taking all of both.
MAX_WAYS = 12
# Most that a tank car weighs empty where the engine has no tender to go by; ours, no source [kg].
LARGE_TENDER = 10_000.0


@frozen(eq=False)
class Refusal:
    """A set of stops that was run and does not keep the reserves.

    Attributes:
        stations: Names of the stops.
        finding: What refuses it.
    """

    stations: tuple[str, ...]
    finding: Finding


@frozen(eq=False)
class LeastSet:
    """The least set of stops found, and what was done to find a smaller one.

    Attributes:
        best: The least set; None where all places of the line do not suffice.
        runner_up: The next best set that does not contain the best one; None without any.
        refused: Smaller sets that were run, the one nearest to the reserve first.
        left_out: Number of smaller sets not run, because the reach with `LEAST_USE` refuses them.
        untried: Number of smaller sets that the reach permits and that were not run: beyond `MAX_ALIKE` of one size.
        capped: Whether the reach permits more sets of the size of the best than `MAX_ALIKE`; they were not all run.
        fewest_by_reach: Fewest stops with a tenth less than the train uses without any stop for supplies; None where
            none suffice.
        without_stops: The run without any stop for supplies, as if a tank could be less than empty.
    """

    best: SupplyPlan | None
    runner_up: SupplyPlan | None
    refused: tuple[Refusal, ...]
    left_out: int
    untried: int
    capped: bool
    fewest_by_reach: int | None
    without_stops: Journey

    @property
    def proven(self) -> bool:
        """Whether each smaller set was run and refused, or left out by the reach."""
        return self.untried == 0


@frozen(eq=False)
class WaterCarEffect:
    """The least set with the auxiliary water car put on or taken off.

    Attributes:
        put_on: Whether the car is put on; else it is taken off.
        water: Its water [kg].
        mass: Its mass with that water [kg].
        plan: Least set found with the change; None where no set suffices or the train does not arrive.
        proven: Whether no smaller set was left untried.
        stalls: Whether the train does not arrive with the change, whatever water it takes.
    """

    put_on: bool
    water: float
    mass: float
    plan: SupplyPlan | None
    proven: bool
    stalls: bool


@frozen(eq=False)
class WaterStops:
    """Water and fuel stops of an excursion.

    Attributes:
        excursion: The excursion as asked.
        performance: Performance of its engine.
        places: Places of the line that have water or fuel, those closed left out.
        closed: Names of the stations out of use.
        least: The least set, and what proves it.
        answer: The check of the excursion with the least set, run once more by itself; None without one.
        gaps: Where the line offers too little: the stretches in which a stop must lie.
        water_car: What the auxiliary water car changes.
    """

    excursion: Excursion
    performance: Performance
    places: tuple[SupplyPlace, ...]
    closed: tuple[str, ...]
    least: LeastSet
    answer: Answer | None
    gaps: tuple[Gap, ...]
    water_car: WaterCarEffect

    @property
    def confirmed(self) -> bool:
        """Whether the check of the least set finds no reserve broken."""
        return self.answer is not None and all(
            finding.verdict != STOP
            for finding in self.answer.findings
            if finding.rule in (*SUPPLIES, "end of run")
        )

    @property
    def cost(self) -> float:
        """By how much the train arrives later than without any stop for supplies [s]; 0 without a set."""
        if self.least.best is None:
            return 0.0
        return self.least.best.arrival - float(self.least.without_stops.time[-1])


def plan_water_stops(excursion: Excursion, *, closed: Collection[str] = ()) -> WaterStops:
    """Find the least set of water and fuel stops of an excursion.

    What the file takes at its stops is left out; the stops stay, with their times. What it takes at the first stop
    belongs to the start.

    Args:
        excursion: The excursion.
        closed: Names of stations whose water and fuel are out of use.

    Raises:
        OutOfRange: The train does not arrive whatever water it takes; or a closed station is none of the line.
    """
    places = supply_places(excursion, closed)
    performance = compute_excursion_performance(excursion)
    least = _search(excursion, performance, places)
    best = least.best
    return WaterStops(
        excursion=excursion,
        performance=performance,
        places=places,
        closed=tuple(closed),
        least=least,
        answer=check_excursion(best.excursion, contingencies=False, remedies=False) if best else None,
        gaps=() if best else find_gaps(excursion, performance, places),
        water_car=_water_car_effect(excursion, performance, places),
    )


def _search(
    excursion: Excursion, performance: Performance, places: Sequence[SupplyPlace], *, runner_up: bool = True
) -> LeastSet:
    """Find the least set of stops."""
    journey = run_with_endless_supplies(with_supplies(excursion, {}), performance)
    if not journey.arrived:
        place = location_at(journey, journey.end_chainage).name
        raise OutOfRange(
            f"the train does not arrive, whatever water and fuel it takes: {journey.outcome}, {place}; run "
            "`locosim check` for the reason and what helps"
        )
    trials = _Trials(excursion, performance, places, journey)
    refused: list[Refusal] = []
    kept: list[SupplyPlan] = []
    left_out = untried = 0
    for size in range(len(places) + 1):
        total = permitted = comb(len(places), size)
        beyond = 0
        sets: Iterator[tuple[int, ...]] = combinations(range(len(places)), size)
        if len(refused) + total > MAX_REFUSED:
            permitted = trials.reach.number(size)
            beyond = max(permitted - MAX_ALIKE, 0)
            sets = islice(trials.choices(size), MAX_ALIKE)
        for chosen in sets:
            plan = trials.best_of(chosen)
            if plan.keeps:
                kept.append(plan)
            elif plan.worst is not None:
                refused.append(Refusal(stations=tuple(places[k].station for k in chosen), finding=plan.worst))
        if kept:
            break
        left_out += total - permitted
        untried += beyond
    smaller = [each for each in refused if len(each.stations) < size or not kept]
    kept.sort(key=_order)
    if runner_up and len(kept) == 1 and size < len(places):
        more = islice(trials.choices(size + 1), MAX_ALIKE)
        others = [c for c in more if not set(kept[0].stations) <= {places[k].station for k in c}]
        kept += sorted((plan for plan in map(trials.best_of, others) if plan.keeps), key=_order)
    return LeastSet(
        best=kept[0] if kept else None,
        runner_up=kept[1] if len(kept) > 1 else None,
        refused=tuple(sorted(smaller, key=lambda each: -each.finding.margin)),
        left_out=left_out,
        untried=untried,
        capped=bool(kept) and beyond > 0,
        fewest_by_reach=trials.reach.fewest(),
        without_stops=journey,
    )


def _order(plan: SupplyPlan) -> tuple[int, int, int, int]:
    return (len(plan.stops), plan.new_stops, round(plan.arrival), plan.takings)


def reach_of(journey: Journey, places: Sequence[SupplyPlace], *, use: float = LEAST_USE) -> Reach:
    """Reach by a part of what a run without stops for supplies uses."""
    excursion = journey.excursion
    tanks = []
    for supply, level in zip(SUPPLIES, (journey.tender_water, journey.tender_fuel), strict=True):
        start = left_on_departure(journey.stops[0], supply)
        at_stops = {record.station: left_on_arrival(record, supply) for record in journey.stops}
        left = [
            at_stops.get(place.station, float(np.interp(place.chainage, journey.chainage, level)))
            for place in places
        ]
        left.append(left_on_arrival(journey.stops[-1], supply))
        tanks.append(
            Tank(
                first=start - reserve(excursion, supply),
                full=full_tank(excursion, supply) - reserve(excursion, supply),
                used=tuple(use * (start - each) for each in left),
                offered=tuple(supply in place.offers for place in places),
            )
        )
    return Reach(tanks=tuple(tanks))


class _Trials:
    """Plans run for sets of places."""

    def __init__(
        self, excursion: Excursion, performance: Performance, places: Sequence[SupplyPlace], journey: Journey
    ) -> None:
        self._excursion, self._performance, self._places = excursion, performance, places
        self.reach, self._likely = reach_of(journey, places), reach_of(journey, places, use=1.0)

    def choices(self, size: int) -> Iterator[tuple[int, ...]]:
        """Sets of so many places that the reach permits, those first that last with all that the run uses."""
        likely = dict.fromkeys(islice(self._likely.choices(size), MAX_ALIKE))
        return chain(likely, (chosen for chosen in self.reach.choices(size) if chosen not in likely))

    def best_of(self, chosen: Sequence[int]) -> SupplyPlan:
        """The plan with the fewest fillings at a set of places that keeps the reserves, or else with all of them."""
        ways = sorted(
            product(*(_ways(self._places[k].offers) for k in chosen)),
            key=lambda way: (sum(map(len, way)), sum("fuel" in each for each in way)),
        )
        for way in islice(filter(lambda way: self._may_suffice(chosen, way), ways[:-1]), MAX_WAYS):
            plan = self._run(chosen, way)
            if plan.keeps:
                return plan
        return self._run(chosen, ways[-1])

    def _may_suffice(self, chosen: Sequence[int], way: Sequence[tuple[str, ...]]) -> bool:
        """Whether the tanks last with these fillings and the use of a run without stops for supplies."""
        filled = [[k for k, each in zip(chosen, way, strict=True) if supply in each] for supply in SUPPLIES]
        return self.reach.suffices(filled)

    def _run(self, chosen: Sequence[int], way: Sequence[tuple[str, ...]]) -> SupplyPlan:
        takings = {self._places[k].station: each for k, each in zip(chosen, way, strict=True)}
        return run_plan(self._excursion, self._performance, self._places, takings)


def _ways(offers: tuple[str, ...]) -> list[tuple[str, ...]]:
    """What can be taken at a place, at least one of what it has."""
    return list(chain.from_iterable(combinations(offers, n) for n in range(1, len(offers) + 1)))


def _water_car_effect(
    excursion: Excursion, performance: Performance, places: Sequence[SupplyPlace]
) -> WaterCarEffect:
    """The least set without the water cars of the train, or with one like the tender where it has none."""
    train = excursion.train
    cars = [vehicle for vehicle in train.vehicles if vehicle.water > 0.0]
    if cars:
        changed = replace(train, vehicles=tuple(v for v in train.vehicles if v.water == 0.0))
    else:
        cars = [car_like_tender(excursion)]
        changed = replace(train, vehicles=(*cars, *train.vehicles))
    least = None
    with suppress(OutOfRange):
        least = _search(replace(excursion, train=changed), performance, places, runner_up=False)
    return WaterCarEffect(
        put_on=train.water == 0.0,
        water=1000.0 * sum(car.water * car.count for car in cars),
        mass=sum(car.mass * car.count for car in cars),
        plan=None if least is None else least.best,
        proven=least is not None and least.proven,
        stalls=least is None,
    )


def car_like_tender(excursion: Excursion) -> Vehicle:
    """An auxiliary water car made of a second tender of the engine, without fuel.

    A tank engine has no tender: the car then weighs empty what its water does, up to that of a full-size tender. It
    runs like the cars of the train where their resistance was measured.
    """
    tender = excursion.locomotive.tender
    measured = next((car for car in excursion.train.vehicles if car.custom_resistance is not None), None)
    return Vehicle(
        name="auxiliary water car",
        kind="water_car",
        empty_mass=tender.empty_mass or min(WATER_DENSITY * tender.water_capacity, LARGE_TENDER),
        water=tender.water_capacity,
        axles=max(tender.axles, 2),
        length=tender.length or 8.0,
        resistance_law="davis_1926_freight" if measured is None else "custom",
        custom_resistance=None if measured is None else measured.custom_resistance,
        braking_ratio=tender.braking_ratio,
    )
