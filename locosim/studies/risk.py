"""The risk of an excursion: how often each finding fails when what cannot be known is drawn at random."""

from __future__ import annotations

import math
import pickle
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from locosim.engine.map.nearby import NearbyMaps
from locosim.engine.performance import Performance, compute_excursion_performance
from locosim.errors import OutOfRange
from locosim.frozen import frozen
from locosim.model import Excursion
from locosim.model.uncertainty import Correlation, Uncertainty
from locosim.physics.types import Floats
from locosim.planning.check import END_RULES, Check, run_and_check
from locosim.planning.checker import Checker
from locosim.planning.finding import CLEAR, NOTE, STOP, TIGHT, Finding
from locosim.studies.failure_statistics import (
    MIN_SAMPLES,
    Bools,
    Influence,
    Probability,
    RankedInput,
    influences,
    probability,
    ranked_inputs,
)
from locosim.studies.latin_hypercube import latin_hypercube, with_correlations
from locosim.studies.nearby_needs import LEAST_SAMPLES, NearbyNeeds
from locosim.studies.uncertain_inputs import (
    InputSet,
    SampledExcursions,
    SampledInput,
    nearby_maps,
    uncertain_inputs,
)
from locosim.studies.workers import run_each

MAX_SAMPLES = 1_000_000
CHUNK = 8  # samples sent to a worker at once, so that none waits long for the other at the end
ARRIVALS_WITH_PLACE = (
    0.9  # a rule judges a place of its own if it does so in this share of the runs that arrive
)
ANYWHERE = "wherever it is least"
WHOLE_PLAN = "whole plan"
VERDICTS = (CLEAR, TIGHT, STOP)


class SampledFinding(NamedTuple):
    """A finding of one sample.

    Attributes:
        rule: Name of the rule.
        place: Name of the place.
        fails: Whether the verdict is stop.
        value: Computed value [SI].
        margin: Room left, over the limit [1]; not a number where there is none.
        limit: Limit [SI], and its kind of quantity.
    """

    rule: str
    place: str
    fails: bool
    value: float
    margin: float
    limit: tuple[float, str]


class SampleResult(NamedTuple):
    """The check of one sample.

    Attributes:
        verdict: `clear`, `tight` or `stop`.
        findings: Findings with a verdict.
    """

    verdict: str
    findings: tuple[SampledFinding, ...]


@frozen(eq=False)
class FailureMode:
    """A finding over all samples.

    Attributes:
        rule: Name of the rule.
        place: Name of the place, or `ANYWHERE` for a rule whose place differs from sample to sample.
        where: Places where it fails most often, with the number of failures there.
        example: The finding in the check as given; None where it is not one of its findings.
        limit: The limit where it is the same in all samples [SI], and its kind of quantity; None otherwise.
        fails: Whether it fails in each sample, shape (n,).
        values: Computed value in each sample [SI]; not a number where it was not judged, shape (n,).
        margins: Margin in each sample likewise [1], shape (n,).
        probability: Of failure.
        drivers: What each input does to the margin, or to failing where not every sample has a margin.
        by_margin: Whether the drivers are those of the margin.
    """

    rule: str
    place: str
    where: tuple[tuple[str, int], ...]
    example: Finding | None
    limit: tuple[float, str] | None
    fails: Bools
    values: Floats
    margins: Floats
    probability: Probability
    drivers: tuple[Influence, ...] = ()
    by_margin: bool = True

    @property
    def name(self) -> str:
        """Rule and place."""
        return self.rule if self.rule == WHOLE_PLAN else f"{self.rule}, {self.place}"

    @property
    def not_judged(self) -> int:
        """Number of samples in which it was not judged, such as an arrival where the train stalls before."""
        return int(np.count_nonzero(np.isnan(self.values)))


