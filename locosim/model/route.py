"""The line: profile, curves, speed limits, stations and supplies, by chainage."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TypeVar

from locosim.constants import MILE
from locosim.errors import OutOfRange
from locosim.model.field import check, choice, entry, measure
from locosim.physics.adhesion import CONDITIONS
from locosim.physics.line_resistance import LEAST_RADIUS

RAILS = tuple(CONDITIONS)
# The laws of curve resistance that ask for nothing but the radius.
CURVE_LAWS_BY_RADIUS = ("per_degree", "roeckl", "roeckl_metre_gauge", "launhardt_1888")
ROUNDING = 1e-3  # [m]; 12 mile 43 chain and 12.5375 mile are the same place, but not to the last bit


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfilePoint:
    """A point of the profile: a grade that holds up to the next point, or an elevation."""

    chainage: float = measure("m", "Distance along the line.", example="12 mile 43 chain")
    gradient: float | None = measure(
        "gradient",
        "Rise over run from here to the next point; rising with the chainage is positive.",
        above=-0.15,
        below=0.15,
        default=None,
        example="1 in 80",
    )
    elevation: float | None = measure("m", "Height of the rail.", default=None, example="1250 ft")

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """A stretch of constant curvature."""

    start: float = measure("m", "Chainage where it begins.", example="3.2 mile")
    end: float = measure("m", "Chainage where it ends.", example="3.5 mile")
    radius: float = measure(
        "curve", "Radius, or degree of curve on a 100 ft chord.", above=20, example="4 deg"
    )

    def __post_init__(self) -> None:
        """Check every field and the order of the ends."""
        check(self)
        _ordered(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedLimit:
    """A stretch with a speed limit of its own."""

    start: float = measure("m", "Chainage where it begins.", example="10 mile")
    end: float = measure("m", "Chainage where it ends.", example="12 mile")
    speed: float = measure("m/s", "Greatest speed.", above=0.5, below=90, example="25 mph")

    def __post_init__(self) -> None:
        """Check every field and the order of the ends."""
        check(self)
        _ordered(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tunnel:
    """A stretch in a tunnel, where rails are damp and smoke counts."""

    start: float = measure("m", "Chainage of one portal.", example="20 mile")
    end: float = measure("m", "Chainage of the other portal.", example="20.6 mile")
    name: str = entry("Name of the tunnel.", default="tunnel")

    def __post_init__(self) -> None:
        """Check every field and the order of the ends."""
        check(self)
        _ordered(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """A place where trains stop."""

    name: str = entry("Name of the station.")
    chainage: float = measure("m", "Where the engine stands.", example="12 mile 43 chain")
    water_rate: float = measure(
        "m^3/s",
        "Water the column gives; 0 where there is none.",
        at_least=0,
        default=0.0,
        example="1500 us_gallon/minute",
    )
    fuel_rate: float = measure(
        "kg/s",
        "Fuel the stage gives; 0 where there is none.",
        at_least=0,
        default=0.0,
        example="20 short_ton/hour",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class RailStretch:
    """A stretch whose rail is known to be no better than so, whatever the weather."""

    start: float = measure("m", "Chainage where it begins.", example="18 mile")
    end: float = measure("m", "Chainage where it ends.", example="19 mile")
    rail: str = choice(RAILS, "Condition of the rail at best; on a worse day the day's holds.")

    def __post_init__(self) -> None:
        """Check every field and the order of the ends."""
        check(self)
        _ordered(self)


Stretch = TypeVar("Stretch", Curve, SpeedLimit, Tunnel, RailStretch)


def _ordered(stretch: Curve | SpeedLimit | Tunnel | RailStretch) -> None:
    """Refuse a stretch that ends before it begins."""
    if stretch.end <= stretch.start:
        raise OutOfRange(
            f"{type(stretch).__name__}.end must be beyond start ({stretch.start:g} m), found {stretch.end:g}"
        )


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
        "Stretches with a limit of their own.", default=(), table=True
    )
    curves: tuple[Curve, ...] = entry("Curves.", default=(), table=True)
    tunnels: tuple[Tunnel, ...] = entry("Tunnels.", default=(), table=True)
    rail_stretches: tuple[RailStretch, ...] = entry(
        "Stretches with a rail condition of their own.", default=(), table=True
    )
    curve_law: str = choice(CURVE_LAWS_BY_RADIUS, "Published law of curve resistance.", default="per_degree")
    axle_load_greatest: float | None = measure(
        "kg", "Greatest axle load the line carries.", above=1000, default=None, example="50000 lb"
    )
    references: tuple[str, ...] = entry("Where these data come from.", default=())

    def __post_init__(self) -> None:
        """Check every field, the order of the chainages and that stations lie on the line."""
        check(self)
        faults = [*self._profile_faults(), *self._station_faults(), *self._curve_faults()]
        if faults:
            raise OutOfRange("; ".join(faults))
        object.__setattr__(self, "stations", tuple(self._on_line(s) for s in self.stations))

    def _on_line(self, station: Station) -> Station:
        """A station that rounding put off an end of the line, put back on it."""
        on_line = min(max(station.chainage, self.start), self.end)
        return station if on_line == station.chainage else replace(station, chainage=on_line)

    def _profile_faults(self) -> list[str]:
        """Say what is wrong with the profile, all of it."""
        points = self.profile
        faults = [
            f"Route.profile must run with growing chainage, found {_place(b.chainage)} "
            f"after {_place(a.chainage)}"
            for a, b in pairwise(points)
            if b.chainage <= a.chainage
        ]
        by_grade = all(p.gradient is not None for p in points[:-1]) and all(
            p.elevation is None for p in points
        )
        by_height = all(p.elevation is not None and p.gradient is None for p in points)
        if not (by_grade or by_height):
            faults.append(
                "Route.profile must give either a gradient at every point but the last, "
                "or an elevation at every point"
            )
        elif by_height:
            faults.extend(
                f"Route.profile rises {abs(rise / run):.1%} between {a.chainage:g} and {b.chainage:g} m; "
                "grades must be below 15 %"
                for a, b in pairwise(points)
                if (run := b.chainage - a.chainage) > 0
                and abs(rise := (b.elevation or 0.0) - (a.elevation or 0.0)) >= 0.15 * run
            )
        return faults

    def _curve_faults(self) -> list[str]:
        """Say which curves are tighter than the law of curve resistance holds for."""
        least = LEAST_RADIUS.get(self.curve_law, 0.0)
        return [
            f"Route.curve_law {self.curve_law} holds from {least:g} m of radius, found a curve of {c.radius:g} m; "
            "take per_degree"
            for c in self.curves
            if c.radius < least
        ]

    def _station_faults(self) -> list[str]:
        """Say which stations are off the line, twice there or out of order."""
        names = [station.name for station in self.stations]
        faults = [
            f"Route.stations names {name!r} twice"
            for name in sorted({n for n in names if names.count(n) > 1})
        ]
        faults += [
            f"station {s.name!r} at {_place(s.chainage)} lies off the profile, "
            f"which runs from {_place(self.start)} to {_place(self.end)}"
            for s in self.stations
            if not self.start - ROUNDING <= s.chainage <= self.end + ROUNDING
        ]
        faults += [
            f"Route.stations must be in order of chainage, found {b.name!r} after {a.name!r}"
            for a, b in pairwise(self.stations)
            if b.chainage <= a.chainage
        ]
        return faults

    @property
    def start(self) -> float:
        """Chainage of the first profile point [m]."""
        return self.profile[0].chainage

    @property
    def end(self) -> float:
        """Chainage of the last profile point [m]."""
        return self.profile[-1].chainage

    def grade_pieces(self) -> tuple[tuple[float, float, float], ...]:
        """Give the line as pieces of constant grade: start [m], end [m], rise over run [1]."""
        pieces = []
        for a, b in pairwise(self.profile):
            if a.gradient is not None:
                grade = a.gradient
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
            f"no station {name!r} on {self.name}; there are {', '.join(s.name for s in self.stations)}"
        )

    def backwards(self) -> Route:
        """The same line run from its other end; chainages are mirrored between the old start and end."""

        def mirror(chainage: float) -> float:
            return self.start + (self.end - chainage)

        def on_line(chainage: float) -> float:
            # Rounding must not push a station at an end off the line.
            return min(max(chainage, self.start), self.end)

        def turned(stretches: tuple[Stretch, ...]) -> tuple[Stretch, ...]:
            return tuple(replace(s, start=mirror(s.end), end=mirror(s.start)) for s in reversed(stretches))

        pieces = self.grade_pieces()
        profile = [ProfilePoint(chainage=mirror(end), gradient=-grade) for _, end, grade in reversed(pieces)]
        profile.append(ProfilePoint(chainage=self.end))
        return replace(
            self,
            profile=tuple(profile),
            stations=tuple(replace(s, chainage=on_line(mirror(s.chainage))) for s in reversed(self.stations)),
            speed_limits=turned(self.speed_limits),
            curves=turned(self.curves),
            tunnels=turned(self.tunnels),
            rail_stretches=turned(self.rail_stretches),
        )


def _place(chainage: float) -> str:
    """A chainage as a message says it."""
    return f"{chainage:g} m ({chainage / MILE:.6g} mile)"
