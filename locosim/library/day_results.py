"""Function and result for a day of several legs."""

from __future__ import annotations

from collections.abc import Sequence

from locosim.library.excursion_results import CheckResult
from locosim.library.table import DEFAULT_UNITS, Column, Result, column
from locosim.model import Day
from locosim.planning.day import DayAnswer, DayRemedy, LegAnswer
from locosim.planning.day import check_day as check_legs
from locosim.planning.day_remedies import with_day_remedies
from locosim.planning.duty import Duty
from locosim.planning.finding import Finding
from locosim.planning.helper_duty import Help
from locosim.report.text.day import day_method, day_text
from locosim.units import unit_system


class DayResult(Result[DayAnswer]):
    """The answer to a proposed day: verdict, legs, findings for the day, hours of the crews."""

    command = "day"

    @property
    def verdict(self) -> str:
        """`clear`, `tight` or `stop`: the worst of the legs and of the findings for the day."""
        return self.content.verdict

    @property
    def rows(self) -> tuple[LegAnswer, ...]:
        """The legs, with the layover before each, in SI."""
        return self.content.legs

    @property
    def legs(self) -> tuple[CheckResult, ...]:
        """Checks of the legs that were run, without contingencies and remedies."""
        return tuple(CheckResult(answer) for answer in self.content.answers)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Findings for the day, worst verdict first, in SI; those of the legs are in `legs`."""
        return self.content.findings

    @property
    def remedies(self) -> tuple[DayRemedy, ...]:
        """Changes of the day that were run and help a finding for the day."""
        return self.content.remedies

    @property
    def duties(self) -> tuple[Duty, ...]:
        """Hours of the crews."""
        return self.content.duties

    @property
    def helps(self) -> tuple[tuple[Help, ...], ...]:
        """What each helper does: water and fuel used while it helps, and its run back light."""
        return self.content.helps

    def title(self) -> str:
        """Name of the day and verdict."""
        return f"{self.content.day.name}: {self.content.verdict.upper()}"

    @property
    def method(self) -> str:
        """Method of computing the engines, `cycle`, or `handbook` if that of any leg is."""
        return day_method(self.content)

    def columns(self) -> Sequence[Column]:
        """One row for each leg; blank where it was not run."""
        runs = [None if leg.answer is None else leg.answer.journey for leg in self.rows]
        return [
            column("leg", None, self.rows, lambda leg: leg.number),
            column("verdict", None, self.rows, lambda leg: leg.verdict or "not run"),
            column("from", None, self.rows, lambda leg: leg.leg.origin),
            column("to", None, self.rows, lambda leg: leg.leg.destination),
            column("engine", None, self.rows, lambda leg: leg.leg.engine),
            column("departure", "clock", runs, lambda run: None if run is None else run.stops[0].depart),
            column(
                "arrival", "clock", runs, lambda run: run.stops[-1].arrive if run and run.arrived else None
            ),
            column(
                "water left", "water", runs, lambda run: None if run is None else float(run.tender_water[-1])
            ),
            column(
                "fuel left", "mass", runs, lambda run: None if run is None else float(run.tender_fuel[-1])
            ),
        ]

    def text(self, units: str = DEFAULT_UNITS, *, everything: bool = False) -> str:
        """Text as the command prints it.

        Args:
            units: `us`, `metric` or `british`.
            everything: Show every clear finding of the legs, not only the closest one of each.

        Raises:
            UnitError: Units that are not known.
        """
        with unit_system(units):
            return day_text(self.content, everything=everything)


def check_day(day: Day, *, remedies: bool = True) -> DayResult:
    """Check a day leg by leg, with time, water and fuel carried from each into the next.

    Args:
        day: Legs, layovers and hours of the crew.
        remedies: Whether to run remedies for the findings for the day that are not clear, which takes longer.

    Raises:
        OutOfRange: An excursion needs something that its route or engine does not have.
    """
    answer = check_legs(day)
    return DayResult(with_day_remedies(answer) if remedies else answer)
