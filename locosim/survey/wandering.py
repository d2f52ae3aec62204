"""Errors that wander: those of a receiver, alike from point to point and drifting over hundreds of meters.

The error of a position or height is taken as one by chance at each point plus one that wanders, a random walk over the
distances that matter here. The variance of a walk grows in proportion to the distance, that of the errors by chance
does not, and what the line itself bends grows much faster: differences over several distances tell the three apart.

References:
    Variances of differences and of least squares: elementary statistics of a random walk.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from locosim.physics.types import Floats

NORMAL_MAD = 1.4826  # standard deviation of normal errors over their median absolute value
LAGS = (50.0, 100.0)  # over which differences are taken; our choice [m]
CHANCE_LAGS = (20.0, 30.0)  # least and largest over which errors by chance show; our choice [m]
SIGNIFICANT = 1.3  # by which a variance must exceed that of errors by chance; our choice [1]
MIN_COUNT = 100  # of differences; fewer say nothing about how errors wander
STEP_SHARE = (
    0.2337  # mean square error of a Gaussian mean at a unit step, per standard deviation: (√2 - 1)/√π
)


def height_wander(height: Floats, spacing: float, *, apart: float, floor: float = 0.0) -> float:
    """Variance that errors of heights gain with distance [m²/m].

    Second differences leave out a constant grade, and their median most changes of grade.

    Args:
        height: At even distances, shape (n,) [m].
        spacing: Distance between them [m].
        apart: Distance between the points recorded, between which heights are interpolated [m].
        floor: Standard deviation of an error by chance that is known, such as that of rounding [m].
    """

    def variance(count: int) -> float:
        return _robust(height[2 * count :] - 2.0 * height[count:-count] + height[: -2 * count])

    reach = 2 * _count(LAGS[-1], spacing)
    if len(height) < reach + MIN_COUNT:
        return 0.0
    return _wander(variance, spacing, apart, 2.0, 6.0 * floor**2)


def position_wander(east: Floats, north: Floats, spacing: float, *, apart: float) -> float:
    """Variance that errors of positions across the line gain with distance [m²/m].

    Third differences across the line leave out a constant curvature.

    Args:
        east: At even distances, shape (n,) [m].
        north: Likewise [m].
        spacing: Distance between them [m].
        apart: Distance between the points recorded, between which positions are interpolated [m].
    """

    def variance(count: int) -> float:
        x, y = _third(east, count), _third(north, count)
        ahead_x, ahead_y = (values[3 * count :] - values[: -3 * count] for values in (east, north))
        length = np.maximum(np.hypot(ahead_x, ahead_y), spacing)
        return _robust((ahead_x * y - ahead_y * x) / length)

    reach = 3 * _count(LAGS[-1], spacing)
    if len(east) < reach + MIN_COUNT:
        return 0.0
    return _wander(variance, spacing, apart, 6.0, 0.0)


def _third(values: Floats, count: int) -> Floats:
    a, b, c, d = (values[k * count : len(values) - (3 - k) * count] for k in range(4))
    return np.asarray(d - 3.0 * c + 3.0 * b - a)


def _wander(
    variance: Callable[[int], float], spacing: float, apart: float, gain: float, floor: float
) -> float:
    """The least variance that any lag shows; 0 where it is not told from errors by chance [m²/m].

    Args:
        variance: Of differences over a number of points [m²].
        spacing: Distance between points [m].
        apart: Distance between the points recorded [m].
        gain: Variance of a difference over that which a walk gains in one lag.
        floor: Variance of a difference by errors that are known [m²].
    """
    if 2.0 * apart > CHANCE_LAGS[1]:
        return 0.0
    first = _count(max(CHANCE_LAGS[0], 2.0 * apart), spacing)
    by_chance = max(variance(first), floor)
    counts = [_count(lag, spacing) for lag in LAGS]
    found = [variance(count) for count in counts]
    if found[-1] < SIGNIFICANT * by_chance:
        return 0.0
    gained = [
        (each - by_chance) / (gain * spacing * (count - first))
        for each, count in zip(found, counts, strict=True)
        if count > first
    ]
    return max(min(gained, default=0.0), 0.0)


def _count(lag: float, spacing: float) -> int:
    return max(round(lag / spacing), 1)


def _robust(differences: Floats) -> float:
    """Variance by the median, which a few large differences do not change."""
    return float(NORMAL_MAD * np.median(np.abs(differences))) ** 2


def grade_error(wander: float, length: float) -> float:
    """Standard deviation of a grade after Gaussian smoothing of heights that wander [1].

    Args:
        wander: Variance that heights gain with distance [m²/m].
        length: Standard deviation of the weights [m].
    """
    return math.sqrt(wander / (2.0 * math.sqrt(math.pi) * length))


def heading_error(wander: float, window: float) -> float:
    """Standard deviation of a slope by least squares over a window of offsets that wander [rad].

    Args:
        wander: Variance that offsets gain with distance [m²/m].
        window: Length of the window [m].
    """
    return math.sqrt(1.2 * wander / window)


def best_length(wander: float, change: float) -> float:
    """Smoothing length with the least mean square error of the grade: wandering left in, and changes rounded off [m].

    Args:
        wander: Variance that heights gain with distance [m²/m].
        change: Sum of the squares of all changes of grade per length of line [1/m].
    """
    return math.sqrt(wander / (2.0 * math.sqrt(math.pi) * STEP_SHARE * change))


def rounding_off(change: float, length: float) -> float:
    """Root mean square error of the grade from changes of grade that smoothing rounds off [1].

    Args:
        change: Sum of the squares of all changes of grade per length of line [1/m].
        length: Standard deviation of the weights [m].
    """
    return math.sqrt(STEP_SHARE * change * length)
