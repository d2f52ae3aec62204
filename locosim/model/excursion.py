"""The excursion: who runs what over which line, when, in which weather, by which rules."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from locosim.errors import Fault, suggestion
from locosim.model.assumptions import Assumptions
from locosim.model.declare import check, choice, entry, measure
from locosim.model.locomotive import Locomotive
from locosim.model.route import RAIL_CONDITIONS, Route
from locosim.model.timetable import Stop, time_faults
from locosim.model.train import Train


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuel:
    """What is burned."""

    kind: str = choice(
        ("bituminous", "subbituminous", "anthracite", "wood", "oil"), "Kind of fuel.", default="bituminous"
    )
    heating_value: float | None = measure(
        "J/kg",
        "Gross heating value as fired; left out, the published value of the kind is taken.",
        above=5e6,
        below=5e7,
        default=None,
        example="13500 Btu/lb",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """Air and wind."""

    temperature: float = measure(
        "K", "Air temperature.", above=220, below=325, default=288.15, example="15 degC"
    )
    headwind: float = measure(
        "m/s",
        "Wind against the train; a following wind is negative.",
        above=-40,
        below=40,
        default=0.0,
        example="15 mph",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Crew:
    """How the engine is driven and fired."""

    habit: str = choice(
        ("hold_speed_limit", "steady_steam", "save_steam_before_climbs", "coast_to_stops"),
        "How the driver runs: by the speed limit, by even steaming, saving the boiler before a summit, "
        "or shutting off early.",
        default="hold_speed_limit",
    )
    max_speed: float | None = measure(
        "m/s",
        "Speed the crew keeps to, if below the line's.",
        above=0,
        below=90,
        default=None,
        example="40 mph",
    )
    steam_allowance: float = measure(
        "",
        "Steam drawn at most, as a share of what the boiler sustains; above 1 is paid from stored heat.",
        above=0,
        at_most=1.5,
        default=1.0,
    )
    max_cutoff: float | None = measure(
        "", "Longest cutoff the driver uses once under way.", above=0.05, at_most=0.95, default=None
    )
    max_firing: float | None = measure(
        "kg/s",
        "Most fuel the crew can fire, if less than the means of firing allow.",
        above=0,
        below=50,
        default=None,
        example="3000 lb/hour",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Diesel:
    """A diesel locomotive that helps; one that is hauled dead is a vehicle of the train."""

    name: str = entry("Name or number.")
    mass: float = measure(
        "kg", "Mass in working order, all on driven axles.", above=1000, below=1e6, example="125 short_ton"
    )
    length: float = measure("m", "Length over couplers.", above=2, below=40, example="58 ft")
    axles: int = entry("Number of axles.", at_least=2, at_most=40, default=4)
    rail_power: float = measure("W", "Power at the wheel rim.", above=0, below=1e8, example="1700 hp")
    starting_tractive_effort: float = measure(
        "N", "Greatest pull at the wheel rim.", above=0, below=1e7, example="60000 lbf"
    )
    frontal_area: float = measure(
        "m^2", "Cross section against the wind.", above=1, below=20, default=11.15, example="120 ft^2"
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Helper:
    """A second engine over part of the line: double heading, a helper at the rear, or a diesel."""

    locomotive: Locomotive | None = entry(
        "The assisting steam engine, unless it is a diesel.", default=None, file=True
    )
    diesel: Diesel | None = entry("The assisting diesel, unless it is a steam engine.", default=None)
    place: str = choice(("front", "rear"), "Where it is coupled.", default="front")
    from_station: str | None = entry("Stop where it comes on; left out, from the start.", default=None)
    to_station: str | None = entry("Stop where it comes off; left out, to the end.", default=None)

    def __post_init__(self) -> None:
        """Check every field, and that there is just one engine."""
        check(self)

    def _engine_faults(self) -> Iterator[Fault]:
        """Yield a fault unless there is just one engine."""
        if (self.locomotive is None) == (self.diesel is None):
            yield Fault("", "needs a locomotive or a diesel, and not both")

    @property
    def name(self) -> str:
        """Name of the assisting engine."""
        return self.locomotive.name if self.locomotive is not None else getattr(self.diesel, "name", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Criteria:
    """Limits the check holds the excursion against."""

    tight_margin: float = measure(
        "", "A margin below this share of the limit is called tight.", at_least=0, at_most=1, default=0.10
    )
    water_reserve: float = measure(
        "",
        "Water to be left at any supply point, as a share of what the tender holds.",
        at_least=0,
        below=1,
        default=0.15,
    )
    fuel_reserve: float = measure(
        "",
        "Fuel to be left at the end, as a share of what the tender holds.",
        at_least=0,
        below=1,
        default=0.15,
    )
    min_climbing_speed: float = measure(
        "m/s", "Least speed on a climb.", at_least=0, below=90, default=4.4704, example="10 mph"
    )
    max_lateness: float = measure(
        "s",
        "Lateness allowed at any advertised time.",
        at_least=0,
        at_most=86400,
        default=300.0,
        example="5 minute",
    )
    min_starting_acceleration: float = measure(
        "m/s^2", "Acceleration there must be in hand when starting.", at_least=0, at_most=1, default=0.02
    )
    max_stopping_distance: float = measure(
        "m",
        "Distance in which the train must stop from line speed.",
        above=0,
        below=20_000,
        default=1600.0,
        example="1 mile",
    )
    brake_reaction_time: float = measure(
        "s",
        "Time before the brakes of the whole train hold.",
        at_least=0,
        below=120,
        default=6.0,
        example="6 s",
    )
    service_deceleration: float = measure(
        "m/s^2", "Deceleration the driver plans stops with.", above=0.02, at_most=1.5, default=0.20
    )
    max_driver_rotation: float = measure(
        "Hz", "Greatest rotation of the driving wheels.", above=0, below=20, default=5.6, example="336 rpm"
    )
    max_piston_speed: float = measure(
        "m/s", "Greatest mean piston speed.", above=0, below=50, default=8.128, example="1600 ft/minute"
    )
    min_boiler_pressure: float = measure(
        "",
        "Least boiler pressure, as a share of working pressure by gauge.",
        at_least=0,
        at_most=1,
        default=0.80,
    )
    max_ash_per_grate_area: float = measure(
        "kg/m^2",
        "Most ash on each square of the grate before the fire is cleaned [common practice, no source].",
        above=0,
        below=1000,
        default=100.0,
        example="20 lb/ft^2",
    )
    min_crown_sheet_cover: float = measure(
        "m",
        "Least water over the highest part of the crown sheet [49 CFR 230.51, from memory].",
        at_least=0,
        below=3,
        default=0.0762,
        example="3 in",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Excursion:
    """Everything a check needs to know."""

    name: str = entry("Name of the excursion.")
    locomotive: Locomotive = entry("The engine.", file=True)
    train: Train = entry("The train.", file=True)
    route: Route = entry("The line.", file=True)
    departure: float = measure("clock", "Departure from the first stop.", default=36000.0, example="10:00")
    stops: tuple[Stop, ...] = entry(
        "Stops in order of travel, origin and destination among them.", at_least=2, at_most=1000
    )
    direction: str = choice(
        ("forward", "reverse"), "Whether the line is run with or against its chainage.", default="forward"
    )
    engine_facing: str = choice(
        ("stack_first", "tender_first"), "Which way the engine faces.", default="stack_first"
    )
    rail: str = choice(RAIL_CONDITIONS, "Condition of the rail.", default="dry")
    assumptions: Assumptions = entry("Figures assumed; see docs/assumptions.md.", default=Assumptions())
    fuel: Fuel = entry("What is burned.", default=Fuel())
    weather: Weather = entry("Air and wind.", default=Weather())
    crew: Crew = entry("How the engine is driven and fired.", default=Crew())
    criteria: Criteria = entry("Limits the check holds the excursion against.", default=Criteria())
    helpers: tuple[Helper, ...] = entry("Assisting engines.", default=(), at_most=10)
    initial_water: float = measure(
        "", "Share of the tank filled at the start.", above=0, at_most=1, default=1.0
    )
    initial_fuel: float = measure(
        "", "Share of the bunker filled at the start.", above=0, at_most=1, default=1.0
    )
    method: str = choice(
        ("cycle", "handbook"),
        "How the engine is computed: from the cylinder cycle, or by the handbook.",
        default="cycle",
    )

    def __post_init__(self) -> None:
        """Check every field, and that the calls are stations of the route in order of travel."""
        check(self)

    def _station_faults(self) -> Iterator[Fault]:
        """Yield the calls that are no stations of the route."""
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
        """Yield a fault when the calls are not in order of travel."""
        chainages = {station.name: station.chainage for station in self.route.stations}
        sign = 1 if self.direction == "forward" else -1
        stop_names = [stop.station for stop in self.stops]
        chainages_in_order = [sign * chainages[name] for name in stop_names if name in chainages]
        if len(chainages_in_order) == len(stop_names) and any(
            b <= a for a, b in pairwise(chainages_in_order)
        ):
            other = "reverse" if self.direction == "forward" else "forward"
            reversed_order = all(b < a for a, b in pairwise(chainages_in_order))
            yield Fault(
                "stops",
                "must be in order of travel ({direction}), found {order}; {remedy}",
                figures={
                    "direction": self.direction,
                    "order": ", ".join(stop_names),
                    "remedy": f'write direction = "{other}" or turn them round'
                    if reversed_order
                    else "put them in order",
                },
            )

    def _supply_faults(self) -> Iterator[Fault]:
        """Yield the calls that take water or fuel where the route has none."""
        stations = {station.name: station for station in self.route.stations}
        for number, stop in enumerate(self.stops, start=1):
            station = stations.get(getattr(stop, "station", ""))
            for key, rate in (("take_water", "water_rate"), ("take_fuel", "fuel_rate")):
                if getattr(stop, key, "") == "fill" and station and getattr(station, rate, None) == 0.0:
                    yield Fault(
                        f"stops[{number}].{key}",
                        "found 'fill', but {station} has no {rate} on the route; give the station one, "
                        'or write {key} = "no"',
                        figures={"station": stop.station, "rate": rate, "key": key},
                    )

    def _time_faults(self) -> Iterator[Fault]:
        """Yield the advertised times that go back, and those nothing would be held against."""
        return time_faults(self.departure, self.stops)

    def _helper_faults(self) -> Iterator[Fault]:
        """Yield the assisting engines that come on or off where the train does not stop."""
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
            on, off = helper.from_station or names[0], helper.to_station or names[-1]
            if on == off:
                yield Fault(
                    f"helpers[{number}]",
                    "comes on and off at {on} and helps nowhere; name two of the stops, {names}, in order of travel",
                    figures={"on": on, "names": ", ".join(names)},
                )
            elif on in names and off in names and names.index(on) > names.index(off):
                yield Fault(
                    f"helpers[{number}].to_station",
                    "comes off at {off} before it has come on",
                    figures={"off": off},
                )

    @property
    def route_as_run(self) -> Route:
        """The route in the direction of travel."""
        return self.route if self.direction == "forward" else _reversed_route(self.route)


@lru_cache(maxsize=8)
def _reversed_route(route: Route) -> Route:
    """Turn a route round once: an excursion asks for its line many times."""
    return route.reversed()
