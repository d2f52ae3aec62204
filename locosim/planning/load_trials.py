"""Trials of loads: what is to spare with one, by no more of the check than it takes to refuse it."""

from __future__ import annotations

from collections.abc import Callable, Sequence, Set
from typing import NamedTuple

from locosim.planning.bands import doubted
from locosim.planning.finding import CLEAR, NOTE, VERDICTS, Finding
from locosim.planning.largest_number import Spare, is_short
from locosim.planning.partial_check import FULL_EFFORT, PARTS, PartialCheck

NEVER_TIGHT = {"axle load"}  # rules that depend on load and are met or not
NOT_POSSIBLE = {"a file may not describe it": -1.0}
BARELY, MOST_SLACK = 1e-9, 10.0  # what a refused load lacks at least; what counts of an endless margin [1]


class Scale(NamedTuple):
    """What a load must meet.

    Attributes:
        verdict: Worst verdict that is accepted.
        tight_margin: Margin from which a finding is clear [1].
        lost: What the margin of a rule can lose within the range of an assumption [1].
    """

    verdict: str
    tight_margin: float
    lost: dict[str, float]


class LoadTrials:
    """Trials of loads, each of as many parts of the check as it takes to refuse it.

    A part that accepts a load accepts every smaller one, brakes apart; so it is not tried with these.
    """

    def __init__(
        self, part: Callable[[int], PartialCheck | None], scale: Scale, ignored: Set[str] = frozenset()
    ) -> None:
        """Try nothing yet.

        Args:
            part: The check by the number of the load, to be run in parts; None for a train that may not be.
            scale: What a load must meet.
            ignored: Rules that need not be met.
        """
        self._part, self._scale, self._ignored = part, scale, ignored
        self._order = list(PARTS)
        self._accepted: dict[str, int] = {}  # largest number tried that it accepts, by part
        self._spare: dict[int, Spare] = {}

    def spare(self, number: int) -> Spare:
        """What is to spare at a number by the parts tried; the one that refuses it is tried first with the next."""
        if number not in self._spare:
            found: Spare = {}
            for part in self._order:
                if number >= self._accepted.get(part, 0):
                    found = self._of_part(number, part) | found
                if is_short(found):
                    self._order = [part, *(each for each in self._order if each != part)]
                    break
            self._spare[number] = found
        return self._spare[number]

    def pulled(self, number: int) -> Spare:
        """What is to spare at a number in the run at full effort."""
        return self._of_part(number, FULL_EFFORT)

    def above(self, low: int) -> Callable[[int], Spare]:
        """The same as `spare`, with a number that counts as accepted without a trial."""
        return lambda number: {} if number == low else self.spare(number)

    def learn(self, number: int) -> None:
        """Take over which parts accept a number of which the whole check was run."""
        for part in PARTS:
            self._of_part(number, part)

    def _of_part(self, number: int, part: str) -> Spare:
        check = self._part(number)
        if check is None:
            return NOT_POSSIBLE
        findings = [finding for finding in check.findings(part) if finding.rule not in self._ignored]
        spare = spare_margins(findings, self._scale)
        if not is_short(spare):
            self._accepted[part] = max(number, self._accepted.get(part, 0))
        return spare


def spare_margins(findings: Sequence[Finding], scale: Scale) -> Spare:
    """Least margin of each rule over what a verdict needs [1]; below 0 just where a finding is worse."""
    spare: Spare = {}
    for finding in doubted(findings, scale.lost, scale.tight_margin):
        clear = scale.verdict == CLEAR and finding.rule not in NEVER_TIGHT
        over = finding.margin - (scale.tight_margin if clear else 0.0) - scale.lost.get(finding.rule, 0.0)
        over = min(over, -BARELY) if is_worse(finding, scale.verdict) else max(over, 0.0)
        over = min(max(over, -MOST_SLACK), MOST_SLACK)
        spare[finding.rule] = min(over, spare.get(finding.rule, over))
    return spare


def first_worse(findings: Sequence[Finding], verdict: str) -> Finding | None:
    """The first finding that is worse than a verdict; None where there is none."""
    return next((f for f in findings if is_worse(f, verdict)), None)


def is_worse(finding: Finding, verdict: str) -> bool:
    """Whether a finding is worse than a verdict; a note is not."""
    return finding.verdict != NOTE and VERDICTS.index(finding.verdict) > VERDICTS.index(verdict)
