"""Station times: booked, running, late and passing times at every station of a run."""

from __future__ import annotations

import numpy as np

from locosim.frozen import frozen
from locosim.journey.result import Journey
from locosim.model import Excursion, Stop


@frozen
class StationTimes:
    """Times at one station, on the clock [s]; None where there is none.

    Attributes:
        station: Its name.
        milepost: Chainage as the line counts it [m].
        stops: Whether the train stops there.
        booked_arrive: Booked arrival.
        arrive: Arrival, or the time of passing.
        booked_depart: Booked departure.
        depart: Departure.
        late: Lateness of arrival against the booked one, or of departure where no arrival is booked [s].
        reached: Whether the run gets there.
    """

    station: str
    milepost: float
    stops: bool
    booked_arrive: float | None = None
    arrive: float | None = None
    booked_depart: float | None = None
    depart: float | None = None
    late: float | None = None
    reached: bool = True


def line_chainage(excursion: Excursion, chainage: float) -> float:
    """Chainage as the line counts it, from one in the direction of travel [m]."""
    if excursion.direction == "forward":
        return chainage
    return excursion.route.start + excursion.route.end - chainage


def station_times(journey: Journey) -> tuple[StationTimes, ...]:
    """Times at every station from the first stop to the last, in order of travel."""
    excursion = journey.excursion
    line = excursion.route_as_run
    first, last = (line.station(excursion.stops[k].station).chainage for k in (0, -1))
    stops = {stop.station: number for number, stop in enumerate(excursion.stops)}
    return tuple(
        _at_stop(journey, stops[station.name])
        if station.name in stops
        else _passing(journey, station.name, station.chainage)
        for station in line.stations
        if first <= station.chainage <= last
    )


def _at_stop(journey: Journey, number: int) -> StationTimes:
    excursion = journey.excursion
    stop = excursion.stops[number]
    first, last = number == 0, number == len(excursion.stops) - 1
    booked_depart = excursion.departure if first else stop.depart
    milepost = line_chainage(excursion, excursion.route_as_run.station(stop.station).chainage)
    if number >= len(journey.stops):
        return StationTimes(
            station=stop.station,
            milepost=milepost,
            stops=True,
            booked_arrive=stop.arrive,
            booked_depart=booked_depart,
            reached=False,
        )
    record = journey.stops[number]
    return StationTimes(
        station=stop.station,
        milepost=milepost,
        stops=True,
        booked_arrive=stop.arrive,
        arrive=None if first else record.arrive,
        booked_depart=booked_depart,
        depart=None if last else record.depart,
        late=_delay(journey) if first else _lateness(stop, record.arrive, record.depart),
    )


def _delay(journey: Journey) -> float | None:
    """Lateness of the first departure; None where it is not delayed [s]."""
    return journey.excursion.departure_delay or None


def _lateness(stop: Stop, arrive: float, depart: float) -> float | None:
    """Lateness of the arrival, or of the departure where no arrival is booked [s]."""
    if stop.arrive is not None:
        return arrive - stop.arrive
    return None if stop.depart is None else depart - stop.depart


def _passing(journey: Journey, station: str, chainage: float) -> StationTimes:
    """Time at which the engine passes a station where it does not stop."""
    reached = chainage <= journey.chainage[-1]
    return StationTimes(
        station=station,
        milepost=line_chainage(journey.excursion, chainage),
        stops=False,
        arrive=float(np.interp(chainage, journey.chainage, journey.time)) if reached else None,
        reached=bool(reached),
    )
