"""Checks of many excursions that differ little from one: a search for a load, a time or a rail."""

from __future__ import annotations

from locosim.engine.performance import Performance
from locosim.model import Excursion
from locosim.planning.bands import doubts, with_doubts
from locosim.planning.check import Check, run_and_check
from locosim.planning.trial_runs import Needs


class Checker:
    """Checks similar excursions, each begun from the runs of the first.

    A result does not depend on what was checked before it, so a search may ask in any order, and a batch may be
    divided between processes.

    Attributes:
        base: The check to begin from.
    """

    def __init__(self, base: Check) -> None:
        """Take the runs of a check to begin from, and its doubts.

        Args:
            base: The check of a similar excursion, with bands where its doubts shall count.
        """
        self.base = base
        self._doubts = doubts(base)

    def check(
        self, excursion: Excursion, performance: Performance | None = None, *, near: Needs | None = None
    ) -> Check:
        """Run an excursion and apply every rule; a margin within the doubts of the base is tight.

        Args:
            excursion: The excursion.
            performance: Performance of its engine, if already computed.
            near: Needs to expect, where the searches for them begin in place of those of the base.

        Raises:
            OutOfRange: It needs something that its route or engine does not have.
        """
        found = run_and_check(excursion, performance, begin=self.base.runs, near=near)
        return with_doubts(found, self._doubts)