@frozen(eq=False)
class Risk:
    """How often an excursion fails, and by what.

    Attributes:
        excursion: The excursion as given.
        performance: Performance of its engine as given.
        base: Check of the excursion as given.
        inputs: What was varied, and what was not.
        samples: Figures of the inputs, or numbers of outcomes, of the samples computed, shape (n, d).
        numbers: Number of each of these samples from 1, shape (n,).
        seed: Seed of the samples.
        verdicts: Verdict of each sample.
        plan: The whole plan; its margin is the least of all findings.
        modes: Every finding, the most probable failure first.
        not_computed: Number of each sample that could not be computed, with the reason.
    """

    excursion: Excursion
    performance: Performance
    base: Check
    inputs: InputSet
    samples: Floats
    numbers: tuple[int, ...]
    seed: int
    verdicts: tuple[str, ...]
    plan: FailureMode
    modes: tuple[FailureMode, ...]
    not_computed: tuple[tuple[int, str], ...]

    @property
    def count(self) -> int:
        """Number of samples computed."""
        return len(self.verdicts)

    @property
    def asked(self) -> int:
        """Number of samples asked for."""
        return self.count + len(self.not_computed)

    @property
    def failing(self) -> tuple[FailureMode, ...]:
        """Findings that fail in a sample."""
        return tuple(mode for mode in self.modes if mode.probability.count > 0)

    @property
    def at_worst(self) -> Probability:
        """Probability that the plan fails if every sample that could not be computed is a failure."""
        return probability(self.plan.probability.count + len(self.not_computed), self.asked)

    def draws(self, *assumptions: str) -> bool:
        """Whether one of some assumptions is drawn."""
        keys = {each.key for each in self.inputs.inputs}
        return any(f"assumptions.{name}" in keys for name in assumptions)

    def verdict_probability(self, verdict: str) -> Probability:
        """Probability of a verdict of the whole plan."""
        return probability(self.verdicts.count(verdict), self.count)

    def together(self, first: FailureMode, second: FailureMode) -> int:
        """Number of samples in which both fail."""
        return int(np.count_nonzero(first.fails & second.fails))

    def alone(self, mode: FailureMode) -> int:
        """Number of samples in which nothing else fails."""
        others = np.zeros(self.count, dtype=bool)
        for other in self.modes:
            if other is not mode:
                others |= other.fails
        return int(np.count_nonzero(mode.fails & ~others))


def find_risk(
    excursion: Excursion,
    *,
    samples: int = 1000,
    seed: int = 1,
    jobs: int | None = None,
    report: Callable[[int, int], None] | None = None,
) -> Risk:
    """Find how often an excursion fails under what is not known of it.

    Args:
        excursion: Engine, train, route, stops and conditions, with its uncertain inputs.
        samples: Number of samples.
        seed: Seed; the same one gives the same samples.
        jobs: Number of processes; None for all cores. The result does not depend on it.
        report: Receives the number of samples done and that of all.

    Raises:
        OutOfRange: A number of samples that is out of range, an input that names no key, or nothing to vary.
    """
    if not MIN_SAMPLES <= samples <= MAX_SAMPLES:
        raise OutOfRange(f"samples must be from {MIN_SAMPLES} to {MAX_SAMPLES:,}, found {samples}")
    if not 0 <= seed < 2**63:
        raise OutOfRange(f"seed must be a whole number from 0, found {seed}")
    found = uncertain_inputs(excursion)
    if not found.inputs:
        raise OutOfRange(
            'nothing is uncertain: give inputs under [[uncertainty.inputs]], or write usual = "yes"'
        )
    drawn = draw_samples(found.inputs, excursion.uncertainty.correlations, samples=samples, seed=seed)
    base = run_and_check(excursion)
    results: list[SampleResult] = []
    numbers: list[int] = []
    problems: list[tuple[int, str]] = []
    # The uncertainty is not part of a sample.
    of_samples = replace(excursion, uncertainty=Uncertainty(), provenance=None)
    many = samples >= LEAST_SAMPLES * len(found.inputs)
    work = _Work(pickle.dumps((of_samples, found.inputs, many)))
    work.prepare()
    outcomes = run_each(work, list(drawn), jobs=jobs, chunk=CHUNK, fork=True)
    for number, outcome in enumerate(outcomes, start=1):
        if outcome.value is None:
            problems.append((number, outcome.problem))
        else:
            results.append(outcome.value)
            numbers.append(number)
        if report is not None:
            report(number, samples)
    kept = drawn[np.array(numbers, dtype=int) - 1]
    ranked = ranked_inputs(kept, outcomes=tuple(bool(each.outcomes) for each in found.inputs))
    modes = [_with_drivers(mode, ranked) for mode in _failure_modes(results, base)]
    modes.sort(key=lambda mode: (-mode.probability.count, _least(mode.margins), mode.name))
    return Risk(
        excursion=excursion,
        performance=base.journey.performance,
        base=base,
        inputs=found,
        samples=kept,
        numbers=tuple(numbers),
        seed=seed,
        verdicts=tuple(each.verdict for each in results),
        plan=_with_drivers(_whole_plan(results), ranked),
        modes=tuple(modes),
        not_computed=tuple(problems),
    )


