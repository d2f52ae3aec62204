"""The search for the largest load of one plan: the answer and the next larger load are checked as `check` does it."""

from __future__ import annotations

from collections.abc import Set
from dataclasses import replace
from typing import NamedTuple

from locosim.engine.performance import compute_excursion_performance
from locosim.errors import OutOfRange
from locosim.frozen import frozen
from locosim.model import Excursion, Train
from locosim.planning.bands import doubts, with_bands, with_doubts
from locosim.planning.check import Check
from locosim.planning.finding import TIGHT, Fact, Finding
from locosim.planning.largest_number import FIRST_STRIDE, Spare, is_short, last_between, last_that
from locosim.planning.load_trials import (
    NOT_POSSIBLE,
    LoadTrials,
    Scale,
    first_worse,
    is_worse,
    spare_margins,
)
from locosim.planning.partial_check import PartialCheck
from locosim.planning.varied_train import VariedTrain

# Rules that refuse every train where they refuse the lightest. Brakes are not among them: those of the cars may hold
# what those of the engine do not; nor are speeds, which a heavier train does not reach.
WORSE_WITH_LOAD = {
    "stall",
    "start",
    "climb",
    "coupler",
    "time",
    "steam",
    "adhesion",
    "water",
    "fuel",
    "axle load",
}
FAR_STRIDE = 1.0  # first stride to a number that is likely to be much larger, over that to begin at [1]


@frozen(eq=False)
class LargestLoad:
    """The largest load of one plan, with its proof.

    Attributes:
        name: What the plan is: a condition or a section.
        fact: Figure of the condition; None where the name says it.
        number: Number of vehicles, or of steps of mass; None where no load will do.
        train: The train with it; None likewise.
        check: The whole check with it; None likewise.
        refused: The whole check with the next larger load; where none will do, without load, or with the least of it
            where the engine alone lacks no more than brakes. None where a file may not describe that train.
        limit: The finding that the next larger load fails by; None likewise.
        refused_number: Number of `refused`.
        note: Why there is no check, or none of a larger load; empty where there is.
    """

    name: str
    fact: Fact | None = None
    number: int | None = None
    train: Train | None = None
    check: Check | None = None
    refused: Check | None = None
    limit: Finding | None = None
    refused_number: int = 0
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


class Proof(NamedTuple):
    """Why no more load will do.

    Attributes:
        refused: The whole check with the next larger load; None where a file may not describe that train.
        limit: The finding that it fails by; None likewise.
    """

    refused: Check | None
    limit: Finding | None


