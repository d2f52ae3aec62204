"""Functions and results for water and fuel stops."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from locosim.library.table import Column, Result, column
from locosim.model import Excursion
from locosim.planning.supply_plans import SupplyPlan
from locosim.planning.supply_stretches import Gap
from locosim.planning.water_stops import Refusal, WaterCarEffect, WaterStops, plan_water_stops
from locosim.report.supply_table import COLUMNS, Row, supply_rows


class WaterStopsResult(Result[WaterStops]):
    """The least set of water and fuel stops, the runner-up, and the smaller sets that were run and refused."""

    command = "water"

    @property
    def rows(self) -> tuple[Row, ...]:
        """Stops of the least set and of the runner-up, in SI."""
        return supply_rows(self.content)

    @property
    def best(self) -> SupplyPlan | None:
        """The least set; None where the places of the line do not suffice."""
        return self.content.least.best

    @property
    def proven(self) -> bool:
        """Whether no smaller set suffices: each was run and refused, or left out by the reach."""
        return self.content.least.proven

    @property
    def runner_up(self) -> SupplyPlan | None:
        """The next best set; None without any."""
        return self.content.least.runner_up

    @property
    def refused(self) -> tuple[Refusal, ...]:
        """Smaller sets that were run and refused, the nearest to the reserve first."""
        return self.content.least.refused

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """Where the places are too far apart, with the stretches in which a stop must lie."""
        return self.content.gaps

    @property
    def water_car(self) -> WaterCarEffect:
        """What the auxiliary water car changes."""
        return self.content.water_car

    def title(self) -> str:
        """Name of the excursion and the least set."""
        best = self.best
        stations = "not enough places" if best is None else ", ".join(best.stations) or "no stop needed"
        return f"{self.content.excursion.name}: {stations}"

    @property
    def method(self) -> str:
        """Method of computing the engine, `cycle` or `handbook`."""
        return self.content.performance.method

    def columns(self) -> Sequence[Column]:
        """One row for each stop of the least set and of the runner-up."""
        return [column(name, kind, self.rows, value) for name, kind, value in COLUMNS]


def water_stops(excursion: Excursion, *, closed: Collection[str] = ()) -> WaterStopsResult:
    """Find the least set of water and fuel stops with which an excursion keeps its reserves.

    Args:
        excursion: Engine, train, route, stops and conditions; what it takes at its stops is left out.
        closed: Names of stations whose water and fuel are out of use.

    Raises:
        OutOfRange: The train does not arrive whatever water it takes; or a closed station is none of the line.
    """
    return WaterStopsResult(plan_water_stops(excursion, closed=closed))