def draw_samples(
    inputs: Sequence[SampledInput], correlations: Sequence[Correlation], *, samples: int, seed: int
) -> Floats:
    """Figures of the inputs, or numbers of outcomes, of each sample, shape (samples, inputs).

    Args:
        inputs: The inputs.
        correlations: Which of them go together.
        samples: Number of samples.
        seed: Seed.

    Raises:
        OutOfRange: A correlation of an input that is not varied, or correlations that cannot be together.
    """
    shares = latin_hypercube(samples=samples, inputs=len(inputs), seed=seed)
    matrix = np.eye(len(inputs))
    names: list[str] = []
    for each in correlations:
        pair = [_number_of(name, inputs) for name in (each.first, each.second)]
        if pair[0] == pair[1]:
            raise OutOfRange(f"correlations: {each.first!r} and {each.second!r} are the same input")
        matrix[pair[0], pair[1]] = matrix[pair[1], pair[0]] = each.correlation
        names.append(f"{each.first} with {each.second}")
    shares = with_correlations(shares, matrix, tuple(names))
    columns = [each.values(shares[:, number]) for number, each in enumerate(inputs)]
    return np.column_stack(columns)


def _number_of(name: str, inputs: Sequence[SampledInput]) -> int:
    """Number of an input by its name or key."""
    for number, each in enumerate(inputs):
        if name in (each.label, each.key):
            return number
    known = ", ".join(each.label for each in inputs)
    raise OutOfRange(f"correlations: {name!r} is not an input that is varied; these are {known}")


@frozen(kw_only=False)
class _Work:
    """The check of one sample, for a worker: the excursion and its inputs are unpacked once in each process."""

    packed: bytes

    def prepare(self) -> None:
        """Check the excursion as given: processes forked from this one have it, and its maps are stored for others."""
        _unpacked(self.packed)

    def __call__(self, sample: Floats) -> SampleResult:
        unpacked = _unpacked(self.packed)
        excursion = unpacked.excursions.excursion(sample)
        performance = compute_excursion_performance(excursion, maps=unpacked.maps)
        near = unpacked.needs.expected(sample) if unpacked.needs is not None else None
        return sample_result(unpacked.checker.check(excursion, performance, near=near))


class _Unpacked(NamedTuple):
    """What the checks of all samples share; needs to expect only where there are many samples."""

    excursions: SampledExcursions
    maps: NearbyMaps | None
    checker: Checker
    needs: NearbyNeeds | None


@lru_cache(maxsize=1)
def _unpacked(packed: bytes) -> _Unpacked:
    excursion, inputs, many = pickle.loads(packed)
    excursions, maps = SampledExcursions(excursion, inputs), nearby_maps(excursion, inputs)
    checker = Checker(run_and_check(excursion))
    return _Unpacked(excursions, maps, checker, NearbyNeeds(excursions, inputs, maps) if many else None)


def sample_result(check: Check) -> SampleResult:
    """What is kept of a check."""
    return SampleResult(
        verdict=check.verdict,
        findings=tuple(
            SampledFinding(
                rule=each.rule,
                place=each.place,
                fails=each.verdict == STOP,
                value=float(each.value),
                margin=float(each.margin) if math.isfinite(each.margin) else math.nan,
                limit=(float(each.limit), each.kind),
            )
            for each in check.findings
            if each.verdict != NOTE
        ),
    )


