"""A road log: what was noted on a trip, row by row."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from locosim.errors import Fault
from locosim.frozen import frozen
from locosim.model.declare import check, choice, measure
from locosim.model.provenance import Provenance
from locosim.physics.types import Floats


@frozen
class RoadLogRow:
    """One row of a road log; a blank throttle, cutoff or brake is that of the row above."""

    time: float | None = measure(
        "clock", "Time of day; a time before that of the row above is on the next day.", default=None
    )
    elapsed: float | None = measure(
        "s", "Time since the log began, in place of the time of day.", at_least=0, default=None, example="1 s"
    )
    place: float | None = measure(
        "m", "Chainage of the engine on the route.", default=None, example="12.4 mile"
    )
    speed: float | None = measure("m/s", "Speed.", at_least=0, below=90, default=None, example="40 mph")
    throttle: float | None = measure(
        "", "Throttle opening: 0 shut, 1 wide open.", at_least=0, at_most=1, default=None, example="100 %"
    )
    cutoff: float | None = measure(
        "", "Cutoff, as a fraction of the stroke.", above=0, at_most=0.95, default=None, example="30 %"
    )
    pressure: float | None = measure(
        "Pa", "Boiler pressure by the gauge.", at_least=0, below=5e6, default=None, example="195 psi"
    )
    brake: str | None = choice(("on", "off"), "Whether the brakes are on.", default=None)
    tender_water: float | None = measure(
        "m^3", "Water left on the tender.", at_least=0, below=500, default=None, example="5200 us_gallon"
    )
    fuel_fired: float | None = measure(
        "kg", "Fuel fired since the log began.", at_least=0, below=1e6, default=None, example="1500 lb"
    )

    def __post_init__(self) -> None:
        """Check every field, and that the row has one time."""
        check(self)

    def _time_faults(self) -> Iterator[Fault]:
        """Yield a fault for a row without a time, or with two."""
        if self.time is None and self.elapsed is None:
            yield Fault(
                "time", "is missing; write a time of day, as 10:35:20, or give the column elapsed [s]"
            )
        elif self.time is not None and self.elapsed is not None:
            yield Fault("elapsed", "is given beside time; keep one of the two columns")


@frozen(eq=False)
class RoadLog:
    """A road log as arrays, all of shape (n,), in order of time.

    Attributes:
        name: Name of the log.
        time: Time since the midnight before the log began, or since the log began where it gives no time of day [s].
        place: Chainage on the route; NaN where the log gives none [m].
        speed: NaN where the log gives none [m/s].
        throttle: Opening; NaN up to the first one given [1].
        cutoff: NaN up to the first one given [1].
        pressure: Gauge pressure of the boiler; NaN where the log gives none [Pa].
        braking: Whether the brakes are on.
        tender_water: Water left on the tender; NaN where it was not read [kg].
        fuel_fired: Fuel fired since the log began; NaN where it was not noted [kg].
        provenance: The file; None for a log made in code.
    """

    name: str
    time: Floats
    place: Floats
    speed: Floats
    throttle: Floats
    cutoff: Floats
    pressure: Floats
    braking: npt.NDArray[np.bool_]
    tender_water: Floats
    fuel_fired: Floats
    provenance: Provenance | None = None
