"""The runs that verdicts rest on: full effort, the booked run, and the least steam that suffices."""

from __future__ import annotations

from dataclasses import dataclass

from locosim.engine.performance import Performance
from locosim.journey.result import Journey
from locosim.journey.run import run_full_effort, run_to_timetable
from locosim.journey.steam_need import SteamNeed, steam_need
from locosim.model import Excursion


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrialRuns:
    """The runs of one excursion.

    Attributes:
        booked: The run to the booked times.
        full_effort: The run at full effort.
        need: Least steam with which the train keeps its times and its climbing speed, and does not stall.
    """

    booked: Journey
    full_effort: Journey
    need: SteamNeed


def compute_trial_runs(
    excursion: Excursion, performance: Performance, *, begin: TrialRuns | None = None
) -> TrialRuns:
    """Run an excursion to its booked times and at full effort, and find the steam it needs.

    Args:
        excursion: Engine, train, route, stops and conditions.
        performance: Performance of its engine.
        begin: Runs of a similar excursion, from which the searches begin.

    Raises:
        OutOfRange: The excursion needs something that its route or engine does not have.
    """
    return TrialRuns(
        booked=run_booked(excursion, performance, begin=begin),
        full_effort=run_full_effort(excursion, performance),
        need=find_need(excursion, performance, begin=begin),
    )


def run_booked(excursion: Excursion, performance: Performance, *, begin: TrialRuns | None = None) -> Journey:
    """Run an excursion to its booked times; the search begins from a similar excursion with as many stops."""
    alike = begin is not None and len(begin.booked.excursion.stops) == len(excursion.stops)
    return run_to_timetable(excursion, performance, begin=begin.booked.ease if begin and alike else ())


def find_need(excursion: Excursion, performance: Performance, *, begin: TrialRuns | None = None) -> SteamNeed:
    """Find the least steam that suffices, beginning from that of a similar excursion."""
    return steam_need(excursion, performance, begin=None if begin is None else begin.need.share)
