"""Functions and results for a road log."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from locosim.library.table import Column, Result, column
from locosim.model import Excursion
from locosim.model.road_log import RoadLog
from locosim.scenario.road_log import read_road_log
from locosim.studies.fit import fit_log
from locosim.studies.log_fit import FittedConstant, LogFit


class FitResult(Result[LogFit]):
    """Constants fitted to a road log: one row for each, in SI."""

    command = "fit"

    @property
    def rows(self) -> tuple[FittedConstant, ...]:
        """The constants with their intervals, in SI."""
        return self.content.constants

    @property
    def excursion(self) -> Excursion:
        """The excursion with the fitted constants, ready for `check`."""
        return self.content.fitted

    @property
    def changes(self) -> tuple[str, ...]:
        """The fitted constants as changes, `key=value`."""
        return self.content.changes

    def title(self) -> str:
        """Name of the excursion and of the log."""
        return f"{self.content.excursion.name}: constants from the road log {self.content.laid.log.name}"

    @property
    def method(self) -> str:
        """Method of computing the engine, `cycle` or `handbook`."""
        return self.content.performance.method

    def columns(self) -> Sequence[Column]:
        """One row for each constant; in SI, since each has a unit of its own."""
        return [
            column("constant", None, self.rows, lambda each: each.name),
            column("in the files", None, self.rows, lambda each: each.before),
            column("fitted", None, self.rows, lambda each: each.value),
            column("low 95 %", None, self.rows, lambda each: each.low),
            column("high 95 %", None, self.rows, lambda each: each.high),
        ]


def fit(log: str | Path | RoadLog, excursion: Excursion, *, constants: Sequence[str] = ()) -> FitResult:
    """Fit constants of an engine and its train to a road log.

    Args:
        log: CSV file, or a log made in code.
        excursion: Engine, train, route, weather and stops of the trip.
        constants: Constants to fit, of `car_mass`, `resistance_factor`, `car_rolling`, `car_air`, `headwind`,
            `machine_friction`, `machine_friction_share`, `steam_rate_factor`, `unburned_factor` and `heating_value`;
            those that such a log usually shows if omitted.

    Raises:
        ScenarioError: The file has problems.
        OutOfRange: A constant that is not known, or constants that the log does not tell apart.
    """
    noted = log if isinstance(log, RoadLog) else read_road_log(log)
    return FitResult(fit_log(noted, excursion, constants))
