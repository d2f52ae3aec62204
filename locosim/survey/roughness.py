"""Roughness of heights: rounding, the false grades it makes, and what smoothing changes."""

from __future__ import annotations

import numpy as np

from locosim.frozen import frozen
from locosim.model import Route
from locosim.physics.types import Floats
from locosim.survey.heights import GRID, Heights, bounded, heights_of, rounding_step, smoothed
from locosim.survey.wandering import NORMAL_MAD, best_length, grade_error, height_wander, rounding_off

TOLERATED_GRADE = 0.001  # false grade, or noise of a grade, that is tolerated; our choice, no source [1]
SMOOTHING_LENGTHS = (50.0, 100.0, 150.0, 200.0, 300.0, 400.0, 600.0, 800.0, 1000.0)  # offered [m]
MAX_NOISE_SPACING = 100.0  # farther apart, a point off the line of its neighbors is a hill; our choice [m]
# For the changes of grade of a line: distance and smoothing at which they are measured [m], bounds and, where the line
# is too short, their sum of squares per length, that of a change of 1 % every kilometer [1/m]; our choices.
CHANGE_LAG, CHANGE_SMOOTHING, CHANGES, USUAL_CHANGE = 1000.0, 300.0, (1e-8, 1e-6), 1e-7
UNIFORM = 12**-0.5  # standard deviation of a rounding error over its step


@frozen
class Smoothing:
    """What smoothing does to heights.

    Attributes:
        length: Standard deviation of the weights along the line; 0 where nothing was smoothed [m].
        max_change: Largest change of a height at the points given [m].
        mean_change: Root mean square of the changes: the roughness removed [m].
        end_change: Larger of the changes at the two ends [m].
        rise_before, rise_after: Total rise [m].
        steepest_before, steepest_after: Steepest grade, up or down [1].
    """

    length: float
    max_change: float
    mean_change: float
    end_change: float
    rise_before: float
    rise_after: float
    steepest_before: float
    steepest_after: float


@frozen
class Roughness:
    """How rough the heights of a line are.

    Attributes:
        by_elevation: Whether the profile is given by elevations rather than grades.
        spacing: Median distance between the points of the profile [m].
        step: Step to which all elevations are rounded; None if not found, or for a profile by grades [m].
        false_grade: Grade that one step makes between two points the median distance apart [1].
        noise: Estimated random error of a height; of points farther apart than 100 m the rounding error alone [m].
        smoothing: What the smoothing offered changes; None where the heights need none.
    """

    by_elevation: bool
    spacing: float
    step: float | None
    false_grade: float
    noise: float
    smoothing: Smoothing | None


def roughness_of(route: Route) -> Roughness:
    """How rough the heights of a line are, and which smoothing would suit them."""
    heights = heights_of(route)
    by_elevation = route.profile[0].elevation is not None
    step = rounding_step(heights.height) if by_elevation else None
    spacing = float(np.median(np.diff(heights.chainage)))
    false_grade = (step or 0.0) / spacing
    length = suited_length(heights, step) if by_elevation else 0.0
    return Roughness(
        by_elevation=by_elevation,
        spacing=spacing,
        step=step,
        false_grade=false_grade,
        noise=height_noise(heights, step) if by_elevation else 0.0,
        smoothing=smoothing_change(heights, smoothed(heights, length), length) if length else None,
    )


def height_noise(heights: Heights, step: float | None) -> float:
    """Estimated random error of the heights [m].

    Args:
        heights: The heights.
        step: Step to which they are rounded, if known [m].

    Returns:
        From the median distance of each point from the straight line between its neighbors, as if the errors of
        neighbors were independent; not less than the rounding error. Real vertical curves count as errors too, so of
        points farther apart than 100 m (median) only the rounding error is known.
    """
    rounding = UNIFORM * (step or 0.0)
    if len(heights.chainage) < 5 or np.median(np.diff(heights.chainage)) > MAX_NOISE_SPACING:
        return rounding
    a, b = np.diff(heights.chainage)[:-1], np.diff(heights.chainage)[1:]
    share = a / (a + b)
    off = heights.height[1:-1] - (1 - share) * heights.height[:-2] - share * heights.height[2:]
    errors = off / np.sqrt(1 + share**2 + (1 - share) ** 2)
    return max(float(NORMAL_MAD * np.median(np.abs(errors))), rounding)


