"""Stops and their scheduled times."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from locosim.errors import Fault
from locosim.frozen import frozen
from locosim.model.declare import check, choice, entry, measure

DAY = 86400.0  # [s]


@frozen
class Stop:
    """A stop at a station."""

    station: str = entry("Name of a station of the route.")
    dwell: float = measure(
        "s", "Time at the stop.", at_least=0, at_most=DAY, default=120.0, example="3 minute"
    )
    arrive: float | None = measure(
        "clock",
        "Scheduled arrival; none at the first stop. On the next day, hours continue from 24.",
        default=None,
        example="11:05",
    )
    depart: float | None = measure(
        "clock",
        "Scheduled departure; the train does not leave earlier. None at the first stop, where the excursion's "
        "departure applies.",
        default=None,
        example="11:15",
    )
    take_water: str = choice(("no", "fill"), "Whether to fill the tank here.", default="no")
    take_fuel: str = choice(("no", "fill"), "Whether to fill the fuel space here.", default="no")
    clean_fire: str = choice(
        ("no", "yes"),
        "Whether to clean the fire here; with rebuilding it, 21 minutes by the default assumptions.",
        default="no",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


def time_faults(departure: float, stops: Sequence[Stop]) -> Iterator[Fault]:
    """Yield a fault for each scheduled time that goes back, and for any at the first stop.

    Args:
        departure: Departure from the first stop [s].
        stops: Stops in order of travel.
    """
    first = stops[0]
    for key, time in (("arrive", first.arrive), ("depart", first.depart)):
        if time is not None:
            yield Fault(
                f"stops[1].{key}",
                "is not allowed at the first stop, where the run begins; "
                f'write departure = "{clock_text(time)}" beside the name of the excursion',
            )
    before, previous_label = departure, "the departure"
    for number, stop in enumerate(stops[1:], start=2):
        for key, time in (("arrive", stop.arrive), ("depart", stop.depart)):
            if time is None:
                continue
            if time < before:
                yield Fault(
                    f"stops[{number}].{key}",
                    f"is before {previous_label} at {clock_text(before)}, found {clock_text(time)}; times follow the "
                    f'run, and hours of the next day continue from 24: write "{clock_text(time + DAY)}" for that',
                )
            else:
                before, previous_label = time, f"stops[{number}].{key}"


def clock_text(time: float) -> str:
    """A time of day in the notation of a file; hours of the next day continue from 24."""
    minutes, seconds = divmod(round(time), 60)
    text = f"{minutes // 60:02d}:{minutes % 60:02d}"
    return f"{text}:{seconds:02d}" if seconds else text