class LoadSearch:
    """The search for the largest load of one plan; what it has run it keeps, for a search with another verdict.

    A trial runs the parts of a check one after the other, down to the first that refuses; what a larger load was
    accepted for is not run again. The answer gets the whole check, and so does the next larger load.
    """

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
                contingency does; without, the answer and the next larger load are checked as the command `check`
                checks them.
        """
        self._excursion, self._varied, self._like = excursion, varied, like
        self._begin = min(varied.as_described if begin is None else begin, varied.max_number)
        self._performance = compute_excursion_performance(excursion)
        self._doubts = {} if like is None else doubts(like)
        self._parts: dict[int, PartialCheck | None] = {}
        self._whole: dict[int, Check | None] = {}
        self._banded: dict[int, Check] = {}

    def largest(self, name: str, verdict: str, *, far: bool = False) -> LargestLoad:
        """The largest load, with the check of it and of the next.

        Args:
            name: What the plan is.
            verdict: Worst verdict that is accepted.
            far: Whether it is likely to be much larger than the number to begin at, which is accepted.
        """
        number = self.answer(verdict, far=far)
        proof = self.proof(number, verdict)
        if number is not None and proof is None:
            number = self.above(number, verdict)
            proof = self.proof(number, verdict)
        return self.load(name, number, verdict, proof)

    def found(self, name: str, verdict: str) -> LargestLoad:
        """The answer with the check of it, without proof."""
        return self.load(name, self.answer(verdict), verdict)

    def learn(self, load: LargestLoad) -> None:
        """Take over the whole check of a load that this search found in another process."""
        if load.number is not None and load.check is not None:
            self._whole.setdefault(load.number, load.check)
            self._banded.setdefault(load.number, load.check)

    def load(self, name: str, number: int | None, verdict: str, proof: Proof | None = None) -> LargestLoad:
        """The largest load by its number, or none; the check of the lightest train proves that none will do."""
        if number is None:
            least = self._least_refused(verdict)
            refused, limit = self._refused(least, verdict)
            note = "" if refused else "a train file may not describe the train without this load"
            return LargestLoad(name=name, refused=refused, limit=limit, refused_number=least, note=note)
        return LargestLoad(
            name=name,
            number=number,
            train=self._varied.at(number),
            check=self._with_bands(number),
            refused=proof.refused if proof else None,
            limit=proof.limit if proof else None,
            refused_number=number + 1,
            note="a file may not describe a longer or heavier train" if proof and not proof.refused else "",
        )

    def _least_refused(self, verdict: str) -> int:
        """Number of the check that refuses every load.

        Brakes, which cars have and an engine alone may lack, are not why no load will do.
        """
        if self._check(0) is None or _refusing_rules(self._with_bands(0), verdict) & WORSE_WITH_LOAD:
            return 0
        return 1 if self._refused(1, verdict).limit is not None else 0

    def answer(self, verdict: str, *, far: bool = False) -> int | None:
        """The largest number that the whole check accepts; None where it accepts none.

        One more may be accepted where only doubts refuse it, which are taken from another load: `proof` tells.
        Arguments as of `largest`.
        """
        if self._begin == 0 and self._never(verdict):
            return None
        most, trials = self._varied.max_number, self._trials(verdict)
        near = self._like is not None and not far
        first = FAR_STRIDE if far else FIRST_STRIDE
        start = self._begin if near else last_that(trials.pulled, self._begin, most, first=first)
        if start is None:
            return None
        if far and start > self._begin and is_short(trials.spare(start)):
            number: int | None = last_between(trials.above(self._begin), self._begin, start)
        else:
            number = last_that(trials.spare, start, most if near else start)
            number = self._by_other_rules(start, verdict) if number is None and start > 0 else number
        while number is not None and not self._accepts(number, verdict):
            number = self._below(number, verdict)
        return number

    def proof(self, number: int | None, verdict: str) -> Proof | None:
        """Proof that one more than a number is refused; None where the whole check accepts it, or for no number."""
        if number is None:
            return None
        proof = self._refused(number + 1, verdict)
        return None if proof.refused is not None and proof.limit is None else proof

    def above(self, number: int, verdict: str) -> int:
        """The largest number that the whole check accepts, above one where it accepts one more too."""
        found = self._checked(number + 1, self._varied.max_number, verdict)
        return number if found is None else found

    def _checked(self, start: int, most: int, verdict: str) -> int | None:
        """The largest number that the whole check accepts, searched by whole checks from one; None for none."""
        scale = self._scale(verdict)._replace(lost={})

        def spare(number: int) -> Spare:
            check = self._refused(number, verdict).refused
            return NOT_POSSIBLE if check is None else spare_margins(check.findings, scale)

        return last_that(spare, start, most)

    def _below(self, refused: int, verdict: str) -> int | None:
        """The largest number that trials accept, below one that the whole check refuses."""
        if refused == 0:
            return None
        if refused in self._banded:
            self._doubts = doubts(self._banded[refused])
        trials = self._trials(verdict)
        trials.learn(refused)
        if is_short(trials.spare(0)):
            # Doubts of a heavy train may refuse a light one that has none of its own.
            accepts = self._accepts(0, verdict)
            return self._checked(0, refused, verdict) if accepts else self._by_other_rules(refused, verdict)
        return last_between(trials.spare, 0, refused)

    def _by_other_rules(self, refused: int, verdict: str) -> int | None:
        """The largest number below a refused one, where the lightest train is refused too; None where none will do.

        A rule that refuses the lightest train, such as one on brakes that the cars have and the engine has not, may
        get better with load. So the largest load that the other rules allow decides.
        """
        always = self._refusing(0, verdict)
        if always & WORSE_WITH_LOAD or self._refusing(refused, verdict) <= always:
            return None
        number = last_between(self._trials(verdict, always).above(0), 0, refused)
        return number if self._accepts(number, verdict) else None

    def _trials(self, verdict: str, ignored: Set[str] = frozenset()) -> LoadTrials:
        return LoadTrials(self._part, self._scale(verdict), ignored)

    def _scale(self, verdict: str) -> Scale:
        return Scale(verdict, self._excursion.criteria.tight_margin, self._doubts)

    def _never(self, verdict: str) -> bool:
        """Whether the lightest train is refused by a rule that then refuses every train."""
        return bool(self._refusing(0, verdict) & WORSE_WITH_LOAD)

    def _refusing(self, number: int, verdict: str) -> set[str]:
        """Rules that refuse a number; none for a train that a file may not describe."""
        check = self._check(number)
        return set() if check is None else _refusing_rules(check, verdict)

    def _refused(self, number: int, verdict: str) -> Proof:
        """The check of a number that is refused, with bands where it is refused for what an assumption may do."""
        check = self._check(number)
        if check is not None and first_worse(check.findings, verdict) is None:
            check = self._with_bands(number)
        return Proof(check, None if check is None else first_worse(check.findings, verdict))

    def _accepts(self, number: int, verdict: str) -> bool:
        """Whether the whole check is accepted; bands only make a clear finding tight."""
        check = self._check(number)
        if check is None or first_worse(check.findings, verdict) is not None:
            return False
        return verdict == TIGHT or first_worse(self._with_bands(number).findings, verdict) is None

    def _part(self, number: int) -> PartialCheck | None:
        """The check of a number, to be run in parts; None for a train that a file may not describe."""
        if number not in self._parts:
            try:
                excursion = replace(self._excursion, train=self._varied.at(number))
            except OutOfRange:
                self._parts[number] = None
            else:
                begin = None if self._like is None else self._like.runs
                self._parts[number] = PartialCheck(excursion, self._performance, begin=begin)
        return self._parts[number]

    def _check(self, number: int) -> Check | None:
        """The check without bands of its own; None for a train that a file may not describe."""
        if number not in self._whole:
            part = self._part(number)
            check = None if part is None else part.check()
            if check is not None and self._like is not None:
                check = with_doubts(check, self._doubts)
            self._whole[number] = check
        return self._whole[number]

    def _with_bands(self, number: int) -> Check:
        """The whole check; one like another has its doubts already."""
        check = self._check(number)
        assert check is not None
        if self._like is not None:
            return check
        if number not in self._banded:
            self._banded[number] = with_bands(check)
        return self._banded[number]


def _refusing_rules(check: Check, verdict: str) -> set[str]:
    """Rules with a finding that is worse than a verdict."""
    return {f.rule for f in check.findings if is_worse(f, verdict)}
