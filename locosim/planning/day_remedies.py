"""Remedies for a day that were run: changes of departures, crews, supplies or turning, and those of single legs.

Each change is checked as a day of its own, so that its effect on later legs counts.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

from locosim.errors import LocosimError
from locosim.model import Excursion
from locosim.model.day import ENGINE_ALONE, Day, Layover, Leg
from locosim.planning.changes import MAX_SHIFT, TIME_STEP
from locosim.planning.day import DayAnswer, DayRemedy, check_day
from locosim.planning.day_findings import layover_time
from locosim.planning.finding import CLEAR, NOTE, STOP, TIGHT, VERDICTS, Finding, worst_verdict
from locosim.planning.layover import LayoverRecord
from locosim.planning.leg_remedies import remedies_of_leg

OTHER_CREW = "another crew"
OF_CREWS = ("crew hours", "time without break")


class _Trial(NamedTuple):
    """A changed day, not yet checked; the facts are figures of its text, and the legs are all legs of the day."""

    kind: str
    amount: float
    change: str
    facts: dict[str, tuple[float, str]]
    legs: tuple[Leg, ...]


def with_day_remedies(answer: DayAnswer) -> DayAnswer:
    """Run remedies for each finding for the day that is not clear, and add those that help.

    Of a change that can be made in several amounts or places, the first that makes the finding clear is given, or else
    the first that turns stop into tight; they are tried with the smallest first.

    Args:
        answer: The answer.

    Returns:
        The answer with its remedies, and the kinds of change tried for each rule and place.
    """
    found: list[DayRemedy] = []
    tried: dict[tuple[str, str], tuple[str, ...]] = {}
    for finding in answer.findings:
        if finding.verdict in (CLEAR, NOTE):
            continue
        changes = [each for each in _changes(answer, finding) if each]
        helped = [remedy for each in changes if (remedy := _first_that_helps(answer, finding, each))]
        found += sorted(helped, key=lambda r: (VERDICTS.index(r.verdict), VERDICTS.index(r.whole_verdict)))
        tried[finding.rule, finding.place] = tuple(each[0].kind for each in changes)
    for leg in answer.legs:
        of_leg, kinds = remedies_of_leg(answer, leg)
        found += of_leg
        tried |= {(rule, f"leg {leg.number}"): each for rule, each in kinds.items()}
    return replace(answer, remedies=tuple(found), changes_tried=tried)


def _first_that_helps(answer: DayAnswer, finding: Finding, trials: Sequence[_Trial]) -> DayRemedy | None:
    """The first trial that makes the finding clear, or else the first that turns stop into tight."""
    better = None
    for trial in trials:
        try:
            changed = check_day(replace(answer.day, legs=trial.legs), like=answer)
        except LocosimError:  # a change that does not fit the day, such as one engine turned twice
            continue
        verdict = _verdict(changed, finding)
        remedy = DayRemedy(
            rule=finding.rule,
            place=finding.place,
            kind=trial.kind,
            change=trial.change,
            amount=trial.amount,
            facts=trial.facts,
            verdict=verdict,
            whole_verdict=changed.verdict,
            remaining=changed.not_clear,
        )
        if verdict == CLEAR:
            return remedy
        if verdict == TIGHT and finding.verdict == STOP and better is None:
            better = remedy
    return better


def _verdict(changed: DayAnswer, finding: Finding) -> str:
    """Verdict of a finding in a changed day; stop where a leg is not run, since the finding may be missing then."""
    if any(leg.answer is None for leg in changed.legs):
        return STOP
    anywhere = finding.rule in OF_CREWS  # hours taken from one crew are those of another
    alike = (f for f in changed.findings if f.rule == finding.rule and (anywhere or f.place == finding.place))
    return worst_verdict(f.verdict for f in alike if f.verdict != NOTE)


def _changes(answer: DayAnswer, finding: Finding) -> Iterator[list[_Trial]]:
    """Changes that may help a finding, each in the amounts or places to try."""
    day = answer.day
    for leg in answer.legs:
        record = leg.layover
        if record is None or leg.leg.origin != finding.place:
            continue
        if finding.rule == "layover" and layover_time(day, leg.number, record) == finding:
            yield _later_leg(day, leg.number, record)
        elif finding.rule in ("water at start", "fuel at start"):
            yield _filled_before(day, leg.number, finding.rule.split()[0])
        elif finding.rule == "turning" and leg.leg.layover.turn != "no":
            yield _other_turning(day, leg.number)
            yield _tender_first(day, leg.number)
    if finding.rule in OF_CREWS and _legs_of(day, finding.place):  # not for the crew of a helper
        yield _relieved(day, finding.place)
        if finding.rule == "time without break":
            yield _break_given(day, finding.place)
        else:
            yield _earlier_last_leg(answer, finding.place)


def _with_leg(day: Day, number: int, leg: Leg) -> tuple[Leg, ...]:
    return (*day.legs[: number - 1], leg, *day.legs[number:])


def _with_layover(day: Day, number: int, layover: Layover) -> tuple[Leg, ...]:
    return _with_leg(day, number, replace(day.legs[number - 1], layover=layover))


def _later_leg(day: Day, number: int, record: LayoverRecord) -> list[_Trial]:
    """Depart later with a leg, its booked times with it: by the fewest minutes that make the layover long enough."""
    leg = day.legs[number - 1]
    trials = []
    seen = STOP if record.at_hand < record.work else TIGHT
    for minutes in range(1, round(MAX_SHIFT / TIME_STEP) + 1):
        shift = minutes * TIME_STEP
        verdict = layover_time(day, number, replace(record, booked=record.booked + shift)).verdict
        if VERDICTS.index(verdict) < VERDICTS.index(seen):
            seen = verdict
            moved = replace(leg, excursion=shifted(leg.excursion, shift))
            change = f"leg {number} and its booked times {{shift}} later"
            facts = {"shift": (shift, "time")}
            trials.append(_Trial("later leg", shift, change, facts, _with_leg(day, number, moved)))
    return trials


def shifted(excursion: Excursion, shift: float) -> Excursion:
    """The excursion with its departure and all booked times later by a time [s]; negative for earlier."""
    stops = tuple(
        replace(
            stop,
            arrive=None if stop.arrive is None else stop.arrive + shift,
            depart=None if stop.depart is None else stop.depart + shift,
        )
        for stop in excursion.stops
    )
    return replace(excursion, departure=excursion.departure + shift, stops=stops)


def _filled_before(day: Day, number: int, what: str) -> list[_Trial]:
    """Take all the water or fuel there is room for in the layover before a leg, where there is some to be had."""
    leg = day.legs[number - 1]
    key, rate = f"take_{what}", f"{what}_rate"
    station = leg.excursion.route.station(leg.origin)
    if getattr(leg.layover, key) == "fill" or not (getattr(leg.layover, rate) or getattr(station, rate)):
        return []
    taken: dict[str, Any] = {key: "fill", what: None}
    layover = replace(leg.layover, **taken)
    change = f"{'tank' if what == 'water' else 'fuel space'} filled before leg {number}"
    return [_Trial(f"{what} taken", 1.0, change, {}, _with_layover(day, number, layover))]


def _other_turning(day: Day, number: int) -> list[_Trial]:
    """Turn the engine on the wye in place of the turntable, or on the turntable in place of the wye."""
    layover = day.legs[number - 1].layover
    if layover.turn not in ENGINE_ALONE:
        return []
    other = next(way for way in ENGINE_ALONE if way != layover.turn)
    changed = replace(layover, turn=other)
    return [
        _Trial("other turning", 1.0, f"engine turned on the {other}", {}, _with_layover(day, number, changed))
    ]


def _tender_first(day: Day, number: int) -> list[_Trial]:
    """Do not turn the engine, so that it faces the other way on this leg and on all its later ones."""
    leg = day.legs[number - 1]
    if leg.layover.turn not in ENGINE_ALONE:
        return []
    legs = list(day.legs)
    for k in range(number - 1, len(legs)):
        if legs[k].engine == leg.engine:
            facing = legs[k].excursion.engine_facing
            other = "tender_first" if facing == "stack_first" else "stack_first"
            legs[k] = replace(legs[k], excursion=replace(legs[k].excursion, engine_facing=other))
    legs[number - 1] = replace(legs[number - 1], layover=replace(leg.layover, turn="no"))
    facing = legs[number - 1].excursion.facing
    return [_Trial("not turned", 1.0, f"leg {number} {facing}, the engine not turned", {}, tuple(legs))]


def _legs_of(day: Day, crew: str) -> list[int]:
    return [number for number, leg in enumerate(day.legs, start=1) if leg.crew == crew]


def _relieved(day: Day, crew: str) -> list[_Trial]:
    """Give another crew the last legs of one: as few as help."""
    numbers = _legs_of(day, crew)
    trials = []
    for first in reversed(numbers[1:]):
        legs = tuple(
            replace(leg, crew=OTHER_CREW) if leg.crew == crew and number >= first else leg
            for number, leg in enumerate(day.legs, start=1)
        )
        change = f"{OTHER_CREW} from leg {first} on"
        trials.append(_Trial(OTHER_CREW, float(len(numbers) - numbers.index(first)), change, {}, legs))
    return trials


def _break_given(day: Day, crew: str) -> list[_Trial]:
    """Give one layover of a crew the shortest break that counts."""
    shortest = day.crew_hours.min_break
    return [
        _Trial(
            "break",
            shortest,
            f"a break of {{break}} in the layover before leg {number}",
            {"break": (shortest, "time")},
            _with_layover(day, number, replace(day.legs[number - 1].layover, break_time=shortest)),
        )
        for number in _legs_of(day, crew)[1:]
        if day.legs[number - 1].layover.break_time < shortest
    ]


def _earlier_last_leg(answer: DayAnswer, crew: str) -> list[_Trial]:
    """Depart earlier with the last leg of a crew, and all after it, by the fewest minutes its layover can spare."""
    day, number = answer.day, _legs_of(answer.day, crew)[-1]
    record = answer.legs[number - 1].layover
    limit = day.crew_hours.max_time
    duty = next((duty for duty in answer.duties if duty.crew == crew), None)
    if record is None or limit is None or duty is None:
        return []
    spare = record.at_hand - record.work
    trials = []
    for enough in (limit * (1.0 - day.legs[duty.first_leg - 1].excursion.criteria.tight_margin), limit):
        shift = TIME_STEP * -(-(duty.time - enough) // TIME_STEP)
        if 0.0 < shift <= spare:
            legs = tuple(
                replace(leg, excursion=shifted(leg.excursion, -shift)) if k >= number else leg
                for k, leg in enumerate(day.legs, start=1)
            )
            change = f"leg {number} and its booked times {{shift}} earlier"
            trials.append(_Trial("earlier leg", shift, change, {"shift": (shift, "time")}, legs))
    return trials
