"""Function and result about probabilities: how often an excursion fails, and by what."""

from __future__ import annotations

from collections.abc import Sequence

from locosim.library.table import Column, Result, column
from locosim.model import Excursion
from locosim.report.text.risk import headline
from locosim.studies.failure_statistics import Probability
from locosim.studies.risk import FailureMode, Risk, find_risk


class RiskResult(Result[Risk]):
    """How often each finding of an excursion fails: a row for each."""

    command = "risk"

    @property
    def rows(self) -> tuple[FailureMode, ...]:
        """The whole plan, then every finding, the most probable failure first."""
        return (self.content.plan, *self.content.modes)

    @property
    def probability(self) -> Probability:
        """Probability that the plan fails, with its interval."""
        return self.content.plan.probability

    def title(self) -> str:
        """The answer in a line."""
        return headline(self.content)

    @property
    def method(self) -> str:
        """Method of computing the engine, `cycle` or `handbook`."""
        return self.content.performance.method

    def columns(self) -> Sequence[Column]:
        """Rule, place, number of failures, probability with its interval, and the margin as given."""
        rows = self.rows
        return [
            column("rule", None, rows, lambda each: each.rule),
            column("place", None, rows, lambda each: each.place),
            column("fails", None, rows, lambda each: each.probability.count),
            column("probability", "ratio", rows, lambda each: each.probability.estimate),
            column("low", "ratio", rows, lambda each: each.probability.low),
            column("high", "ratio", rows, lambda each: each.probability.high),
            column("margin as given", "ratio", rows, lambda each: each.example and each.example.margin),
        ]


def risk(excursion: Excursion, *, samples: int = 1000, seed: int = 1, jobs: int | None = None) -> RiskResult:
    """Find how often an excursion fails under what is not known of it, by what, and what drives it.

    With more than one job, call it in a script under `if __name__ == "__main__":`.

    Args:
        excursion: Engine, train, route, stops and conditions, with its uncertain inputs in `uncertainty`.
        samples: Number of samples.
        seed: Seed; the same one gives the same samples.
        jobs: Number of processes; all cores if left out. The result does not depend on it.

    Raises:
        OutOfRange: A number of samples that is out of range, an input that names no key, or nothing to vary.
    """
    return RiskResult(find_risk(excursion, samples=samples, seed=seed, jobs=jobs))
