"""The line: profile, curves, speed limits, stations and supplies, by chainage."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TypeVar

from locosim.errors import Fault, OutOfRange, suggestion
from locosim.model.declare import check, choice, entry, measure
from locosim.physics.resistance.grade_and_curve import MIN_RADIUS
from locosim.physics.traction.rail_conditions import ADHESION_BY_RAIL_CONDITION

RAIL_CONDITIONS = tuple(ADHESION_BY_RAIL_CONDITION)
# The laws of curve resistance that ask for nothing but the radius.
RADIUS_ONLY_CURVE_LAWS = ("per_degree", "roeckl", "roeckl_meter_gauge", "launhardt_1888")
MIN_CHAINAGE, MAX_CHAINAGE = -1e6, 1e7  # [m]; the longest line in the world is 9,289 km
MAX_OVERRUN = 2000.0  # [m]; a curve or a limit at the end of the line may go on beyond it so far
ROUNDING_TOLERANCE = (
    1e-3  # [m]; 12 mile 43 chain and 12.5375 mile are the same place, but not to the last bit
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfilePoint:
    """A point of the profile: a grade that holds up to the next point, or an elevation."""

    chainage: float = measure(
        "m",
        "Distance along the line.",
        above=MIN_CHAINAGE,
        below=MAX_CHAINAGE,
        example="12 mile 43 chain",
    )
    grade: float | None = measure(
        "grade",
        "Rise over run from here to the next point; rising with the chainage is positive.",
        above=-0.15,
        below=0.15,
        default=None,
        example="1 in 80",
    )
    elevation: float | None = measure(
        "m", "Height of the rail.", above=-1000, below=10_000, default=None, example="1250 ft"
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """A stretch of constant curvature."""

    start: float = measure(
        "m", "Chainage where it begins.", above=MIN_CHAINAGE, below=MAX_CHAINAGE, example="3.2 mile"
    )
    end: float = measure(
        "m", "Chainage where it ends.", above=MIN_CHAINAGE, below=MAX_CHAINAGE, example="3.5 mile"
    )
    radius: float = measure(
        "curve", "Radius, or degree of curve on a 100 ft chord.", above=20, below=1e6, example="4 deg"
    )

    def __post_init__(self) -> None:
        """Check every field and the order of the ends."""
        check(self)

    def _order_faults(self) -> Iterator[Fault]:
        return _order_problem(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedLimit:
    """A stretch with a speed limit of its own."""

    start: float = measure(
        "m", "Chainage where it begins.", above=MIN_CHAINAGE, below=MAX_CHAINAGE, example="10 mile"
    )
    end: float = measure(
        "m", "Chainage where it ends.", above=MIN_CHAINAGE, below=MAX_CHAINAGE, example="12 mile"
    )
    speed: float = measure("m/s", "Greatest speed.", above=0.5, below=90, example="25 mph")

    def __post_init__(self) -> None:
        """Check every field and the order of the ends."""
        check(self)

    def _order_faults(self) -> Iterator[Fault]:
        return _order_problem(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tunnel:
    """A stretch in a tunnel, where rails are damp and smoke counts."""

    start: float = measure(
        "m", "Chainage of one portal.", above=MIN_CHAINAGE, below=MAX_CHAINAGE, example="8 mile"
    )
    end: float = measure(
        "m",
        "Chainage of the other portal.",
        above=MIN_CHAINAGE,
        below=MAX_CHAINAGE,
        example="8.6 mile",
    )
    name: str = entry("Name of the tunnel.", default="tunnel")

    def __post_init__(self) -> None:
        """Check every field and the order of the ends."""
        check(self)

    def _order_faults(self) -> Iterator[Fault]:
        return _order_problem(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """A place where trains stop."""

    name: str = entry("Name of the station.")
    chainage: float = measure(
        "m",
        "Where the engine stands.",
        above=MIN_CHAINAGE,
        below=MAX_CHAINAGE,
        example="12 mile 43 chain",
    )
    water_rate: float = measure(
        "m^3/s",
        "Water the column gives; 0 where there is none.",
        at_least=0,
        below=10,
        default=0.0,
        example="1500 us_gallon/minute",
    )
    fuel_rate: float = measure(
        "kg/s",
        "Fuel the stage gives; 0 where there is none.",
        at_least=0,
        below=1000,
        default=0.0,
        example="20 short_ton/hour",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class RailConditionZone:
    """A stretch whose rail is known to be no better than so, whatever the weather."""

    start: float = measure(
        "m", "Chainage where it begins.", above=MIN_CHAINAGE, below=MAX_CHAINAGE, example="9 mile"
    )
    end: float = measure(
        "m", "Chainage where it ends.", above=MIN_CHAINAGE, below=MAX_CHAINAGE, example="10 mile"
    )
    rail: str = choice(RAIL_CONDITIONS, "Condition of the rail at best; on a worse day the day's holds.")

    def __post_init__(self) -> None:
        """Check every field and the order of the ends."""
        check(self)

    def _order_faults(self) -> Iterator[Fault]:
        return _order_problem(self)


Stretch = TypeVar("Stretch", Curve, SpeedLimit, Tunnel, RailConditionZone)


def _order_problem(stretch: Curve | SpeedLimit | Tunnel | RailConditionZone) -> Iterator[Fault]:
    """Yield a fault when a stretch ends before it begins."""
    if stretch.end <= stretch.start:
        yield Fault(
            "end", "must be beyond start ({start}), found {found}", "m",
            {"start": stretch.start, "found": stretch.end},
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """A line from its first to its last profile point."""

    name: str = entry("Name of the line.")
    profile: tuple[ProfilePoint, ...] = entry("Grades or elevations by chainage.", at_least=2, table=True)
    stations: tuple[Station, ...] = entry("Stations in order.", at_least=2, table=True)
    speed_limit: float = measure(
        "m/s", "Line speed where nothing else is said.", above=0.5, below=90, example="45 mph"
    )
    speed_limits: tuple[SpeedLimit, ...] = entry(
        "Stretches with a limit of their own; where two overlap the lower holds.", default=(), table=True
    )
    curves: tuple[Curve, ...] = entry("Curves.", default=(), table=True)
    tunnels: tuple[Tunnel, ...] = entry("Tunnels.", default=(), table=True)
    rail_condition_zones: tuple[RailConditionZone, ...] = entry(
        "Stretches with a rail condition of their own.", default=(), table=True
    )
    curve_resistance_law: str = choice(
        RADIUS_ONLY_CURVE_LAWS, "Published law of curve resistance.", default="per_degree"
    )
    axle_load_limit: float | None = measure(
        "kg", "Greatest axle load the line carries.", above=1000, below=1e6, default=None, example="50000 lb"
    )
    references: tuple[str, ...] = entry("Where these data come from.", default=())

    def __post_init__(self) -> None:
        """Check every field, the order of the chainages and that stations lie on the line."""
        check(self)
        object.__setattr__(self, "stations", tuple(self._snapped_to_line(s) for s in self.stations))

    def _snapped_to_line(self, station: Station) -> Station:
        """A station that rounding put off an end of the line, put back on it."""
        clamped = min(max(station.chainage, self.start), self.end)
        return station if clamped == station.chainage else replace(station, chainage=clamped)

    def _profile_order_faults(self) -> Iterator[Fault]:
        """Yield the points of the profile that do not lie beyond the one before."""
        places = [getattr(point, "chainage", None) for point in self.profile]
        for number, (a, b) in enumerate(pairwise(places), start=2):
            if a is not None and b is not None and b <= a:
                yield Fault(
                    f"profile[{number}].chainage",
                    "must lie beyond the point before it, at {before}, found {found}; put the points in order of "
                    "chainage, each once",
                    "m",
                    {"before": a, "found": b},
                )

    def _profile_kind_faults(self) -> Iterator[Fault]:
        """Yield the points of the profile that give neither or both of grade and elevation, or another than most."""
        heights = [point.elevation is not None for point in self.profile]
        grades = [point.grade is not None for point in self.profile]
        by_height = sum(heights) > sum(grades)
        for number, (height, grade) in enumerate(zip(heights, grades, strict=True), start=1):
            last = number == len(heights)
            if (grade or not height) if by_height else (height or not (grade or last)):
                yield Fault(
                    f"profile[{number}]",
                    "must give a grade as every point but the last, or an elevation as every point; "
                    f"most here give {'an elevation' if by_height else 'a grade'}",
                )

    def _profile_grade_faults(self) -> Iterator[Fault]:
        """Yield the points of the profile between which the heights make too steep a grade."""
        for number, (a, b) in enumerate(pairwise(self.profile), start=2):
            run, rise = b.chainage - a.chainage, (b.elevation or 0.0) - (a.elevation or 0.0)
            if None not in (a.elevation, b.elevation) and run > 0 and abs(rise) >= 0.15 * run:
                yield Fault(
                    f"profile[{number}].elevation",
                    f"makes a grade of {abs(rise / run):.1%} from the point before it, at {{before}}, found {{found}}; "
                    "grades must be below 15 %",
                    "m",
                    {"before": a.elevation or 0.0, "found": b.elevation or 0.0},
                )

    def _curve_faults(self) -> Iterator[Fault]:
        """Yield the curves that are tighter than the law of curve resistance holds for."""
        least = MIN_RADIUS.get(self.curve_resistance_law, 0.0)
        for number, curve in enumerate(self.curves, start=1):
            if curve.radius < least:
                yield Fault(
                    f"curves[{number}].radius",
                    f'must be at least {{least}} for curve_resistance_law = "{self.curve_resistance_law}", found {{found}}; '
                    'write curve_resistance_law = "per_degree"',
                    "m",
                    {"least": least, "found": curve.radius},
                )

    def _station_name_faults(self) -> Iterator[Fault]:
        """Yield the stations whose name another has."""
        seen: Counter[str] = Counter()
        for number, station in enumerate(self.stations, start=1):
            name = getattr(station, "name", None)
            if name is not None and seen[name]:
                yield Fault(
                    f"stations[{number}].name",
                    "is the name of another station too, found {found}; each needs one of its own",
                    figures={"found": repr(name)},
                )
            seen[str(name)] += 1

    def _station_place_faults(self) -> Iterator[Fault]:
        """Yield the stations that lie off the line or not beyond the one before."""
        before = None
        for number, station in enumerate(self.stations, start=1):
            place = getattr(station, "chainage", None)
            if place is None:
                continue
            key, figures = f"stations[{number}].chainage", {"found": place}
            if not self.start - ROUNDING_TOLERANCE <= place <= self.end + ROUNDING_TOLERANCE:
                ends = {"start": self.start, "end": self.end}
                yield Fault(
                    key, "must lie on the profile, from {start} to {end}, found {found}", "m", ends | figures
                )
            if before is not None and place <= before:
                yield Fault(
                    key,
                    "must lie beyond the station before it, at {before}, found {found}; put the stations in order "
                    "of chainage",
                    "m",
                    {"before": before} | figures,
                )
            before = place

    def _stretch_faults(self) -> Iterator[Fault]:
        """Yield the stretches that lie off the line or run far beyond it."""
        for key in ("speed_limits", "curves", "tunnels", "rail_condition_zones"):
            for number, stretch in enumerate(getattr(self, key, ()), start=1):
                for name in ("start", "end"):
                    place = getattr(stretch, name, None)
                    if place is not None and not self.start - MAX_OVERRUN <= place <= self.end + MAX_OVERRUN:
                        yield Fault(
                            f"{key}[{number}].{name}",
                            "must lie on the line, from {start} to {end}, or near its ends, found {found}",
                            "m",
                            {"start": self.start, "end": self.end, "found": place},
                        )

    @property
    def start(self) -> float:
        """Chainage of the first profile point [m]."""
        return self.profile[0].chainage

    @property
    def end(self) -> float:
        """Chainage of the last profile point [m]."""
        return self.profile[-1].chainage

    def grade_segments(self) -> tuple[tuple[float, float, float], ...]:
        """Give the line as pieces of constant grade: start [m], end [m], rise over run [1]."""
        pieces = []
        for a, b in pairwise(self.profile):
            if a.grade is not None:
                grade = a.grade
            else:
                grade = ((b.elevation or 0.0) - (a.elevation or 0.0)) / (b.chainage - a.chainage)
            pieces.append((a.chainage, b.chainage, grade))
        return tuple(pieces)

    def station(self, name: str) -> Station:
        """Find a station by name.

        Raises:
            OutOfRange: When there is none of that name; the message lists those there are.
        """
        for station in self.stations:
            if station.name == name:
                return station
        raise OutOfRange(
            f"no station {name!r} on {self.name}; {suggestion(name, [s.name for s in self.stations])}"
        )

    def reversed(self) -> Route:
        """The same line run from its other end; chainages are mirrored between the old start and end."""

        def mirror(chainage: float) -> float:
            return self.start + (self.end - chainage)

        def clamped(chainage: float) -> float:
            # Rounding must not push a station at an end off the line.
            return min(max(chainage, self.start), self.end)

        def mirrored(stretches: tuple[Stretch, ...]) -> tuple[Stretch, ...]:
            return tuple(replace(s, start=mirror(s.end), end=mirror(s.start)) for s in reversed(stretches))

        pieces = self.grade_segments()
        profile = [ProfilePoint(chainage=mirror(end), grade=-grade) for _, end, grade in reversed(pieces)]
        profile.append(ProfilePoint(chainage=self.end))
        return replace(
            self,
            profile=tuple(profile),
            stations=tuple(replace(s, chainage=clamped(mirror(s.chainage))) for s in reversed(self.stations)),
            speed_limits=mirrored(self.speed_limits),
            curves=mirrored(self.curves),
            tunnels=mirrored(self.tunnels),
            rail_condition_zones=mirrored(self.rail_condition_zones),
        )
