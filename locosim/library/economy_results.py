"""Function and result for driving with the least fuel."""

from __future__ import annotations

from collections.abc import Sequence

from locosim.library.excursion_results import RunResult
from locosim.library.table import Column, Result, column
from locosim.model import Excursion
from locosim.planning.crew_card import CardEntry
from locosim.planning.economy import Economy, find_economy


class EconomyResult(Result[Economy]):
    """The driving with the least fuel: one row for each entry of the card."""

    command = "economy"

    @property
    def rows(self) -> tuple[CardEntry, ...]:
        """Entries of the card, in SI."""
        return self.content.card

    @property
    def saving(self) -> float:
        """Fuel saved over that of the everyday driving."""
        return self.content.saving

    @property
    def run(self) -> RunResult:
        """The run of the driving chosen."""
        return RunResult(self.content.journey)

    def title(self) -> str:
        """Name of the excursion."""
        return f"{self.content.excursion.name}: driving with the least fuel"

    @property
    def method(self) -> str:
        """Method of computing the engine, `cycle` or `handbook`."""
        return self.content.performance.method

    def columns(self) -> Sequence[Column]:
        """One row for each entry of the card."""
        return [
            column("milepost", "distance", self.rows, lambda e: e.milepost),
            column("clock", "clock", self.rows, lambda e: e.time),
            column("task", None, self.rows, lambda e: e.task),
            column("from speed", "speed", self.rows, lambda e: e.from_speed),
            column("to speed", "speed", self.rows, lambda e: e.to_speed),
            column("shortest cutoff", "ratio", self.rows, lambda e: e.cutoff and e.cutoff[0]),
            column("longest cutoff", "ratio", self.rows, lambda e: e.cutoff and e.cutoff[1]),
            column("stop", None, self.rows, lambda e: e.stop),
        ]


def economy(excursion: Excursion) -> EconomyResult:
    """Find the driving with the least fuel that keeps the booked times, with a card for the crew.

    Args:
        excursion: Engine, train, route, stops and conditions, with an arrival booked at one stop or more.

    Raises:
        OutOfRange: No arrival is booked, or the train does not arrive in the everyday driving.
    """
    return EconomyResult(find_economy(excursion))
