"""Driving with the least fuel for the booked times, against the everyday driving, with a card for the crew."""

from __future__ import annotations

import numpy as np

from locosim.engine.performance import Performance, compute_excursion_performance
from locosim.errors import NoSolution
from locosim.frozen import frozen
from locosim.journey.least_fuel import OPENING_TIMES, least_fuel_search
from locosim.journey.result import Journey
from locosim.journey.run import drive_to_times, run_to_timetable
from locosim.journey.timetable import TimetableDriving
from locosim.model import Excursion
from locosim.planning.check import judge_booked
from locosim.planning.coal import fuel_cost
from locosim.planning.crew_card import CardEntry, crew_card
from locosim.planning.finding import Finding, severity
from locosim.planning.rules.traction import climbing
from locosim.planning.section_choices import EVERYDAY, Choices, SectionRuns, best_choices

ON_TIME = 0.01  # lateness allowed beyond that of the everyday driving, for rounding [s]


@frozen
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
        planned: Whether it is driven by a plan; else the everyday driving stands there.
    """

    start: str
    end: str
    booked: float | None
    everyday_arrival: float
    arrival: float
    everyday_fuel: float
    fuel: float
    planned: bool


@frozen(eq=False)
class Economy:
    """Driving with the least fuel found, for the same times.

    Attributes:
        everyday: The everyday driving: the booked run of the check.
        planned: The driving planned for least fuel, run with the boiler: in each section the plan or the everyday
            driving, whichever burns less in the run of the whole. Where all plans are refused, the plan with the least
            fuel.
        journey: The driving chosen: the planned one, or the everyday driving where every plan is refused.
        refused: Why the plan was not chosen; empty where it was.
        everyday_fuel: Fuel of the everyday driving, boiler restored to the heat it began with [kg].
        planned_fuel: The same of the planned driving [kg].
        alternating_fuel: Fuel of a plan that alternates steam and coasting however often that saves: more than a crew
            can do, and no part of the card [kg].
        card: What the engineer does, in order of travel.
        sections: Fuel of each section between stops.
        choices: Driving of each section between booked stops.
        runs: The runs by such choices that were made, and a way to make more.
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
    choices: Choices
    runs: SectionRuns

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
    _check_booked(excursion)
    performance = compute_excursion_performance(excursion)
    everyday, driving = drive_to_times(excursion, performance)
    if not everyday.arrived:
        raise NoSolution(
            f"the train does not arrive ({everyday.outcome})",
            "check the excursion first: it says what the train lacks",
        )
    plans = [
        drive_to_times(excursion, performance, search_type=least_fuel_search(opening))
        for opening in OPENING_TIMES
    ]
    alternating = run_to_timetable(excursion, performance, search_type=least_fuel_search(0.0))
    runs = SectionRuns(drivings=[driving, *(planned for run, planned in plans if run.arrived)])
    choices = _choose(everyday, runs)
    planned = runs.run(choices) if len(runs.drivings) > 1 else plans[0][0]
    refused = _refusal(everyday, planned)
    chosen = everyday if refused else planned
    choices = runs.whole(EVERYDAY) if refused else choices
    return Economy(
        everyday=everyday,
        planned=planned,
        journey=chosen,
        refused=refused,
        everyday_fuel=fuel_cost(everyday),
        planned_fuel=fuel_cost(planned),
        alternating_fuel=fuel_cost(alternating),
        card=crew_card(chosen),
        sections=_sections(everyday, chosen, _by_plan(driving, choices)),
        choices=choices,
        runs=runs,
    )


def _check_booked(excursion: Excursion) -> None:
    """Refuse an excursion without a booked time."""
    if not any(stop.arrive is not None or stop.depart is not None for stop in excursion.stops[1:]):
        raise NoSolution(
            "no arrival is booked, so there is no time to keep",
            'write arrive = "11:05" at a stop, or let the command timetable book the times',
        )


def _by_plan(driving: TimetableDriving, choices: Choices) -> set[int]:
    """Numbers of the stops from which a plan is driven to the next."""
    return {
        stop
        for section, choice in zip(driving.sections, choices, strict=True)
        for stop in range(section.first_stop, section.last_stop)
        if choice.driving != EVERYDAY
    }


def _choose(everyday: Journey, runs: SectionRuns) -> Choices:
    """The choices with the least fuel that are not refused, or else those of the whole plan with the least fuel."""
    plans = sorted(
        (runs.whole(number) for number in range(1, len(runs.drivings))),
        key=lambda choices: fuel_cost(runs.run(choices)),
    )
    begin = next((plan for plan in plans if not _refusal(everyday, runs.run(plan))), runs.whole(EVERYDAY))

    def better(tried: Journey, best: Journey) -> bool:
        return fuel_cost(tried) < fuel_cost(best) and not _refusal(everyday, tried)

    choices = best_choices(runs, begin, better)
    stands = all(choice.driving == EVERYDAY for choice in choices)
    return plans[0] if stands and plans else choices


def _refusal(everyday: Journey, planned: Journey) -> str:
    """Why a plan is not chosen; empty where it is."""
    if not planned.arrived:
        return f"the plan ends with: {planned.outcome}"
    if fuel_cost(planned) >= fuel_cost(everyday):
        return "run with the boiler, the plan burns no less than the everyday driving"
    if not _on_time(everyday, planned):
        return "run with the boiler, the plan does not keep a booked time that the everyday driving keeps"
    worse = _worse(everyday, planned)
    if worse is not None:
        return f"the plan is {worse.verdict.upper()} for {worse.rule} at {worse.place}, the everyday driving is not"
    return ""


def _on_time(everyday: Journey, planned: Journey) -> bool:
    """Whether a plan arrives no later than booked or than the everyday driving."""
    return all(
        stop.arrive is None or after.arrive <= max(stop.arrive, before.arrive) + ON_TIME
        for stop, before, after in zip(everyday.excursion.stops, everyday.stops, planned.stops, strict=True)
    )


def _worse(everyday: Journey, planned: Journey) -> Finding | None:
    """The worst finding of a plan, if its verdict is worse than that of the same rule in the everyday driving."""
    before: dict[str, int] = {}
    for finding in judge_driving(everyday):
        before[finding.rule] = max(before.get(finding.rule, 0), severity(finding.verdict))
    worse = [f for f in judge_driving(planned) if severity(f.verdict) > before.get(f.rule, 0)]
    return max(worse, key=lambda f: severity(f.verdict), default=None)


def judge_driving(journey: Journey) -> list[Finding]:
    """Findings of the check that rest on the driving: those of the booked run, and its speed on climbs."""
    return [*judge_booked(journey), *climbing(journey)]


def _sections(everyday: Journey, chosen: Journey, by_plan: set[int]) -> tuple[SectionFuel, ...]:
    """Fuel of each section; `by_plan` has the numbers of the stops that begin a section driven by a plan."""
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
            planned=k in by_plan,
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
