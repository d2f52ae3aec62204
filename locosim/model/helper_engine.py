"""Helper engines: a second steam locomotive or a diesel over part of the line."""

from __future__ import annotations

from collections.abc import Iterator

from locosim.errors import Fault
from locosim.frozen import frozen
from locosim.model.declare import check, choice, entry, measure
from locosim.model.locomotive import Locomotive


@frozen
class Diesel:
    """A diesel helper; a diesel hauled dead is a vehicle of the train."""

    name: str = entry("Name or number.")
    mass: float = measure(
        "kg", "Mass in working order, all on powered axles.", above=50, below=1e6, example="125 short_ton"
    )
    length: float = measure("m", "Length over couplers.", above=0.3, below=40, example="58 ft")
    axles: int = entry("Number of axles.", at_least=2, at_most=40, default=4)
    rail_power: float = measure("W", "Power at the wheel rim.", above=0, below=1e8, example="1700 hp")
    starting_tractive_effort: float = measure(
        "N", "Starting tractive effort at the wheel rim.", above=0, below=1e7, example="60000 lbf"
    )
    frontal_area: float = measure(
        "m^2", "Frontal area, for air resistance.", above=0.05, below=20, default=11.15, example="120 ft^2"
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


@frozen
class Helper:
    """A second engine over part of the line: a double-header, a helper at the rear, or a diesel."""

    locomotive: Locomotive | None = entry("The helper, if a steam engine.", default=None, file=True)
    diesel: Diesel | None = entry("The helper, if a diesel.", default=None)
    place: str = choice(("front", "rear"), "Where the helper is coupled.", default="front")
    from_station: str | None = entry(
        "Stop where the helper is coupled on; if omitted, the first stop.", default=None
    )
    to_station: str | None = entry(
        "Stop where the helper is cut off; if omitted, the last stop.", default=None
    )

    def __post_init__(self) -> None:
        """Check every field, and that there is exactly one engine."""
        check(self)

    def _engine_faults(self) -> Iterator[Fault]:
        """Yield a fault unless there is exactly one engine."""
        if (self.locomotive is None) == (self.diesel is None):
            yield Fault("", "needs a locomotive or a diesel, and not both")

    @property
    def name(self) -> str:
        """Name of the helper engine."""
        return self.locomotive.name if self.locomotive is not None else getattr(self.diesel, "name", "")

    def name_beside(self, train_engine: str) -> str:
        """Name of the helper engine, told apart from a train engine of the same name."""
        return f"{self.name} (a second one)" if self.name == train_engine else self.name
