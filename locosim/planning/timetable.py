"""A timetable for a train: the request, and the result with booked times, recovery and the limits of each departure."""

from __future__ import annotations

from locosim.engine.performance import Performance
from locosim.errors import Fault, OutOfRange
from locosim.frozen import frozen
from locosim.journey.result import Journey
from locosim.model import Excursion
from locosim.planning.answer import Answer
from locosim.planning.check import Check
from locosim.planning.station_times import StationTimes, station_times

MIN_STEP, MAX_STEP = 30.0, 3600.0  # of booked times [s]
MAX_RECOVERY = 0.5  # over the least running time
SHARINGS = ("least_fuel", "even")


@frozen
class TimetableRequest:
    """What a timetable shall have.

    Attributes:
        recovery: Recovery as a fraction of the least running time [common practice, no source]; counts where no
            `recovery_time` is given.
        recovery_time: Recovery of the whole run [s]; None to go by `recovery`.
        step: Booked times are multiples of it on the clock [s].
        sharing: `least_fuel` or `even`, which is in proportion to running time.
    """

    recovery: float = 0.05
    recovery_time: float | None = None
    step: float = 60.0
    sharing: str = "least_fuel"

    def __post_init__(self) -> None:
        """Check the request.

        Raises:
            OutOfRange: A value is not allowed.
        """
        faults = []
        if self.recovery_time is not None and not 0.0 <= self.recovery_time <= 86400.0:
            text = "must be 0 to 86400 s, found {found}; no train runs in less than its least time"
            faults.append(Fault("recovery", text, "s", {"found": self.recovery_time}))
        if not 0.0 <= self.recovery <= MAX_RECOVERY:
            text = (
                "must be 0 to 50 % of the least running time, found {found}; no train runs in less than that"
            )
            faults.append(Fault("recovery", text, figures={"found": f"{self.recovery:g}"}))
        if not MIN_STEP <= self.step <= MAX_STEP:
            text = "must be {low} to {high}, found {found}; write for example 1 minute"
            faults.append(Fault("step", text, "s", {"low": MIN_STEP, "high": MAX_STEP, "found": self.step}))
        if self.sharing not in SHARINGS:
            text = "must be one of {known}, found {found}"
            known = ", ".join(SHARINGS)
            faults.append(Fault("sharing", text, figures={"known": known, "found": repr(self.sharing)}))
        if faults:
            raise OutOfRange.by(faults)


@frozen
class TimetableSection:
    """Running from one stop to the next.

    Attributes:
        start: Station it begins at.
        end: Station it ends at.
        distance: Its length [m].
        least: Least running time, at full effort [s].
        booked: Booked running time [s].
        fuel_saved: Fuel saved by its recovery, with constant boiler pressure [kg].
        late_if_tighter: Lateness at full effort if the least booked time were a step less [s].
    """

    start: str
    end: str
    distance: float
    least: float
    booked: float
    fuel_saved: float
    late_if_tighter: float

    @property
    def recovery(self) -> float:
        """Booked less least running time [s]."""
        return self.booked - self.least


@frozen
class TimetableStop:
    """Booked times at a stop, and how early and how late the train can leave it.

    Attributes:
        station: Its name.
        arrive: Booked arrival on the clock; None at the first stop [s].
        depart: Booked departure on the clock; None at the last stop [s].
        work: Time that the work there takes at full effort: dwell, water, fuel, fire [s].
        earliest: Earliest departure, after full effort from the start without waiting for a booked time; None at the
            last stop [s].
        latest: Latest departure that keeps every later booked arrival at full effort; None at the last stop [s].
    """

    station: str
    arrive: float | None
    depart: float | None
    work: float
    earliest: float | None
    latest: float | None


@frozen(eq=False)
class Timetable:
    """A timetable, returned to the check.

    Attributes:
        request: What was wanted.
        answer: The excursion with the booked times, checked without contingencies and remedies.
        sections: Running between stops.
        stops: Booked times.
        wanted: Recovery wanted over the whole run [s].
        sharing: How the recovery was shared in the end: `even` where the least fuel was found no better.
        fuel: Fuel of the booked run [kg].
        fuel_evenly: The same with recovery in proportion to running time [kg].
        fuel_least_times: The same with booked times without recovery [kg].
    """

    request: TimetableRequest
    answer: Answer
    sections: tuple[TimetableSection, ...]
    stops: tuple[TimetableStop, ...]
    wanted: float
    sharing: str
    fuel: float
    fuel_evenly: float
    fuel_least_times: float

    @property
    def check(self) -> Check:
        """The check of the excursion with the booked times."""
        return self.answer.check

    @property
    def journey(self) -> Journey:
        """The booked run."""
        return self.check.journey

    @property
    def excursion(self) -> Excursion:
        """The excursion with the booked times."""
        return self.check.journey.excursion

    @property
    def performance(self) -> Performance:
        """Performance of its engine."""
        return self.check.journey.performance

    @property
    def recovery(self) -> float:
        """Recovery of the whole run [s]."""
        return sum(section.recovery for section in self.sections)

    @property
    def latest_arrival(self) -> float:
        """Largest lateness at full effort at a booked arrival [s]; not above 0 where the times are kept."""
        return max(
            record.arrive - stop.arrive
            for record, stop in zip(self.check.runs.full_effort.stops, self.excursion.stops, strict=True)
            if stop.arrive is not None
        )

    def station_times(self) -> tuple[StationTimes, ...]:
        """Booked, running and passing times at every station."""
        return station_times(self.journey)
