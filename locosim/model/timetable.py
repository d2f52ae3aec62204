"""Stops and their advertised times."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from locosim.errors import Fault
from locosim.model.declare import check, choice, entry, measure

DAY = 86400.0  # [s]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A stop at a station."""

    station: str = entry("Name of the station on the route.")
    dwell: float = measure("s", "Time standing.", at_least=0, at_most=DAY, default=120.0, example="3 minute")
    arrive: float | None = measure(
        "clock",
        "Advertised arrival; the first call has none. Hours of the next day go on from 24.",
        default=None,
        example="11:05",
    )
    depart: float | None = measure(
        "clock",
        "Advertised departure, before which the train does not leave; for the first call write the "
        "excursion's departure.",
        default=None,
        example="11:15",
    )
    take_water: str = choice(("no", "fill"), "Whether the tender is filled here.", default="no")
    take_fuel: str = choice(("no", "fill"), "Whether the fuel is filled up here.", default="no")
    clean_fire: str = choice(
        ("no", "yes"),
        "Whether the fire is cleaned here, which takes 21 minutes with building it up again.",
        default="no",
    )

    def __post_init__(self) -> None:
        """Check every field."""
        check(self)


def time_faults(departure: float, stops: Sequence[Stop]) -> Iterator[Fault]:
    """Yield the advertised times that go back, and those nothing would be held against.

    Args:
        departure: From the first call [s].
        stops: Stops in order of travel.
    """
    first = stops[0]
    for key, time in (("arrive", first.arrive), ("depart", first.depart)):
        if time is not None:
            yield Fault(
                f"stops[1].{key}",
                "stands where the run begins, and the first call takes neither arrive nor depart; "
                f'write departure = "{_clock(time)}" beside the name of the excursion',
            )
    before, previous_label = departure, "the departure"
    for number, stop in enumerate(stops[1:], start=2):
        for key, time in (("arrive", stop.arrive), ("depart", stop.depart)):
            if time is None:
                continue
            if time < before:
                yield Fault(
                    f"stops[{number}].{key}",
                    f"lies before {previous_label} at {_clock(before)}, found {_clock(time)}; times follow the run, and hours "
                    f'of the next day go on from 24: write "{_clock(time + DAY)}" for that',
                )
            else:
                before, previous_label = time, f"stops[{number}].{key}"


def _clock(time: float) -> str:
    """A time of day as a file writes it; hours of the next day go on from 24."""
    minutes, seconds = divmod(round(time), 60)
    text = f"{minutes // 60:02d}:{minutes % 60:02d}"
    return f"{text}:{seconds:02d}" if seconds else text
