"""Hours of the crews of helper engines in a day: helping, and the run back light to where the helper came from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from locosim.journey.result import Journey
from locosim.model.day import Day
from locosim.model.helper_engine import Helper
from locosim.planning.duty import Duty, LightRun
from locosim.planning.light_engine import compute_helper_performance, run_light


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Help:
    """One time that a helper is coupled on."""

    leg: int
    journey: Journey
    helper: Helper
    start: float
    end: float

    @property
    def coupled(self) -> str:
        return self.helper.from_station or self.journey.excursion.stops[0].station

    @property
    def cut_off(self) -> str:
        return self.helper.to_station or self.journey.excursion.stops[-1].station

    @property
    def ends_with_the_leg(self) -> bool:
        return self.cut_off == self.journey.excursion.stops[-1].station


def helper_duties(day: Day, runs: Sequence[Journey]) -> tuple[Duty, ...]:
    """Hours of the crew of each helper, in order of its first leg.

    A helper has one crew, however often it helps. It is on duty from `preparing_time` before it is first coupled on.
    A steam helper that is cut off on the way runs back light to where it was coupled on, at once, unless it helps next
    from where it is; the run back of a diesel is not computed. Time between two helps is free of work.

    Args:
        day: The day.
        runs: Runs of the legs, as many as were run.
    """
    found: dict[str, list[_Help]] = {}
    for leg, run in enumerate(runs, start=1):
        names = [helper.name for helper in run.excursion.helpers]
        for number, helper in enumerate(run.excursion.helpers):
            on = np.flatnonzero(run.helper_active[number])
            if len(on) == 0:  # the run ended before
                continue
            another = names[:number].count(helper.name)
            crew = f"crew of helper {helper.name}" + (f", number {another + 1}" if another else "")
            start, end = float(run.departure_time[on[0]]), float(run.time[on[-1] + 1])
            each = _Help(leg=leg, journey=run, helper=helper, start=start, end=end)
            found.setdefault(crew, []).append(each)
    return tuple(_duty(day, crew, helps) for crew, helps in found.items())


def _duty(day: Day, crew: str, helps: Sequence[_Help]) -> Duty:
    hours = day.crew_hours
    light: list[LightRun] = []
    ends = []
    for here, beyond in zip(helps, [*helps[1:], None], strict=True):
        run = _run_back(here, beyond)
        light += [run] if run else []
        ends.append(run.end if run else here.end)
    gaps = [(end, beyond.start) for end, (_, beyond) in zip(ends, pairwise(helps), strict=False)]
    return Duty(
        crew=crew,
        first_leg=helps[0].leg,
        last_leg=helps[-1].leg,
        start=helps[0].start - hours.preparing_time,
        end=ends[-1] + hours.putting_away_time,
        breaks=tuple(gap for gap in gaps if gap[1] - gap[0] >= hours.min_break),
        light_runs=tuple(light),
        is_helper=True,
    )


def _run_back(here: _Help, beyond: _Help | None) -> LightRun | None:
    """The run back after a help; None where there is none, or the helper is a diesel."""
    stays = here.ends_with_the_leg if beyond is None else beyond.coupled == here.cut_off
    locomotive = here.helper.locomotive
    if stays or locomotive is None or here.coupled == here.cut_off:
        return None
    excursion = here.journey.excursion
    performance = compute_helper_performance(excursion, locomotive)
    back = run_light(excursion, locomotive, performance, (here.cut_off, here.coupled))
    return LightRun(station=here.coupled, start=here.end, end=here.end + back.duration)
