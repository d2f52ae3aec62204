"""Laws of the verdict, over random pairs of excursions: `python -m tests.laws --pairs 5000` runs as many as wanted.

The laws of what the train can do, of adhesion, of arrival and of the verdict must hold, whatever steam the crew is
allowed. Those of what the crew does to pressure, water and fuel hold in most pairs only, and the command prints where
they do not: a crew with less steam to draw starts more gently.
"""

from __future__ import annotations

from cases import Case, build
from counting import Kind, count_broken
from verdict_laws import CAPABILITY, heavier_by, outcome_of

PAIRS = 150
SEED = 7


def _must_hold(kind: Kind) -> bool:
    if kind.rule == "arrival" or kind.rule.startswith("verdict") or kind.change == "weight by 0.1 %":
        return True
    return kind.rule in CAPABILITY


def _is_slope(kind: Kind, case: Case) -> bool:
    """Whether a margin that 0.1 % of weight moves too far moves in proportion, as on a momentum grade; no jump."""
    excursion = build(case)
    if kind.change != "weight by 0.1 %" or excursion is None:
        return False
    before, little, more = (
        outcome_of(heavier_by(excursion, share)).margins[kind.rule] for share in (0.0, 1e-4, 1e-3)
    )
    return abs(little - before) < 0.2 * abs(more - before)


def test_no_change_for_the_worse_improves_the_verdict() -> None:
    found = count_broken(pairs=PAIRS, seed=SEED)
    broken = {kind: (found.worst[kind], found.examples[kind]) for kind in found.broken if _must_hold(kind)}
    slopes = {kind for kind, (_, case) in broken.items() if _is_slope(kind, case)}
    assert not broken.keys() - slopes
    # The count is of pairs that could break a law: most of them arrive.
    assert sum(found.pairs.values()) - found.stalled > 0.6 * PAIRS