def suited_length(heights: Heights, step: float | None) -> float:
    """Smoothing length that suits the errors of the heights [m]; 0 if none is needed.

    Errors that wander leave the grade with the least error at one length; else it is the shortest that leaves no more
    than the tolerated noise in the grades.

    The noise of a grade after Gaussian smoothing over a length s is e sqrt(d) / (2 pi^(1/4) s^(3/2)), with the error
    e of a height and the distance d over which errors are alike: the spacing of the points, or the length of the
    flats that rounding makes on the mean grade, if longer.
    """
    wander = wander_of_heights(heights, step)
    if wander > 0.0:
        best = best_length(wander, change_of_grade(heights, wander))
        return min(SMOOTHING_LENGTHS, key=lambda length: abs(np.log(length / best)))
    noise, spacing = height_noise(heights, step), float(np.median(np.diff(heights.chainage)))
    if noise * 2**0.5 / spacing <= TOLERATED_GRADE:
        return 0.0
    alike = max(spacing, flat_length(heights, step))
    for length in SMOOTHING_LENGTHS:
        if noise * alike**0.5 / (2 * np.pi**0.25 * length**1.5) <= TOLERATED_GRADE:
            return length
    return SMOOTHING_LENGTHS[-1]


def wander_of_heights(heights: Heights, step: float | None) -> float:
    """Variance that errors of the heights gain with distance; 0 where they do not wander [m²/m]."""
    length = float(np.ptp(heights.chainage))
    if length < GRID:
        return 0.0
    grid = heights.chainage[0] + np.arange(0.0, length, GRID)
    apart = float(np.median(np.diff(heights.chainage)))
    return height_wander(heights.at(grid), GRID, apart=apart, floor=UNIFORM * (step or 0.0))


def change_of_grade(heights: Heights, wander: float) -> float:
    """Sum of the squares of all changes of grade per length of line [1/m].

    From the mean square difference of smoothed grades a distance apart, less what wandering heights make of it; bounded
    by what lines have, and usual where the line is too short to tell.
    """
    if np.ptp(heights.chainage) < 4.0 * CHANGE_LAG:
        return USUAL_CHANGE
    even = smoothed(heights, CHANGE_SMOOTHING)
    count = round(CHANGE_LAG / float(even.chainage[1] - even.chainage[0]))
    differences = even.grades[count:] - even.grades[:-count]
    noise = 2.0 * grade_error(wander, CHANGE_SMOOTHING) ** 2
    return float(np.clip((np.mean(differences**2) - noise) / CHANGE_LAG, *CHANGES))


def grade_uncertainty(heights: Heights, step: float | None, length: float, wander: float) -> float:
    """Standard deviation of the grades after smoothing heights over a length [1], that length not below 50 m.

    Args:
        heights: The heights.
        step: Step to which they are rounded [m]; None where they are not.
        length: Smoothing length [m].
        wander: Their `wander_of_heights` [m²/m].
    """
    length = max(length, SMOOTHING_LENGTHS[0])
    apart = float(np.median(np.diff(heights.chainage)))
    by_chance = height_noise(heights, step) * max(apart, flat_length(heights, step)) ** 0.5
    by_chance /= 2 * np.pi**0.25 * length**1.5
    if wander == 0.0:
        return float(by_chance)
    rounded = rounding_off(change_of_grade(heights, wander), length)
    return float(np.sqrt(by_chance**2 + grade_error(wander, length) ** 2 + rounded**2))


def flat_length(heights: Heights, step: float | None) -> float:
    """Distance between the steps that rounding makes on the mean grade, at most 1 km [m]."""
    if step is None:
        return 0.0
    mean_grade = float(np.sum(np.abs(np.diff(heights.height)))) / float(np.ptp(heights.chainage))
    return min(step / mean_grade, SMOOTHING_LENGTHS[-1]) if mean_grade else 0.0


def smoothing_change(before: Heights, after: Heights, length: float) -> Smoothing:
    """What smoothing over a length has changed."""
    change = after.at(before.chainage) - before.height
    return Smoothing(
        length=length,
        max_change=float(np.max(np.abs(change))),
        mean_change=float(np.sqrt(np.mean(change**2))),
        end_change=float(max(abs(change[0]), abs(change[-1]))),
        rise_before=total_rise(before.height),
        rise_after=total_rise(after.height),
        steepest_before=float(np.max(np.abs(before.grades))),
        steepest_after=float(np.max(np.abs(after.grades))),
    )


def total_rise(height: Floats) -> float:
    """Sum of all rises along the line [m]."""
    return float(np.sum(np.maximum(np.diff(height), 0.0)))


def smooth_within(heights: Heights, length: float, max_grade: float | None) -> Heights:
    """Heights smoothed over a length, then held within a largest grade if one is given."""
    even = smoothed(heights, length)
    return even if max_grade is None else bounded(even, max_grade)
