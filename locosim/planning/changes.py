"""Changes that may help a finding: what is changed, in which amounts, and how it is named."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import combinations
from typing import NamedTuple

from locosim.constants import MPH
from locosim.engine.rated_effort import rated_effort
from locosim.model import Assumptions, Excursion, Helper, Stop, Train
from locosim.physics.traction.rail_conditions import sanded_rail_condition
from locosim.planning.check import Check
from locosim.planning.finding import CLEAR, NOTE
from locosim.planning.varied_train import is_car

TIME_STEP = 60.0  # of a departure or a stop, as a timetable is written [s]
MAX_SHIFT = 3600.0  # longest change of a departure or a stop that is tried [s]
BRAKING_SHARES = (0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2)  # of the present deceleration, tried in order
SPEED_STEP = MPH  # of the highest speed [m/s]
MIN_SPEED_SHARE = 0.4  # lowest speed that is tried, over the highest of the run [1]
MIN_SPEED_STEPS = 2  # the lowest of all, in steps: a file may not limit the speed to one
WATER_LEVEL = "working_level_in_glass"
WATER_STEP = 0.01  # of the level in the glass [m]
# Of the present allowance, tried in order.
STEAM_SHARES = (0.95, 0.9, 0.85, 0.8, 0.75, 0.7, 0.65, 0.6, 0.55, 0.5)


class Trial(NamedTuple):
    """A change of the excursion, not yet run.

    Attributes:
        kind: Kind of change.
        amount: How much of it.
        change: In words.
        facts: Figures of the text.
        excursion: The excursion with the change.
        settles: Assumption that the change makes known, so that it is no longer in doubt; empty for none.
    """

    kind: str
    amount: float
    change: str
    facts: dict[str, tuple[float, str]]
    excursion: Excursion
    settles: str = ""


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


def ladders(check: Check, rule: str) -> list[Ladder]:
    """Changes that may help a rule."""
    excursion = check.runs.booked.excursion
    ladders = [_cars_off(excursion)]
    if rule not in ("water", "fuel", "end of run"):
        ladders.append(_helper(excursion))
    if rule in ("stall", "climb", "start", "adhesion", "time"):
        ladders += _sanded_rail(excursion)
    if rule in ("time", "steam", "adhesion"):
        ladders += [_earlier_departure(excursion), *_later_times(check, rule)]
    if rule in ("pressure", "crown sheet", "water glass"):
        ladders += _longer_stop(check, rule)
    if rule in ("pressure", "crown sheet", "water", "fuel", "end of run"):
        ladders.append(_less_steam(excursion))
    if rule in ("water", "end of run"):
        ladders.append(_water_stops(excursion))
    if rule in ("crown sheet", "water glass"):
        ladders.append(_higher_water(excursion))
    if rule in ("crown sheet", "glass in braking"):
        ladders.append(_gentler_braking(excursion))
    if rule in (
        "curve speed",
        "driving-wheel speed",
        "piston speed",
        "stopping distance",
        "descending grade",
    ):
        ladders.append(_slower_running(check))
    return ladders


def changed_excursion(check: Check, rule: str, change: str, amount: float) -> Excursion:
    """The excursion of a check with one of the changes that may help a rule, by its words and its amount.

    Raises:
        LookupError: No change for this rule has these words.
    """
    for ladder in ladders(check, rule):
        for number in range(1, ladder.size + 1):
            trial = ladder.trial(number)
            if (trial.change, trial.amount) == (change, amount):
                return trial.excursion
    raise LookupError(f"no change for {rule} is {change!r}")


def _cars_off(excursion: Excursion) -> Ladder:
    """Take cars off the rear; water cars and dead diesels stay."""

    def trial(number: int) -> Trial:
        train = _without_cars(excursion.train, number)
        off = excursion.train.mass - train.mass
        words = f"{'1 car' if number == 1 else f'{number} cars'} off ({{off}})"
        return Trial("cars off", number, words, {"off": (off, "mass")}, replace(excursion, train=train))

    return Ladder(sum(v.count for v in excursion.train.vehicles if is_car(v)), trial)


def _without_cars(train: Train, number: int) -> Train:
    """The train without its last cars."""
    left = []
    for vehicle in reversed(train.vehicles):
        off = min(number, vehicle.count) if is_car(vehicle) else 0
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
    pull = _rated_pull(helper)
    rating = ", rated {pull}" if pull is not None else ""
    facts: dict[str, tuple[float, str]] = {"pull": (pull, "force")} if pull is not None else {}
    pairs = [(a, b) for a in range(len(names)) for b in range(a + 1, len(names))]
    pairs.sort(key=lambda pair: (pair[1] - pair[0], pair[0]))

    def trial(number: int) -> Trial:
        on, off = (names[k] for k in pairs[number - 1])
        added = replace(helper, from_station=on, to_station=off)
        words = f"{what}{rating}, at the {helper.place} from {on} to {off}"
        changed = replace(excursion, helpers=(*excursion.helpers, added))
        return Trial("helper", 1.0, words, facts, changed)

    return Ladder(len(pairs), trial, rising=False)


def _rated_pull(helper: Helper) -> float | None:
    """Rated tractive effort of a helper, of a diesel at starting [N]; None where a file gives too little for it."""
    if helper.diesel is not None:
        return helper.diesel.starting_tractive_effort
    return rated_effort(helper.locomotive) if helper.locomotive is not None else None


def _sanded_rail(excursion: Excursion) -> list[Ladder]:
    """Sand the rail of the day; stretches with a rail condition of their own stay as they are."""
    sanded = sanded_rail_condition(condition=excursion.rail)
    if sanded == excursion.rail:
        return []
    changed = replace(excursion, rail=sanded)
    return [Ladder(1, lambda number: Trial("sanded rail", 1.0, f"sand on the rail ({sanded})", {}, changed))]


def _earlier_departure(excursion: Excursion) -> Ladder:
    """Depart earlier from the first stop."""

    def trial(number: int) -> Trial:
        departure = excursion.departure - number * TIME_STEP
        words, facts = (
            "departure at {departure}, {earlier} earlier",
            {"departure": (departure, "clock"), "earlier": (excursion.departure - departure, "time")},
        )
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
        words = f"booked times {{shift}} later from {excursion.stops[first].station} on"
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
        words = f"stop at {stop.station} {{shift}} longer, and booked times beyond it as much later"
        changed = replace(excursion, stops=_put_back(stops, before + 1, shift))
        return Trial("longer stop", shift, words, {"shift": (shift, "time")}, changed)

    yield Ladder(int(MAX_SHIFT / TIME_STEP), trial)


def _first_stop_beyond(check: Check, rule: str) -> int:
    """Index of the first stop at or beyond the first finding of a rule that is not clear."""
    excursion = check.runs.booked.excursion
    places = [f.chainage for f in check.findings if f.rule == rule and f.verdict not in (CLEAR, NOTE)]
    first = min((p for p in places if p is not None), default=-math.inf)
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
        words = f"at most {100 * share:.0f} % of the sustained evaporation used (crew.steam_allowance)"
        return Trial("less steam", share, words, {}, replace(excursion, crew=crew))

    return Ladder(len(STEAM_SHARES), trial, rising=False)


def _higher_water(excursion: Excursion) -> Ladder:
    """Keep the water higher in the glass; the level is then known and no assumption."""
    declared = Assumptions.declared()[WATER_LEVEL].metadata
    count = round((declared["high"] - declared["low"]) / WATER_STEP)

    def trial(number: int) -> Trial:
        level = declared["low"] + number * WATER_STEP
        changed = replace(excursion, assumptions=replace(excursion.assumptions, **{WATER_LEVEL: level}))
        words = f"{{level}} of water or more in the glass on level track (assumptions.{WATER_LEVEL})"
        return Trial("higher water", level, words, {"level": (level, "small_length")}, changed, WATER_LEVEL)

    return Ladder(count, trial, rising=False)


def _gentler_braking(excursion: Excursion) -> Ladder:
    """Brake at stops and slow orders with less deceleration."""

    def trial(number: int) -> Trial:
        rate = BRAKING_SHARES[number - 1] * excursion.criteria.service_deceleration
        changed = replace(excursion, criteria=replace(excursion.criteria, service_deceleration=rate))
        words = "braking at {rate} at most (criteria.service_deceleration)"
        return Trial("gentler braking", rate, words, {"rate": (rate, "acceleration")}, changed)

    return Ladder(len(BRAKING_SHARES), trial, rising=False)


def _slower_running(check: Check) -> Ladder:
    """Run the whole line slower, at a whole number of miles an hour."""
    excursion = check.runs.booked.excursion
    highest = float(max(check.runs.booked.speed)) / SPEED_STEP
    below = math.ceil(highest - 1e-6)

    def trial(number: int) -> Trial:
        speed = (below - number) * SPEED_STEP
        changed = replace(excursion, crew=replace(excursion.crew, max_speed=speed))
        words = "at most {speed} on the whole line (crew.max_speed)"
        return Trial("slower running", speed, words, {"speed": (speed, "speed")}, changed)

    least = max(math.ceil(MIN_SPEED_SHARE * highest), MIN_SPEED_STEPS)
    return Ladder(max(below - least, 0), trial, rising=False)


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
        words = f"water taken at {' and '.join(chosen)}"
        return Trial("water stop", float(len(chosen)), words, {}, replace(excursion, stops=tuple(stops)))

    return Ladder(len(choices), trial, rising=False)
