"""Least steam of a section: the steam rate with which it is just run in its time, with no other way of saving."""

from __future__ import annotations

import math
from collections.abc import Callable

STEPS_PER_DOUBLING = 32  # of the rates of steam tried, the same whatever the boiler makes
FIRST_TRY = 0.6  # of the most steam, in a search without a guess; ours [1]
FIRST_WIDTH = 2  # first steps away from the guess
LOWEST = 1.0 / 64.0  # of the most steam, below which none is tried [1]


def least_steam(late: Callable[[float], float], most: float, guess: float | None) -> float:
    """Least steam rate with which a section is not late [kg/s].

    The rates tried are the same for any boiler, and between two of them the lateness is taken as straight: so the
    result does not depend on the guess, and moves little by little with the train and the line. The most steam is
    returned where less is late, or where a little more than the most would be tried.

    Args:
        late: Lateness with a steam rate [s]; infinite where the section is not run.
        most: Steam rate at full effort, with which it is not late [kg/s].
        guess: Result of a similar search; none for no guess.
    """
    tried: dict[int, float] = {}

    def at(step: int) -> float:
        if step not in tried:
            tried[step] = late(2.0 ** (step / STEPS_PER_DOUBLING))
        return tried[step]

    top = math.floor(STEPS_PER_DOUBLING * math.log2(most))
    lowest = top - math.ceil(STEPS_PER_DOUBLING * -math.log2(LOWEST))
    begin = FIRST_TRY * most if guess is None else guess
    near = min(max(round(STEPS_PER_DOUBLING * math.log2(begin)), lowest + 1), top)
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
        return most
    part = at(low) / (at(low) - at(high)) if low > lowest and math.isfinite(at(low)) else 1.0
    return float(2.0 ** ((low + part) / STEPS_PER_DOUBLING))


def _between(low: int, high: int, at_low: float, at_high: float) -> int:
    """Step between two, where a straight line has no lateness; the middle where the section is not run at the lower."""
    part = at_low / (at_low - at_high) if math.isfinite(at_low) else 0.5
    return min(max(round(low + part * (high - low)), low + 1), high - 1)
