"""The answer to a proposed excursion: run, findings, contingencies and latest departure as one object."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import field
from functools import partial
from typing import Any

from locosim import __version__
from locosim.engine.performance import Performance
from locosim.frozen import frozen
from locosim.journey.result import Journey
from locosim.model import Excursion
from locosim.planning.bands import with_bands
from locosim.planning.check import Check, run_and_check
from locosim.planning.contingencies import Contingency, contingency_runs
from locosim.planning.finding import Finding
from locosim.planning.latest_departure import Departures, MissedArrival
from locosim.planning.remedies import Remedy, changes_tried, remedy_searches, sort_remedies
from locosim.side_by_side import answer_each


@frozen(eq=False)
class Answer:
    """A check whole.

    Attributes:
        check: Verdict and findings, with the run they rest on.
        contingencies: The check repeated with one thing changed at a time, and those not run with the reason; empty
            where they were not wanted.
        remedies: Changes that were run and help, by the rule they help; empty where they were not wanted.
        changes_tried: Kinds of change that were run, by rule, whether or not they help.
        latest_departure: Latest departure that keeps every advertised arrival, on the clock [s]; None where no
            arrival is advertised or no departure keeps them.
        arrivals_never_kept: Advertised arrivals that no departure keeps, with how late the train is if it leaves two
            hours earlier.
        version: Version of locosim that computed it.
    """

    check: Check
    contingencies: tuple[Contingency, ...] = ()
    remedies: tuple[Remedy, ...] = ()
    changes_tried: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    latest_departure: float | None = None
    arrivals_never_kept: tuple[MissedArrival, ...] = ()
    version: str = __version__

    @property
    def journey(self) -> Journey:
        """The run."""
        return self.check.journey

    @property
    def excursion(self) -> Excursion:
        """The excursion as run."""
        return self.check.journey.excursion

    @property
    def performance(self) -> Performance:
        """Performance of its engine."""
        return self.check.journey.performance

    @property
    def verdict(self) -> str:
        """`clear`, `tight` or `stop`: the worst of the findings."""
        return self.check.verdict

    @property
    def full_effort(self) -> Journey:
        """The run at full effort."""
        return self.check.runs.full_effort

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Findings, worst verdict first, then least margin first."""
        return self.check.findings

    def remedies_for(self, rule: str) -> tuple[Remedy, ...]:
        """Changes that were run and help a rule."""
        return tuple(each for each in self.remedies if each.rule == rule)

    @property
    def not_run(self) -> tuple[Contingency, ...]:
        """Contingencies that do not apply, each with its reason."""
        return tuple(each for each in self.contingencies if each.not_run)

    @property
    def provenance(self) -> Any:
        """Files, their hashes and the changes the excursion was made from; None where it was made in code."""
        return getattr(self.excursion, "provenance", None)


def check_excursion(
    excursion: Excursion, *, contingencies: bool = True, remedies: bool = True, bands: bool = True
) -> Answer:
    """Run an excursion, apply every rule, repeat it with each contingency and remedy, and find the latest departure.

    For many similar excursions use `Checker`, which begins each from the runs of the first.

    Args:
        excursion: Engine, train, route, stops and conditions.
        contingencies: Whether to repeat the check with each contingency, which multiplies the time.
        remedies: Whether to run remedies for the findings that are not clear, which takes longer still.
        bands: Whether to judge findings with small margins over the range of the assumptions they rest on; without,
            a verdict is that of the assumed values alone, but contingencies and remedies are judged with theirs.

    Raises:
        OutOfRange: The excursion needs something that its route or engine does not have.
    """
    check = run_and_check(excursion)
    if bands:
        check = with_bands(check)
    searches = remedy_searches(check) if remedies else []
    repetitions = contingency_runs(check) if contingencies else []
    # The long ones first, so that all cores have work to the end.
    questions: list[Callable[[], Any]] = [*searches, *repetitions, partial(_latest_departure, check)]
    *found, latest = answer_each(questions)
    helped = [remedy for each in found[: len(searches)] for remedy in each]
    return Answer(
        check=check,
        contingencies=tuple(found[len(searches) :]),
        remedies=sort_remedies(check, helped),
        changes_tried=changes_tried(check) if remedies else {},
        latest_departure=latest[0],
        arrivals_never_kept=latest[1],
    )


def _latest_departure(check: Check) -> tuple[float | None, tuple[MissedArrival, ...]]:
    """Latest departure that keeps the advertised arrivals, and if none does, those that are never kept."""
    departures = Departures(check.runs.full_effort)
    latest = departures.latest()
    return latest, departures.never_kept() if latest is None else ()
