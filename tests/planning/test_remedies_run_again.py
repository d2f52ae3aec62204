"""Remedies of random excursions, made here from their words: the check run again gives the verdicts that are printed.

The next smaller amount gives a worse verdict of the rule.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from dataclasses import replace

import pytest
import trials

from locosim.journey.run import run_full_effort
from locosim.model import Crew, Curve, Excursion, Helper, Stop
from locosim.planning.answer import check_excursion
from locosim.planning.finding import CLEAR, VERDICTS, worst_verdict
from locosim.planning.remedies import AT_FULL_EFFORT, BY_NEED, Remedy

STEPS = {
    "less steam": (1.0, 0.95, 0.9, 0.85, 0.8, 0.75, 0.7, 0.65, 0.6, 0.55, 0.5),
    "gentler braking": (1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2),
}
MPH = 0.44704
GRADES = (0.0, 0.0, 0.004, 0.008, 0.012, 0.016, -0.006, -0.012)
LONG_BOILER = {
    "water_space_length": 16.0,
    "shell_inside_diameter": 1.7,
    "crown_sheet_length": 2.2,
    "crown_sheet_height": 1.2,
}


def drawn(seed: int) -> Excursion:
    """A random line and train with limits that are hard to keep, booked to within minutes of the fastest run."""
    draw = random.Random(seed)
    pieces = [(draw.uniform(1500, 6000), draw.choice(GRADES)) for _ in range(draw.randint(3, 6))]
    length = sum(piece for piece, _ in pieces)
    stops = sorted(draw.uniform(0.1, 0.9) * length for _ in range(draw.randint(0, 2)))
    at = draw.uniform(0.2, 0.7) * length
    bend = Curve(start=at, end=at + 400.0, radius=draw.uniform(250, 500), superelevation=draw.uniform(0, 0.1))
    line = replace(trials.line(pieces, stops=stops, speed_limit=draw.uniform(12, 25)), curves=(bend,))
    engine = trials.locomotive()
    if draw.random() < 0.5:
        engine = replace(engine, boiler=replace(engine.boiler, **LONG_BOILER))
    criteria = replace(
        trials.WIDE,
        min_climbing_speed=draw.choice((4.47, 8.0, 11.0)),
        min_boiler_pressure=draw.choice((0.8, 0.9, 0.96)),
        service_deceleration=draw.choice((0.15, 0.25, 0.35)),
        max_lateness=draw.choice((300.0, 60.0)),
    )
    asked = trials.excursion(
        line,
        engine=engine,
        made_of=trials.train(trials.coaches(draw.randint(4, 14))),
        rail=draw.choice(("dry", "wet", "dry sanded")),
        crew=Crew(steam_allowance=draw.choice((0.9, 1.2)), horizon=draw.choice((0.0, 1800.0))),
        initial_water=draw.choice((1.0, 0.5, 0.2)),
        criteria=criteria,
    )
    full = run_full_effort(asked, trials.performance(asked))
    shift = draw.uniform(-400, 400)
    booked = [asked.stops[0]]
    for stop, record in zip(asked.stops[1:], full.stops[1:], strict=False):
        booked.append(replace(stop, arrive=record.arrive + shift))
    return replace(asked, stops=(*booked, *asked.stops[len(booked) :]))


def later(stops: tuple[Stop, ...], first: int, shift: float) -> tuple[Stop, ...]:
    """Booked arrivals later from a stop on."""
    moved = [s if s.arrive is None else replace(s, arrive=s.arrive + shift) for s in stops[first:]]
    return (*stops[:first], *moved)


def with_helper(asked: Excursion, first: str, last: str) -> Excursion:
    return replace(asked, helpers=(Helper(locomotive=asked.locomotive, from_station=first, to_station=last),))


def with_water(asked: Excursion, places: list[str]) -> Excursion:
    filled = [replace(s, take_water="fill") if s.station in places else s for s in asked.stops]
    return replace(asked, stops=tuple(filled))


def words(remedy: Remedy, pattern: str) -> tuple[str, ...]:
    found = re.search(pattern, remedy.change)
    assert found is not None, remedy
    return found.groups()


def changed(asked: Excursion, remedy: Remedy, amount: float) -> Excursion:
    """The excursion with an amount of a remedy."""
    return changed_times(asked, remedy, amount) or changed_otherwise(asked, remedy, amount)


def changed_times(asked: Excursion, remedy: Remedy, amount: float) -> Excursion | None:
    """With a remedy of times; None for another."""
    names = [stop.station for stop in asked.stops]
    match remedy.kind:
        case "earlier departure":
            return replace(asked, departure=asked.departure - amount)
        case "later times":
            first = names.index(words(remedy, "later from (.) on")[0])
            return replace(asked, stops=later(asked.stops, first, amount))
        case "longer stop":
            at = names.index(words(remedy, "stop at (.) ")[0])
            longer = replace(asked.stops[at], dwell=asked.stops[at].dwell + amount)
            stops = (*asked.stops[:at], longer, *asked.stops[at + 1 :])
            return replace(asked, stops=later(stops, at + 1, amount))
    return None


def changed_otherwise(asked: Excursion, remedy: Remedy, amount: float) -> Excursion:
    """With any other remedy."""
    match remedy.kind:
        case "cars off":
            count = asked.train.vehicles[0].count - round(amount)
            return replace(
                asked, train=replace(asked.train, vehicles=(trials.coaches(count),) if count else ())
            )
        case "sanded rail":
            return replace(asked, rail=words(remedy, r"\((.*)\)")[0])
        case "less steam":
            return replace(asked, crew=replace(asked.crew, steam_allowance=amount))
        case "higher water":
            return replace(asked, assumptions=replace(asked.assumptions, working_level_in_glass=amount))
        case "gentler braking":
            return replace(asked, criteria=replace(asked.criteria, service_deceleration=amount))
        case "slower running":
            return replace(asked, crew=replace(asked.crew, max_speed=amount))
        case "water stop":
            return with_water(asked, words(remedy, "taken at (.*)")[0].split(" and "))
        case "helper":
            first, last = words(remedy, "from (.) to (.)$")
            return with_helper(asked, first, last)
    raise AssertionError(remedy)


def smaller(asked: Excursion, remedy: Remedy, highest: float) -> Iterator[Excursion]:
    """The excursion with the next smaller amount, where there is one; the run reaches the highest speed given."""
    names = [stop.station for stop in asked.stops]
    match remedy.kind:
        case "cars off" if remedy.amount > 1:
            yield changed(asked, remedy, remedy.amount - 1)
        case "earlier departure" | "later times" | "longer stop" if remedy.amount > 60.0:
            yield changed(asked, remedy, remedy.amount - 60.0)
        case "less steam" | "gentler braking":
            crew, criteria = asked.crew.steam_allowance, asked.criteria.service_deceleration
            now = crew if remedy.kind == "less steam" else criteria
            steps = [now * step for step in STEPS[remedy.kind]]
            at = min(range(len(steps)), key=lambda k: abs(steps[k] - remedy.amount))
            yield changed(asked, remedy, steps[at - 1])
        case "slower running" if remedy.amount + MPH < highest:
            yield changed(asked, remedy, remedy.amount + MPH)
        case "higher water" if remedy.amount > 0.095:
            yield changed(asked, remedy, remedy.amount - 0.01)
        case "water stop" if " and " in remedy.change:
            for place in words(remedy, "taken at (.*)")[0].split(" and "):
                yield with_water(asked, [place])
        case "helper":
            first, last = map(names.index, words(remedy, "from (.) to (.)$"))
            for k in range(len(names) - (last - first) + 1 if last - first > 1 else 0):
                yield with_helper(asked, names[k], names[k + last - first - 1])


def verdicts(asked: Excursion, rule: str) -> tuple[str, str, set[str]]:
    """Verdict of a rule and of the check, and the rules that give the check its verdict."""
    answer = check_excursion(asked, contingencies=False, remedies=False)
    ends = {"stall"} if rule in (*AT_FULL_EFFORT, *BY_NEED) else {"stall", "end of run"}
    of_rule = worst_verdict(f.verdict for f in answer.findings if f.rule in {rule, *ends})
    remaining = {f.rule for f in answer.findings if CLEAR != f.verdict == answer.verdict}
    return of_rule, answer.verdict, remaining


@pytest.mark.parametrize("seed", [3, 5, 13, 14, 15, 24])
def test_a_remedy_run_again_gives_its_verdicts_and_a_smaller_one_does_not(seed: int) -> None:
    asked = drawn(seed)
    answer = check_excursion(asked, contingencies=False)
    highest = float(max(answer.journey.speed))
    for remedy in answer.remedies:
        found = verdicts(changed(asked, remedy, remedy.amount), remedy.rule)
        assert found == (remedy.verdict, remedy.whole_verdict, set(remedy.remaining)), remedy
        for less in smaller(asked, remedy, highest):
            assert VERDICTS.index(verdicts(less, remedy.rule)[0]) > VERDICTS.index(remedy.verdict), remedy
