"""A layover: its work and how long that takes, and the water and fuel carried from one leg into the next."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import NamedTuple

from locosim.constants import WATER_DENSITY
from locosim.frozen import frozen
from locosim.journey.result import Journey
from locosim.journey.standing import standing_use
from locosim.model import Excursion
from locosim.model.day import ENGINE_ALONE, Day, Leg, cars_left


class Task(NamedTuple):
    """One piece of work in a layover.

    Attributes:
        name: What is done.
        time: How long it takes [s].
    """

    name: str
    time: float


@frozen
class Carried:
    """Water or fuel of an engine from the end of a leg to the start of its next [kg].

    Attributes:
        end: At the end of the last leg of the engine.
        left: In water cars that are left.
        brought: In water cars that are taken.
        taken: Taken on.
        used: From the tender while standing: fire kept, boiler filled and fire built for the next leg.
        start: At the start of the next leg.
    """

    end: float
    left: float
    brought: float
    taken: float
    used: float
    start: float


@frozen
class LayoverRecord:
    """What happens between two legs.

    Attributes:
        station: Where.
        arrive: End of the leg before on the clock, with what it takes on at its last stop [s].
        booked: Booked departure of the next leg [s].
        tasks: Work, one after the other.
        cars_left: Cars left, by name.
        cars_taken: Cars taken, by name.
        water: Water of the engine of the next leg; None where it begins its day.
        fuel: Its fuel; None likewise.
    """

    station: str
    arrive: float
    booked: float
    tasks: tuple[Task, ...]
    cars_left: Counter[str]
    cars_taken: Counter[str]
    water: Carried | None = None
    fuel: Carried | None = None

    @property
    def work(self) -> float:
        """Time that the work takes [s]."""
        return sum(task.time for task in self.tasks)

    @property
    def at_hand(self) -> float:
        """Time from the arrival to the booked departure [s]; negative where the arrival is after it."""
        return self.booked - self.arrive

    @property
    def delay(self) -> float:
        """How much later than booked the next leg departs [s]."""
        return max(self.work - self.at_hand, 0.0)

    @property
    def departure(self) -> float:
        """Departure of the next leg, on the clock [s]."""
        return self.booked + self.delay


def lay_over(day: Day, number: int, before: Journey, ended: Journey | None) -> LayoverRecord:
    """Find the work before a leg, and what its engine has left of water and fuel when it departs.

    Water and fuel are taken on arrival, before the engine stands, so the amounts at the start err to the low side.

    Args:
        day: The day.
        number: Number of the leg, from 2.
        before: Run of the leg before.
        ended: Run of the last leg of the same engine; None where it begins its day.
    """
    leg, last = day.legs[number - 1], day.legs[number - 2]
    taken = (0.0, 0.0) if ended is None else _taken(leg, ended)
    record = LayoverRecord(
        station=leg.origin,
        arrive=float(before.stops[-1].depart),
        booked=leg.excursion.departure + leg.excursion.departure_delay,
        tasks=tuple(task for task in _tasks(day, number, taken) if task.time > 0.0),
        cars_left=cars_left(last.excursion.train, leg.excursion.train),
        cars_taken=cars_left(leg.excursion.train, last.excursion.train),
    )
    if ended is None:
        return record
    stood = record.departure - float(ended.stops[-1].depart)
    use = standing_use(ended, leg.excursion, stood)
    left, brought = _water_cars(ended, leg.excursion)
    water_end, fuel_end = float(ended.tender_water[-1]), float(ended.tender_fuel[-1])
    water, fuel = taken
    return replace(
        record,
        water=Carried(
            end=water_end,
            left=left,
            brought=brought,
            taken=water,
            used=use.water,
            start=water_end - left + brought + water - use.water,
        ),
        fuel=Carried(
            end=fuel_end,
            left=0.0,
            brought=0.0,
            taken=fuel,
            used=use.fuel,
            start=fuel_end + fuel - use.fuel,
        ),
    )


def _taken(leg: Leg, ended: Journey) -> tuple[float, float]:
    """Water and fuel taken on [kg], at most what there is room for."""
    tender, layover = leg.excursion.locomotive.tender, leg.layover
    left, brought = _water_cars(ended, leg.excursion)
    full = WATER_DENSITY * (tender.water_capacity + leg.excursion.train.water)
    room = max(full - (float(ended.tender_water[-1]) - left + brought), 0.0)
    fuel_room = max(tender.fuel_capacity - float(ended.tender_fuel[-1]), 0.0)
    water = room if layover.take_water == "fill" else min(WATER_DENSITY * (layover.water or 0.0), room)
    fuel = fuel_room if layover.take_fuel == "fill" else min(layover.fuel or 0.0, fuel_room)
    return water, fuel


def _water_cars(ended: Journey, following: Excursion) -> tuple[float, float]:
    """Water in the water cars that an engine leaves, and in those that it takes [kg].

    The tank is filled from the cars, so they are empty before it falls. Cars that are taken come as the excursion says.
    """
    before, after = _water_by_car(ended.excursion), _water_by_car(following)
    kept = sum(min(before[name], after[name]) for name in before.keys() & after.keys())
    full, following_full = sum(before.values()), sum(after.values())
    tank = WATER_DENSITY * following.locomotive.tender.water_capacity
    in_cars = min(max(float(ended.tender_water[-1]) - tank, 0.0), full)
    left = in_cars * (1.0 - kept / full) if full > 0.0 else 0.0
    return left, (following_full - kept) * following.initial_auxiliary_water


def _water_by_car(excursion: Excursion) -> dict[str, float]:
    """Water that the cars of a train carry when full, by name of the car [kg]."""
    found: Counter[str] = Counter()
    amounts: dict[str, float] = {}
    for vehicle in excursion.train.vehicles:
        if vehicle.water > 0.0:
            found[vehicle.name] += vehicle.count
            amounts[vehicle.name] = WATER_DENSITY * vehicle.water * found[vehicle.name]
    return amounts


def carry_over(leg: Leg, record: LayoverRecord) -> Excursion:
    """The excursion of a leg with the delay, water and fuel that its layover leaves.

    Args:
        leg: The leg.
        record: Its layover; water and fuel above 0.
    """
    excursion = leg.excursion
    delay = excursion.departure_delay + record.delay
    if record.water is None or record.fuel is None:
        return replace(excursion, departure_delay=delay)
    tender = excursion.locomotive.tender
    tank = WATER_DENSITY * tender.water_capacity
    cars = WATER_DENSITY * excursion.train.water
    beyond = max(record.water.start - tank, 0.0)
    return replace(
        excursion,
        departure_delay=delay,
        initial_water=min(record.water.start / tank, 1.0),
        initial_auxiliary_water=min(beyond / cars, 1.0) if cars > 0.0 else excursion.initial_auxiliary_water,
        initial_fuel=min(record.fuel.start / tender.fuel_capacity, 1.0),
    )


def _tasks(day: Day, number: int, taken: tuple[float, float]) -> list[Task]:
    """Work before a leg, in the order in which it is done; the engine does one thing after the other."""
    leg, last = day.legs[number - 1], day.legs[number - 2]
    layover, station = leg.layover, leg.excursion.route.station(leg.origin)
    trains = last.excursion.train, leg.excursion.train
    changed_engine = leg.engine != last.engine
    changed_cars = bool(cars_left(*trains) or cars_left(*reversed(trains)))
    uncoupled = changed_engine or changed_cars or layover.run_around == "yes" or layover.turn in ENGINE_ALONE
    water, fuel = taken
    return [
        Task("water", water / (WATER_DENSITY * (layover.water_rate or station.water_rate)) if water else 0.0),
        Task("fuel", fuel / (layover.fuel_rate or station.fuel_rate) if fuel else 0.0),
        Task("turning", layover.turning_time if layover.turn != "no" else 0.0),
        Task("running around", layover.running_around_time if layover.run_around == "yes" else 0.0),
        Task("changing engines", layover.engine_change_time if changed_engine else 0.0),
        Task("setting out and picking up cars", layover.switching_time if changed_cars else 0.0),
        Task("inspection", layover.inspection_time),
        Task("break", layover.break_time),
        Task("brake test", layover.brake_test_time if uncoupled and leg.excursion.train.vehicles else 0.0),
    ]
