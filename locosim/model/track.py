"""Parts of a line by chainage: profile, curves, speed limits, tunnels, stations and rail conditions."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypeVar

from locosim.errors import Fault
from locosim.frozen import frozen
from locosim.model.declare import check, choice, entry, measure
from locosim.physics.traction.rail_conditions import ADHESION_BY_RAIL_CONDITION

RAIL_CONDITIONS = tuple(ADHESION_BY_RAIL_CONDITION)
MIN_CHAINAGE, MAX_CHAINAGE = -1e6, 1e7  # [m]; the longest line in the world is 9,289 km
MAX_GRADE = 0.15  # [1]
MIN_CURVE_RADIUS = 15.24  # half a chord of 100 ft, below which a curve has no degree [m]


@frozen
class ProfilePoint:
    """A point of the profile, with the grade from there to the next point or with an elevation."""

    chainage: float = measure(
        "m",
        "Distance along the line.",
        above=MIN_CHAINAGE,
        below=MAX_CHAINAGE,
        example="12 mile 43 chain",
    )
    grade: float | None = measure(
        "grade",
        "Grade, rise over run, from here to the next point; positive if rising with the chainage.",
        above=-MAX_GRADE,
        below=MAX_GRADE,
        default=None,
        example="1 in 80",
    )
    elevation: float | None = measure(
        "m", "Elevation of the rail.", above=-1000, below=10_000, default=None, example="1250 ft"
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@frozen
class Curve:
    """A curve of constant radius."""

    start: float = measure(
        "m", "Chainage of the start.", above=MIN_CHAINAGE, below=MAX_CHAINAGE, example="3.2 mile"
    )
    end: float = measure(
        "m", "Chainage of the end.", above=MIN_CHAINAGE, below=MAX_CHAINAGE, example="3.5 mile"
    )
    radius: float = measure(
        "curve",
        "Radius, or degree of curve for a 100 ft chord.",
        above=MIN_CURVE_RADIUS,
        below=1e6,
        example="4 deg",
    )
    superelevation: float | None = measure(
        "m",
        "Superelevation: height of the outer rail over the inner one; the speed on the curve is checked if given.",
        at_least=0,
        below=0.25,
        default=None,
        example="3 in",
    )

    def __post_init__(self) -> None:
        """Check every field, and that the end is beyond the start."""
        check(self)

    def _order_faults(self) -> Iterator[Fault]:
        """Yield a fault if the end is not beyond the start."""
        return _stretch_order_faults(self)


@frozen
class SpeedLimit:
    """A stretch with a speed limit below that of the line."""

    start: float = measure(
        "m", "Chainage of the start.", above=MIN_CHAINAGE, below=MAX_CHAINAGE, example="10 mile"
    )
    end: float = measure(
        "m", "Chainage of the end.", above=MIN_CHAINAGE, below=MAX_CHAINAGE, example="12 mile"
    )
    speed: float = measure("m/s", "Speed limit.", above=0.5, below=90, example="25 mph")

    def __post_init__(self) -> None:
        """Check every field, and that the end is beyond the start."""
        check(self)

    def _order_faults(self) -> Iterator[Fault]:
        """Yield a fault if the end is not beyond the start."""
        return _stretch_order_faults(self)


@frozen
class Tunnel:
    """A tunnel."""

    start: float = measure(
        "m", "Chainage of the first portal.", above=MIN_CHAINAGE, below=MAX_CHAINAGE, example="8 mile"
    )
    end: float = measure(
        "m",
        "Chainage of the second portal.",
        above=MIN_CHAINAGE,
        below=MAX_CHAINAGE,
        example="8.6 mile",
    )
    name: str = entry("Name of the tunnel.", default="tunnel")

    def __post_init__(self) -> None:
        """Check every field, and that the end is beyond the start."""
        check(self)

    def _order_faults(self) -> Iterator[Fault]:
        """Yield a fault if the end is not beyond the start."""
        return _stretch_order_faults(self)


@frozen
class Station:
    """A station, with its water and fuel supply."""

    name: str = entry("Name of the station.")
    chainage: float = measure(
        "m",
        "Chainage where the engine stops.",
        above=MIN_CHAINAGE,
        below=MAX_CHAINAGE,
        example="12 mile 43 chain",
    )
    water_rate: float = measure(
        "m^3/s",
        "Rate of the water column; 0 if there is none.",
        at_least=0,
        below=10,
        default=0.0,
        example="1500 us_gallon/minute",
    )
    fuel_rate: float = measure(
        "kg/s",
        "Rate of fueling; 0 if there is no fuel.",
        at_least=0,
        below=1000,
        default=0.0,
        example="20 short_ton/hour",
    )
    turntable_length: float = measure(
        "m",
        "Length of the turntable; 0 if there is none.",
        at_least=0,
        below=60,
        default=0.0,
        example="75 ft",
    )
    wye_length: float = measure(
        "m",
        "Length of the shortest leg of the wye, clear of its switches; 0 if there is none.",
        at_least=0,
        below=10_000,
        default=0.0,
        example="400 ft",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@frozen
class RailConditionZone:
    """A stretch whose rail condition is never better than given, in any weather."""

    start: float = measure(
        "m", "Chainage of the start.", above=MIN_CHAINAGE, below=MAX_CHAINAGE, example="9 mile"
    )
    end: float = measure(
        "m", "Chainage of the end.", above=MIN_CHAINAGE, below=MAX_CHAINAGE, example="10 mile"
    )
    rail: str = choice(
        RAIL_CONDITIONS, "Best rail condition of the stretch; the excursion's applies if it is worse."
    )

    def __post_init__(self) -> None:
        """Check every field, and that the end is beyond the start."""
        check(self)

    def _order_faults(self) -> Iterator[Fault]:
        """Yield a fault if the end is not beyond the start."""
        return _stretch_order_faults(self)


Stretch = TypeVar("Stretch", Curve, SpeedLimit, Tunnel, RailConditionZone)


def _stretch_order_faults(stretch: Curve | SpeedLimit | Tunnel | RailConditionZone) -> Iterator[Fault]:
    """Yield a fault if a stretch does not end beyond its start."""
    if stretch.end <= stretch.start:
        yield Fault(
            "end", "must be beyond start ({start}), found {found}", "m",
            {"start": stretch.start, "found": stretch.end},
        )  # fmt: skip
