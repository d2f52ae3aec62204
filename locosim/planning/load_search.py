"""The search for the largest load of one plan: the answer and the next larger load are checked as `check` does it."""

from __future__ import annotations

from collections.abc import Callable, Sequence, Set
from dataclasses import dataclass, replace

from locosim.engine.performance import compute_excursion_performance
from locosim.errors import OutOfRange
from locosim.journey.run import run_full_effort
from locosim.model import Excursion, Train
from locosim.planning.bands import doubts, with_bands, with_doubts
from locosim.planning.check import Check, judge_full_effort, run_and_check
from locosim.planning.checker import Checker
from locosim.planning.finding import CLEAR, NOTE, TIGHT, VERDICTS, Fact, Finding
from locosim.planning.largest_number import Spare, last_between, last_that
from locosim.planning.rules.stall import stalling
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
NEVER_TIGHT = {"axle load"}  # rules that depend on load and are met or not
NOT_POSSIBLE = {"a file may not describe it": -1.0}
BARELY, MOST_SLACK = 1e-9, 10.0  # what a refused load lacks at least; what counts of an endless margin [1]


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


class LoadSearch:
    """The search for the largest load of one plan; what it has checked it keeps, for a search with another verdict.

    Runs at full effort, of which one costs a tenth of a check, find the largest load that is pulled. Where the check
    refuses it, checks begun from its runs find the largest load that every rule accepts.
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
        self._excursion, self._varied = excursion, varied
        self._like = None if like is None else SimilarLoads(self._at, like)
        self._begin = varied.as_described if begin is None else begin
        self._performance = compute_excursion_performance(excursion)
        self._pulls: dict[int, list[Finding]] = {}
        self._whole: dict[int, Check] = {}
        self._banded: dict[int, Check] = {}
        self._near: dict[int, SimilarLoads] = {}

    def largest(self, name: str, verdict: str) -> LargestLoad:
        """The largest load, with the check of it and of the next.

        Args:
            name: What the plan is.
            verdict: Worst verdict that is accepted.
        """
        if self._begin == 0 and self._never(verdict):
            return self._none(name, verdict)
        number = self._largest_pulled(verdict)
        if number is not None:
            number = (
                self._confirmed(number, verdict)
                if self._like is None
                else self._like.largest(number, self._begin, verdict)
            )
        if number is None:
            return self._none(name, verdict)
        refused = self._refused(number + 1, verdict)
        return LargestLoad(
            name=name,
            number=number,
            train=self._varied.at(number),
            check=self._with_bands(number),
            refused=refused,
            limit=None if refused is None else self._limit(number + 1, verdict),
            note="" if refused is not None else "a file may not describe a longer or heavier train",
        )

    def _never(self, verdict: str) -> bool:
        """Whether the lightest train is refused by a rule that then refuses every train."""
        lightest = self._check(0)
        return lightest is not None and bool(_refusing(lightest, verdict) & WORSE_WITH_LOAD)

    def _none(self, name: str, verdict: str) -> LargestLoad:
        refused = self._refused(0, verdict)
        if refused is None:
            return LargestLoad(name=name, note="a train file may not describe the train without this load")
        return LargestLoad(name=name, refused=refused, limit=self._limit(0, verdict))

    def _refused(self, number: int, verdict: str) -> Check | None:
        """The check of a number that is refused, with bands where it is refused for what an assumption may do."""
        plain = self._check(number)
        if plain is None or first_worse(plain.findings, verdict) is not None:
            return plain
        return self._with_bands(number)

    def _limit(self, number: int, verdict: str) -> Finding | None:
        """The first finding that a number is refused for."""
        refused = self._refused(number, verdict)
        return None if refused is None else first_worse(refused.findings, verdict)

    def _largest_pulled(self, verdict: str) -> int | None:
        """The largest number with which the run at full effort is accepted; what it refuses, the check refuses."""
        most = self._varied.max_number
        tight_margin = self._excursion.criteria.tight_margin

        def spare(number: int) -> Spare:
            if number not in self._pulls:
                try:
                    excursion = self._at(number)
                except OutOfRange:
                    return NOT_POSSIBLE
                full = run_full_effort(excursion, self._performance)
                stalled = stalling(full) if full.outcome == "stalled" else []
                self._pulls[number] = [*stalled, *judge_full_effort(full)]
            return spare_margins(self._pulls[number], verdict, tight_margin)

        return last_that(spare, min(self._begin, most), most)

    def _confirmed(self, guess: int, verdict: str) -> int | None:
        """The largest number that the whole check accepts, from one that the pull allows."""
        number = guess
        while not self._accepts(
            number, verdict
        ):  # its own whole check may differ a little from a similar one
            if number == 0:
                return None
            number = self._similar_to(number).largest(number, number, verdict) or 0
        while self._accepts(number + 1, verdict):
            number += 1
        return number

    def _similar_to(self, number: int) -> SimilarLoads:
        """Checks begun from that of a number; that of the lightest train is needed whole if no load will do."""
        if number not in self._near:
            lightest = self._check(0)
            known = {number: self._whole[number]} | ({} if lightest is None else {0: lightest})
            base = self._banded.get(number, self._whole[number])
            self._near[number] = SimilarLoads(self._at, base, known)
        return self._near[number]

    def _at(self, number: int) -> Excursion:
        return replace(self._excursion, train=self._varied.at(number))

    def _accepts(self, number: int, verdict: str) -> bool:
        """Whether the whole check is accepted; bands only make a clear finding tight."""
        check = self._check(number)
        if check is None or first_worse(check.findings, verdict) is not None:
            return False
        return verdict == TIGHT or first_worse(self._with_bands(number).findings, verdict) is None

    def _check(self, number: int) -> Check | None:
        """The check without bands; None for a train that a file may not describe."""
        if number not in self._whole:
            try:
                excursion = self._at(number)
            except OutOfRange:
                return None
            self._whole[number] = (
                run_and_check(excursion, self._performance)
                if self._like is None
                else self._like.check(number)
            )
        return self._whole[number]

    def _with_bands(self, number: int) -> Check:
        """The whole check; one like another has its doubts already."""
        if self._like is not None:
            return self._like.check(number)
        if number not in self._banded:
            self._banded[number] = with_bands(self._whole[number])
        return self._banded[number]


class SimilarLoads:
    """Checks of one plan with other loads, each begun from the same runs."""

    def __init__(
        self, at: Callable[[int], Excursion], base: Check, known: dict[int, Check] | None = None
    ) -> None:
        """Prepare to check.

        Args:
            at: The plan by the number of its load.
            base: The check to begin from, whose doubts each takes over.
            known: Checks made before, by the number of the load.
        """
        self._at, self._checker, self._lost = at, Checker(base), doubts(base)
        self._checks = {number: with_doubts(check, self._lost) for number, check in (known or {}).items()}

    def largest(self, pulled: int, guess: int, verdict: str) -> int | None:
        """The largest number that is accepted; None where none is.

        Args:
            pulled: Largest number that may be.
            guess: Number that is tried next.
            verdict: Worst verdict that is accepted.
        """
        if not self._refusing(pulled, verdict):
            return pulled
        if guess < pulled and not self._refusing(guess, verdict):
            beyond = guess + 1  # often the limit is the same as that of a similar plan
            return guess if self._refusing(beyond, verdict) else self._between(beyond, pulled, verdict)
        return self._from_lightest(min(pulled, guess), verdict)

    def _from_lightest(self, refused: int, verdict: str) -> int | None:
        """The largest number below a refused one.

        A rule that refuses the lightest train too, such as one on brakes that the cars have and the engine has not,
        may get better with load. So the largest load that the other rules allow decides.
        """
        always = self._refusing(0, verdict)
        if refused == 0 or always & WORSE_WITH_LOAD or self._refusing(refused, verdict) <= always:
            return None
        number = self._between(0, refused, verdict, always)
        return None if self._refusing(number, verdict) else number

    def _between(self, low: int, high: int, verdict: str, always: Set[str] = frozenset()) -> int:
        """The largest number that all rules but some accept, from one that they do and one that they do not."""
        tight_margin = self.check(low).journey.excursion.criteria.tight_margin

        def spare(number: int) -> Spare:
            others = [f for f in self.check(number).findings if f.rule not in always]
            return spare_margins(others, verdict, tight_margin, self._lost)

        return last_between(spare, low, high)

    def check(self, number: int) -> Check:
        """The check with a number."""
        if number not in self._checks:
            self._checks[number] = self._checker.check(self._at(number))
        return self._checks[number]

    def _refusing(self, number: int, verdict: str) -> set[str]:
        return _refusing(self.check(number), verdict)


def _refusing(check: Check, verdict: str) -> set[str]:
    """Rules with a finding worse than a verdict."""
    return {f.rule for f in check.findings if is_worse(f, verdict)}


def spare_margins(
    findings: Sequence[Finding], verdict: str, tight_margin: float, lost: dict[str, float] | None = None
) -> Spare:
    """Least margin of each rule over what a verdict needs [1]; below 0 just where a finding is worse.

    Args:
        findings: The findings.
        verdict: Worst verdict that is accepted.
        tight_margin: Margin from which a finding is clear [1].
        lost: What the margin of a rule can lose within the range of an assumption [1].
    """
    spare: Spare = {}
    for finding in findings:
        needed = tight_margin if verdict == CLEAR and finding.rule not in NEVER_TIGHT else 0.0
        over = finding.margin - needed - (lost or {}).get(finding.rule, 0.0)
        over = min(over, -BARELY) if is_worse(finding, verdict) else max(over, 0.0)
        over = min(max(over, -MOST_SLACK), MOST_SLACK)
        spare[finding.rule] = min(over, spare.get(finding.rule, over))
    return spare


def first_worse(findings: Sequence[Finding], verdict: str) -> Finding | None:
    """The first finding that is worse than a verdict; None where there is none."""
    return next((f for f in findings if is_worse(f, verdict)), None)


def is_worse(finding: Finding, verdict: str) -> bool:
    """Whether a finding is worse than a verdict; a note is not."""
    return finding.verdict != NOTE and VERDICTS.index(finding.verdict) > VERDICTS.index(verdict)
