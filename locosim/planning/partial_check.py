"""The check of one excursion in parts, each of which is run when it is first asked for."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property

from locosim.engine.performance import Performance
from locosim.journey.needs import Need
from locosim.journey.result import Journey
from locosim.journey.run import run_full_effort
from locosim.model import Excursion
from locosim.planning.check import Check, judge_booked, judge_full_effort, sorted_check
from locosim.planning.finding import Finding
from locosim.planning.rules.adhesion import adhesion
from locosim.planning.rules.boiler import steaming
from locosim.planning.rules.stall import stalling
from locosim.planning.trial_runs import TrialRuns, find_adhesion_need, find_need, run_booked

FULL_EFFORT, STEAM, ADHESION, BOOKED = "full effort", "steam", "adhesion", "booked run"
PARTS = (FULL_EFFORT, STEAM, ADHESION, BOOKED)  # in the order of `judge_runs`, the cheapest first


class PartialCheck:
    """The check of one excursion, of which a search asks for no more parts than it needs."""

    def __init__(
        self, excursion: Excursion, performance: Performance, *, begin: TrialRuns | None = None
    ) -> None:
        """Run nothing yet.

        Args:
            excursion: The excursion.
            performance: Performance of its engine.
            begin: Runs of a similar excursion, from which the searches begin.
        """
        self._excursion, self._performance, self._begin = excursion, performance, begin
        self._found: dict[str, list[Finding]] = {}

    @cached_property
    def booked(self) -> Journey:
        """The run to the booked times."""
        return run_booked(self._excursion, self._performance, begin=self._begin)

    @cached_property
    def full_effort(self) -> Journey:
        """The run at full effort."""
        return run_full_effort(self._excursion, self._performance)

    @cached_property
    def need(self) -> Need:
        """Least steam that suffices."""
        return find_need(self._excursion, self._performance, begin=self._begin)

    @cached_property
    def adhesion_need(self) -> Need:
        """Least adhesion that suffices."""
        return find_adhesion_need(self._excursion, self._performance, self.need, begin=self._begin)

    def findings(self, part: str) -> list[Finding]:
        """Findings of the rules of a part, with a stall in its run."""
        stalled = stalling(self.booked) if part == BOOKED else self._stalled_at_full_effort
        return [*stalled, *self._judged(part)]

    def check(self) -> Check:
        """The whole check, the same as that of `run_and_check`."""
        runs = TrialRuns(
            booked=self.booked,
            full_effort=self.full_effort,
            need=self.need,
            adhesion_need=self.adhesion_need,
        )
        stalled = self._stalled_at_full_effort or stalling(self.booked)
        return sorted_check([*stalled, *(finding for part in PARTS for finding in self._judged(part))], runs)

    @cached_property
    def _stalled_at_full_effort(self) -> list[Finding]:
        return stalling(self.full_effort) if self.full_effort.outcome == "stalled" else []

    def _judged(self, part: str) -> list[Finding]:
        """Findings of the rules of a part alone."""
        if part not in self._found:
            self._found[part] = JUDGED[part](self)
        return self._found[part]


JUDGED: dict[str, Callable[[PartialCheck], list[Finding]]] = {
    FULL_EFFORT: lambda part: judge_full_effort(part.full_effort),
    STEAM: lambda part: steaming(part.full_effort, part.need),
    ADHESION: lambda part: adhesion(part.full_effort, part.adhesion_need),
    BOOKED: lambda part: judge_booked(part.booked),
}
