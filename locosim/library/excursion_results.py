"""Functions and results for an excursion: the run and the check."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from locosim.engine.performance import compute_excursion_performance
from locosim.frozen import frozen
from locosim.journey.result import LIMITS, Journey, StopRecord
from locosim.journey.run import run_to_timetable
from locosim.library.table import DEFAULT_UNITS, Column, Result, Table, as_number, column, unit_of
from locosim.model import Excursion
from locosim.planning.answer import Answer, check_excursion
from locosim.planning.contingencies import Contingency
from locosim.planning.finding import Finding
from locosim.planning.remedies import Remedy
from locosim.report.csv import COLUMNS
from locosim.report.text.check import check_text
from locosim.report.text.layout import format_text
from locosim.units import unit_system


@frozen(eq=False)
class Samples(Table):
    """Samples of a run, one row for each node; a quantity of a step is in the row where the step begins.

    Attributes:
        journey: The run.
    """

    journey: Journey

    def title(self) -> str:
        """Name and outcome of the excursion."""
        return f"{self.journey.excursion.name}: {self.journey.outcome}, samples"

    def columns(self) -> Sequence[Column]:
        """Those of the CSV file of a run, in SI."""
        count = len(self.journey.time)
        limits = [LIMITS[int(code)] for code in self.journey.limit]
        columns = [Column("clock", "clock", self.journey.time.tolist())]
        for each in COLUMNS:
            values = np.asarray(each.values(self.journey)).tolist()
            if values:
                columns.append(Column(each.name, each.kind, _filled(values, count)))
        return [*columns, Column("limited by", None, _filled(limits, count))]


class RunResult(Result[Journey]):
    """One run of an excursion: a table of the stops, and the samples."""

    command = "run"

    @property
    def rows(self) -> tuple[StopRecord, ...]:
        """Stops reached, in SI."""
        return self.content.stops

    @property
    def outcome(self) -> str:
        """`arrived`, or what ended the run."""
        return self.content.outcome

    @property
    def samples(self) -> Samples:
        """Speed, tractive effort, pressure and the rest along the line."""
        return Samples(journey=self.content)

    def title(self) -> str:
        """Name and outcome of the excursion."""
        return f"{self.content.excursion.name}: {self.content.outcome}"

    @property
    def method(self) -> str:
        """Method of computing the engine, `cycle` or `handbook`."""
        return self.content.performance.method

    def columns(self) -> Sequence[Column]:
        """One row for each stop reached."""
        start = float(self.content.chainage[0])
        return [
            column("station", None, self.rows, lambda s: s.station),
            column("distance", "distance", self.rows, lambda s: s.chainage - start),
            column("arrival", "clock", self.rows, lambda s: s.arrive),
            column("departure", "clock", self.rows, lambda s: s.depart),
            column("water on arrival", "water", self.rows, lambda s: s.water_on_arrival),
            column("fuel on arrival", "mass", self.rows, lambda s: s.fuel_on_arrival),
        ]


def run(excursion: Excursion) -> RunResult:
    """Run an excursion to its booked times: times, water, fuel and balances.

    Args:
        excursion: Engine, train, route, stops and conditions.

    Raises:
        OutOfRange: The excursion needs something that its route or engine does not have.
    """
    performance = compute_excursion_performance(excursion)
    return RunResult(run_to_timetable(excursion, performance))


class CheckResult(Result[Answer]):
    """The answer to a proposed excursion: verdict, findings, contingencies and latest departure."""

    command = "check"

    @property
    def verdict(self) -> str:
        """`clear`, `tight` or `stop`: the worst of the findings."""
        return self.content.verdict

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Findings, worst verdict first, then least margin first, in SI."""
        return self.content.findings

    @property
    def rows(self) -> tuple[Finding, ...]:
        """The findings."""
        return self.content.findings

    @property
    def contingencies(self) -> tuple[Contingency, ...]:
        """The check repeated with one thing changed at a time; those not run have the reason in `not_run`."""
        return self.content.contingencies

    @property
    def remedies(self) -> tuple[Remedy, ...]:
        """Changes that were run and help, by the rule they help."""
        return self.content.remedies

    @property
    def latest_departure(self) -> float | None:
        """Latest departure that keeps every advertised arrival, on the clock [s]; None where there is none."""
        return self.content.latest_departure

    @property
    def run(self) -> RunResult:
        """The run that the findings rest on."""
        return RunResult(self.content.journey)

    def title(self) -> str:
        """Name of the excursion and verdict."""
        return f"{self.content.excursion.name}: {self.content.verdict.upper()}"

    @property
    def method(self) -> str:
        """Method of computing the engine, `cycle` or `handbook`."""
        return self.content.performance.method

    def columns(self) -> Sequence[Column]:
        """One row for each finding; value and limit have the unit of their own row."""
        return [
            column("verdict", None, self.rows, lambda f: f.verdict),
            column("rule", None, self.rows, lambda f: f.rule),
            column("place", None, self.rows, lambda f: f.place),
            column("value", None, self.rows, lambda f: as_number(f.value, f.kind)),
            column("limit", None, self.rows, lambda f: as_number(f.limit, f.kind)),
            column("unit", None, self.rows, lambda f: unit_of(f.kind)),
            column("margin", "ratio", self.rows, lambda f: f.margin),
            column("because", None, self.rows, lambda f: format_text(f.because, f.facts)),
            column("advice, not run", None, self.rows, lambda f: format_text(f.remedy, f.facts)),
        ]

    def text(self, units: str = DEFAULT_UNITS, *, everything: bool = False) -> str:
        """Text as the command `check` prints it.

        Args:
            units: `us`, `metric` or `british`.
            everything: Show every clear finding, not only the one with the least margin of each rule.

        Raises:
            UnitError: Units that are not known.
        """
        with unit_system(units):
            return check_text(self.content, everything=everything)


def check(excursion: Excursion, *, contingencies: bool = True, remedies: bool = True) -> CheckResult:
    """Check a proposed excursion: verdict, findings, contingencies, remedies and latest departure.

    Args:
        excursion: Engine, train, route, stops and conditions.
        contingencies: Whether to repeat the check with each contingency, which multiplies the time.
        remedies: Whether to run remedies for the findings that are not clear, which takes longer still.

    Raises:
        OutOfRange: The excursion needs something that its route or engine does not have.
    """
    return CheckResult(check_excursion(excursion, contingencies=contingencies, remedies=remedies))


def _filled(values: Sequence[Any], count: int) -> list[Any]:
    """Values with None at the nodes that begin no step."""
    return [*values, *[None] * (count - len(values))]
