"""Doubling a hill: the train is divided at the foot, taken over in two trips, and joined again at the top."""

from __future__ import annotations

from dataclasses import replace

from locosim.engine.performance import Performance
from locosim.frozen import frozen
from locosim.journey.result import Journey
from locosim.model import Excursion, Stop, Train, Vehicle
from locosim.planning.check import Check, run_and_check
from locosim.planning.finding import STOP
from locosim.planning.help_needed import HELP_RULES
from locosim.planning.light_engine import Used, run_light, used_on

SWITCHING_MOVES = 4  # divide at the foot, set out at the top, couple at the foot, join at the top
TRACTION_RULES = tuple(rule for rule in HELP_RULES if rule != "time")


@frozen(eq=False)
class Doubling:
    """A train taken over a hill in two trips.

    Attributes:
        foot: Station where the train is divided.
        top: Station where it is joined again.
        parts: The two parts, that taken first at the front.
        trips: The check of each trip, begun with a full tender.
        back: The engine light between them.
        rest: Checks of the whole train before the foot and beyond the top.
        switching: Time of dividing, setting out, coupling and joining [s].
        used: Time, water and fuel from the foot to the departure from the top.
        through: Time of the whole train over the hill with the helper [s]; None where no helper suffices.
    """

    foot: str
    top: str
    parts: tuple[Train, Train]
    trips: tuple[Check, Check]
    back: Journey
    rest: tuple[Check, ...]
    switching: float
    used: Used
    through: float | None = None

    @property
    def works(self) -> bool:
        """Whether neither a trip nor the rest of the run stops by a rule that judges what the engine can do."""
        return all(not stopping(check) for check in (*self.trips, *self.rest)) and self.back.arrived


def stopping(check: Check) -> tuple[str, ...]:
    """Rules of traction that stop a check, each once."""
    return tuple(
        dict.fromkeys(f.rule for f in check.findings if f.verdict == STOP and f.rule in TRACTION_RULES)
    )


def double_hill(excursion: Excursion, performance: Performance, foot: str, top: str) -> Doubling | None:
    """Take the train over a hill in two trips; None where it has fewer than two vehicles.

    Args:
        excursion: The excursion, without helpers.
        performance: Performance of its engine.
        foot: Station where the train is divided.
        top: Station where it is joined again.
    """
    parts = divided(excursion.train)
    if parts is None:
        return None
    over = tuple(Stop(station=name) for name in (foot, top))
    trips = tuple(
        run_and_check(
            replace(excursion, train=part, stops=over, initial_water=1.0, initial_fuel=1.0), performance
        )
        for part in parts
    )
    back = run_light(excursion, excursion.locomotive, performance, (top, foot))
    switching = SWITCHING_MOVES * excursion.assumptions.switching_time
    each = [used_on(journey) for journey in (trips[0].journey, back, trips[1].journey)]
    return Doubling(
        foot=foot,
        top=top,
        parts=parts,
        trips=(trips[0], trips[1]),
        back=back,
        rest=tuple(run_and_check(part, performance) for part in _rest(excursion, foot, top)),
        switching=switching,
        used=Used(
            time=sum(one.time for one in each) + switching,
            water=sum(one.water for one in each),
            fuel=sum(one.fuel for one in each),
        ),
    )


def divided(train: Train) -> tuple[Train, Train] | None:
    """The train in two parts of whole vehicles, as equal in mass as may be; None with fewer than two vehicles."""
    singles = [replace(vehicle, count=1) for vehicle in train.vehicles for _ in range(vehicle.count)]
    if len(singles) < 2:
        return None
    masses = [vehicle.mass for vehicle in singles]
    cut = min(range(1, len(singles)), key=lambda k: abs(sum(masses[:k]) - sum(masses[k:])))
    return (
        replace(train, name=f"{train.name}, front part", vehicles=_rows(singles[:cut])),
        replace(train, name=f"{train.name}, rear part", vehicles=_rows(singles[cut:])),
    )


def _rows(singles: list[Vehicle]) -> tuple[Vehicle, ...]:
    """Like vehicles next to each other as one row."""
    rows: list[Vehicle] = []
    for vehicle in singles:
        if rows and replace(rows[-1], count=1) == vehicle:
            rows[-1] = replace(rows[-1], count=rows[-1].count + 1)
        else:
            rows.append(vehicle)
    return tuple(rows)


def _rest(excursion: Excursion, foot: str, top: str) -> list[Excursion]:
    """The run before the foot and that beyond the top, without booked times, which the doubling upsets."""
    line = excursion.route_as_run
    at = {name: line.station(name).chainage for name in (foot, top)}
    free = [
        Stop(station=s.station, dwell=s.dwell, take_water=s.take_water, take_fuel=s.take_fuel)
        for s in excursion.stops
    ]
    before = [s for s in free if line.station(s.station).chainage < at[foot]]
    beyond = [s for s in free if line.station(s.station).chainage > at[top]]
    runs = []
    if before:
        runs.append(replace(excursion, stops=(*before, Stop(station=foot))))
    if beyond:
        runs.append(
            replace(excursion, stops=(Stop(station=top), *beyond), initial_water=1.0, initial_fuel=1.0)
        )
    return runs
