"""Helper engines in a day: what they use, the run back light to where they came from, and the hours of their crews."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from locosim.constants import WATER_DENSITY
from locosim.frozen import frozen
from locosim.journey.result import Journey
from locosim.model.day import Day
from locosim.model.helper_engine import Helper
from locosim.planning.duty import Duty, LightRun
from locosim.planning.light_diesel import light_diesel_time
from locosim.planning.light_engine import (
    Used,
    compute_helper_performance,
    run_light,
    used_by_helper,
    used_on,
)


@frozen(eq=False)
class Help:
    """One time that a helper is coupled on.

    Attributes:
        engine: Name of the helper, with a number from the second of that name on.
        leg: Number of the leg.
        journey: Run of the leg.
        helper: The helper.
        start: When it leaves with the train, on the clock [s].
        end: When the train arrives where it is cut off [s].
        helping: Water and fuel used meanwhile; None for a diesel.
        back: Run back light; None where there is none.
        no_return: What ends the run back, if it does not arrive; else empty.
    """

    engine: str
    leg: int
    journey: Journey
    helper: Helper
    start: float
    end: float
    helping: Used | None
    back: LightRun | None = None
    no_return: str = ""

    @property
    def coupled(self) -> str:
        """Station where it is coupled on."""
        return self.helper.from_station or self.journey.excursion.stops[0].station

    @property
    def cut_off(self) -> str:
        """Station where it is cut off."""
        return self.helper.to_station or self.journey.excursion.stops[-1].station

    @property
    def used(self) -> Used | None:
        """Water and fuel used while it helps and on the run back; None for a diesel."""
        if self.helping is None or self.back is None or self.back.used is None:
            return self.helping
        return Used(
            time=self.helping.time + self.back.used.time,
            water=self.helping.water + self.back.used.water,
            fuel=self.helping.fuel + self.back.used.fuel,
        )

    @property
    def tender(self) -> tuple[float, float]:
        """Water and fuel that its tender holds; 0 for a diesel [kg]."""
        if self.helper.locomotive is None:
            return 0.0, 0.0
        tender = self.helper.locomotive.tender
        return WATER_DENSITY * tender.water_capacity, tender.fuel_capacity


def find_helps(runs: Sequence[Journey]) -> tuple[tuple[Help, ...], ...]:
    """What each helper does, in order of its first leg.

    A helper that is cut off on the way runs back light to where it was coupled on, at once, unless it helps next from
    where it is.

    Args:
        runs: Runs of the legs, as many as were run.
    """
    found: dict[str, list[Help]] = {}
    for leg, run in enumerate(runs, start=1):
        names = [helper.name for helper in run.excursion.helpers]
        for number, helper in enumerate(run.excursion.helpers):
            on = np.flatnonzero(run.helper_active[number])
            if len(on) == 0:  # the run ended before
                continue
            another = names[:number].count(helper.name)
            engine = f"{helper.name}, number {another + 1}" if another else helper.name
            each = Help(
                engine=engine,
                leg=leg,
                journey=run,
                helper=helper,
                start=float(run.departure_time[on[0]]),
                end=float(run.time[on[-1] + 1]),
                helping=_helping(run, helper, number),
            )
            found.setdefault(engine, []).append(each)
    return tuple(
        tuple(_with_run_back(here, beyond) for here, beyond in zip(helps, [*helps[1:], None], strict=True))
        for helps in found.values()
    )


def helper_duties(day: Day, helps: Sequence[Sequence[Help]]) -> tuple[Duty, ...]:
    """Hours of the crew of each helper.

    A helper has one crew, however often it helps. It is on duty from `preparing_time` before it is first coupled on.
    Time between two helps is free of work.

    Args:
        day: The day.
        helps: What each helper does.
    """
    return tuple(_duty(day, each) for each in helps)


def _duty(day: Day, helps: Sequence[Help]) -> Duty:
    hours = day.crew_hours
    ends = [each.back.end if each.back else each.end for each in helps]
    gaps = [(end, beyond.start) for end, (_, beyond) in zip(ends, pairwise(helps), strict=False)]
    return Duty(
        crew=f"crew of helper {helps[0].engine}",
        first_leg=helps[0].leg,
        last_leg=helps[-1].leg,
        start=helps[0].start - hours.preparing_time,
        end=ends[-1] + hours.putting_away_time,
        breaks=tuple(gap for gap in gaps if gap[1] - gap[0] >= hours.min_break),
        light_runs=tuple(each.back for each in helps if each.back),
        is_helper=True,
    )


def _helping(run: Journey, helper: Helper, number: int) -> Used | None:
    """Water and fuel that a steam helper uses while it helps; None for a diesel."""
    if helper.locomotive is None:
        return None
    return used_by_helper(run, compute_helper_performance(run.excursion, helper.locomotive), number)


def _with_run_back(here: Help, beyond: Help | None) -> Help:
    """A help with the run back after it, if there is one."""
    ends_with_the_leg = here.cut_off == here.journey.excursion.stops[-1].station
    stays = ends_with_the_leg if beyond is None else beyond.coupled == here.cut_off
    if stays or here.coupled == here.cut_off:
        return here
    excursion, stations = here.journey.excursion, (here.cut_off, here.coupled)
    used = None
    if here.helper.locomotive is not None:
        performance = compute_helper_performance(excursion, here.helper.locomotive)
        run = run_light(excursion, here.helper.locomotive, performance, stations)
        time, used, outcome = run.duration, used_on(run), "" if run.arrived else run.outcome
    else:
        assert here.helper.diesel is not None
        time = light_diesel_time(excursion, here.journey.performance, here.helper.diesel, stations)
        outcome = "" if math.isfinite(time) else "stalled"
    if outcome:
        return replace(here, no_return=outcome)
    back = LightRun(station=here.coupled, start=here.end, end=here.end + time, used=used)
    return replace(here, back=back)
