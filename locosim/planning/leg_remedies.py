"""Remedies for one leg of a day that were run, each checked again as a day of its own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace

from locosim.errors import LocosimError
from locosim.model import Excursion
from locosim.model.day import Day, Leg
from locosim.planning.changes import changed_excursion
from locosim.planning.check import Check
from locosim.planning.day import DayAnswer, DayRemedy, LegAnswer, check_day
from locosim.planning.finding import CLEAR, NOTE, STOP, VERDICTS, worst_verdict
from locosim.planning.remedies import Remedy, changes_tried, try_remedies


def remedies_of_leg(
    answer: DayAnswer, leg: LegAnswer
) -> tuple[list[DayRemedy], Mapping[str, tuple[str, ...]]]:
    """Remedies for the findings of a leg that help in the day too, and the kinds of change tried, by rule.

    The smallest change that helps the leg by itself is run again with the whole day, so that what it does to later legs
    counts. Cars taken off are taken off every leg with the same train.
    """
    if leg.answer is None or leg.verdict == CLEAR:
        return [], {}
    check = leg.answer.check
    found = [
        helped
        for remedy in try_remedies(check)
        if (helped := _in_the_day(answer, leg.number, remedy, check)) is not None
    ]
    return found, changes_tried(check)


def _in_the_day(answer: DayAnswer, number: int, remedy: Remedy, check: Check) -> DayRemedy | None:
    """A remedy of a leg in the day; None where it does not help there."""
    excursion = changed_excursion(check, remedy.rule, remedy.change, remedy.amount)
    legs = _changed_legs(answer.day, number, check.journey.excursion, excursion)
    try:
        changed = check_day(replace(answer.day, legs=legs), like=answer)
    except LocosimError:  # a change that does not fit the day
        return None
    verdict = _verdict(changed.legs[number - 1], remedy.rule)
    before = worst_verdict(f.verdict for f in check.findings if f.rule == remedy.rule)
    if VERDICTS.index(verdict) >= VERDICTS.index(before):
        return None
    others = sum(a is not b for a, b in zip(legs, answer.day.legs, strict=True)) > 1
    return DayRemedy(
        rule=remedy.rule,
        place="",
        kind=remedy.kind,
        change=remedy.change + (" in every leg with this train" if others else ""),
        amount=remedy.amount,
        facts=remedy.facts,
        verdict=verdict,
        whole_verdict=changed.verdict,
        remaining=changed.not_clear,
        leg=number,
    )


def _changed_legs(day: Day, number: int, carried: Excursion, changed: Excursion) -> tuple[Leg, ...]:
    """The legs with what a remedy changes in one; what the legs before it leave is not part of the change."""
    parts = {
        each.name: getattr(changed, each.name)
        for each in fields(Excursion)
        if getattr(changed, each.name) is not getattr(carried, each.name)
    }
    train = parts.pop("train", None)
    given = day.legs[number - 1].excursion.train
    legs = []
    for k, leg in enumerate(day.legs, start=1):
        if k == number and parts:
            leg = replace(leg, excursion=replace(leg.excursion, **parts))
        if train is not None and leg.excursion.train == given:
            leg = replace(leg, excursion=replace(leg.excursion, train=train))
        legs.append(leg)
    return tuple(legs)


def _verdict(leg: LegAnswer, rule: str) -> str:
    """Verdict of a rule in a leg; stop where the leg is not run."""
    if leg.answer is None:
        return STOP
    return worst_verdict(f.verdict for f in leg.answer.findings if f.rule == rule and f.verdict != NOTE)
