"""The runs that verdicts rest on: full effort, the booked run, and the least steam that suffices."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from locosim.engine.performance import Performance
from locosim.journey.result import Journey, build_journey
from locosim.journey.run import run_journey, run_prepared
from locosim.journey.setup.prepare import prepare
from locosim.model import Excursion
from locosim.planning.rules.timekeeping import timekeeping
from locosim.planning.rules.traction import climbing

MAX_SHARE = 2.0  # of the sustained evaporation, end of the search
SHARE_TOLERANCE = 0.002


class SteamNeed(NamedTuple):
    """Least steam that suffices.

    Attributes:
        share: Of the sustained evaporation [1]; infinite where no steam suffices.
        set_by: What sets it.
    """

    share: float
    set_by: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CheckedRuns:
    """The runs of one excursion.

    Attributes:
        booked: The run to the booked times, with the boiler along the run.
        full_effort: The run at full effort within the sustained evaporation.
        need: Least steam that keeps the booked times and the climbing speed.
    """

    booked: Journey
    full_effort: Journey
    need: SteamNeed


def compute_runs(excursion: Excursion, performance: Performance) -> CheckedRuns:
    """Run an excursion to its timetable and at full effort, and find the steam it needs."""
    return CheckedRuns(
        booked=run_to_timetable(excursion, performance),
        full_effort=run_full_effort(excursion, performance),
        need=steam_need(excursion, performance),
    )


def run_to_timetable(excursion: Excursion, performance: Performance) -> Journey:
    """Run an excursion with the habit of its crew."""
    return run_journey(excursion, performance, transient_boiler=True)


def run_full_effort(excursion: Excursion, performance: Performance) -> Journey:
    """Run an excursion at full effort within the sustained evaporation."""
    crew = replace(
        excursion.crew, habit="hold_speed_limit", steam_allowance=max(excursion.crew.steam_allowance, 1.0)
    )
    return run_journey(replace(excursion, crew=crew), performance, transient_boiler=True)


def steam_need(excursion: Excursion, performance: Performance) -> SteamNeed:
    """Find the least share of the sustained evaporation that suffices, with steady pressure, by bisection."""
    prepared = prepare(
        replace(excursion, crew=replace(excursion.crew, habit="hold_speed_limit")), performance
    )

    def failing(share: float) -> str:
        line = prepared.line._replace(steam_share=np.full(len(prepared.grade), share))
        journey = build_journey(prepared, run_prepared(replace(prepared, line=line)))
        if not journey.arrived:
            return "stall"
        for rule in (timekeeping, climbing):
            if any(finding.margin < 0.0 for finding in rule(journey)):
                return "time" if rule is timekeeping else "climb"
        return ""

    set_by = failing(MAX_SHARE)
    if set_by:
        return SteamNeed(np.inf, set_by)
    low, high = 0.0, MAX_SHARE
    while high - low > SHARE_TOLERANCE:
        middle = 0.5 * (low + high)
        why = failing(middle)
        low, high = (middle, high) if why else (low, middle)
        set_by = why or set_by
    return SteamNeed(high, set_by)
