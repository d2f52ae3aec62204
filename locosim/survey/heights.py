"""Heights along a line: smoothed, held below a grade, reduced to a broken line, and the step they are rounded to."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from locosim.constants import FOOT
from locosim.model import Route
from locosim.physics.types import Floats

# Steps to which heights are commonly rounded; common practice, no source [m].
ROUNDING_STEPS = (
    20.0, 40 * FOOT, 10.0, 20 * FOOT, 5.0, 10 * FOOT, 2.0, 5 * FOOT, 1.0, 2 * FOOT, 0.5, FOOT, 0.5 * FOOT, 0.1,
    0.1 * FOOT, 0.01, 0.01 * FOOT,
)  # fmt: skip
STEP_TOLERANCE = 1e-6  # of a multiple of a step: conversion of units rounds the last digits [m]
MIN_HEIGHTS = 8  # fewer different heights agree with a coarse step by chance; our choice
GRID = 10.0  # spacing on which heights are smoothed [m]
MAX_GRID_POINTS = 400_000
KERNEL_WIDTH = 4.0  # half width of the Gaussian, in standard deviations: the rest is 6e-5


class Heights(NamedTuple):
    """Heights by distance along a line.

    Attributes:
        chainage: Increasing, shape (n,) [m].
        height: Shape (n,) [m].
    """

    chainage: Floats
    height: Floats

    def at(self, chainage: Floats | float) -> Floats:
        """Height at a chainage, linear between points [m]."""
        return np.asarray(np.interp(chainage, self.chainage, self.height))

    @property
    def grades(self) -> Floats:
        """Rise over run between the points, shape (n - 1,) [1]."""
        return np.asarray(np.diff(self.height) / np.diff(self.chainage))


def heights_of(route: Route) -> Heights:
    """Heights of a line: elevations where it gives them, else above its first point."""
    pieces = route.grade_segments()
    chainage = np.array([route.start, *(end for _, end, _ in pieces)])
    first = route.profile[0].elevation
    if first is not None:
        height = np.array([first, *(point.elevation for point in route.profile[1:])], dtype=float)
    else:
        height = np.concatenate([[0.0], np.cumsum([(end - start) * grade for start, end, grade in pieces])])
    return Heights(chainage, height)


def rounding_step(height: Floats) -> float | None:
    """The coarsest common step of which every height is a multiple [m]; None if there is none or heights are few.

    Args:
        height: Heights, shape (n,) [m].
    """
    if len(np.unique(height)) < MIN_HEIGHTS:
        return None
    for step in ROUNDING_STEPS:
        if np.max(np.abs(height - step * np.round(height / step))) < STEP_TOLERANCE:
            return step
    return None


def smoothed(heights: Heights, length: float) -> Heights:
    """Heights averaged with a Gaussian weight; both ends keep their height.

    Args:
        heights: The heights.
        length: Standard deviation of the weight along the line; 0 leaves the heights as they are [m].

    Returns:
        Heights on a grid of 10 m or slightly less, coarser on lines of thousands of kilometers. Beyond its ends
        the line is continued by its own mirror image through the end point, which keeps a constant grade
        constant and an end where it is.
    """
    if length <= 0.0:
        return heights
    start, end = heights.chainage[0], heights.chainage[-1]
    count = min(int(np.ceil((end - start) / GRID)) + 1, MAX_GRID_POINTS)
    grid = np.linspace(start, end, max(count, 3))
    spacing = grid[1] - grid[0]
    half = min(int(np.ceil(KERNEL_WIDTH * length / spacing)), len(grid) - 1)
    offsets = spacing * np.arange(-half, half + 1)
    weight = np.exp(-0.5 * (offsets / length) ** 2)
    height = heights.at(grid)
    before = 2 * height[0] - height[half:0:-1]
    beyond = 2 * height[-1] - height[-2 : -half - 2 : -1]
    padded = np.concatenate([before, height, beyond])
    averaged = _convolved(padded, weight / weight.sum())
    averaged[0], averaged[-1] = height[0], height[-1]
    return Heights(grid, averaged)


def _convolved(values: Floats, weight: Floats) -> Floats:
    """The weighted mean wherever the weight lies whole within the values, by Fourier transform if that is quicker."""
    if len(weight) < 200:
        return np.convolve(values, weight, mode="valid")
    size = 1 << (len(values) + len(weight) - 2).bit_length()
    level = values[0]  # keeps the rounding of the transform small
    product = np.fft.irfft(np.fft.rfft(values - level, size) * np.fft.rfft(weight, size), size)
    return np.asarray(product[len(weight) - 1 : len(values)] + level)


def bounded(heights: Heights, max_grade: float) -> Heights:
    """Heights whose grades are nowhere steeper than a bound.

    Args:
        heights: The heights.
        max_grade: The bound, rise over run [1].

    Returns:
        The mean of the lowest line above the heights and the highest line below them that keep the bound; heights
        that keep it already are unchanged.
    """
    chainage, height = heights
    if np.max(np.abs(heights.grades)) <= max_grade:
        return heights
    slope = max_grade * chainage
    above = np.maximum(
        np.maximum.accumulate(height + slope) - slope,
        np.maximum.accumulate((height - slope)[::-1])[::-1] + slope,
    )
    below = np.minimum(
        np.minimum.accumulate(height - slope) + slope,
        np.minimum.accumulate((height + slope)[::-1])[::-1] - slope,
    )
    return Heights(chainage, (above + below) / 2)


def broken_line(x: Floats, y: Floats, tolerance: float) -> list[int]:
    """Indices of the points of a broken line that is nowhere farther from the given line than a tolerance.

    Args:
        x: Increasing, shape (n,).
        y: The line, shape (n,).
        tolerance: Largest difference in y.

    References:
        The point farthest from a chord is made a corner, until none is too far: Ramer 1972, Douglas and Peucker 1973,
        from memory.
    """
    keep, waiting = {0, len(x) - 1}, [(0, len(x) - 1)]
    while waiting:
        first, last = waiting.pop()
        if last - first < 2:
            continue
        inner = slice(first + 1, last)
        slope = (y[last] - y[first]) / (x[last] - x[first])
        off = np.abs(y[inner] - y[first] - slope * (x[inner] - x[first]))
        farthest = int(np.argmax(off))
        if off[farthest] > tolerance:
            corner = first + 1 + farthest
            keep.add(corner)
            waiting += [(first, corner), (corner, last)]
    return sorted(keep)