def _failure_modes(results: Sequence[SampleResult], base: Check) -> list[FailureMode]:
    """Every finding over all samples: by place where the place is the rule's own, or else the least of the rule."""
    arrived = [result for result in results if not any(f.rule in END_RULES for f in result.findings)]
    counted = Counter(pair for result in arrived for pair in {(f.rule, f.place) for f in result.findings})
    of_rules: dict[str, list[list[SampledFinding]]] = {}  # findings of each rule in each sample
    for number, result in enumerate(results):
        for finding in result.findings:
            if finding.rule not in of_rules:
                of_rules[finding.rule] = [[] for _ in results]
            of_rules[finding.rule][number].append(finding)
    modes = []
    for rule, of_samples in of_rules.items():
        found = {finding.place for here in of_samples for finding in here}
        several = any(len(here) > 1 for here in of_samples)  # it judges more than one place in a sample
        own = {
            place
            for place in found
            if several and counted[rule, place] >= ARRIVALS_WITH_PLACE * max(len(arrived), 1)
        }
        modes += [_mode(rule, place, {place}, of_samples, base) for place in sorted(own)]
        if rest := found - own:
            name = ANYWHERE if len(rest) > 1 else next(iter(rest))
            modes.append(_mode(rule, name, rest, of_samples, base))
    return modes


def _mode(
    rule: str, name: str, places: set[str], of_samples: Sequence[Sequence[SampledFinding]], base: Check
) -> FailureMode:
    """A rule at some places: in each sample the finding with the least margin.

    Args:
        rule: The rule.
        name: Name of its places.
        places: The places.
        of_samples: Findings of the rule in each sample.
        base: The check as given.
    """
    fails = np.zeros(len(of_samples), dtype=bool)
    values = np.full(len(of_samples), np.nan)
    margins = np.full(len(of_samples), np.nan)
    failing_at: Counter[str] = Counter()
    limits: set[tuple[float, str]] = set()
    for number, findings in enumerate(of_samples):
        here = [f for f in findings if f.place in places]
        if not here:
            continue
        worst = min(here, key=lambda f: (not f.fails, f.margin))
        fails[number], values[number], margins[number] = worst.fails, worst.value, worst.margin
        limits.add(worst.limit)
        if worst.fails:
            failing_at[worst.place] += 1
    given = [f for f in base.findings if f.rule == rule and f.place in places]
    return FailureMode(
        rule=rule,
        place=name,
        where=tuple(sorted(failing_at.items(), key=lambda item: (-item[1], item[0]))),
        example=min(given, key=lambda f: f.margin, default=None),
        limit=next(iter(limits)) if len(limits) == 1 else None,
        fails=fails,
        values=values,
        margins=margins,
        probability=probability(int(np.count_nonzero(fails)), len(of_samples)),
    )


def _whole_plan(results: Sequence[SampleResult]) -> FailureMode:
    """The whole plan: it fails where a finding fails; its margin is the least of all."""
    fails = np.array([result.verdict == STOP for result in results], dtype=bool)
    margins = np.array([_least([f.margin for f in result.findings]) for result in results])
    return FailureMode(
        rule=WHOLE_PLAN,
        place="whole line",
        where=(),
        example=None,
        limit=None,
        fails=fails,
        values=margins,
        margins=margins,
        probability=probability(int(np.count_nonzero(fails)), len(results)),
    )


def _least(margins: Sequence[float] | Floats) -> float:
    """Least of the margins that are numbers; not a number without any."""
    return float(min(filter(math.isfinite, margins), default=math.nan))


def _with_drivers(mode: FailureMode, inputs: Sequence[RankedInput]) -> FailureMode:
    """A failure mode with what each input does to it."""
    # The least margin of the plan is that of one rule in one sample and of another in the next: it tells little.
    of_plan = mode.rule == WHOLE_PLAN and bool(np.any(mode.fails))
    by_margin = bool(np.all(np.isfinite(mode.margins))) and not of_plan
    result = mode.margins if by_margin else -mode.fails.astype(float)
    return replace(mode, drivers=influences(result, inputs, failed=mode.fails), by_margin=by_margin)
