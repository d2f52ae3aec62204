"""The search for a timetable: least running times, recovery and stops, returned to the check.

The least running times are those of full effort. Recovery is added to them and shared among the sections. The times
are returned to the check: full effort must keep each of them.
"""

from __future__ import annotations

import math
from dataclasses import replace

from locosim.engine.performance import Performance, compute_excursion_performance
from locosim.errors import NoSolution
from locosim.frozen import frozen
from locosim.journey.result import Journey
from locosim.journey.run import run_full_effort
from locosim.model import Excursion
from locosim.physics.types import Floats
from locosim.planning.answer import Answer, check_excursion
from locosim.planning.coal import fuel_cost
from locosim.planning.recovery import fuel_by_recovery, least_fuel_shares, shared_evenly
from locosim.planning.timetable import Timetable, TimetableRequest, TimetableSection, TimetableStop
from locosim.planning.trial_runs import run_booked

ROUNDING = 1e-6  # below which a time counts as a whole step [s]


@frozen
class _LeastTimes:
    """Least times of every section, at full effort.

    Attributes:
        excursion: The excursion booked in them.
        running: Exact running time [s].
        booked: In steps on the clock [s].
        work: Time of each stop [s].
    """

    excursion: Excursion
    running: tuple[float, ...]
    booked: tuple[float, ...]
    work: tuple[float, ...]


def compute_timetable(excursion: Excursion, request: TimetableRequest | None = None) -> Timetable:
    """Make a timetable: least running times, recovery and stops, returned to the check.

    The booked times of the excursion are not used, but its first departure, its dwells and what it does at stops are.

    Args:
        excursion: Engine, train, route, stops and conditions.
        request: Recovery wanted, step of the booked times and sharing of the recovery; 5 % in whole minutes where
            omitted.

    Raises:
        OutOfRange: The train does not reach every stop at full effort, or the excursion needs something that its
            route or engine does not have.
    """
    request = TimetableRequest() if request is None else request
    performance = compute_excursion_performance(excursion)
    free = run_full_effort(without_times(excursion), performance)
    least = _least_times(excursion, performance, request.step)
    wanted = request.recovery_time
    if wanted is None:
        wanted = request.recovery * sum(least.running)
    steps = _recovery_steps(least, wanted, request.step)
    fuel = fuel_by_recovery(least.excursion, performance, steps=steps, step=request.step)
    even_shares = shared_evenly(least.running, steps)
    even = _booked(least, even_shares, request.step)
    chosen, sharing = even, "even"
    fuel_evenly = fuel_cost(run_booked(even, performance))
    if request.sharing == "least_fuel":
        shared = _booked(least, least_fuel_shares(fuel, steps, even_shares), request.step)
        # The shares are found with constant pressure; the run with the boiler decides.
        if fuel_cost(run_booked(shared, performance)) <= fuel_evenly:
            chosen, sharing = shared, "least_fuel"
    answer = check_excursion(chosen, contingencies=False, remedies=False)
    return Timetable(
        request=request,
        answer=answer,
        sections=_sections(answer, least, fuel, request.step),
        stops=_stops(answer, least, free),
        wanted=wanted,
        sharing=sharing,
        fuel=fuel_cost(answer.journey),
        fuel_evenly=fuel_evenly,
        fuel_least_times=fuel_cost(run_booked(least.excursion, performance)),
    )


def without_times(excursion: Excursion) -> Excursion:
    """The excursion with no booked times but its first departure."""
    return replace(
        excursion, stops=tuple(replace(stop, arrive=None, depart=None) for stop in excursion.stops)
    )


