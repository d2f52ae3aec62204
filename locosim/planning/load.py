"""The largest load: how many vehicles, or how much mass, a plan takes before its check gets worse than is wanted."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from locosim.engine.performance import Performance, compute_excursion_performance
from locosim.errors import Fault, LocosimError, OutOfRange
from locosim.journey.entry_speeds import MomentumGrade, holds_everywhere, momentum_grades_of
from locosim.journey.result import Journey
from locosim.journey.run import run_full_effort
from locosim.journey.setup.prepare import prepare
from locosim.model import Excursion, Stop, Train
from locosim.planning.bands import with_bands
from locosim.planning.check import Check, judge_full_effort, run_and_check
from locosim.planning.checker import Checker
from locosim.planning.contingencies import Change, feed_device_failed, poor_fuel, wet_rail
from locosim.planning.finding import CLEAR, NOTE, TIGHT, VERDICTS, Fact, Finding
from locosim.planning.rules.stall import stalling
from locosim.planning.varied_train import VariedTrain, varied_train

GOALS = (CLEAR, TIGHT)
SEASONS = (263.15, 308.15)  # air temperatures of winter and summer, if none are given [K]


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadQuestion:
    """What is asked of a load.

    Attributes:
        vehicle: Name of the vehicles whose number is varied; None for the cars of which the train has most.
        by_mass: Vary the load of all cars instead.
        mass_step: Step of the mass [kg].
        verdict: Worst verdict that is accepted, `clear` or `tight`.
        conditions: Whether to repeat the search under other conditions.
        rails: Rail conditions to repeat it for; if empty, a wet rail.
        temperatures: Air temperatures to repeat it for [K]; if empty, one of winter and one of summer.
        heating_values: Heating values of the fuel to repeat it for [J/kg]; if empty, that of poor coal.
    """

    vehicle: str | None = None
    by_mass: bool = False
    mass_step: float = 1000.0
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LargestLoad:
    """The largest load of one plan, with its proof.

    Attributes:
        name: What the plan is: a condition or a section.
        fact: Figure of the condition; None where the name says it.
        number: Number of vehicles, or of steps of mass; None where no load will do.
        train: The train with it; None likewise.
        check: The whole check with it; None likewise.
        refused: The whole check with the next larger load, or without load where none will do; None where a file
            may not describe that train.
        limit: The finding that the next larger load fails by; None likewise.
        note: Why there is no check, or none of a larger load; empty where there is.
    """

    name: str
    fact: Fact | None = None
    number: int | None = None
    train: Train | None = None
    check: Check | None = None
    refused: Check | None = None
    limit: Finding | None = None
    note: str = ""

    @property
    def mass(self) -> float | None:
        """Mass behind the tender [kg]."""
        return None if self.train is None else self.train.mass

    @property
    def rests_on(self) -> tuple[str, ...]:
        """Assumptions within whose range a verdict of the check changes."""
        if self.check is None:
            return ()
        flipping = [f for f in self.check.findings if f.flips]
        return tuple(dict.fromkeys(band.assumption for f in flipping for band in f.bands))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LoadRating:
    """The largest load of an excursion: over all, by section, by condition, and what momentum adds.

    Attributes:
        excursion: The excursion as described.
        varied: What of its train is varied.
        verdict: Worst verdict that is accepted; `tight` where no load at all is clear.
        not_clear: The finding that is not clear even without load; None where one is not looked for or not found.
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

    A rule that refuses a load refuses every larger one, brakes apart, so bisection finds the load. The search begins
    at the largest load that the run at full effort allows; the answer, and the next larger load, get the
    whole check, bands included.

    Args:
        excursion: The excursion; what its train is loaded with does not matter, except where the search begins.
        question: What is varied and accepted, and the conditions.

    Raises:
        OutOfRange: No such vehicle, verdict or rail condition, a step of mass that is not above 0, or the excursion
            needs something that its route or engine does not have.
    """
    if question.verdict not in GOALS:
        raise OutOfRange.by(
            [Fault("verdict", f"must be one of {', '.join(GOALS)}, found {question.verdict!r}")]
        )
    varied = varied_train(
        excursion.train, vehicle=question.vehicle, by_mass=question.by_mass, step=question.mass_step
    )
    changes = conditions_of(excursion, question) if question.conditions else ()
    verdict, not_clear = question.verdict, None
    search = LoadSearch(excursion, varied)
    whole = search.largest("as planned", verdict)
    if whole.number is None and verdict == CLEAR:
        verdict, not_clear = TIGHT, whole.limit
        whole = search.largest("as planned", verdict)
    begin, like = whole.number, whole.check
    sections = _sections(excursion, like) if question.conditions else []
    return LoadRating(
        excursion=excursion,
        varied=varied,
        verdict=verdict,
        not_clear=not_clear,
        whole=whole,
        sections=tuple(
            LoadSearch(section, varied, begin=begin, like=like).largest(name, verdict)
            for name, section in sections
        ),
        conditions=tuple(_with_change(change, varied, verdict, whole) for change in changes),
        without_momentum=_without_momentum(excursion, varied, begin),
        momentum=_momentum(whole),
    )


class LoadSearch:
    """The search for the largest load of one plan; what it has checked it keeps, for a search with another verdict."""

    def __init__(
        self,
        excursion: Excursion,
        varied: VariedTrain,
        *,
        begin: int | None = None,
        like: Check | None = None,
    ) -> None:
        """Prepare a search.

        Args:
            excursion: The plan.
            varied: What of its train is varied.
            begin: Number to begin at; that of the description if omitted.
            like: Check of a similar plan, from whose runs each check begins and whose doubts it takes over, as a
                contingency does; without, each check is made as the command `check` makes it.
        """
        self._excursion, self._varied = excursion, varied
        self._begin = varied.as_described if begin is None else begin
        self._performance = compute_excursion_performance(excursion)
        self._checker = None if like is None else Checker(like)
        self._pulls: dict[int, list[Finding]] = {}
        self._plain: dict[int, Check] = {}
        self._banded: dict[int, Check] = {}

    def largest(self, name: str, verdict: str) -> LargestLoad:
        """The largest load, with the check of it and of the next.

        Args:
            name: What the plan is.
            verdict: Worst verdict that is accepted.
        """
        most = self._varied.max_number
        number = last_that(lambda n: self._is_pulled(n, verdict), min(self._begin, most), most)
        if number is not None:
            number = self._confirmed(number, verdict)
        if number is None:
            return self._none(name, verdict)
        refused = self._check(number + 1)
        return LargestLoad(
            name=name,
            number=number,
            train=self._varied.at(number),
            check=self._with_bands(number),
            refused=refused,
            limit=None if refused is None else self._limit(number + 1, verdict),
            note="" if refused is not None else "a file may not describe a longer or heavier train",
        )

    def _none(self, name: str, verdict: str) -> LargestLoad:
        refused = self._check(0)
        if refused is None:
            return LargestLoad(name=name, note="a train file may not describe the train without this load")
        return LargestLoad(name=name, refused=refused, limit=self._limit(0, verdict))

    def _limit(self, number: int, verdict: str) -> Finding | None:
        """The first finding that a number is refused for."""
        plain, found = self._check(number), None
        if plain is not None:
            found = first_worse(plain.findings, verdict)
            if found is None:  # refused for what an assumption may do
                found = first_worse(self._with_bands(number).findings, verdict)
        return found

    def _confirmed(self, guess: int, verdict: str) -> int | None:
        """The largest number that the whole check accepts, from one that the pull allows."""
        while not self._accepts(guess, verdict):  # its own whole check may differ a little from a similar one
            below = self._below(guess, verdict)
            if below is None:
                return None
            guess = below
        while self._accepts(guess + 1, verdict):
            guess += 1
        return guess

    def _below(self, guess: int, verdict: str) -> int | None:
        """The largest number below a refused one that similar checks accept; None where none is.

        A rule that refuses the lightest train too, such as one on brakes that the cars have and the engine has not,
        refuses every train or gets better with load. So the largest load that the other rules allow decides.
        """
        base = self._with_bands(guess) if guess in self._banded else self._check(guess)
        assert base is not None
        similar = Checker(base)
        lightest = base if guess == 0 else similar.check(self._at(0))
        always = _refusing(lightest, verdict)
        if always:
            self._plain[0] = self._banded[0] = lightest
        if _refusing(base, verdict) <= always:
            return None

        def accepted(number: int) -> bool:
            return _refusing(similar.check(self._at(number)), verdict) <= always

        below = last_that(accepted, guess - 1, guess - 1)
        if below is None or (always and not self._accepts(below, verdict)):
            return None
        return below

    def _at(self, number: int) -> Excursion:
        return replace(self._excursion, train=self._varied.at(number))

    def _is_pulled(self, number: int, verdict: str) -> bool:
        """Whether the run at full effort is accepted; where it is not, the whole check is not."""
        if number not in self._pulls:
            try:
                excursion = self._at(number)
            except OutOfRange:
                return False
            full = run_full_effort(excursion, self._performance)
            stalled = stalling(full) if full.outcome == "stalled" else []
            self._pulls[number] = [*stalled, *judge_full_effort(full)]
        return first_worse(self._pulls[number], verdict) is None

    def _accepts(self, number: int, verdict: str) -> bool:
        """Whether the whole check is accepted; bands only make a clear finding tight."""
        check = self._check(number)
        if check is None or first_worse(check.findings, verdict) is not None:
            return False
        return verdict == TIGHT or first_worse(self._with_bands(number).findings, verdict) is None

    def _check(self, number: int) -> Check | None:
        """The check without bands; None for a train that a file may not describe."""
        if number not in self._plain:
            try:
                excursion = self._at(number)
            except OutOfRange:
                return None
            self._plain[number] = (
                run_and_check(excursion, self._performance)
                if self._checker is None
                else self._checker.check(excursion)
            )
        return self._plain[number]

    def _with_bands(self, number: int) -> Check:
        """The whole check; one like another has its doubts already."""
        if self._checker is not None:
            return self._plain[number]
        if number not in self._banded:
            self._banded[number] = with_bands(self._plain[number])
        return self._banded[number]


def last_that(holds: Callable[[int], bool], guess: int, most: int) -> int | None:
    """The largest number from 0 to one at which something holds that never holds again once it does not.

    Args:
        holds: Whether it holds at a number.
        guess: Number to begin at.
        most: Largest number.

    Returns:
        The number; None where it does not hold at 0.
    """
    if most < 0:
        return None
    low, high, stride = -1, most + 1, 1
    number = min(max(guess, 0), most)
    while high - low > 1:
        if holds(number):
            low = number
            number = min(number + stride, high - 1) if high > most else (low + high) // 2
        else:
            high = number
            number = max(number - stride, low + 1) if low < 0 else (low + high) // 2
        stride *= 2
    return low if low >= 0 else None


def first_worse(findings: Sequence[Finding], verdict: str) -> Finding | None:
    """The first finding that is worse than a verdict; None where there is none."""
    most = VERDICTS.index(verdict)
    return next((f for f in findings if f.verdict != NOTE and VERDICTS.index(f.verdict) > most), None)


def _refusing(check: Check, verdict: str) -> set[str]:
    """Rules with a finding worse than a verdict."""
    most = VERDICTS.index(verdict)
    return {f.rule for f in check.findings if f.verdict != NOTE and VERDICTS.index(f.verdict) > most}


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
        search = LoadSearch(change.excursion, varied, begin=whole.number, like=whole.check)
        return replace(search.largest(change.name, verdict), fact=condition.fact)
    except LocosimError as problem:
        return LargestLoad(name=change.name, fact=condition.fact, note=str(problem))


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

    def holds(number: int) -> bool:
        try:
            train = varied.at(number)
        except OutOfRange:
            return False
        return holds_everywhere(prepare(replace(excursion, train=train), performance))

    return last_that(holds, varied.as_described if begin is None else begin, varied.max_number)


def _momentum(whole: LargestLoad) -> tuple[MomentumGrade, ...]:
    if whole.check is None:
        return ()
    full: Journey = whole.check.runs.full_effort
    return momentum_grades_of(full) if full.arrived else ()
