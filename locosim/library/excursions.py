"""Functions and results for an excursion: the run and the check."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from locosim.engine.performance import compute_excursion_performance
from locosim.journey.run import LIMITS, Journey, StopRecord, run_journey
from locosim.library.table import DEFAULT_UNITS, Column, Result, Table, as_number, column, number_unit
from locosim.model import Excursion
from locosim.planning.answer import Answer, check_excursion
from locosim.planning.contingencies import Contingency
from locosim.planning.finding import Finding
from locosim.report.text.layout import format_text

if TYPE_CHECKING:
    from locosim.plot.figure import Figure


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Samples(Table):
    """Samples of a run, one row for each node; a quantity of a step is in the row where the step begins.

    Attributes:
        journey: The run.
    """

    journey: Journey

    def title(self, units: str = DEFAULT_UNITS) -> str:
        """Name and outcome of the excursion."""
        return f"{self.journey.excursion.name}: {self.journey.outcome}, samples"

    def columns(self, units: str) -> Sequence[Column]:
        """Those of the CSV file of a run, in SI."""
        from locosim.report.csv import COLUMNS

        count = len(self.journey.time)
        limits = [LIMITS[int(code)] for code in self.journey.limit]
        columns = [Column("clock", "clock", self.journey.time.tolist())]
        for each in COLUMNS:
            values = np.asarray(each.values(self.journey)).tolist()
            if values:
                columns.append(Column(each.name, each.kind, _filled(values, count)))
        return [*columns, Column("limited by", None, _filled(limits, count))]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Run(Result):
    """One run of an excursion: a table of the stops, and the samples.

    Attributes:
        journey: The run, as arrays in SI.
    """

    journey: Journey

    @property
    def rows(self) -> tuple[StopRecord, ...]:
        """Stops reached, in SI."""
        return self.journey.stops

    @property
    def outcome(self) -> str:
        """`arrived`, or what ended the run."""
        return self.journey.outcome

    @property
    def samples(self) -> Samples:
        """Speed, tractive effort, pressure and the rest along the line."""
        return Samples(journey=self.journey)

    def title(self, units: str = DEFAULT_UNITS) -> str:
        """Name and outcome of the excursion."""
        return f"{self.journey.excursion.name}: {self.journey.outcome}"

    @property
    def provenance(self) -> Any:
        """Files and changes the excursion was made from; None where it was made in code."""
        return getattr(self.journey.excursion, "provenance", None)

    def columns(self, units: str) -> Sequence[Column]:
        """One row for each stop reached."""
        start = float(self.journey.chainage[0])
        return [
            column("station", None, self.rows, lambda s: s.station),
            column("distance", "distance", self.rows, lambda s: s.chainage - start),
            column("arrival", "clock", self.rows, lambda s: s.arrive),
            column("departure", "clock", self.rows, lambda s: s.depart),
            column("water on arrival", "water", self.rows, lambda s: s.water_on_arrival),
            column("fuel on arrival", "mass", self.rows, lambda s: s.fuel_on_arrival),
        ]

    def text(self, units: str = DEFAULT_UNITS) -> str:
        """Text as the command `run` prints it."""
        from locosim.report.text.run import run_text

        return run_text(self.journey, units)

    def json(self) -> str:
        """JSON in SI as the command `run` writes it, with the samples."""
        from locosim.report.json.journey import run_json

        return run_json(self.journey)

    def csv(self, units: str = DEFAULT_UNITS) -> str:
        """Samples for a spreadsheet, as the command `run` writes them."""
        from locosim.report.csv import run_csv

        return run_csv(self.journey, units)

    def figure(self, units: str) -> Figure:
        """Speed, profile, tractive effort, boiler and tender over distance."""
        from locosim.plot.run import plot_run

        return plot_run(self.journey, units)


def run(excursion: Excursion) -> Run:
    """Run an excursion: times, water, fuel and balances.

    Args:
        excursion: Engine, train, route, stops and conditions.

    Raises:
        OutOfRange: The excursion needs something that its route or engine does not have.
    """
    performance = compute_excursion_performance(excursion)
    return Run(journey=run_journey(excursion, performance, transient_boiler=True))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class CheckedExcursion(Result):
    """The answer to a proposed excursion.

    Attributes:
        answer: Run, findings, contingencies and latest departure, in SI.
    """

    answer: Answer

    @property
    def verdict(self) -> str:
        """`clear`, `tight` or `stop`: the worst of the findings."""
        return self.answer.verdict

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Findings, worst verdict first, then least margin first, in SI."""
        return self.answer.findings

    @property
    def rows(self) -> tuple[Finding, ...]:
        """The findings."""
        return self.answer.findings

    @property
    def contingencies(self) -> tuple[Contingency, ...]:
        """The check repeated with one thing changed at a time; those not run have the reason in `not_run`."""
        return self.answer.contingencies

    @property
    def latest_departure(self) -> float | None:
        """Latest departure that keeps every advertised arrival, on the clock [s]; None where there is none."""
        return self.answer.latest_departure

    @property
    def run(self) -> Run:
        """The run that the findings rest on."""
        return Run(journey=self.answer.journey)

    def title(self, units: str = DEFAULT_UNITS) -> str:
        """Name of the excursion and verdict."""
        return f"{self.answer.excursion.name}: {self.answer.verdict.upper()}"

    @property
    def provenance(self) -> Any:
        """Files and changes the excursion was made from; None where it was made in code."""
        return self.answer.provenance

    def columns(self, units: str) -> Sequence[Column]:
        """One row for each finding; value and limit have the unit of their own row."""
        return [
            column("verdict", None, self.rows, lambda f: f.verdict),
            column("rule", None, self.rows, lambda f: f.rule),
            column("place", None, self.rows, lambda f: f.place),
            column("value", None, self.rows, lambda f: as_number(f.value, f.kind, units)),
            column("limit", None, self.rows, lambda f: as_number(f.limit, f.kind, units)),
            column("unit", None, self.rows, lambda f: number_unit(f.kind, units)),
            column("margin", "ratio", self.rows, lambda f: f.margin),
            column("because", None, self.rows, lambda f: format_text(f.because, f.facts, units)),
            column("remedy", None, self.rows, lambda f: format_text(f.remedy, f.facts, units)),
        ]

    def text(self, units: str = DEFAULT_UNITS, *, everything: bool = False) -> str:
        """Text as the command `check` prints it; `everything` shows every clear finding, as `--all`."""
        from locosim.report.text.check import check_text

        answer = self.answer
        latest = answer.latest_departure
        return check_text(answer.check, answer.contingencies, latest, units, everything=everything)

    def json(self) -> str:
        """JSON in SI as the command `check` writes it."""
        from locosim.report.json.journey import check_json

        return check_json(self.answer.check, self.answer.contingencies, self.answer.latest_departure)

    def html(self, units: str = DEFAULT_UNITS) -> str:
        """Report as one HTML page, as the command `check` writes it with `--report`."""
        from locosim.engine.speed_curve import evenly_spaced_speeds, speed_curve
        from locosim.plot.engine import plot_curve
        from locosim.plot.figure import figure_bytes, panel_span
        from locosim.report.html.check import check_html

        answer, rail = self.answer, self.answer.excursion.rail
        points = speed_curve(
            answer.performance, speeds=evenly_spaced_speeds(answer.performance, 1.0), rail=rail
        )
        run_figure = self.figure(units)
        run_svg = figure_bytes(run_figure, ".svg")
        return check_html(
            answer.check,
            answer.contingencies,
            answer.latest_departure,
            units,
            run_svg=run_svg,
            run_panel_span=panel_span(run_figure),
            engine_svg=figure_bytes(plot_curve(answer.performance, points, rail, units), ".svg"),
        )

    def figure(self, units: str) -> Figure:
        """The run, with the findings that are not clear marked."""
        from locosim.plot.run import plot_run

        return plot_run(self.answer.journey, units, self.findings)

    def _writers(self, units: str) -> Mapping[str, Callable[[], bytes]]:
        return {".html": lambda: self.html(units).encode(), **Result._writers(self, units)}


def check(excursion: Excursion, *, contingencies: bool = True) -> CheckedExcursion:
    """Check a proposed excursion: verdict, findings, contingencies and latest departure.

    Args:
        excursion: Engine, train, route, stops and conditions.
        contingencies: Whether to repeat the check with each contingency, which multiplies the time.

    Raises:
        OutOfRange: The excursion needs something that its route or engine does not have.
    """
    return CheckedExcursion(answer=check_excursion(excursion, contingencies=contingencies))


def _filled(values: Sequence[Any], count: int) -> list[Any]:
    """Values with None at the nodes that begin no step."""
    return [*values, *[None] * (count - len(values))]
