"""Functions and results for helper engines."""

from __future__ import annotations

from collections.abc import Sequence

from locosim.library.table import Column, Result, column
from locosim.model import Excursion, Locomotive
from locosim.planning.doubling import Doubling
from locosim.planning.helper_plan import HelperPlan, HelperService, plan_helper
from locosim.report.pull_table import COLUMNS, Row, pull_rows


class HelperPlanResult(Result[HelperPlan]):
    """Help for an excursion: a table of the pulls that suffice, the helper, and doubling the hill instead."""

    command = "helper"

    @property
    def rows(self) -> tuple[Row, ...]:
        """Pulls that suffice with their stretches, the least first, in SI."""
        return pull_rows(self.content)

    @property
    def needed(self) -> bool:
        """Whether the train engine alone is stopped by something that help can cure."""
        return self.content.needed

    @property
    def service(self) -> HelperService | None:
        """The helper over the shortest stretch that suffices; None where none is needed or none suffices."""
        return self.content.service

    @property
    def doubling(self) -> Doubling | None:
        """Doubling the hill; None where no help is needed or the train cannot be divided."""
        return self.content.doubling

    def title(self) -> str:
        """Name of the excursion and whether help is needed."""
        needed = "help needed" if self.needed else "no help needed"
        return f"{self.content.alone.journey.excursion.name}: {needed}"

    @property
    def method(self) -> str:
        """Method of computing the engine, `cycle` or `handbook`."""
        return self.content.performance.method

    def columns(self) -> Sequence[Column]:
        """One row for each pull."""
        return [column(name, kind, self.rows, value) for name, kind, value in COLUMNS]


def helper_plan(
    excursion: Excursion, *, locomotive: Locomotive | None = None, place: str | None = None
) -> HelperPlanResult:
    """Find where an excursion needs help, and what a helper or doubling the hill does.

    Args:
        excursion: The excursion; its helpers are left out, and the first is tried if no engine is given.
        locomotive: The helper engine; if omitted, the first helper of the excursion or one like the train engine.
        place: `front` or `rear`.

    Raises:
        OutOfRange: The excursion needs something that its route or engine does not have.
    """
    return HelperPlanResult(plan_helper(excursion, locomotive=locomotive, place=place))
