"""Remedies that were run: for a finding that is not clear, the smallest amount of each change that helps."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import partial

from locosim.errors import LocosimError
from locosim.frozen import frozen
from locosim.planning.bands import RULE_ASSUMPTIONS, doubts, with_bands
from locosim.planning.changes import Ladder, Trial, ladders
from locosim.planning.check import Check
from locosim.planning.finding import CLEAR, NOTE, STOP, TIGHT, VERDICTS, Finding, worst_verdict
from locosim.planning.partial_check import ADHESION, BOOKED, FULL_EFFORT, STEAM, PartialCheck

# Rules whose findings remedies are tried for, by the run they are judged on.
AT_FULL_EFFORT = ("stall", "time", "climb", "start", "coupler")
BY_NEED = (STEAM, ADHESION)
ON_THE_BOOKED_RUN = (
    "pressure",
    "crown sheet",
    "water glass",
    "glass in braking",
    "water",
    "fuel",
    "stopping distance",
    "descending grade",
    "curve speed",
    "driving-wheel speed",
    "piston speed",
    "end of run",
)


@frozen
class Remedy:
    """A change that was run and helps.

    Attributes:
        rule: Rule whose findings it was run for.
        kind: `cars off`, `helper`, `sanded rail`, `earlier departure`, `later times`, `longer stop`, `less steam`,
            `water stop`, `higher water`, `gentler braking` or `slower running`.
        change: The change in words, with `{name}` where a fact is shown.
        amount: The smallest that gives the verdict: cars, seconds or share; 1 where there is no amount.
        facts: Figures of the text, by name.
        verdict: Verdict of the rule with the change.
        whole_verdict: Verdict of the whole check with the change, without contingencies.
        remaining: Rules that give the whole check this verdict; empty where it is clear.
    """

    rule: str
    kind: str
    change: str
    amount: float
    facts: dict[str, tuple[float, str]]
    verdict: str
    whole_verdict: str
    remaining: tuple[str, ...] = ()


def try_remedies(check: Check) -> tuple[Remedy, ...]:
    """Run the remedies for each rule with a finding that is not clear.

    For each change the smallest amount that makes the rule clear is found; where none does, the smallest that turns a
    stop into tight. A change that does neither is left out.

    Args:
        check: The check.

    Returns:
        Remedies in the order of the findings; within a rule, those that make it clear first.
    """
    return sort_remedies(check, [remedy for each in remedy_searches(check) for remedy in each()])


def remedy_searches(check: Check) -> list[Callable[[], list[Remedy]]]:
    """The searches of `try_remedies`, not yet begun: one for each kind of change, as rules share its runs."""
    trials = _Trials(check)
    by_kind: dict[str, list[tuple[Ladder, str, str]]] = {}
    for rule in _rules_to_help(check):
        worst = worst_verdict(f.verdict for f in check.findings if f.rule == rule)
        for ladder in ladders(check, rule):
            if ladder.size > 0:
                by_kind.setdefault(ladder.trial(1).kind, []).append((ladder, rule, worst))
    return [partial(trials.remedies, asked) for asked in by_kind.values()]


def sort_remedies(check: Check, found: Sequence[Remedy]) -> tuple[Remedy, ...]:
    """Remedies in the order of the findings; within a rule, those that make it clear first."""
    order = [(rule, kind) for rule, kinds in changes_tried(check).items() for kind in kinds]
    rules = _rules_to_help(check)

    def rank(remedy: Remedy) -> tuple[int, ...]:
        verdicts = VERDICTS.index(remedy.verdict), VERDICTS.index(remedy.whole_verdict)
        return (rules.index(remedy.rule), *verdicts, order.index((remedy.rule, remedy.kind)))

    return tuple(sorted(found, key=rank))


def _rules_to_help(check: Check) -> list[str]:
    """Rules with a finding that is not clear and for which remedies are known, in the order of the findings."""
    tried = (*AT_FULL_EFFORT, *BY_NEED, *ON_THE_BOOKED_RUN)
    worse = dict.fromkeys(f.rule for f in check.findings if f.verdict not in (CLEAR, NOTE))
    return [rule for rule in worse if rule in tried]


def changes_tried(check: Check) -> dict[str, tuple[str, ...]]:
    """Kinds of change that `try_remedies` tries, by rule; a rule for which none is known is left out."""
    tried = {
        rule: tuple(dict.fromkeys(each.trial(1).kind for each in ladders(check, rule) if each.size > 0))
        for rule in (*AT_FULL_EFFORT, *BY_NEED, *ON_THE_BOOKED_RUN)
        if any(f.rule == rule and f.verdict not in (CLEAR, NOTE) for f in check.findings)
    }
    return {rule: kinds for rule, kinds in tried.items() if kinds}


class _Trials:
    """Changed excursions, each run once for all rules."""

    def __init__(self, check: Check) -> None:
        self._check = check
        self.tight = check.journey.excursion.criteria.tight_margin
        self._runs: dict[tuple[str, float], PartialCheck] = {}
        self._findings: dict[tuple[str, float, str], list[Finding]] = {}
        self._whole: dict[tuple[str, float], Check] = {}

    def _runs_of(self, trial: Trial) -> PartialCheck:
        key = (trial.change, trial.amount)
        if key not in self._runs:
            self._runs[key] = PartialCheck(
                trial.excursion, self._check.journey.performance, begin=self._check.runs
            )
        return self._runs[key]

    def remedies(self, asked: Iterable[tuple[Ladder, str, str]]) -> list[Remedy]:
        """Remedies found for some changes, each with the rule and its worst verdict."""
        found = (self.remedy(ladder, rule, worst) for ladder, rule, worst in asked)
        return [remedy for remedy in found if remedy is not None]

    def remedy(self, ladder: Ladder, rule: str, worst: str) -> Remedy | None:
        """The smallest amount that makes a rule clear, or at least better than its worst verdict."""
        for goal in VERDICTS[: VERDICTS.index(worst)]:
            number = self._settled(ladder, rule, goal, self._smallest(ladder, rule, goal))
            if number is not None:
                trial = ladder.trial(number)
                whole = self._whole_check(trial)
                return Remedy(
                    rule=rule,
                    kind=trial.kind,
                    change=trial.change,
                    amount=trial.amount,
                    facts=trial.facts,
                    verdict=self._confirmed(trial, rule),
                    whole_verdict=whole.verdict,
                    remaining=tuple(
                        dict.fromkeys(f.rule for f in whole.findings if CLEAR != f.verdict == whole.verdict)
                    ),
                )
        return None

    def _settled(self, ladder: Ladder, rule: str, goal: str, number: int | None) -> int | None:
        """The smallest number near one found by the search, by bands of its own and with a booked run that arrives."""
        if number is None:
            return None

        def reaches(number: int) -> bool:
            try:
                return VERDICTS.index(self._confirmed(ladder.trial(number), rule)) <= VERDICTS.index(goal)
            except LocosimError:
                return False

        while number <= ladder.size and not reaches(number):
            number += 1
        while 1 < number <= ladder.size and reaches(number - 1):
            number -= 1
        return number if number <= ladder.size else None

    def _smallest(self, ladder: Ladder, rule: str, goal: str) -> int | None:
        """Smallest number of a ladder that reaches a verdict; None where none does."""

        def reaches(number: int) -> bool:
            try:
                verdict = self._verdict(ladder.trial(number), rule)
            except (
                LocosimError
            ):  # a change that the files do not allow, such as a stop where there is no water
                return False
            return VERDICTS.index(verdict) <= VERDICTS.index(goal)

        if not ladder.rising:
            return next(filter(reaches, range(1, ladder.size + 1)), None)
        if ladder.size < 1 or not reaches(ladder.size):
            return None
        low, high = 0, ladder.size
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if reaches(middle) else (middle, high)
        return high

    def _verdict(self, trial: Trial, rule: str, *, doubted: bool = True) -> str:
        """Verdict of a rule with a change, in the doubts of the check without it; stop where the train does not arrive.

        The doubts are an estimate of its own bands, for the search.
        """
        part = rule if rule in BY_NEED else FULL_EFFORT if rule in AT_FULL_EFFORT else BOOKED
        key = (trial.change, trial.amount, part)
        if key not in self._findings:
            self._findings[key] = self._runs_of(trial).findings(part)
        findings = self._findings[key]
        lost = doubts(self._check, known=trial.settles).get(rule, 0.0) if doubted else 0.0
        return worst_verdict(
            TIGHT
            if f.verdict == CLEAR and f.rule == rule and 0.0 < lost > f.margin - self.tight
            else f.verdict
            for f in findings
            if f.rule in (rule, "stall", "end of run")
        )

    def _confirmed(self, trial: Trial, rule: str) -> str:
        """Verdict of a rule with a change, with bands of its own where it rests on assumptions.

        Stop where the booked run stalls, though the rule is judged on another run.
        """
        plain = self._verdict(trial, rule, doubted=False)
        if plain != STOP and self._runs_of(trial).booked.outcome == "stalled":
            return STOP
        if plain != CLEAR or rule not in RULE_ASSUMPTIONS:
            return plain
        findings = with_bands(self._runs_of(trial).check(), rule=rule).findings
        return worst_verdict(f.verdict for f in findings if f.rule == rule)

    def _whole_check(self, trial: Trial) -> Check:
        """The whole check with a change; bands change no stop."""
        key = (trial.change, trial.amount)
        if key not in self._whole:
            check = self._runs_of(trial).check()
            self._whole[key] = check if check.verdict == STOP else with_bands(check)
        return self._whole[key]
