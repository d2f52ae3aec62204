"""Remedies that were run: for a finding that is not clear, the smallest amount of each change that helps."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import NamedTuple

from locosim.errors import LocosimError
from locosim.journey.run import run_full_effort, run_to_timetable
from locosim.journey.steam_need import steam_need
from locosim.model import Excursion, Helper, Stop, Train, Vehicle
from locosim.physics.traction.rail_conditions import sanded_rail_condition
from locosim.planning.bands import doubts, with_doubts
from locosim.planning.check import Check, judge_booked, judge_full_effort, run_and_check
from locosim.planning.finding import CLEAR, NOTE, TIGHT, VERDICTS, Finding, worst_verdict
from locosim.planning.rules.boiler import steaming
from locosim.planning.rules.stall import stalling

# Rules whose findings remedies are tried for, by the run they are judged on.
AT_FULL_EFFORT = ("stall", "time", "climb", "start", "coupler")
BY_NEED = ("steam",)
ON_THE_BOOKED_RUN = ("adhesion", "pressure", "crown sheet", "water glass", "water", "fuel", "end of run")
TIME_STEP = 60.0  # of a departure or a stop, as a timetable is written [s]
MAX_SHIFT = 3600.0  # longest change of a departure or a stop that is tried [s]
STEAM_SHARES = (0.95, 0.9, 0.85, 0.8, 0.75, 0.7, 0.6, 0.5)  # of the present allowance, tried in order


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """A change that was run and helps.

    Attributes:
        rule: Rule whose findings it was run for.
        kind: `cars off`, `helper`, `sanded rail`, `earlier departure`, `later times`, `longer stop`, `less steam` or
            `water stop`.
        change: The change in words, with `{name}` where a fact is shown.
        amount: The smallest that gives the verdict: cars, seconds or share; 1 where there is no amount.
        facts: Figures of the text, by name.
        verdict: Verdict of the rule with the change.
        whole_verdict: Verdict of the whole check with the change, without contingencies.
    """

    rule: str
    kind: str
    change: str
    amount: float
    facts: dict[str, tuple[float, str]]
    verdict: str
    whole_verdict: str


class Trial(NamedTuple):
    """A change of the excursion, not yet run.

    Attributes:
        kind: Kind of change.
        amount: How much of it.
        change: In words.
        facts: Figures of the text.
        excursion: The excursion with the change.
    """

    kind: str
    amount: float
    change: str
    facts: dict[str, tuple[float, str]]
    excursion: Excursion


class Ladder(NamedTuple):
    """A change in amounts to choose from.

    Attributes:
        size: Number of amounts, numbered from 1.
        trial: The change by its number.
        rising: Whether a larger number never helps less, so that bisection finds the smallest; else all are tried in
            order.
    """

    size: int
    trial: Callable[[int], Trial]
    rising: bool = True


def try_remedies(check: Check) -> tuple[Remedy, ...]:
    """Run the remedies for each rule with a finding that is not clear.

    For each change the smallest amount that makes the rule clear is found; where none does, the smallest that turns a
    stop into tight. A change that does neither is left out.

    Args:
        check: The check.

    Returns:
        Remedies in the order of the findings; within a rule, those that make it clear first.
    """
    trials = _Trials(check)
    found = []
    tried = (*AT_FULL_EFFORT, *BY_NEED, *ON_THE_BOOKED_RUN)
    for rule in dict.fromkeys(f.rule for f in check.findings if f.verdict not in (CLEAR, NOTE)):
        if rule not in tried:
            continue
        worst = worst_verdict(f.verdict for f in check.findings if f.rule == rule)
        helped = [trials.remedy(ladder, rule, worst) for ladder in _ladders(check, rule)]
        found += sorted((r for r in helped if r is not None), key=lambda r: VERDICTS.index(r.verdict))
    return tuple(found)


class _Trials:
    """Changed excursions, each run once for all rules."""

    def __init__(self, check: Check) -> None:
        journey = check.journey
        self.performance = journey.performance
        self.stops, self.ease = journey.excursion.stops, journey.ease
        self.tight = journey.excursion.criteria.tight_margin
        self.doubts = doubts(check)
        self._findings: dict[tuple[str, float, str], list[Finding]] = {}
        self._whole: dict[tuple[str, float], str] = {}

    def remedy(self, ladder: Ladder, rule: str, worst: str) -> Remedy | None:
        """The smallest amount that makes a rule clear, or at least better than its worst verdict."""
        for goal in VERDICTS[: VERDICTS.index(worst)]:
            number = self._smallest(ladder, rule, goal)
            if number is not None:
                trial = ladder.trial(number)
                return Remedy(
                    rule=rule,
                    kind=trial.kind,
                    change=trial.change,
                    amount=trial.amount,
                    facts=trial.facts,
                    verdict=self._verdict(trial, rule),
                    whole_verdict=self._whole_verdict(trial),
                )
        return None

    def _smallest(self, ladder: Ladder, rule: str, goal: str) -> int | None:
        """Smallest number of a ladder that reaches a verdict; None where none does."""

        def reaches(number: int) -> bool:
            try:
                verdict = self._verdict(ladder.trial(number), rule)
            except (
                LocosimError
            ):  # a change that the files do not allow, such as a stop where there is no water
                return False
            return VERDICTS.index(verdict) <= VERDICTS.index(goal)

        if not ladder.rising:
            return next(filter(reaches, range(1, ladder.size + 1)), None)
        if ladder.size < 1 or not reaches(ladder.size):
            return None
        low, high = 0, ladder.size
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if reaches(middle) else (middle, high)
        return high

    def _verdict(self, trial: Trial, rule: str) -> str:
        """Verdict of a rule with a change; stop where the train does not arrive."""
        run = "need" if rule in BY_NEED else "full effort" if rule in AT_FULL_EFFORT else "booked"
        key = (trial.change, trial.amount, run)
        if key not in self._findings:
            self._findings[key] = self._judged(trial.excursion, run)
        findings = self._findings[key]
        return worst_verdict(
            TIGHT
            if f.verdict == CLEAR and f.rule == rule and f.margin - self.doubts.get(rule, 0.0) < self.tight
            else f.verdict
            for f in findings
            if f.rule in (rule, "stall", "end of run")
        )

    def _judged(self, excursion: Excursion, run: str) -> list[Finding]:
        if run == "booked":
            booked = run_to_timetable(excursion, self.performance, begin=self._begin(excursion))
            return [*stalling(booked), *judge_booked(booked)]
        full = run_full_effort(excursion, self.performance)
        stalled = stalling(full) if full.outcome == "stalled" else []
        if run == "need":
            return [*stalled, *steaming(full, steam_need(excursion, self.performance))]
        return [*stalled, *judge_full_effort(full)]

    def _begin(self, excursion: Excursion) -> Sequence[float]:
        """Ease from which the search begins; that of the check, unless a stop was added."""
        return self.ease if len(excursion.stops) == len(self.stops) else ()

    def _whole_verdict(self, trial: Trial) -> str:
        key = (trial.change, trial.amount)
        if key not in self._whole:
            self._whole[key] = with_doubts(
                run_and_check(trial.excursion, self.performance, begin=self._begin(trial.excursion)),
                self.doubts,
            ).verdict
        return self._whole[key]


# The changes


def _ladders(check: Check, rule: str) -> list[Ladder]:
    """Changes that may help a rule."""
    excursion = check.runs.booked.excursion
    ladders = [_cars_off(excursion)]
    if rule not in ("water", "fuel", "end of run"):
        ladders.append(_helper(excursion))
    if rule in ("stall", "climb", "start", "adhesion", "time"):
        ladders += _sanded_rail(excursion)
    if rule in ("time", "steam"):
        ladders += [_earlier_departure(excursion), *_later_times(check, rule)]
    if rule in ("pressure", "crown sheet", "water glass"):
        ladders += _longer_stop(check, rule)
    if rule in ("pressure", "crown sheet", "adhesion", "water", "fuel", "end of run"):
        ladders.append(_less_steam(excursion))
    if rule in ("water", "end of run"):
        ladders.append(_water_stops(excursion))
    return ladders


def _cars_off(excursion: Excursion) -> Ladder:
    """Take cars off the rear; water cars and dead diesels stay."""

    def trial(number: int) -> Trial:
        train = _without_cars(excursion.train, number)
        off = excursion.train.mass - train.mass
        words = f"{'1 car' if number == 1 else f'{number} cars'} off, {{off}}"
        return Trial("cars off", number, words, {"off": (off, "mass")}, replace(excursion, train=train))

    return Ladder(sum(v.count for v in excursion.train.vehicles if _is_car(v)), trial)


def _is_car(vehicle: Vehicle) -> bool:
    return vehicle.kind not in ("water_car", "diesel")


def _without_cars(train: Train, number: int) -> Train:
    """The train without its last cars."""
    left = []
    for vehicle in reversed(train.vehicles):
        off = min(number, vehicle.count) if _is_car(vehicle) else 0
        number -= off
        if off < vehicle.count:
            left.append(replace(vehicle, count=vehicle.count - off))
    return replace(train, vehicles=tuple(reversed(left)))


def _helper(excursion: Excursion) -> Ladder:
    """One more helper between two stops, over the fewest sections that suffice.

    It is like the first helper that the file names, or else like the train's own engine.
    """
    names = [stop.station for stop in excursion.stops]
    named = excursion.helpers[0] if excursion.helpers else None
    helper = named or Helper(locomotive=excursion.locomotive)
    what = f"one more helper like {named.name}" if named else f"a helper like {excursion.locomotive.name}"
    pairs = [(a, b) for a in range(len(names)) for b in range(a + 1, len(names))]
    pairs.sort(key=lambda pair: (pair[1] - pair[0], pair[0]))

    def trial(number: int) -> Trial:
        on, off = (names[k] for k in pairs[number - 1])
        added = replace(helper, from_station=on, to_station=off)
        words = f"{what}, at the {helper.place} from {on} to {off}"
        changed = replace(excursion, helpers=(*excursion.helpers, added))
        return Trial("helper", 1.0, words, {}, changed)

    return Ladder(len(pairs), trial, rising=False)


def _sanded_rail(excursion: Excursion) -> list[Ladder]:
    """Sand the rail of the day; stretches with a rail condition of their own stay as they are."""
    sanded = sanded_rail_condition(condition=excursion.rail)
    if sanded == excursion.rail:
        return []
    changed = replace(excursion, rail=sanded)
    return [Ladder(1, lambda number: Trial("sanded rail", 1.0, f"{sanded} rail", {}, changed))]


def _earlier_departure(excursion: Excursion) -> Ladder:
    """Depart earlier from the first stop."""

    def trial(number: int) -> Trial:
        departure = excursion.departure - number * TIME_STEP
        words, facts = "departure at {departure}", {"departure": (departure, "clock")}
        changed = replace(excursion, departure=departure)
        return Trial("earlier departure", number * TIME_STEP, words, facts, changed)

    return Ladder(int(min(MAX_SHIFT, excursion.departure) / TIME_STEP), trial)


def _later_times(check: Check, rule: str) -> Iterator[Ladder]:
    """Put back all booked times from the stop of the first finding on."""
    excursion = check.runs.booked.excursion
    first = _first_stop_beyond(check, rule)
    if not any(stop.arrive is not None or stop.depart is not None for stop in excursion.stops[first:]):
        return

    def trial(number: int) -> Trial:
        shift = number * TIME_STEP
        words = f"times booked {{shift}} later from {excursion.stops[first].station} on"
        changed = replace(excursion, stops=_put_back(excursion.stops, first, shift))
        return Trial("later times", shift, words, {"shift": (shift, "time")}, changed)

    yield Ladder(int(MAX_SHIFT / TIME_STEP), trial)


def _longer_stop(check: Check, rule: str) -> Iterator[Ladder]:
    """Stand longer at the last stop before the finding, with all later times put back as much."""
    excursion = check.runs.booked.excursion
    before = _first_stop_beyond(check, rule) - 1
    if before < 1:
        return

    def trial(number: int) -> Trial:
        shift = number * TIME_STEP
        stop = excursion.stops[before]
        longer = replace(
            stop, dwell=stop.dwell + shift, depart=None if stop.depart is None else stop.depart + shift
        )
        stops = (*excursion.stops[:before], longer, *excursion.stops[before + 1 :])
        words = f"stop at {stop.station} {{shift}} longer, later times as much later"
        changed = replace(excursion, stops=_put_back(stops, before + 1, shift))
        return Trial("longer stop", shift, words, {"shift": (shift, "time")}, changed)

    yield Ladder(int(MAX_SHIFT / TIME_STEP), trial)


def _first_stop_beyond(check: Check, rule: str) -> int:
    """Index of the first stop at or beyond the first finding of a rule that is not clear."""
    excursion = check.runs.booked.excursion
    places = [f.chainage for f in check.findings if f.rule == rule and f.verdict not in (CLEAR, NOTE)]
    first = min((p for p in places if p is not None), default=0.0)
    line = excursion.route_as_run
    beyond = [k for k, s in enumerate(excursion.stops) if line.station(s.station).chainage >= first - 1.0]
    return max(beyond[0], 1) if beyond else len(excursion.stops) - 1


def _put_back(stops: Sequence[Stop], first: int, shift: float) -> tuple[Stop, ...]:
    """Stops with the booked times from one on later [s]."""
    return tuple(
        replace(
            stop,
            arrive=None if stop.arrive is None else stop.arrive + shift,
            depart=None if stop.depart is None else stop.depart + shift,
        )
        if k >= first
        else stop
        for k, stop in enumerate(stops)
    )


def _less_steam(excursion: Excursion) -> Ladder:
    """Use less steam."""

    def trial(number: int) -> Trial:
        share = STEAM_SHARES[number - 1] * excursion.crew.steam_allowance
        crew = replace(excursion.crew, steam_allowance=share)
        words = f"steam up to {100 * share:.0f} % of the sustained evaporation (crew.steam_allowance)"
        return Trial("less steam", share, words, {}, replace(excursion, crew=crew))

    return Ladder(len(STEAM_SHARES), trial, rising=False)


def _water_stops(excursion: Excursion) -> Ladder:
    """Take water at one or two places of the line that have a water column."""
    line = excursion.route_as_run
    filled = {stop.station for stop in excursion.stops if stop.take_water == "fill"}
    start, end = (line.station(excursion.stops[k].station).chainage for k in (0, -1))
    places = [
        station.name
        for station in line.stations
        if station.water_rate > 0.0 and start < station.chainage < end and station.name not in filled
    ]
    choices = [*((place,) for place in places), *combinations(places, 2)]

    def trial(number: int) -> Trial:
        chosen = choices[number - 1]
        stops = [replace(s, take_water="fill") if s.station in chosen else s for s in excursion.stops]
        known = {stop.station for stop in stops}
        stops += [Stop(station=name, take_water="fill") for name in chosen if name not in known]
        stops.sort(key=lambda stop: line.station(stop.station).chainage)
        words = f"water at {' and '.join(chosen)}"
        return Trial("water stop", float(len(chosen)), words, {}, replace(excursion, stops=tuple(stops)))

    return Ladder(len(choices), trial, rising=False)
