"""Least steam of a section: the steam rate with which it is just run in its time, with no other way of saving."""

from __future__ import annotations

import math
from collections.abc import Callable

from locosim.journey.setup.easing import LeastSteam

STEPS_PER_DOUBLING = 32  # of the rates of steam tried, the same whatever the boiler makes
FIRST_TRY = 0.6  # of the most steam, in a search without a guess; ours [1]
FIRST_WIDTH = 2  # first steps away from the guess
LOWEST = 1.0 / 64.0  # of the most steam, below which none is tried [1]
# Parts of a step of the rates within which the rate is read off a lateness: beyond the rates tried, between two [1].
READ_BEYOND, READ_BETWEEN = 0.25, 1.0
READ_TRIES = 3


UNKNOWN = LeastSteam(0.0, 0.0)


def least_steam(late: Callable[[float], float], most: float, begin: LeastSteam = UNKNOWN) -> LeastSteam:
    """Least steam rate with which a section is not late.

    The rates tried are the same for any boiler, and between two of them the lateness is taken as straight: so the
    result does not depend on where the search begins, and moves little by little with the train and the line. With the
    gain of a similar section, it is read off a lateness close to none: the same within 0.2 %. The most steam is
    returned where less is late, or where a little more than the most would be tried.

    Args:
        late: Lateness with a steam rate [s]; infinite where the section is not run.
        most: Steam rate at full effort, with which it is not late [kg/s].
        begin: Result of a similar search.
    """
    read = _read(late, most, begin) if begin.rate > 0.0 and begin.gain > 0.0 else None
    return read or _searched(late, most, begin.rate or FIRST_TRY * most)


def _read(late: Callable[[float], float], most: float, begin: LeastSteam) -> LeastSteam | None:
    """The least steam, read off a lateness that is small; None where there is none, or all the steam may be needed.

    Lateness is nearly straight over the steam rate to the power of -2, where steam limits the train.
    """
    rate = begin.rate
    slope = begin.gain / (2.0 * math.log(2.0) * rate**-2)
    before: tuple[float, float] | None = None
    for _ in range(READ_TRIES):
        lateness = late(rate)
        if not math.isfinite(lateness):
            return None
        if before is not None:
            slope = (lateness - before[1]) / (rate**-2 - before[0] ** -2)
        power = rate**-2 - lateness / slope if slope > 0.0 else 0.0
        if power <= 0.0 or power**-0.5 > most * 2.0 ** (-1.0 / STEPS_PER_DOUBLING) or power == rate**-2:
            return None
        found = power**-0.5
        between = before is not None and lateness * before[1] <= 0.0
        near = READ_BETWEEN if between else READ_BEYOND
        if abs(math.log2(found / rate)) * STEPS_PER_DOUBLING <= near:
            return LeastSteam(found, slope * 2.0 * math.log(2.0) * power)
        before, rate = (rate, lateness), found
    return None


def _searched(late: Callable[[float], float], most: float, guess: float) -> LeastSteam:
    """The least steam between two rates next to each other, both tried."""
    tried: dict[int, float] = {}

    def at(step: int) -> float:
        if step not in tried:
            tried[step] = late(2.0 ** (step / STEPS_PER_DOUBLING))
        return tried[step]

    top = math.floor(STEPS_PER_DOUBLING * math.log2(most))
    lowest = top - math.ceil(STEPS_PER_DOUBLING * -math.log2(LOWEST))
    near = min(max(round(STEPS_PER_DOUBLING * math.log2(guess)), lowest + 1), top)
    low, high = lowest, top + 1
    width = FIRST_WIDTH
    while high - low > 1:
        value = at(near)
        low, high = (low, near) if value <= 0.0 else (near, high)
        if low == lowest or high == top + 1:
            near = max(high - width, low + 1) if value <= 0.0 else min(low + width, high - 1)
            width *= 2
        else:
            near = _between(low, high, at(low), at(high))
    if high == top + 1:
        return LeastSteam(most, 0.0)
    gain, part = 0.0, 1.0
    if low > lowest and math.isfinite(at(low)):
        gain, part = at(low) - at(high), at(low) / (at(low) - at(high))
    return LeastSteam(2.0 ** ((low + part) / STEPS_PER_DOUBLING), gain * STEPS_PER_DOUBLING)


def _between(low: int, high: int, at_low: float, at_high: float) -> int:
    """Step between two, where a straight line has no lateness; the middle where the section is not run at the lower."""
    part = at_low / (at_low - at_high) if math.isfinite(at_low) else 0.5
    return min(max(round(low + part * (high - low)), low + 1), high - 1)
