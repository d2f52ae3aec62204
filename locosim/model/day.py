"""The day: several legs, what is done in the layovers between them, and the hours of the crew."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import pairwise

from locosim.errors import Fault
from locosim.frozen import frozen
from locosim.model.declare import attached, check, choice, entry, measure
from locosim.model.excursion import Excursion
from locosim.model.provenance import Provenance
from locosim.model.timetable import DAY, clock_text
from locosim.model.train import Train

ENGINE_ALONE = ("turntable", "wye")  # ways to turn for which the engine leaves its train


@frozen
class CrewHours:
    """Hours of the crew and their limits; a limit that is not given is not judged."""

    preparing_time: float = measure(
        "s",
        "Time on duty before the first departure [common practice, no source].",
        at_least=0,
        at_most=DAY,
        default=3600.0,
        example="60 minute",
    )
    putting_away_time: float = measure(
        "s",
        "Time on duty after the last arrival [common practice, no source].",
        at_least=0,
        at_most=DAY,
        default=1800.0,
        example="30 minute",
    )
    max_time: float | None = measure(
        "s",
        "Longest time on duty, preparing and putting away included; the rules of the railroad and the law state it.",
        above=0,
        at_most=2 * DAY,
        default=None,
        example="12 hour",
    )
    max_time_without_break: float | None = measure(
        "s", "Longest time on duty without a break.", above=0, at_most=2 * DAY, default=None, example="6 hour"
    )
    min_break: float = measure(
        "s",
        "Shortest time free of work that counts as a break [common practice, no source].",
        above=0,
        at_most=DAY,
        default=1200.0,
        example="20 minute",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@frozen
class Layover:
    """What is done before a leg, after the arrival of the leg before it."""

    turn: str = choice(
        ("no", "turntable", "wye", "wye_with_train"),
        "How the engine is turned; `wye_with_train` turns engine and train together.",
        default="no",
    )
    turning_time: float = measure(
        "s",
        "Time to turn [common practice, no source].",
        at_least=0,
        at_most=DAY,
        default=900.0,
        example="15 minute",
    )
    run_around: str = choice(
        ("no", "yes"), "Whether the engine runs around its train to the other end.", default="no"
    )
    running_around_time: float = measure(
        "s",
        "Time to run around [common practice, no source].",
        at_least=0,
        at_most=DAY,
        default=600.0,
        example="10 minute",
    )
    leaves: str = choice(
        ("by_the_line", "onward", "back"),
        "Whether the train leaves onward or back the way it came in; `by_the_line` decides by the order of the "
        "stations of both legs, and takes onward where they have fewer than two in common.",
        default="by_the_line",
    )
    switching_time: float = measure(
        "s",
        "Time to set out and pick up cars, where the next leg has others [common practice, no source].",
        at_least=0,
        at_most=DAY,
        default=900.0,
        example="15 minute",
    )
    engine_change_time: float = measure(
        "s",
        "Time to change engines, where the next leg has another [common practice, no source].",
        at_least=0,
        at_most=DAY,
        default=600.0,
        example="10 minute",
    )
    brake_test_time: float = measure(
        "s",
        "Time of the brake test, made where engine or cars were uncoupled [common practice, no source].",
        at_least=0,
        at_most=DAY,
        default=600.0,
        example="10 minute",
    )
    inspection_time: float = measure(
        "s",
        "Time to oil and inspect the engine [common practice, no source].",
        at_least=0,
        at_most=DAY,
        default=600.0,
        example="10 minute",
    )
    break_time: float = measure(
        "s",
        "Break of the crew, with no other work at the time.",
        at_least=0,
        at_most=DAY,
        default=0.0,
        example="30 minute",
    )
    take_water: str = choice(("no", "fill"), "Whether to fill the tank.", default="no")
    water: float | None = measure(
        "m^3",
        "Water taken, at most what the tank holds, in place of filling it.",
        at_least=0,
        below=500,
        default=None,
        example="3000 us_gallon",
    )
    water_rate: float | None = measure(
        "m^3/s",
        "Rate of taking water, in place of that of the station.",
        above=0,
        below=10,
        default=None,
        example="500 us_gallon/minute",
    )
    take_fuel: str = choice(("no", "fill"), "Whether to fill the fuel space.", default="no")
    fuel: float | None = measure(
        "kg",
        "Fuel taken, at most what the fuel space holds, in place of filling it.",
        at_least=0,
        below=2e5,
        default=None,
        example="4 short_ton",
    )
    fuel_rate: float | None = measure(
        "kg/s",
        "Rate of fueling, in place of that of the station.",
        above=0,
        below=1000,
        default=None,
        example="20 short_ton/hour",
    )

    def __post_init__(self) -> None:
        """Check every field, and that an amount is not given beside filling."""
        check(self)

    def _amount_faults(self) -> Iterator[Fault]:
        """Yield a fault for each amount beside `fill`."""
        for key, filling in (("water", "take_water"), ("fuel", "take_fuel")):
            if getattr(self, key) is not None and getattr(self, filling) == "fill":
                yield Fault(key, f'is an amount beside {filling} = "fill"; write one of them')

    @property
    def takes_water(self) -> bool:
        """Whether water is taken."""
        return self.take_water == "fill" or bool(self.water)

    @property
    def takes_fuel(self) -> bool:
        """Whether fuel is taken."""
        return self.take_fuel == "fill" or bool(self.fuel)


@frozen
class Leg:
    """One leg of the day."""

    excursion: Excursion = entry(
        "The leg as an excursion: a file, or the same keys in a table. Water and fuel at its start count only where "
        "its engine begins the day.",
        file=True,
    )
    changes: tuple[str, ...] = entry(
        "Changes made in the excursion for this leg.", default=(), example='["departure=14:00", "rail=wet"]'
    )
    crew: str = entry("Name of the engine crew.", default="engine crew")
    layover: Layover = entry("What is done before this leg; not in the first one.", default=Layover())

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)

    @property
    def engine(self) -> str:
        """Name of the engine."""
        return self.excursion.locomotive.name

    @property
    def origin(self) -> str:
        """Where the leg begins."""
        return self.excursion.stops[0].station

    @property
    def destination(self) -> str:
        """Where it ends."""
        return self.excursion.stops[-1].station


@frozen
class Day:
    """A day of several legs, there and back or round about."""

    name: str = entry("Name of the day.")
    legs: tuple[Leg, ...] = entry("Legs in order of time.", at_least=1, at_most=50)
    crew_hours: CrewHours = entry("Hours of the crew and their limits.", default=CrewHours())
    provenance: Provenance | None = attached("Files and changes the day was read from.")

    def __post_init__(self) -> None:
        """Check every field, and that each leg can follow the one before."""
        check(self)

    def _time_faults(self) -> Iterator[Fault]:
        """Yield a fault for each leg that departs before the one before it is booked to run."""
        for number, (before, leg) in enumerate(pairwise(self.legs), start=2):
            if leg.excursion.departure <= before.excursion.departure:
                yield Fault(
                    f"legs[{number}].excursion.departure",
                    f"of leg {number} must be after that of the leg before at {{before}}, found {{found}}; hours of "
                    "the next day continue from 24; for two engines at work at once write a day file for each",
                    figures={
                        "before": clock_text(before.excursion.departure),
                        "found": clock_text(leg.excursion.departure),
                    },
                )

    def _place_faults(self) -> Iterator[Fault]:
        """Yield a fault for each leg that begins where the one before does not end."""
        for number, (before, leg) in enumerate(pairwise(self.legs), start=2):
            if leg.origin != before.destination:
                yield Fault(
                    f"legs[{number}].excursion.stops",
                    f"of leg {number} begin at {{origin}}, but the leg before ends at {{end}}; add a leg between, of "
                    "the engine alone with vehicles = [] if need be; if this leg is another engine's while the first "
                    "is at work or waits elsewhere, write a day file for each engine",
                    figures={"origin": leg.origin, "end": before.destination},
                )

    def _engine_place_faults(self) -> Iterator[Fault]:
        """Yield a fault for each leg whose engine was left elsewhere, and for supplies of one that begins its day."""
        for number, leg in enumerate(self.legs, start=1):
            last = self.last_leg_of_engine(number)
            if last is not None and self.legs[last - 1].destination != leg.origin:
                yield Fault(
                    f"legs[{number}].excursion.locomotive",
                    f"of leg {number}, {{engine}}, was left at {{place}} by leg {{last}}, and this leg begins at "
                    "{origin}; add a leg that brings it there",
                    figures={
                        "engine": leg.engine,
                        "place": self.legs[last - 1].destination,
                        "last": str(last),
                        "origin": leg.origin,
                    },
                )
            if last is None and (leg.layover.takes_water or leg.layover.takes_fuel):
                yield Fault(
                    f"legs[{number}].layover",
                    "takes water or fuel for {engine}, which begins its day with this leg; write initial_water and "
                    "initial_fuel in its excursion",
                    figures={"engine": leg.engine},
                )

    def _supply_faults(self) -> Iterator[Fault]:
        """Yield a fault for each layover that takes water or fuel where the place has none."""
        for number, leg in enumerate(self.legs[1:], start=2):
            station = next((s for s in leg.excursion.route.stations if s.name == leg.origin), None)
            if station is None:
                continue  # a fault of the excursion
            for taken, rate in (
                (leg.layover.takes_water, "water_rate"),
                (leg.layover.takes_fuel, "fuel_rate"),
            ):
                if taken and not (getattr(leg.layover, rate) or getattr(station, rate)):
                    yield Fault(
                        f"legs[{number}].layover.{rate}",
                        "is needed: {station} has no {rate} in the route; write one here, or in the route",
                        figures={"station": leg.origin, "rate": rate},
                    )

    def _turning_faults(self) -> Iterator[Fault]:
        """Yield a fault for each layover in which an engine is turned that begins its day or changes."""
        for number, leg in enumerate(self.legs, start=1):
            if leg.layover.turn != "no" and self.last_leg_of_engine(number) is None:
                yield Fault(
                    f"legs[{number}].layover.turn",
                    "turns {engine}, which begins its day with this leg; write engine_facing in its excursion",
                    figures={"engine": leg.engine},
                )

    def _leaving_faults(self) -> Iterator[Fault]:
        """Yield a fault where the file says onward or back and the stations say the other."""
        for number, (before, leg) in enumerate(pairwise(self.legs), start=2):
            known = goes_back(before.excursion, leg.excursion)
            if leg.layover.leaves != "by_the_line" and known not in (None, leg.layover.leaves == "back"):
                yield Fault(
                    f"legs[{number}].layover.leaves",
                    'is "{found}", but by the order of the stations the train leaves {other}; omit it, or correct '
                    "direction or stops",
                    figures={"found": leg.layover.leaves, "other": "back" if known else "onward"},
                )

    def _run_around_faults(self) -> Iterator[Fault]:
        """Yield a fault where the engine would be at the wrong end of cars that stay with it."""
        for number, (before, leg) in enumerate(pairwise(self.legs), start=2):
            if before.engine != leg.engine or not kept_cars(before.excursion.train, leg.excursion.train):
                continue
            needed = self.leaves_back(number) != (leg.layover.turn == "wye_with_train")
            if needed != (leg.layover.run_around == "yes"):
                yield Fault(
                    f"legs[{number}].layover.run_around",
                    'must be "{needed}": the train leaves {way}{turned}, and the engine goes ahead of it',
                    figures={
                        "needed": "yes" if needed else "no",
                        "way": "back" if self.leaves_back(number) else "onward",
                        "turned": " with engine and train turned"
                        if leg.layover.turn == "wye_with_train"
                        else "",
                    },
                )

    def _facing_faults(self) -> Iterator[Fault]:
        """Yield a fault for each engine that faces otherwise than the leg before and the turning leave it."""
        for number, leg in enumerate(self.legs, start=1):
            last = self.last_leg_of_engine(number)
            if last is None:
                continue
            if self.legs[last - 1].destination != leg.origin:
                continue  # a fault of its place
            before = self.legs[last - 1].excursion.engine_facing
            facing = before if self._keeps_facing(last, number) else _other_end(before)
            if facing != leg.excursion.engine_facing:
                turned = leg.layover.turn != "no"
                yield Fault(
                    f"legs[{number}].excursion.engine_facing",
                    f'of leg {number} must be "{{facing}}": {{engine}} came {{before}} with leg {{last}}, {{turned}}, '
                    "and leaves {way}; or {remedy}",
                    figures={
                        "facing": facing,
                        "engine": leg.engine,
                        "before": before.replace("_", " "),
                        "last": str(last),
                        "turned": "is turned" if turned else "is not turned",
                        "remedy": "omit turn in its layover" if turned else "turn it in its layover",
                        "way": "back" if self._leaves_back_after(last, number) else "onward",
                    },
                )

    def last_leg_of_engine(self, number: int) -> int | None:
        """Number of the last leg before one that has its engine; None where the engine begins its day."""
        engine = self.legs[number - 1].engine
        return next((n for n in range(number - 1, 0, -1) if self.legs[n - 1].engine == engine), None)

    def leaves_back(self, number: int) -> bool:
        """Whether the train of a leg leaves the way that of the leg before came in."""
        return self._leaves_back_after(number - 1, number)

    def _leaves_back_after(self, last: int, number: int) -> bool:
        layover = self.legs[number - 1].layover
        if layover.leaves != "by_the_line":
            return layover.leaves == "back"
        return bool(goes_back(self.legs[last - 1].excursion, self.legs[number - 1].excursion))

    def _keeps_facing(self, last: int, number: int) -> bool:
        """Whether an engine faces, against the direction of travel, as it did on its last leg."""
        turned = self.legs[number - 1].layover.turn != "no"
        return self._leaves_back_after(last, number) == turned


def goes_back(before: Excursion, after: Excursion) -> bool | None:
    """Whether an excursion goes back over the line of another; None where they have fewer than two stations in common.

    Args:
        before: The one that came in.
        after: The one that leaves.
    """
    earlier = [station.name for station in before.route_as_run.stations]
    later = {station.name: place for place, station in enumerate(after.route_as_run.stations)}
    common = [later[name] for name in earlier if name in later]
    return None if len(common) < 2 else common[0] > common[-1]


def kept_cars(before: Train, after: Train) -> Counter[str]:
    """Cars that stay, by name: as many of each as both trains have."""
    return _cars(before) & _cars(after)


def cars_left(before: Train, after: Train) -> Counter[str]:
    """Cars of a train that the next one does not have, by name."""
    return _cars(before) - _cars(after)


def _cars(train: Train) -> Counter[str]:
    found: Counter[str] = Counter()
    for vehicle in train.vehicles:
        found[vehicle.name] += vehicle.count
    return found


def _other_end(facing: str) -> str:
    return "tender_first" if facing == "stack_first" else "stack_first"
