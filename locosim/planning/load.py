"""The largest load: how many vehicles, or how much mass, a plan takes before its check gets worse than is wanted."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import Any, NamedTuple

from locosim.engine.performance import Performance, compute_excursion_performance
from locosim.errors import Fault, LocosimError, OutOfRange
from locosim.frozen import frozen
from locosim.journey.entry_speeds import MomentumGrade, holds_everywhere, momentum_grades_of
from locosim.journey.result import Journey
from locosim.journey.setup.prepare import prepare
from locosim.model import Excursion, Stop
from locosim.planning.check import Check
from locosim.planning.contingencies import Change, feed_device_failed, poor_fuel, wet_rail
from locosim.planning.finding import CLEAR, TIGHT, Fact, Finding
from locosim.planning.largest_number import Spare, last_that
from locosim.planning.load_search import LargestLoad, LoadSearch
from locosim.planning.load_trials import NOT_POSSIBLE
from locosim.planning.varied_train import VariedTrain, varied_train
from locosim.side_by_side import answer_each

GOALS = (CLEAR, TIGHT)
WHOLE = "as planned"  # name of the load over all
SEASONS = (263.15, 308.15)  # air temperatures of winter and summer, if none are given [K]


@frozen
class LoadQuestion:
    """What is asked of a load.

    Attributes:
        vehicle: Name of the vehicles whose number is varied; None for the cars of which the train has most.
        by_mass: Vary the load of all cars instead.
        mass_step: Step of the mass [kg]; None for `MASS_STEP`, and where the mass is not varied.
        verdict: Worst verdict that is accepted, `clear` or `tight`.
        conditions: Whether to repeat the search under other conditions.
        rails: Rail conditions to repeat it for; if empty, a wet rail.
        temperatures: Air temperatures to repeat it for [K]; if empty, one of winter and one of summer.
        heating_values: Heating values of the fuel to repeat it for [J/kg]; if empty, that of poor coal.
    """

    vehicle: str | None = None
    by_mass: bool = False
    mass_step: float | None = None
    verdict: str = CLEAR
    conditions: bool = True
    rails: tuple[str, ...] = ()
    temperatures: tuple[float, ...] = ()
    heating_values: tuple[float, ...] = ()


class Condition(NamedTuple):
    """A condition to repeat the search for.

    Attributes:
        change: The plan with it.
        fact: Its figure, where the name does not say it.
    """

    change: Change
    fact: Fact | None = None


@frozen(eq=False)
class LoadRating:
    """The largest load of an excursion: over all, by section, by condition, and what momentum adds.

    Attributes:
        excursion: The excursion as described.
        varied: What of its train is varied.
        verdict: Worst verdict that is accepted; `tight` where no load at all is clear.
        not_clear: The finding that is not clear even without load, or with the least of it where the engine alone lacks
            no more than brakes; None where one is not looked for or not found.
        not_clear_number: Number of that load.
        whole: The largest load over all.
        sections: The largest load from stop to stop, each section by itself.
        conditions: The largest load with one thing changed.
        without_momentum: Largest number with which the train holds its least climbing speed on every grade without a
            run at it; None where even the lightest does not.
        momentum: Grades that the train with the largest load climbs on its momentum.
    """

    excursion: Excursion
    varied: VariedTrain
    verdict: str
    not_clear: Finding | None
    not_clear_number: int
    whole: LargestLoad
    sections: tuple[LargestLoad, ...]
    conditions: tuple[LargestLoad, ...]
    without_momentum: int | None
    momentum: tuple[MomentumGrade, ...]

    @property
    def performance(self) -> Performance:
        """Performance of the engine."""
        return compute_excursion_performance(self.excursion)

    @property
    def ruling_section(self) -> LargestLoad | None:
        """The section with the smallest load; None where there is only one section."""
        if len(self.sections) < 2:
            return None
        return min(self.sections, key=lambda each: -1 if each.number is None else each.number)


def find_load(excursion: Excursion, question: LoadQuestion = LoadQuestion()) -> LoadRating:
    """Find the largest load of an excursion, whose check is then no worse than is wanted.

    A rule that refuses a load refuses every larger one, brakes apart, so a search finds the load by trials that run
    no more of a check than they need. The answer and the next larger load get the whole check, bands included; the
    latter is found beside sections, conditions and momentum, which begin from the answer.

    Args:
        excursion: The excursion; what its train is loaded with does not matter, except where the search begins.
        question: What is varied and accepted, and the conditions.

    Raises:
        OutOfRange: No such vehicle, verdict or rail condition, a vehicle by mass, a step of mass by number or not above
            0, or the excursion needs something that its route or engine does not have.
    """
    if question.verdict not in GOALS:
        raise OutOfRange.by(
            [Fault("verdict", f"must be one of {', '.join(GOALS)}, found {question.verdict!r}")]
        )
    varied = varied_train(
        excursion.train, vehicle=question.vehicle, by_mass=question.by_mass, step=question.mass_step
    )
    changes = conditions_of(excursion, question) if question.conditions else ()
    search, verdict, not_clear, not_clear_number = LoadSearch(excursion, varied), question.verdict, None, 0
    known = (excursion, compute_excursion_performance(excursion), varied)
    number = search.answer(verdict)
    if number is None and verdict == CLEAR:
        lightest, largest = answer_each(
            [partial(search.load, WHOLE, None, verdict), partial(search.found, WHOLE, TIGHT)], known=known
        )
        verdict, not_clear, not_clear_number = TIGHT, lightest.limit, lightest.refused_number
        number = largest.number
        search.learn(largest)
    while True:
        whole = search.load(WHOLE, number, verdict)
        sections = _sections(excursion, whole.check) if question.conditions else []
        searches: list[Callable[[], Any]] = [
            partial(search.proof, number, verdict),
            *(partial(_with_change, change, varied, verdict, whole) for change in changes),
            *(partial(_of_section, section, varied, verdict, whole) for section in sections),
            partial(_momentum, whole),
            partial(_without_momentum, excursion, varied, number),
        ]
        proof, *found, momentum, without_momentum = answer_each(searches, known=known)
        if number is None or proof is not None:
            break
        number = search.above(number, verdict)
    return LoadRating(
        excursion=excursion,
        varied=varied,
        verdict=verdict,
        not_clear=not_clear,
        not_clear_number=not_clear_number,
        whole=search.load(WHOLE, number, verdict, proof),
        sections=tuple(found[len(changes) :]),
        conditions=tuple(found[: len(changes)]),
        without_momentum=without_momentum,
        momentum=momentum,
    )


def conditions_of(excursion: Excursion, question: LoadQuestion) -> tuple[Condition, ...]:
    """The plan with one condition changed at a time.

    Raises:
        OutOfRange: A rail condition, a temperature or a heating value that a file may not have.
    """
    rails = [Condition(Change(f"{each} rail", replace(excursion, rail=each))) for each in question.rails]
    seasons = [
        Condition(
            Change("air", replace(excursion, weather=replace(excursion.weather, temperature=each))),
            (each, "temperature"),
        )
        for each in question.temperatures or SEASONS
    ]
    fuels = [
        Condition(
            Change("coal", replace(excursion, fuel=replace(excursion.fuel, heating_value=each))),
            (each, "heating_value"),
        )
        for each in question.heating_values
    ]
    return (
        *(rails or (Condition(wet_rail(excursion)),)),
        *seasons,
        *(fuels or (Condition(poor_fuel(excursion)),)),
        Condition(feed_device_failed(excursion)),
    )


def _with_change(condition: Condition, varied: VariedTrain, verdict: str, whole: LargestLoad) -> LargestLoad:
    """The largest load under a condition; one that the engine cannot run under keeps its reason."""
    change = condition.change
    if change.excursion is None:
        return LargestLoad(name=change.name, fact=condition.fact, note=change.not_run)
    try:
        search = LoadSearch(change.excursion, varied, begin=whole.number or 0, like=whole.check)
        return replace(search.largest(change.name, verdict), fact=condition.fact)
    except LocosimError as problem:
        return LargestLoad(name=change.name, fact=condition.fact, note=str(problem))


def _of_section(
    section: tuple[str, Excursion], varied: VariedTrain, verdict: str, whole: LargestLoad
) -> LargestLoad:
    """The largest load of a section by itself."""
    name, excursion = section
    search = LoadSearch(excursion, varied, begin=whole.number, like=whole.check)
    return search.largest(name, verdict, far=whole.number is not None)


def _sections(excursion: Excursion, check: Check | None) -> list[tuple[str, Excursion]]:
    """Each section from stop to stop as a plan of its own, with the supplies that the run over all has there."""
    stops = excursion.stops
    if len(stops) < 3:
        return []
    records = () if check is None else check.journey.stops
    found = []
    for number in range(len(stops) - 1):
        here, beyond = stops[number], stops[number + 1]
        record = records[number] if number < len(records) else None
        departure = here.depart if here.depart is not None else record.depart if record else None
        helpers = [h for h in excursion.helpers if _helps(h.from_station, h.to_station, stops, number)]
        part = replace(
            excursion,
            departure=excursion.departure if departure is None else departure,
            stops=(Stop(station=here.station), replace(beyond, depart=None, dwell=0.0, clean_fire="no")),
            helpers=tuple(replace(h, from_station=None, to_station=None) for h in helpers),
            initial_water=excursion.initial_water
            * (_left(records[0].water_on_departure, record.water_on_departure) if record else 1.0),
            initial_fuel=excursion.initial_fuel
            * (_left(records[0].fuel_on_departure, record.fuel_on_departure) if record else 1.0),
        )
        found.append((f"{here.station} to {beyond.station}", part))
    return found


def _helps(on: str | None, off: str | None, stops: Sequence[Stop], number: int) -> bool:
    """Whether a helper is on in a section."""
    names = [stop.station for stop in stops]
    first = 0 if on is None else names.index(on)
    last = len(names) - 1 if off is None else names.index(off)
    return first <= number < last


def _left(first: float, now: float) -> float:
    """Share of the first supplies, filled up at most to these [1]."""
    return min(max(now / first, 1e-3), 1.0) if first > 0.0 else 1.0


def _without_momentum(excursion: Excursion, varied: VariedTrain, begin: int | None) -> int | None:
    """Largest number with which the train holds its least climbing speed everywhere at a steady pull."""
    performance = compute_excursion_performance(excursion)

    def spare(number: int) -> Spare:
        try:
            train = varied.at(number)
        except OutOfRange:
            return NOT_POSSIBLE
        holds = holds_everywhere(prepare(replace(excursion, train=train), performance))
        return {"pull": 1.0 if holds else -1.0}

    return last_that(spare, varied.as_described if begin is None else begin, varied.max_number)


def _momentum(whole: LargestLoad) -> tuple[MomentumGrade, ...]:
    if whole.check is None:
        return ()
    full: Journey = whole.check.runs.full_effort
    return momentum_grades_of(full) if full.arrived else ()
