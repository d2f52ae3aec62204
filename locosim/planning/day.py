"""The check of a day: every leg checked with what the legs and layovers before it leave, and one verdict for all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field, replace
from typing import Any

from locosim import __version__
from locosim.frozen import frozen
from locosim.journey.ledgers import CLOSURE_TOLERANCE, Ledger, close_ledger
from locosim.journey.result import Journey
from locosim.model.day import Day, Leg
from locosim.planning.answer import Answer, check_excursion
from locosim.planning.check import sort_findings
from locosim.planning.day_findings import (
    crew_hours,
    helper_supplies,
    layover_time,
    no_supplies_left,
    start_supplies,
    tender_first,
    turning,
)
from locosim.planning.duty import Duty, duties
from locosim.planning.finding import CLEAR, STOP, Finding, worst_verdict
from locosim.planning.helper_duty import Help, find_helps, helper_duties
from locosim.planning.layover import LayoverRecord, carry_over, lay_over


@frozen(eq=False)
class LegAnswer:
    """One leg of a day.

    Attributes:
        leg: The leg.
        number: Its number, from 1.
        answer: Its check, without contingencies and remedies; None where it was not run.
        layover: What happens before it; None before the first leg and where the leg before was not run.
        not_run: Why it was not run; empty if it was.
    """

    leg: Leg
    number: int
    answer: Answer | None = None
    layover: LayoverRecord | None = None
    not_run: str = ""

    @property
    def verdict(self) -> str:
        """Verdict of the leg; empty where it was not run."""
        return "" if self.answer is None else self.answer.verdict


@frozen
class EngineSupplies:
    """Water and fuel of one engine over the day.

    Attributes:
        engine: Its name.
        water: Ledger of the water carried.
        fuel: Ledger of the fuel carried.
    """

    engine: str
    water: Ledger
    fuel: Ledger


@frozen
class DayRemedy:
    """A change of the day that was run and helps.

    Attributes:
        rule: Rule of the finding it was run for.
        place: Its place; empty for a finding of a leg, where it is for all findings of the rule.
        kind: `later leg`, `earlier leg`, `another crew`, `break`, `water taken`, `fuel taken`, `other turning` or
            `not turned`; for a finding of a leg a kind of `Remedy`.
        change: The change in words, with `{name}` where a fact is shown.
        amount: Seconds, or legs for another crew; 1 where there is no amount.
        facts: Figures of the text, by name.
        verdict: Verdict of the finding, or of the rule in its leg, with the change.
        whole_verdict: Verdict of the day with the change.
        remaining: Rules for the day, and legs, that give the day this verdict; empty where it is clear.
        leg: Number of the leg whose finding it is; 0 for a finding for the day.
    """

    rule: str
    place: str
    kind: str
    change: str
    amount: float
    facts: dict[str, tuple[float, str]]
    verdict: str
    whole_verdict: str
    remaining: tuple[str, ...] = ()
    leg: int = 0


@frozen(eq=False)
class DayAnswer:
    """The answer to a proposed day.

    Attributes:
        day: The day.
        legs: Its legs.
        verdict: Worst verdict of all legs and of the findings for the day.
        findings: Findings for the day, worst verdict first.
        duties: Hours of the crews.
        supplies: Water and fuel of each engine over the legs that were run.
        helps: What each helper does.
        remedies: Changes that were run and help, those for the day first; empty where they were not wanted.
        changes_tried: Kinds of change tried, by rule and place; by rule and `leg 1` for findings of a leg.
        version: Version of locosim that computed it.
    """

    day: Day
    legs: tuple[LegAnswer, ...]
    verdict: str
    findings: tuple[Finding, ...]
    duties: tuple[Duty, ...]
    supplies: tuple[EngineSupplies, ...]
    helps: tuple[tuple[Help, ...], ...] = ()
    remedies: tuple[DayRemedy, ...] = ()
    changes_tried: dict[tuple[str, str], tuple[str, ...]] = field(default_factory=dict)
    version: str = __version__

    def remedies_for(self, finding: Finding) -> tuple[DayRemedy, ...]:
        """Remedies that were run for a finding."""
        return tuple(r for r in self.remedies if (r.leg, r.rule, r.place) == (0, finding.rule, finding.place))

    def leg_remedies(self, number: int, rule: str) -> tuple[DayRemedy, ...]:
        """Remedies that were run for a rule in a leg."""
        return tuple(r for r in self.remedies if (r.leg, r.rule) == (number, rule))

    @property
    def worst_rules(self) -> tuple[str, ...]:
        """Rules for the day that give it its verdict; none where it is clear, or where only legs do."""
        return tuple(dict.fromkeys(f.rule for f in self.findings if f.verdict == self.verdict != CLEAR))

    @property
    def not_clear(self) -> tuple[str, ...]:
        """What gives the day its verdict: rules for the day, and legs; empty where it is clear."""
        if self.verdict == CLEAR:
            return ()
        legs = [f"leg {leg.number}" for leg in self.legs if (leg.verdict or STOP) == self.verdict]
        return (*self.worst_rules, *legs)

    @property
    def answers(self) -> tuple[Answer, ...]:
        """Checks of the legs that were run."""
        return tuple(leg.answer for leg in self.legs if leg.answer is not None)

    @property
    def provenance(self) -> Any:
        """Files, their hashes and the changes the day was made from; None where it was made in code."""
        return self.day.provenance


def check_day(day: Day, *, like: DayAnswer | None = None) -> DayAnswer:
    """Check the legs of a day in order, each with the time, water and fuel that those before it leave.

    A leg after one that does not arrive is not run.

    Args:
        day: The day.
        like: Answer to a similar day, whose checks of legs that are the same are not repeated.

    Raises:
        OutOfRange: An excursion needs something that its route or engine does not have.
    """
    legs: list[LegAnswer] = []
    findings: list[Finding] = []
    for number in range(1, len(day.legs) + 1):
        checked, found = _check_leg(day, number, legs, () if like is None else like.answers)
        legs.append(checked)
        findings += found
    run = [leg for leg in legs if leg.answer is not None]
    runs = [answer.journey for leg in run if (answer := leg.answer) is not None]
    helps = find_helps(runs)
    worked = (*duties(day, runs, [leg.layover for leg in run]), *helper_duties(day, helps))
    findings += [finding for duty in worked for finding in crew_hours(day, duty)]
    findings += [finding for each in helps for help in each for finding in helper_supplies(help)]
    ordered = sort_findings(findings)
    return DayAnswer(
        day=day,
        legs=tuple(legs),
        verdict=worst_verdict([*(leg.verdict or STOP for leg in legs), *(f.verdict for f in ordered)]),
        findings=tuple(ordered),
        duties=worked,
        supplies=_supplies(day, runs, legs),
        helps=helps,
    )


def _check_leg(
    day: Day, number: int, before: Sequence[LegAnswer], known: Sequence[Answer]
) -> tuple[LegAnswer, list[Finding]]:
    """Check one leg; with the findings for the day that it causes."""
    leg = day.legs[number - 1]
    if number == 1:
        answer = _check(leg, known)
        return LegAnswer(leg=leg, number=1, answer=answer), tender_first(leg, answer)
    previous = before[-1].answer
    if previous is None or not previous.journey.arrived:
        return LegAnswer(leg=leg, number=number, not_run=_why_not_run(before)), turning(day, number)
    record = lay_over(day, number, previous.journey, _last_run(day, number, before))
    found = [layover_time(day, number, record), *turning(day, number)]
    empty = no_supplies_left(leg, number, record)
    if empty:
        reason = empty[0].because
        return LegAnswer(leg=leg, number=number, layover=record, not_run=reason), [*found, *empty]
    answer = _check(replace(leg, excursion=carry_over(leg, record)), known)
    found += [*start_supplies(leg, number, record, answer), *tender_first(leg, answer)]
    return LegAnswer(leg=leg, number=number, answer=answer, layover=record), found


def _check(leg: Leg, known: Sequence[Answer]) -> Answer:
    """Check the excursion of a leg, unless the check of an equal one is known."""
    for answer in known:
        if answer.excursion == leg.excursion:
            return answer
    return check_excursion(leg.excursion, contingencies=False, remedies=False)


def _why_not_run(before: Sequence[LegAnswer]) -> str:
    """Which leg before did not arrive."""
    first = next(leg for leg in before if leg.answer is None or not leg.answer.journey.arrived)
    return f"leg {first.number} does not arrive" if first.answer else f"leg {first.number} was not run"


def _last_run(day: Day, number: int, before: Sequence[LegAnswer]) -> Journey | None:
    """Run of the last leg of the engine of a leg; None where it begins its day."""
    last = day.last_leg_of_engine(number)
    answer = None if last is None else before[last - 1].answer
    return None if answer is None else answer.journey


def _supplies(day: Day, runs: Sequence[Journey], legs: Sequence[LegAnswer]) -> tuple[EngineSupplies, ...]:
    """Ledgers of water and fuel of each engine, over its legs and the layovers between them.

    Raises:
        ArithmeticError: A ledger does not close; a bug of locosim.
    """
    found = []
    for engine in dict.fromkeys(leg.engine for leg in day.legs[: len(runs)]):
        numbers = [n for n in range(len(runs)) if day.legs[n].engine == engine]
        ledgers = [
            _ledger(what, [runs[n] for n in numbers], [legs[n] for n in numbers])
            for what in ("water", "fuel")
        ]
        found.append(EngineSupplies(engine=engine, water=ledgers[0], fuel=ledgers[1]))
    return tuple(found)


def _ledger(what: str, runs: Sequence[Journey], legs: Sequence[LegAnswer]) -> Ledger:
    """Ledger of the water or fuel that an engine carries, from its first departure to the end of its last run."""
    used = "water_used" if what == "water" else "fuel_fired"
    amounts = [(_carried(run, what), float(getattr(run, used))) for run in runs]
    layovers = [getattr(leg.layover, what) for leg in legs[1:] if leg.layover is not None]
    start, end = amounts[0][0][0], amounts[-1][0][1]
    entries = {
        "taken on the way": sum(run.taken_en_route(what) for run in runs),
        "taken in layovers": sum(each.taken for each in layovers),
        "in cars taken": sum(each.brought for each in layovers),
        "in cars left": -sum(each.left for each in layovers),
        "used on the way": -sum(amount for _, amount in amounts),
        "used standing": -sum(each.used for each in layovers),
    }
    name = f"{what} carried [kg]"
    ledger = close_ledger(name, end - start, {item: float(kg) for item, kg in entries.items()}, start)
    if not abs(ledger.residual) <= CLOSURE_TOLERANCE:
        raise ArithmeticError(f"ledger of {ledger.name} over the day does not close: {ledger.residual:.2e}")
    return ledger


def _carried(run: Journey, what: str) -> tuple[float, float]:
    """Water or fuel carried at the first departure and at the end of a run [kg]."""
    first = run.stops[0]
    if what == "water":
        return first.water_on_arrival, float(run.tender_water[-1])
    return first.fuel_on_arrival, float(run.tender_fuel[-1])
