"""Driving with the least fuel for the booked times, against the everyday driving, with a card for the crew."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from locosim.engine.performance import Performance, compute_excursion_performance
from locosim.errors import NoSolution
from locosim.journey.kernel.arrays import BRAKING, COASTING
from locosim.journey.least_fuel import SHORTEST_TASKS, least_fuel_search
from locosim.journey.result import Journey
from locosim.journey.run import run_to_timetable
from locosim.model import Excursion
from locosim.physics.types import Floats
from locosim.planning.check import judge_booked
from locosim.planning.coal import fuel_cost
from locosim.planning.finding import STOP, Finding, severity
from locosim.planning.station_times import line_chainage

ON_TIME = 0.5  # lateness allowed beyond that of the everyday driving [s]
SHORTEST_ENTRY = 500.0  # shortest entry of the card, but for starting and for braking to a stop [m]
LONGEST_STEAM = 5000.0  # longest entry with steam: a longer one is divided into equal parts [m]
STEAM, COAST, BRAKE = "steam", "shut off", "brake"
_TASKS = {COASTING: COAST, BRAKING: BRAKE}  # all other limits are with steam
USUAL = (0.1, 0.9)  # quantiles of cutoff and throttle shown, without the ends of an entry


@dataclass(frozen=True, slots=True, kw_only=True)
class CardEntry:
    """What the engineer does from one place to the next.

    Attributes:
        start: Chainage as run where it begins [m].
        end: Chainage as run where it ends [m].
        milepost: Where it begins, as the line counts it [m].
        time: Clock time where it begins [s].
        task: `steam`, `shut off` or `brake`.
        from_speed: Speed where it begins [m/s].
        to_speed: Speed where it ends [m/s].
        cutoff: Usual shortest and longest cutoff; None with the throttle shut [1].
        throttle: Usual smallest and largest throttle opening; None with the throttle shut or where it is not known
            [1].
        stop: Station where it ends with a stop; empty where it does not.
    """

    start: float
    end: float
    milepost: float
    time: float
    task: str
    from_speed: float
    to_speed: float
    cutoff: tuple[float, float] | None
    throttle: tuple[float, float] | None
    stop: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionFuel:
    """Fuel and times of a section between stops.

    Attributes:
        start: Station it begins at.
        end: Station it ends at.
        booked: Booked arrival; None where none is booked [s].
        everyday_arrival: Arrival of the everyday driving [s].
        arrival: Arrival of the driving chosen [s].
        everyday_fuel: Fuel burned by the everyday driving from departure to arrival [kg].
        fuel: The same of the driving chosen [kg].
    """

    start: str
    end: str
    booked: float | None
    everyday_arrival: float
    arrival: float
    everyday_fuel: float
    fuel: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Economy:
    """Driving with the least fuel found, for the same times.

    Attributes:
        everyday: The everyday driving: the booked run of the check.
        planned: The driving planned for least fuel, run with the boiler.
        journey: The driving chosen: the planned one, or the everyday driving where the plan is no better.
        refused: Why the plan was not chosen; empty where it was.
        everyday_fuel: Fuel of the everyday driving, boiler restored to the heat it began with [kg].
        planned_fuel: The same of the planned driving [kg].
        alternating_fuel: Fuel of a plan that alternates steam and coasting however often that saves: more than a crew
            can do, and no part of the card [kg].
        card: What the engineer does, in order of travel.
        sections: Fuel of each section between stops.
        worse: Findings of the driving chosen that have a worse verdict than in the everyday driving.
    """

    everyday: Journey
    planned: Journey
    journey: Journey
    refused: str
    everyday_fuel: float
    planned_fuel: float
    alternating_fuel: float
    card: tuple[CardEntry, ...]
    sections: tuple[SectionFuel, ...]
    worse: tuple[Finding, ...]

    @property
    def excursion(self) -> Excursion:
        """The excursion."""
        return self.everyday.excursion

    @property
    def performance(self) -> Performance:
        """Performance of its engine."""
        return self.everyday.performance

    @property
    def fuel(self) -> float:
        """Fuel of the driving chosen [kg]; never more than that of the everyday driving."""
        return self.everyday_fuel if self.refused else self.planned_fuel

    @property
    def saving(self) -> float:
        """Fuel saved over that of the everyday driving [1]."""
        return 1.0 - self.fuel / self.everyday_fuel if self.everyday_fuel > 0.0 else 0.0


def find_economy(excursion: Excursion) -> Economy:
    """Find the driving with the least fuel that keeps the booked times.

    Args:
        excursion: Engine, train, route, stops and conditions, with an arrival booked at one stop or more.

    Raises:
        OutOfRange: No arrival is booked, the train does not arrive in the everyday driving, or the excursion needs
            something that its route or engine does not have.
    """
    if not any(stop.arrive is not None or stop.depart is not None for stop in excursion.stops[1:]):
        raise NoSolution(
            "no arrival is booked, so there is no time to keep",
            'write arrive = "11:05" at a stop, or let the command timetable book the times',
        )
    performance = compute_excursion_performance(excursion)
    everyday = run_to_timetable(excursion, performance)
    if not everyday.arrived:
        raise NoSolution(
            f"the train does not arrive ({everyday.outcome})",
            "check the excursion first: it says what the train lacks",
        )
    alternating, *plans = (
        run_to_timetable(excursion, performance, search_type=least_fuel_search(shortest))
        for shortest in (0.0, *SHORTEST_TASKS)
    )
    planned = min(plans, key=lambda plan: (not _on_time(everyday, plan), fuel_cost(plan)))
    fuel = fuel_cost(everyday), fuel_cost(planned)
    worse = _worse(everyday, planned) if planned.arrived else ()
    refused = _refusal(everyday, planned, fuel, worse)
    chosen = everyday if refused else planned
    return Economy(
        everyday=everyday,
        planned=planned,
        journey=chosen,
        refused=refused,
        everyday_fuel=fuel[0],
        planned_fuel=fuel[1],
        alternating_fuel=fuel_cost(alternating),
        card=crew_card(chosen),
        sections=_sections(everyday, chosen),
        worse=() if refused else worse,
    )


def _refusal(everyday: Journey, planned: Journey, fuel: tuple[float, float], worse: Sequence[Finding]) -> str:
    """Why a plan is not chosen; empty where it is."""
    if not planned.arrived:
        return f"the plan ends with: {planned.outcome}"
    if fuel[1] >= fuel[0]:
        return "run with the boiler, the plan burns no less than the everyday driving"
    if not _on_time(everyday, planned):
        return "run with the boiler, the plan does not keep a booked time that the everyday driving keeps"
    stopped = [finding.rule for finding in worse if finding.verdict == STOP]
    return f"the plan makes a stop of {', '.join(stopped)}" if stopped else ""


def _on_time(everyday: Journey, planned: Journey) -> bool:
    """Whether a plan arrives, and no later than booked or than the everyday driving."""
    return planned.arrived and all(
        stop.arrive is None or after.arrive <= max(stop.arrive, before.arrive) + ON_TIME
        for stop, before, after in zip(everyday.excursion.stops, everyday.stops, planned.stops, strict=True)
    )


def _worse(everyday: Journey, planned: Journey) -> tuple[Finding, ...]:
    """Findings of a plan with a verdict worse than that of the same rule in the everyday driving."""
    before: dict[str, int] = {}
    for finding in judge_booked(everyday):
        before[finding.rule] = max(before.get(finding.rule, 0), severity(finding.verdict))
    return tuple(
        finding
        for finding in judge_booked(planned)
        if severity(finding.verdict) > before.get(finding.rule, 0)
    )


def _sections(everyday: Journey, chosen: Journey) -> tuple[SectionFuel, ...]:
    stops = everyday.excursion.stops
    return tuple(
        SectionFuel(
            start=stops[k].station,
            end=stops[k + 1].station,
            booked=stops[k + 1].arrive,
            everyday_arrival=everyday.stops[k + 1].arrive,
            arrival=chosen.stops[k + 1].arrive,
            everyday_fuel=_burned(everyday, k),
            fuel=_burned(chosen, k),
        )
        for k in range(len(stops) - 1)
    )


def _burned(journey: Journey, number: int) -> float:
    """Fuel burned while running from a stop to the next [kg]."""
    first, last = (
        int(np.searchsorted(journey.chainage, stop.chainage - 0.01))
        for stop in journey.stops[number : number + 2]
    )
    duration = journey.time[first + 1 : last + 1] - journey.departure_time[first:last]
    return float(np.sum(duration * journey.firing[first + 1 : last + 1]))


def crew_card(journey: Journey) -> tuple[CardEntry, ...]:
    """What the engineer does along a run, short entries joined to their neighbors."""
    stops = {int(np.searchsorted(journey.chainage, s.chainage - 0.01)): s.station for s in journey.stops}
    tasks = [_TASKS.get(int(code), STEAM) for code in journey.limit]
    bounds = [0]
    for i in range(1, len(tasks)):
        if tasks[i] != tasks[i - 1] or i in stops:
            bounds.append(i)
    bounds.append(len(tasks))
    spans = [(a, b, tasks[a]) for a, b in pairwise(bounds)]
    return tuple(
        _entry(journey, first, last, task, stops.get(last, ""))
        for a, b, task in _joined(spans, journey.chainage, stops)
        for first, last in (_parts(journey.chainage, a, b) if task == STEAM else ((a, b),))
    )


def _parts(chainage: Floats, a: int, b: int) -> list[tuple[int, int]]:
    """A long entry divided into equal parts."""
    count = max(math.ceil((chainage[b] - chainage[a]) / LONGEST_STEAM), 1)
    places = np.linspace(chainage[a], chainage[b], count + 1)
    bounds = [int(np.searchsorted(chainage, place - 0.01)) for place in places]
    return [(first, last) for first, last in pairwise(bounds) if last > first]


Span = tuple[int, int, str]


def _joined(spans: list[Span], chainage: Floats, stops: dict[int, str]) -> list[Span]:
    """Join entries that are too short to the longer neighbor between the same stops, the shortest first."""
    spans = list(spans)

    def length(span: Span) -> float:
        return float(chainage[span[1]] - chainage[span[0]])

    while True:
        spans = _same_joined(spans, stops)
        short = [
            k
            for k, span in enumerate(spans)
            if length(span) < SHORTEST_ENTRY
            and not (span[2] == BRAKE and span[1] in stops)
            and not (span[2] == STEAM and span[0] in stops)
            and not (span[0] in stops and span[1] in stops)
        ]
        if not short:
            return spans
        k = min(short, key=lambda each: length(spans[each]))
        beside = [j for j in (k - 1, k + 1) if 0 <= j < len(spans) and spans[max(j, k)][0] not in stops]
        j = max(beside, key=lambda each: length(spans[each]))
        low, high = min(j, k), max(j, k)
        spans[low : high + 1] = [(spans[low][0], spans[high][1], spans[j][2])]


def _same_joined(spans: list[Span], stops: dict[int, str]) -> list[Span]:
    """Join neighbors with the same task, but not across a stop."""
    joined: list[Span] = []
    for span in spans:
        if joined and joined[-1][2] == span[2] and span[0] not in stops:
            joined[-1] = (joined[-1][0], span[1], span[2])
        else:
            joined.append(span)
    return joined


def _entry(journey: Journey, a: int, b: int, task: str, stop: str) -> CardEntry:
    steaming = journey.cutoff[a:b] > 0.0
    cutoff, throttle = journey.cutoff[a:b][steaming], journey.throttle[a:b][steaming]
    works = task == STEAM and len(cutoff) > 0
    return CardEntry(
        start=float(journey.chainage[a]),
        end=float(journey.chainage[b]),
        milepost=line_chainage(journey.excursion, float(journey.chainage[a])),
        time=float(journey.departure_time[a]),
        task=task,
        from_speed=float(journey.speed[a]),
        to_speed=float(journey.speed[b]),
        cutoff=_usual(cutoff) if works else None,
        throttle=_usual(throttle) if works and bool(np.all(np.isfinite(throttle))) else None,
        stop=stop,
    )


def _usual(values: Floats) -> tuple[float, float]:
    """Range of values without the ends."""
    low, high = np.quantile(values, USUAL)
    return float(low), float(high)
