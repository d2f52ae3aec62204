"""The tubes and flues of a boiler, and the superheater in the flues."""

from __future__ import annotations

import math
from collections.abc import Iterator

from locosim.errors import Fault
from locosim.frozen import frozen
from locosim.model.declare import check, entry, measure


@frozen
class Tubes:
    """The small tubes."""

    count: int = entry("Number of tubes.", at_least=1, at_most=2000)
    outside_diameter: float = measure(
        "m", "Outside diameter of a tube.", above=0.003, below=0.15, example="2.25 in"
    )
    wall_thickness: float = measure(
        "m",
        "Wall thickness of a tube; the default is customary, no source.",
        above=0.0002,
        below=0.01,
        default=0.003,
        example="0.12 in",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)

    @property
    def inside_diameter(self) -> float:
        """Inside diameter of a tube [m]."""
        return self.outside_diameter - 2.0 * self.wall_thickness


@frozen
class Flues:
    """The flues, which contain the superheater elements."""

    count: int = entry("Number of flues.", at_least=1, at_most=500)
    outside_diameter: float = measure(
        "m", "Outside diameter of a flue.", above=0.006, below=0.4, example="5.5 in"
    )
    wall_thickness: float = measure(
        "m",
        "Wall thickness of a flue; the default is customary, no source.",
        above=0.0002,
        below=0.012,
        default=0.004,
        example="0.15 in",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)

    @property
    def inside_diameter(self) -> float:
        """Inside diameter of a flue [m]."""
        return self.outside_diameter - 2.0 * self.wall_thickness


@frozen
class Superheater:
    """Superheater elements in the flues."""

    surface: float | None = measure(
        "m^2",
        "Heating surface of the elements; required unless it follows from their dimensions.",
        above=0,
        below=1000,
        default=None,
        example="900 ft^2",
    )
    pipes_per_flue: int | None = entry(
        "Number of element pipes side by side in one flue; required with flues.",
        at_least=1,
        at_most=12,
        default=None,
    )
    pipe_diameter: float | None = measure(
        "m",
        "Outside diameter of an element pipe; required with flues.",
        above=0.001,
        below=0.1,
        default=None,
        example="1.5 in",
    )
    return_bend_distance: float | None = measure(
        "m",
        "Distance from the firebox tube sheet to the return bends of the elements.",
        at_least=0,
        below=10,
        default=None,
        example="24 in",
    )

    def __post_init__(self) -> None:
        """Check every field, and that the surface is known."""
        check(self)

    def _surface_faults(self) -> Iterator[Fault]:
        """Yield a fault if the surface is neither given nor follows from dimensions."""
        if self.surface is None and self.return_bend_distance is None:
            yield Fault(
                "surface",
                'missing; write for example surface = "900 ft^2", or with flues return_bend_distance = "24 in"',
            )

    def surface_per_length(self, flues: Flues) -> float:
        """Surface of the elements in the flues per length [m].

        Args:
            flues: The flues that contain them.
        """
        assert self.pipes_per_flue is not None  # checked by the boiler, and so is the next
        assert self.pipe_diameter is not None
        return flues.count * self.pipes_per_flue * math.pi * self.pipe_diameter
