"""The excursion: engine, train, line, timetable, crew, weather and limits of one trip."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from locosim.errors import Fault, suggestion
from locosim.frozen import frozen
from locosim.model.assumptions import Assumptions
from locosim.model.boiler import Fuel
from locosim.model.criteria import Criteria
from locosim.model.declare import attached, check, choice, entry, measure
from locosim.model.helper_engine import Helper
from locosim.model.locomotive import Locomotive
from locosim.model.provenance import Provenance
from locosim.model.route import Route
from locosim.model.timetable import DAY, Stop, time_faults
from locosim.model.track import RAIL_CONDITIONS
from locosim.model.train import Train
from locosim.model.uncertainty import Uncertainty
from locosim.recent import keep_recent


@frozen
class Weather:
    """Air temperature and wind."""

    temperature: float = measure(
        "K", "Air temperature.", above=220, below=325, default=288.15, example="15 degC"
    )
    headwind: float = measure(
        "m/s",
        "Headwind; negative for a tailwind.",
        above=-40,
        below=40,
        default=0.0,
        example="15 mph",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@frozen
class Crew:
    """How the engine is run and fired."""

    habit: str = choice(
        ("hold_speed_limit", "steady_steam", "save_steam_before_climbs", "coast_to_stops"),
        "How the engineer runs: at the speed limit, at a steady steam rate, saving steam before climbs, "
        "or coasting to stops.",
        default="hold_speed_limit",
    )
    max_speed: float | None = measure(
        "m/s",
        "Speed limit of the crew, if below that of the line.",
        above=0.5,
        below=90,
        default=None,
        example="40 mph",
    )
    steam_allowance: float = measure(
        "",
        "Maximum steam rate, as a fraction of the sustained evaporation; above 1 uses stored heat.",
        above=0,
        at_most=1.5,
        default=1.0,
    )
    max_cutoff: float | None = measure(
        "", "Longest cutoff used once under way.", above=0.05, at_most=0.95, default=None
    )
    recovery: float = measure(
        "",
        "Running time kept in hand, as a fraction of the booked running time between booked stops: the engineer aims "
        "to arrive this much early, to make up a delay. 0 runs to the booked times.",
        at_least=0,
        at_most=0.5,
        default=0.0,
        example="5 %",
    )
    max_firing: float | None = measure(
        "kg/s",
        "Maximum firing rate of the crew, if below that of the firing method.",
        above=0,
        below=50,
        default=None,
        example="3000 lb/hour",
    )
    horizon: float = measure(
        "s",
        "How far ahead the fireman knows the road and builds up fire and water for it; 0 is a stranger to the road "
        "[common practice, no source].",
        at_least=0,
        at_most=14400,
        default=1800.0,
        example="30 minute",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@frozen
class Excursion:
    """Everything that a check needs."""

    name: str = entry("Name of the excursion.")
    locomotive: Locomotive = entry("The locomotive.", file=True)
    train: Train = entry("The train.", file=True)
    route: Route = entry("The route.", file=True)
    departure: float = measure("clock", "Departure from the first stop.", default=36000.0, example="10:00")
    departure_delay: float = measure(
        "s",
        "Delay of the first departure: the train leaves this much after the time above.",
        at_least=0,
        at_most=DAY,
        default=0.0,
        example="10 minute",
    )
    stops: tuple[Stop, ...] = entry(
        "Stops in order of travel, including origin and destination.", at_least=2, at_most=1000
    )
    direction: str = choice(
        ("forward", "reverse"),
        "Direction of travel, with or against the chainage of the route.",
        default="forward",
    )
    engine_facing: str = choice(
        ("stack_first", "tender_first"), "Direction in which the engine faces.", default="stack_first"
    )
    rail: str = choice(RAIL_CONDITIONS, "Rail condition.", default="dry")
    assumptions: Assumptions = entry(
        "Assumed figures that differ from the defaults of docs/assumptions.md.", default=Assumptions()
    )
    fuel: Fuel = entry("The fuel burned.", default=Fuel())
    weather: Weather = entry("Air temperature and wind.", default=Weather())
    crew: Crew = entry("How the engine is run and fired.", default=Crew())
    criteria: Criteria = entry("Limits that the check applies.", default=Criteria())
    helpers: tuple[Helper, ...] = entry("Helper engines.", default=(), at_most=10)
    initial_water: float = measure(
        "", "Water at the start, as a fraction of the tank's capacity.", above=0, at_most=1, default=1.0
    )
    initial_auxiliary_water: float = measure(
        "",
        "Water in the auxiliary water cars at the start, as a fraction of what they carry.",
        at_least=0,
        at_most=1,
        default=1.0,
    )
    initial_fuel: float = measure(
        "", "Fuel at the start, as a fraction of the fuel capacity.", above=0, at_most=1, default=1.0
    )
    uncertainty: Uncertainty = entry(
        "What is not known before the run, for `risk`.", default=Uncertainty(), file=True
    )
    method: str = choice(
        ("cycle", "handbook"),
        "How the engine is computed: by the cylinder cycle, or by the handbook method.",
        default="cycle",
    )
    provenance: Provenance | None = attached("Files and changes the excursion was read from.")

    def __post_init__(self) -> None:
        """Check every field, and that stops, times and helpers fit the route."""
        check(self)

    def _station_faults(self) -> Iterator[Fault]:
        """Yield a fault for each stop that is not a station of the route."""
        names = [station.name for station in self.route.stations]
        for number, stop in enumerate(self.stops, start=1):
            station = getattr(stop, "station", None)
            if station is not None and station not in names:
                yield Fault(
                    f"stops[{number}].station",
                    "must be a station of the route, found {found}; {advice}",
                    figures={"found": repr(station), "advice": suggestion(station, names)},
                )

    def _order_faults(self) -> Iterator[Fault]:
        """Yield a fault if the stops are not in order of travel."""
        chainages = {station.name: station.chainage for station in self.route.stations}
        names = [stop.station for stop in self.stops]
        if not all(name in chainages for name in names):
            return
        sign = 1 if self.direction == "forward" else -1
        steps = [sign * (chainages[b] - chainages[a]) for a, b in pairwise(names)]
        if all(step > 0 for step in steps):
            return
        other = "reverse" if self.direction == "forward" else "forward"
        remedy = f'write direction = "{other}" or reverse them' if max(steps) < 0 else "put them in order"
        yield Fault(
            "stops",
            "must be in order of travel ({direction}), found {order}; {remedy}",
            figures={"direction": self.direction, "order": ", ".join(names), "remedy": remedy},
        )

    def _supply_faults(self) -> Iterator[Fault]:
        """Yield a fault for each stop that takes water or fuel where the route has none."""
        stations = {station.name: station for station in self.route.stations}
        for number, stop in enumerate(self.stops, start=1):
            station = stations.get(getattr(stop, "station", ""))
            for key, rate in (("take_water", "water_rate"), ("take_fuel", "fuel_rate")):
                if getattr(stop, key, "") == "fill" and station and getattr(station, rate, None) == 0.0:
                    yield Fault(
                        f"stops[{number}].{key}",
                        "found 'fill', but {station} has no {rate} in the route; give the station one, "
                        'or write {key} = "no"',
                        figures={"station": stop.station, "rate": rate, "key": key},
                    )

    def _time_faults(self) -> Iterator[Fault]:
        """Yield a fault for each scheduled time that is out of order."""
        return time_faults(self.departure, self.stops)

    def _helper_station_faults(self) -> Iterator[Fault]:
        """Yield a fault for each helper that is coupled on or cut off where the train does not stop."""
        names = [stop.station for stop in self.stops]
        for number, helper in enumerate(self.helpers, start=1):
            for key in ("from_station", "to_station"):
                name = getattr(helper, key)
                if name is not None and name not in names:
                    yield Fault(
                        f"helpers[{number}].{key}",
                        "must be one of the stops ({names}), found {found}",
                        figures={"names": ", ".join(names), "found": repr(name)},
                    )

    def _helper_order_faults(self) -> Iterator[Fault]:
        """Yield a fault for each helper that is not coupled on before it is cut off."""
        names = [stop.station for stop in self.stops]
        for number, helper in enumerate(self.helpers, start=1):
            on, off = helper.from_station or names[0], helper.to_station or names[-1]
            if on == off:
                yield Fault(
                    f"helpers[{number}]",
                    "is coupled on and cut off at {on} and helps nowhere; name two of the stops, {names}, in order "
                    "of travel",
                    figures={"on": on, "names": ", ".join(names)},
                )
            elif on in names and off in names and names.index(on) > names.index(off):
                yield Fault(
                    f"helpers[{number}].to_station",
                    "is cut off at {off} before it is coupled on",
                    figures={"off": off},
                )

    @property
    def route_as_run(self) -> Route:
        """The route in the direction of travel."""
        return self.route if self.direction == "forward" else _reversed_route(self.route)

    @property
    def permitted_speed(self) -> float:
        """Highest speed that line, engine and crew permit anywhere [m/s]."""
        line = max(self.route.speed_limit, *(0.0, *(each.speed for each in self.route.speed_limits)))
        others = (self.locomotive.max_speed, self.crew.max_speed)
        return min(line, *(line if speed is None else speed for speed in others))

    @property
    def min_climbing_speed(self) -> float:
        """Minimum speed on a climb [m/s]: that of the criteria, or half of what is permitted if that is no more."""
        least, permitted = self.criteria.min_climbing_speed, self.permitted_speed
        return least if permitted > least else 0.5 * permitted

    @property
    def facing(self) -> str:
        """Which end of the engine leads, in words."""
        return "stack first" if self.engine_facing == "stack_first" else f"{self.locomotive.rear_end} first"


@keep_recent(8)
def _reversed_route(route: Route) -> Route:
    """Reverse a route once: it is needed many times in a run."""
    return route.reversed()
