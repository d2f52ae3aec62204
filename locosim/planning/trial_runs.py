"""The runs that verdicts rest on: full effort, the booked run, and the least steam and adhesion that suffice."""

from __future__ import annotations

from typing import NamedTuple

from locosim.engine.performance import Performance
from locosim.frozen import frozen
from locosim.journey.needs import Need, adhesion_need, steam_need
from locosim.journey.result import Journey
from locosim.journey.run import run_full_effort, run_to_timetable
from locosim.model import Excursion


@frozen(eq=False)
class TrialRuns:
    """The runs of one excursion.

    Attributes:
        booked: The run to the booked times.
        full_effort: The run at full effort.
        need: Least steam with which the train keeps its times and its climbing speed, and does not stall.
        adhesion_need: Least adhesion with which it does so.
    """

    booked: Journey
    full_effort: Journey
    need: Need
    adhesion_need: Need


class Needs(NamedTuple):
    """Needs of an excursion."""

    steam: Need
    adhesion: Need


def compute_trial_runs(
    excursion: Excursion,
    performance: Performance,
    *,
    begin: TrialRuns | None = None,
    near: Needs | None = None,
) -> TrialRuns:
    """Run an excursion to its booked times and at full effort, and find the steam and the adhesion it needs.

    Args:
        excursion: Engine, train, route, stops and conditions.
        performance: Performance of its engine.
        begin: Runs of a similar excursion, from which the searches begin.
        near: Needs of one, from which the search for the needs alone begins; nothing but the time depends on them.

    Raises:
        OutOfRange: The excursion needs something that its route or engine does not have.
    """
    if near is None and begin is not None:
        near = Needs(begin.need, begin.adhesion_need)
    needs = find_needs(excursion, performance, near=near)
    full_effort = run_full_effort(excursion, performance)
    return TrialRuns(
        booked=run_booked(excursion, performance, begin=begin, full_effort=full_effort),
        full_effort=full_effort,
        need=needs.steam,
        adhesion_need=needs.adhesion,
    )


def find_needs(excursion: Excursion, performance: Performance, *, near: Needs | None = None) -> Needs:
    """Find the least steam and the least adhesion that suffice, beginning from those of a similar excursion."""
    steam = steam_need(excursion, performance, begin=near.steam if near else None)
    adhesion = adhesion_need(excursion, performance, steam, begin=near.adhesion if near else None)
    return Needs(steam, adhesion)


def run_booked(
    excursion: Excursion,
    performance: Performance,
    *,
    begin: TrialRuns | None = None,
    same_steam: bool = False,
    full_effort: Journey | None = None,
) -> Journey:
    """Run an excursion to its booked times; the search begins from a similar excursion with as many stops.

    Args:
        excursion: The excursion.
        performance: Performance of its engine.
        begin: Runs of a similar excursion.
        same_steam: Whether at constant boiler pressure this one runs as that does, and so needs the same steam.
        full_effort: Its run at full effort, if known: some runs are then left out.
    """
    alike = begin is not None and len(begin.booked.excursion.stops) == len(excursion.stops)
    driven = begin.booked.driven if begin and alike else ()
    return run_to_timetable(
        excursion, performance, begin=driven, same_steam=same_steam, full_effort=full_effort
    )


def find_need(excursion: Excursion, performance: Performance, *, begin: TrialRuns | None = None) -> Need:
    """Find the least steam that suffices, beginning from that of a similar excursion."""
    return steam_need(excursion, performance, begin=begin.need if begin else None)


def find_adhesion_need(
    excursion: Excursion, performance: Performance, steam: Need, *, begin: TrialRuns | None = None
) -> Need:
    """Find the least adhesion that suffices, beginning from that of a similar excursion."""
    return adhesion_need(excursion, performance, steam, begin=begin.adhesion_need if begin else None)