def _least_times(excursion: Excursion, performance: Performance, step: float) -> _LeastTimes:
    """Book each stop in turn as early as full effort reaches it.

    Waiting for a booked departure changes fire and boiler, so each section is run after the stops before it are
    booked. An arrival depends only on what lies before it: the times are least one by one.
    """
    booked = without_times(excursion)
    running, spans, work = [], [], [0.0]
    for number in range(1, len(excursion.stops)):
        journey = run_full_effort(booked, performance)
        if number >= len(journey.stops):
            raise NoSolution(
                f"full effort does not reach {excursion.stops[number].station} ({journey.outcome})",
                "check the excursion first: it says what the train lacks",
            )
        before, record = journey.stops[number - 1], journey.stops[number]
        arrive = _up(record.arrive, step)
        depart = _up(arrive + record.depart - record.arrive, step)
        last = number == len(excursion.stops) - 1
        booked = _with_stop(booked, number, arrive, None if last else depart)
        running.append(record.arrive - before.depart)
        spans.append(arrive - before.depart)
        work.append(record.depart - record.arrive)
    return _LeastTimes(excursion=booked, running=tuple(running), booked=tuple(spans), work=tuple(work))


def _up(time: float, step: float) -> float:
    """The next multiple of a step."""
    return step * math.ceil((time - ROUNDING) / step)


def _with_stop(excursion: Excursion, number: int, arrive: float, depart: float | None) -> Excursion:
    stops = list(excursion.stops)
    stops[number] = replace(stops[number], arrive=arrive, depart=depart)
    return replace(excursion, stops=tuple(stops))


def _recovery_steps(least: _LeastTimes, wanted: float, step: float) -> int:
    """Steps to add to the least booked times, so that they hold the recovery wanted."""
    rounding = sum(least.booked) - sum(least.running)
    return max(math.ceil((wanted - rounding - ROUNDING) / step), 0)


def _booked(least: _LeastTimes, shares: tuple[int, ...], step: float) -> Excursion:
    """The excursion with shares of recovery added to the least times."""
    stops, shift = [least.excursion.stops[0]], 0.0
    for stop, share in zip(least.excursion.stops[1:], shares, strict=True):
        shift += share * step
        arrive, depart = (None if time is None else time + shift for time in (stop.arrive, stop.depart))
        stops.append(replace(stop, arrive=arrive, depart=depart))
    return replace(least.excursion, stops=tuple(stops))


def _sections(answer: Answer, least: _LeastTimes, fuel: Floats, step: float) -> tuple[TimetableSection, ...]:
    excursion, full_effort = answer.excursion, answer.full_effort
    rows: list[TimetableSection] = []
    stops = excursion.stops
    for number in range(1, len(stops)):
        before = excursion.departure if number == 1 else stops[number - 1].depart
        arrive = stops[number].arrive
        assert before is not None
        assert arrive is not None
        table = fuel[number - 1]
        booked = arrive - before
        given = round((booked - least.booked[number - 1]) / step)
        rows.append(
            TimetableSection(
                start=stops[number - 1].station,
                end=stops[number].station,
                distance=full_effort.stops[number].chainage - full_effort.stops[number - 1].chainage,
                least=least.running[number - 1],
                booked=booked,
                fuel_saved=float(table[0] - table[given]),
                late_if_tighter=least.running[number - 1] - (least.booked[number - 1] - step),
            )
        )
    return tuple(rows)


def _stops(answer: Answer, least: _LeastTimes, free: Journey) -> tuple[TimetableStop, ...]:
    """Booked times with the earliest and latest departures."""
    excursion = answer.excursion
    last = len(excursion.stops) - 1
    latest: list[float | None] = [None] * (last + 1)
    arrival = math.inf
    for number in range(last, -1, -1):
        if number < last:
            departure = arrival - least.running[number]
            latest[number] = departure
            arrival = departure - least.work[number]
        booked = excursion.stops[number].arrive
        arrival = arrival if booked is None else min(arrival, booked)
    if answer.latest_departure is not None:
        latest[0] = answer.latest_departure
    return tuple(
        TimetableStop(
            station=stop.station,
            arrive=stop.arrive,
            depart=excursion.departure if number == 0 else stop.depart,
            work=least.work[number],
            earliest=None if number == last else free.stops[number].depart,
            latest=latest[number],
        )
        for number, stop in enumerate(excursion.stops)
    )
