"""Plans of water and fuel stops: where the tender is filled, and what the check says of it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from locosim.constants import WATER_DENSITY
from locosim.engine.performance import Performance
from locosim.errors import OutOfRange, suggestion
from locosim.frozen import frozen
from locosim.journey.result import Journey, StopRecord
from locosim.journey.run import run_to_timetable
from locosim.model import Excursion, Stop
from locosim.planning.finding import Finding
from locosim.planning.rules.stall import stalling
from locosim.planning.rules.supplies import fuel, water
from locosim.planning.station_times import line_chainage

SUPPLIES = ("water", "fuel")
RAN_OUT = {"out of water": "water", "out of fuel": "fuel"}

Takings = Mapping[str, Collection[str]]  # by the name of a station: which of `SUPPLIES` are taken there


@frozen
class SupplyPlace:
    """A station between the first stop and the last that has water or fuel.

    Attributes:
        station: Its name.
        chainage: In the direction of travel [m].
        milepost: Chainage as the line counts it [m].
        offers: Which of `SUPPLIES` it has.
        stops: Whether the excursion stops there anyhow.
    """

    station: str
    chainage: float
    milepost: float
    offers: tuple[str, ...]
    stops: bool


@frozen
class Taking:
    """What is taken at one stop; the tank is filled.

    Attributes:
        left: On arrival [kg].
        taken: [kg]
        least: Least that lasts to the next filling or the end with the reserve [kg].
        time: Time that filling takes at the rate of the place [s].
    """

    left: float
    taken: float
    least: float
    time: float


@frozen
class SupplyStop:
    """A stop of a plan.

    Attributes:
        place: Where.
        arrive: Clock time [s].
        stand: Time at the stop [s].
        takings: What is taken, by supply.
    """

    place: SupplyPlace
    arrive: float
    stand: float
    takings: Mapping[str, Taking]


@frozen(eq=False)
class SupplyPlan:
    """Water and fuel stops, run and judged.

    Attributes:
        stops: The stops at which something is taken, in order of travel.
        journey: The run to the booked times with them.
        findings: What the rules of water and fuel find, and where the run ends short.
    """

    stops: tuple[SupplyStop, ...]
    journey: Journey
    findings: tuple[Finding, ...]

    @property
    def excursion(self) -> Excursion:
        """The excursion with the stops."""
        return self.journey.excursion

    @property
    def stations(self) -> tuple[str, ...]:
        """Names of the stops."""
        return tuple(stop.place.station for stop in self.stops)

    @property
    def keeps(self) -> bool:
        """Whether the train arrives with the reserve of water and fuel everywhere."""
        return self.journey.arrived and all(finding.margin >= 0.0 for finding in self.findings)

    @property
    def worst(self) -> Finding | None:
        """The finding with the least margin; where the run ends short, that; None without any."""
        ended = [f for f in self.findings if f.rule not in SUPPLIES]
        return min(ended or self.findings, key=lambda finding: finding.margin, default=None)

    @property
    def takings(self) -> int:
        """Number of fillings."""
        return sum(len(stop.takings) for stop in self.stops)

    @property
    def new_stops(self) -> int:
        """Stops at which the excursion does not stop anyhow."""
        return sum(not stop.place.stops for stop in self.stops)

    @property
    def arrival(self) -> float:
        """At the last stop, on the clock [s]."""
        return float(self.journey.time[-1])

    @property
    def spare_use(self) -> float:
        """How much more could be used between two fillings without breaking the reserve [1]; least of all."""
        return min(
            (
                (start - reserve(self.excursion, supply)) / max(start - end, 1e-9) - 1.0
                for supply in SUPPLIES
                for start, end in legs(self, supply)
            ),
            default=0.0,
        )


def reserve(excursion: Excursion, supply: str) -> float:
    """Reserve of water or fuel that the check asks for [kg]."""
    tender, criteria = excursion.locomotive.tender, excursion.criteria
    if supply == "water":
        return criteria.water_reserve * WATER_DENSITY * tender.water_capacity
    return criteria.fuel_reserve * tender.fuel_capacity


def left_on_arrival(record: StopRecord, supply: str) -> float:
    """Water or fuel in the tender on arrival [kg]."""
    return record.water_on_arrival if supply == "water" else record.fuel_on_arrival


def left_on_departure(record: StopRecord, supply: str) -> float:
    """Water or fuel in the tender on departure [kg]."""
    return record.water_on_departure if supply == "water" else record.fuel_on_departure


def full_tank(excursion: Excursion, supply: str) -> float:
    """Water with that of auxiliary water cars, or fuel, with everything full [kg]."""
    tender = excursion.locomotive.tender
    if supply == "water":
        return WATER_DENSITY * (tender.water_capacity + excursion.train.water)
    return tender.fuel_capacity


def legs(plan: SupplyPlan, supply: str) -> list[tuple[float, float]]:
    """In the tank after each filling, the start first, and on arrival at the next one or at the end [kg]."""
    records = plan.journey.stops
    if len(records) < 2:
        return []
    filled = {stop.place.station for stop in plan.stops if supply in stop.takings}
    found, start = [], left_on_departure(records[0], supply)
    for record in records[1:]:
        if record.station in filled or record is records[-1]:
            found.append((start, left_on_arrival(record, supply)))
            start = full_tank(plan.excursion, supply)
    return found


def supply_places(excursion: Excursion, closed: Collection[str] = ()) -> tuple[SupplyPlace, ...]:
    """Places between the first stop and the last that have water or fuel, in order of travel.

    Args:
        excursion: The excursion.
        closed: Names of stations out of use.

    Raises:
        OutOfRange: A closed station is none of the line.
    """
    line = excursion.route_as_run
    names = [station.name for station in line.stations]
    for name in closed:
        if name not in names:
            raise OutOfRange(f"no station {name!r} on {line.name} to close; {suggestion(name, names)}")
    first, last = (line.station(excursion.stops[k].station).chainage for k in (0, -1))
    stops = {stop.station for stop in excursion.stops}
    places = []
    for station in line.stations:
        rates = {"water": station.water_rate, "fuel": station.fuel_rate}
        offers = tuple(supply for supply in SUPPLIES if rates[supply] > 0.0)
        if offers and first < station.chainage < last and station.name not in closed:
            places.append(
                SupplyPlace(
                    station=station.name,
                    chainage=station.chainage,
                    milepost=line_chainage(excursion, station.chainage),
                    offers=offers,
                    stops=station.name in stops,
                )
            )
    return tuple(places)


def with_supplies(excursion: Excursion, takings: Takings) -> Excursion:
    """The excursion with its own stops and times, and water and fuel taken only at the start and at given places."""
    line = excursion.route_as_run
    known = {stop.station for stop in excursion.stops}
    stops = [*excursion.stops, *(Stop(station=name) for name in takings if name not in known)]
    stops.sort(key=lambda stop: line.station(stop.station).chainage)
    filled = [
        replace(
            stop,
            take_water="fill" if "water" in takings.get(stop.station, ()) else "no",
            take_fuel="fill" if "fuel" in takings.get(stop.station, ()) else "no",
        )
        for stop in stops[1:]
    ]
    return replace(excursion, stops=(stops[0], *filled))


def run_plan(
    excursion: Excursion, performance: Performance, places: Sequence[SupplyPlace], takings: Takings
) -> SupplyPlan:
    """Run an excursion with water and fuel taken at given places, and judge it by the rules of the check."""
    journey = run_to_timetable(with_supplies(excursion, takings), performance)
    findings = (*stalling(journey), *water(journey), *fuel(journey))
    by_name = {place.station: place for place in places}
    stops = tuple(
        _supply_stop(journey, by_name[record.station], k, takings[record.station])
        for k, record in enumerate(journey.stops)
        if record.station in takings
    )
    return SupplyPlan(stops=stops, journey=journey, findings=findings)


def _supply_stop(journey: Journey, place: SupplyPlace, number: int, supplies: Collection[str]) -> SupplyStop:
    record = journey.stops[number]
    return SupplyStop(
        place=place,
        arrive=record.arrive,
        stand=record.depart - record.arrive,
        takings={supply: _taking(journey, number, supply) for supply in SUPPLIES if supply in supplies},
    )


def _taking(journey: Journey, number: int, supply: str) -> Taking:
    excursion, record = journey.excursion, journey.stops[number]
    full, left = full_tank(excursion, supply), left_on_arrival(record, supply)
    station = excursion.route_as_run.station(record.station)
    rate = WATER_DENSITY * station.water_rate if supply == "water" else station.fuel_rate
    key = f"take_{supply}"
    ahead = list(zip(journey.stops, excursion.stops, strict=False))[number + 1 :]
    next_left = [
        left_on_arrival(other, supply)
        for other, stop in ahead
        if stop is excursion.stops[-1] or getattr(stop, key) == "fill"
    ]
    taken = max(full - left, 0.0)
    spare = next_left[0] - reserve(excursion, supply) if next_left else 0.0
    return Taking(left=left, taken=taken, least=min(max(taken - spare, 0.0), taken), time=taken / rate)
