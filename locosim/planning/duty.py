"""Hours of the crews of a day: time on duty, breaks, and the longest time without one."""

from __future__ import annotations

from collections.abc import Sequence

from locosim.frozen import frozen
from locosim.journey.result import Journey
from locosim.model.day import Day
from locosim.planning.layover import LayoverRecord
from locosim.planning.light_engine import Used


@frozen
class LightRun:
    """A run of a helper back to where it was coupled on.

    Attributes:
        station: Where it runs to.
        start: On the clock [s].
        end: On the clock [s].
        used: Water and fuel used; None for a diesel.
    """

    station: str
    start: float
    end: float
    used: Used | None = None


@frozen
class Duty:
    """One crew on duty.

    Attributes:
        crew: Its name.
        first_leg: Number of its first leg.
        last_leg: Number of its last.
        start: Beginning of its duty, on the clock [s].
        end: Its end [s].
        breaks: Breaks, as start and end on the clock [s].
        light_runs: Runs of a helper back to where it was coupled on.
        is_helper: Whether it is the crew of a helper.
    """

    crew: str
    first_leg: int
    last_leg: int
    start: float
    end: float
    breaks: tuple[tuple[float, float], ...]
    light_runs: tuple[LightRun, ...] = ()
    is_helper: bool = False

    @property
    def time(self) -> float:
        """Time on duty [s]."""
        return self.end - self.start

    @property
    def time_without_break(self) -> float:
        """Longest time on duty without a break [s]."""
        starts = [self.start, *(end for _, end in self.breaks)]
        ends = [*(start for start, _ in self.breaks), self.end]
        return max(end - start for start, end in zip(starts, ends, strict=True))


def duties(day: Day, runs: Sequence[Journey], layovers: Sequence[LayoverRecord | None]) -> tuple[Duty, ...]:
    """Hours of each crew, in order of its first leg.

    Time of a layover beyond its work is free, and comes after the work; with the break that the day gives it counts as
    a break where it is long enough.

    Args:
        day: The day.
        runs: Runs of the legs, as many as were run.
        layovers: Layover before each of them; None before the first.
    """
    crews = dict.fromkeys(leg.crew for leg in day.legs[: len(runs)])
    return tuple(_duty(day, crew, runs, layovers) for crew in crews)


def _duty(day: Day, crew: str, runs: Sequence[Journey], layovers: Sequence[LayoverRecord | None]) -> Duty:
    hours = day.crew_hours
    legs = [n for n in range(1, len(runs) + 1) if day.legs[n - 1].crew == crew]
    first, last = legs[0], legs[-1]
    breaks = []
    for number in range(first + 1, last + 1):
        layover = layovers[number - 1]
        if layover is None:
            continue
        given = sum(task.time for task in layover.tasks if task.name == "break")
        free = max(layover.at_hand - layover.work, 0.0) + given
        if free >= hours.min_break:
            breaks.append((layover.departure - free, layover.departure))
    return Duty(
        crew=crew,
        first_leg=first,
        last_leg=last,
        start=float(runs[first - 1].stops[0].depart) - hours.preparing_time,
        end=float(runs[last - 1].departure_time[-1]) + hours.putting_away_time,
        breaks=tuple(breaks),
    )
