"""Result of fitting constants to a road log."""

from __future__ import annotations

from typing import TYPE_CHECKING

from locosim.frozen import frozen
from locosim.model import Excursion
from locosim.physics.types import Floats

if TYPE_CHECKING:  # these load the compiler, which a renderer of another result does without
    from locosim.engine.performance import Performance
    from locosim.journey.kernel.logged_steps import Codes
    from locosim.journey.logged_run import LaidLog


@frozen
class FittedConstant:
    """A constant and what the log says of it, in SI.

    Attributes:
        name: Name of the constant.
        meaning: What it is.
        kind: Kind of quantity of `locosim.units`.
        before: Value in the files.
        value: Value fitted.
        low: Low end of the 95 % interval.
        high: High end of it.
        standard_error: Standard error.
        freedom: Degrees of freedom of the interval.
        believable_low: Low end of the believable range.
        believable_high: High end of it.
    """

    name: str
    meaning: str
    kind: str
    before: float
    value: float
    low: float
    high: float
    standard_error: float
    freedom: float
    believable_low: float
    believable_high: float

    @property
    def digits(self) -> int:
        """Decimals worth showing, in the units of a reader."""
        return 3 if self.kind == "number" else 2

    @property
    def believable(self) -> bool:
        """Whether some of the interval lies in the believable range."""
        return self.high >= self.believable_low and self.low <= self.believable_high


@frozen(eq=False)
class ComparedReadings:
    """Readings of one kind beside the model; arrays have shape (n,).

    Attributes:
        kind: `speed`, `place`, `water` or `fuel`.
        row: Row of the log.
        time: [s]
        distance: From the first stop [m].
        group: Number of the stretch, or of the time between two breaks.
        logged: [m/s, m or kg]
        model: With the fitted constants.
        spread: Standard deviation of the errors.
        spread_before: The same with the constants of the files.
        correlation_time: Time over which errors hang together [s]; 0 for none.
        left_over: Correlation of neighboring errors that is left after this [1].
    """

    kind: str
    row: Codes
    time: Floats
    distance: Floats
    group: Codes
    logged: Floats
    model: Floats
    spread: float
    spread_before: float
    correlation_time: float
    left_over: float

    @property
    def quantity(self) -> str:
        """Kind of quantity of `locosim.units`."""
        return {"speed": "speed", "place": "distance", "water": "water", "fuel": "small_mass"}[self.kind]

    @property
    def error_quantity(self) -> str:
        """The same of the errors: a place is off by meters."""
        return "length" if self.kind == "place" else self.quantity

    @property
    def group_count(self) -> int:
        """Number of stretches, or of times between two breaks."""
        return int(self.group.max(initial=-1)) + 1

    @property
    def error(self) -> Floats:
        """Logged less model."""
        return self.logged - self.model


@frozen(eq=False)
class LogFit:
    """Constants fitted to a road log.

    Attributes:
        excursion: The excursion as its files have it.
        fitted: The excursion with the fitted constants.
        performance: What its engine can do, with the constants of the files.
        laid: The log on the line.
        constants: The constants fitted.
        correlation: Correlation of their errors, shape (p, p).
        compared: Readings of each kind beside the model.
        changes: The fitted constants as `key=value`.
        notes: What to know of the fit.
    """

    excursion: Excursion
    fitted: Excursion
    performance: Performance
    laid: LaidLog
    constants: tuple[FittedConstant, ...]
    correlation: Floats
    compared: tuple[ComparedReadings, ...]
    changes: tuple[str, ...]
    notes: tuple[str, ...]
