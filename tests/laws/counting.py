"""Random pairs of excursions run against the laws of the verdict, counted by kind, and shrunk."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, fields, replace
from typing import NamedTuple

import hypothesis
from cases import Case, build, cases
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from verdict_laws import (
    CHANGES,
    ENOUGH,
    Broken,
    Change,
    Outcome,
    broken_laws,
    heavier_by,
    improved_verdict,
    outcome_of,
)

CHANGES_EACH = 3  # changes tried on each excursion
BY_NAME = {change.name: change for change in CHANGES}


class Kind(NamedTuple):
    """A kind of broken law."""

    change: str
    rule: str
    overdrawn: bool  # whether the crew may draw more steam than the boiler sustains


@dataclass(slots=True, kw_only=True)
class Counted:
    """Pairs run, and laws broken by them.

    Apart are pairs that are not alike: a pressure that is lowest where the worse run draws all the steam it may, and a
    margin that 0.1 % of weight moves in proportion, as on a momentum grade.
    """

    excursions: int = 0
    stalled: int = 0
    pairs: Counter[str] = field(default_factory=Counter)
    broken: Counter[Kind] = field(default_factory=Counter)
    apart: Counter[Kind] = field(default_factory=Counter)
    examples: dict[Kind, Case] = field(default_factory=dict)
    worst: dict[Kind, tuple[float, float]] = field(default_factory=dict)

    def add(self, case: Case, change: Change, before: Outcome, after: Outcome) -> None:
        """Count one pair."""
        self.pairs[change.name] += 1
        if before.stalled or after.stalled:
            self.stalled += 1
        broken = list(broken_laws(change, before, after))
        if not (before.stalled or after.stalled):
            rule = improved_verdict(change, before, after)
            if rule:
                margins = before.margins.get(rule, ENOUGH), after.margins.get(rule, ENOUGH)
                broken.append(Broken(f"verdict by {rule}", *margins))
        for each in broken:
            self._add_broken(case, Kind(change.name, each.rule, case.allowance > 1.0), each)

    def _add_broken(self, case: Case, kind: Kind, broken: Broken) -> None:
        if broken.apart or moves_in_proportion(kind, case):
            self.apart[kind] += 1
            return
        self.broken[kind] += 1
        worst = self.worst.get(kind, (0.0, 0.0))
        if kind not in self.examples or abs(broken.after - broken.before) > abs(worst[1] - worst[0]):
            self.worst[kind] = (round(float(broken.before), 4), round(float(broken.after), 4))
            self.examples[kind] = case


def count_broken(*, pairs: int, seed: int) -> Counted:
    """Run random pairs and count the laws they break."""
    counted = Counted()

    @hypothesis.seed(seed)
    @settings(
        max_examples=-(-pairs // CHANGES_EACH),
        deadline=None,
        database=None,
        phases=(Phase.generate,),
        suppress_health_check=list(HealthCheck),
    )
    @given(
        cases(), st.lists(st.sampled_from(CHANGES), min_size=CHANGES_EACH, max_size=CHANGES_EACH, unique=True)
    )
    def run(case: Case, changes: list[Change]) -> None:
        excursion = build(case)
        hypothesis.assume(excursion is not None)
        before = outcome_of(excursion)
        counted.excursions += 1
        for change in changes:
            changed = change.apply(excursion)
            if changed is not None:
                counted.add(case, change, before, outcome_of(changed))

    run()
    return counted


def moves_in_proportion(kind: Kind, case: Case) -> bool:
    """Whether a margin that 0.1 % of weight moves too far moves in proportion, as on a momentum grade; no jump."""
    if kind.change != "weight by 0.1 %":
        return False
    excursion = build(case)
    assert excursion is not None
    before, little, more = (
        outcome_of(heavier_by(excursion, share)).margins.get(kind.rule, ENOUGH) for share in (0.0, 1e-4, 1e-3)
    )
    return abs(little - before) < 0.2 * abs(more - before)


def breaks(kind: Kind, case: Case) -> bool:
    """Whether a case breaks a law."""
    excursion, change = build(case), BY_NAME[kind.change]
    changed = None if excursion is None else change.apply(excursion)
    if excursion is None or changed is None:
        return False
    counted = Counted()
    counted.add(case, change, outcome_of(excursion), outcome_of(changed))
    return kind in counted.broken


def shrink(kind: Kind, case: Case) -> Case:
    """Return a case that still breaks the law and has as many defaults and as few and round pieces as can be."""
    simplest = Case()
    while True:
        for smaller in _smaller(case, simplest):
            if breaks(kind, smaller):
                case = smaller
                break
        else:
            return case


def _smaller(case: Case, simplest: Case) -> Iterator[Case]:
    pieces = case.pieces
    for i in range(len(pieces) if len(pieces) > 1 else 0):
        yield replace(case, pieces=pieces[:i] + pieces[i + 1 :])
    for each in fields(case):
        if each.name != "pieces" and getattr(case, each.name) != getattr(simplest, each.name):
            yield replace(case, **{each.name: getattr(simplest, each.name)})
    for i, (length, grade) in enumerate(pieces):
        rounder = (length - length % 1000 or 1000, grade), (length, 5 * round(grade / 5))
        for new in ((length, 0), (3000, grade), *rounder):
            if new != (length, grade) and _simplicity(new) < _simplicity((length, grade)):
                yield replace(case, pieces=(*pieces[:i], new, *pieces[i + 1 :]))


def _simplicity(piece: tuple[int, int]) -> tuple[int, int]:
    length, grade = piece
    return (0 if length == 3000 else 1 if length % 1000 == 0 else 2) + (
        0 if grade == 0 else 1 if grade % 5 == 0 else 2
    ), abs(grade)
