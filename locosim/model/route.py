"""The line with its profile, curves, speed limits and stations."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import pairwise

from locosim.errors import Fault, OutOfRange, suggestion
from locosim.frozen import frozen
from locosim.model.declare import attached, check, choice, entry, measure
from locosim.model.provenance import Provenance
from locosim.model.track import (
    MAX_GRADE,
    Curve,
    ProfilePoint,
    RailConditionZone,
    SpeedLimit,
    Station,
    Stretch,
    Tunnel,
)
from locosim.physics.resistance.grade_and_curve import MIN_RADIUS

# Laws of curve resistance that need only the radius.
RADIUS_ONLY_CURVE_LAWS = ("per_degree", "roeckl", "roeckl_meter_gauge", "launhardt_1888")
MIN_STATION_DISTANCE = 10.0  # less is two names of one place [m]
MAX_OVERRUN = 2000.0  # a curve or limit at the end of the line may extend this far beyond it [m]
ROUNDING_TOLERANCE = 1e-3  # 12 mile 43 chain and 12.5375 mile are one place, but not to the last bit [m]


@frozen
class Route:
    """A line from its first to its last profile point."""

    name: str = entry("Name of the line.")
    profile: tuple[ProfilePoint, ...] = entry(
        "Profile: grades or elevations by chainage.", at_least=2, table=True
    )
    stations: tuple[Station, ...] = entry("Stations in order of chainage.", at_least=2, table=True)
    speed_limit: float = measure(
        "m/s", "Speed limit of the line where no other applies.", above=0.5, below=90, example="45 mph"
    )
    speed_limits: tuple[SpeedLimit, ...] = entry(
        "Stretches with their own speed limit; where two overlap, the lower applies.", default=(), table=True
    )
    curves: tuple[Curve, ...] = entry("Curves.", default=(), table=True)
    tunnels: tuple[Tunnel, ...] = entry("Tunnels.", default=(), table=True)
    rail_condition_zones: tuple[RailConditionZone, ...] = entry(
        "Stretches with their own rail condition.", default=(), table=True
    )
    curve_resistance_law: str = choice(
        RADIUS_ONLY_CURVE_LAWS, "Published law of curve resistance.", default="per_degree"
    )
    altitude: float = measure(
        "m",
        "Mean altitude of the line above the sea, for the density of the air; elevations of the profile may be above "
        "any datum and do not set it.",
        above=-500,
        below=6000,
        default=0.0,
        example="9300 ft",
    )
    axle_load_limit: float | None = measure(
        "kg", "Axle load limit of the line.", above=10, below=1e6, default=None, example="50000 lb"
    )
    references: tuple[str, ...] = entry("Sources of the data.", default=())
    provenance: Provenance | None = attached("Files and changes the route was read from.")

    def __post_init__(self) -> None:
        """Check every field, the order of the chainages, and that stations lie on the line."""
        check(self)
        object.__setattr__(self, "stations", tuple(self._snapped_to_line(s) for s in self.stations))

    def _snapped_to_line(self, station: Station) -> Station:
        """A station, moved onto the line if rounding put it beyond an end."""
        clamped = min(max(station.chainage, self.start), self.end)
        return station if clamped == station.chainage else replace(station, chainage=clamped)

    def _profile_order_faults(self) -> Iterator[Fault]:
        """Yield a fault for each point of the profile that is not beyond the one before."""
        chainages = [getattr(point, "chainage", None) for point in self.profile]
        for number, (a, b) in enumerate(pairwise(chainages), start=2):
            if a is not None and b is not None and b <= a:
                yield Fault(
                    f"profile[{number}].chainage",
                    "must be beyond the point before it, at {before}, found {found}; put the points in order of "
                    "chainage, each once",
                    "m",
                    {"before": a, "found": b},
                )

    def _profile_kind_faults(self) -> Iterator[Fault]:
        """Yield a fault for each point of the profile without exactly one of grade and elevation, alike for all."""
        heights = [point.elevation is not None for point in self.profile]
        grades = [point.grade is not None for point in self.profile]
        by_height = sum(heights) > sum(grades)
        for number, (height, grade) in enumerate(zip(heights, grades, strict=True), start=1):
            last = number == len(heights)
            if (grade or not height) if by_height else (height or not (grade or last)):
                yield Fault(
                    f"profile[{number}]",
                    "must give a grade like every point but the last, or an elevation like every point; "
                    f"most here give {'an elevation' if by_height else 'a grade'}",
                )

    def _profile_grade_faults(self) -> Iterator[Fault]:
        """Yield a fault for each point of the profile whose elevation makes the grade too steep."""
        for number, (a, b) in enumerate(pairwise(self.profile), start=2):
            run, rise = b.chainage - a.chainage, (b.elevation or 0.0) - (a.elevation or 0.0)
            if None not in (a.elevation, b.elevation) and run > 0 and abs(rise) >= MAX_GRADE * run:
                yield Fault(
                    f"profile[{number}].elevation",
                    f"makes a grade of {100 * abs(rise / run):.1f} % from the point before it, at {{before}}, "
                    f"found {{found}}; grades must be below {100 * MAX_GRADE:.0f} %",
                    "m",
                    {"before": a.elevation or 0.0, "found": b.elevation or 0.0},
                )

    def _curve_faults(self) -> Iterator[Fault]:
        """Yield a fault for each curve that is sharper than the range of the law of curve resistance."""
        min_radius = MIN_RADIUS.get(self.curve_resistance_law, 0.0)
        for number, curve in enumerate(self.curves, start=1):
            if curve.radius < min_radius:
                yield Fault(
                    f"curves[{number}].radius",
                    f'must be at least {{min_radius}} for curve_resistance_law = "{self.curve_resistance_law}", '
                    'found {found}; write curve_resistance_law = "per_degree"',
                    "m",
                    {"min_radius": min_radius, "found": curve.radius},
                )

    def _station_name_faults(self) -> Iterator[Fault]:
        """Yield a fault for each station with the name of an earlier one."""
        seen: Counter[str] = Counter()
        for number, station in enumerate(self.stations, start=1):
            name = getattr(station, "name", None)
            if name is not None and seen[name]:
                yield Fault(
                    f"stations[{number}].name",
                    "is also the name of another station, found {found}; each needs its own",
                    figures={"found": repr(name)},
                )
            seen[str(name)] += 1

    def _station_place_faults(self) -> Iterator[Fault]:
        """Yield a fault for each station that is off the line or not beyond the one before."""
        before = None
        for number, station in enumerate(self.stations, start=1):
            chainage = getattr(station, "chainage", None)
            if chainage is None:
                continue
            key, figures = f"stations[{number}].chainage", {"found": chainage}
            if not self.start - ROUNDING_TOLERANCE <= chainage <= self.end + ROUNDING_TOLERANCE:
                ends = {"start": self.start, "end": self.end}
                yield Fault(
                    key, "must be on the profile, from {start} to {end}, found {found}", "m", ends | figures
                )
            if before is not None and chainage < before + MIN_STATION_DISTANCE:
                yield Fault(
                    key,
                    "must be at least {distance} beyond the station before it, at {before}, found {found}; put the "
                    "stations in order of chainage, and give a place one name",
                    "m",
                    {"before": before, "distance": MIN_STATION_DISTANCE} | figures,
                )
            before = chainage

    def _stretch_faults(self) -> Iterator[Fault]:
        """Yield a fault for each stretch that is off the line or extends far beyond it."""
        low, high = self.start - MAX_OVERRUN, self.end + MAX_OVERRUN
        for key in ("speed_limits", "curves", "tunnels", "rail_condition_zones"):
            for number, stretch in enumerate(getattr(self, key, ()), start=1):
                for name in ("start", "end"):
                    chainage = getattr(stretch, name, None)
                    if chainage is not None and not low <= chainage <= high:
                        yield Fault(
                            f"{key}[{number}].{name}",
                            "must be on the line, from {start} to {end}, or near its ends, found {found}",
                            "m",
                            {"start": self.start, "end": self.end, "found": chainage},
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
        """Pieces of constant grade, each with start [m], end [m] and rise over run [1]."""
        pieces = []
        for a, b in pairwise(self.profile):
            if a.grade is not None:
                grade = a.grade
            else:
                grade = ((b.elevation or 0.0) - (a.elevation or 0.0)) / (b.chainage - a.chainage)
            pieces.append((a.chainage, b.chainage, grade))
        return tuple(pieces)

    def station(self, name: str) -> Station:
        """The station of a name.

        Raises:
            OutOfRange: If there is no such station; the message names a similar one or lists all.
        """
        for station in self.stations:
            if station.name == name:
                return station
        raise OutOfRange(
            f"no station {name!r} on {self.name}; {suggestion(name, [s.name for s in self.stations])}"
        )

    def _mirrored_profile(self, mirror: Callable[[float], float]) -> tuple[ProfilePoint, ...]:
        """The profile in the opposite direction, by elevation or by grade as this one."""
        if self.profile[0].elevation is not None:
            return tuple(replace(point, chainage=mirror(point.chainage)) for point in reversed(self.profile))
        pieces = [*reversed(self.grade_segments())]
        points = [ProfilePoint(chainage=mirror(end), grade=-grade) for _, end, grade in pieces]
        return (*points, ProfilePoint(chainage=self.end))

    def reversed(self) -> Route:
        """The same line in the opposite direction; chainages are mirrored between start and end."""

        def mirror(chainage: float) -> float:
            return self.start + (self.end - chainage)

        def clamped(chainage: float) -> float:
            # Rounding must not move a station at an end off the line.
            return min(max(chainage, self.start), self.end)

        def mirrored(stretches: tuple[Stretch, ...]) -> tuple[Stretch, ...]:
            return tuple(replace(s, start=mirror(s.end), end=mirror(s.start)) for s in reversed(stretches))

        return replace(
            self,
            profile=self._mirrored_profile(mirror),
            stations=tuple(replace(s, chainage=clamped(mirror(s.chainage))) for s in reversed(self.stations)),
            speed_limits=mirrored(self.speed_limits),
            curves=mirrored(self.curves),
            tunnels=mirrored(self.tunnels),
            rail_condition_zones=mirrored(self.rail_condition_zones),
        )
