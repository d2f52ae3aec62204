"""Reading the performance map: compiled, because the journey reads it some tens of thousands of times a run."""

from __future__ import annotations

from typing import NamedTuple

from locosim.compiled import compiled_lean
from locosim.physics.types import Floats

SHORT_OF = 1.0 - 1e-9  # less by no more than the grain of the arithmetic


class Grid(NamedTuple):
    """Pull and steam on even axes of absolute pressure, speed (from rest) and cutoff."""

    pressure_first: float
    pressure_step: float
    speed_step: float
    cutoff_first: float
    cutoff_step: float
    pull: Floats  # indicated pull at the rim [N]: pressure, speed, cutoff
    steam: Floats  # steam to the cylinders [kg/s]: pressure, speed, cutoff


@compiled_lean
def between(table: Floats, first: float, step: float, at: float) -> float:
    """Read a table on an even axis, held at its ends."""
    place = (at - first) / step
    last = len(table) - 1
    if place <= 0.0:
        return float(table[0])
    if place >= last:
        return float(table[last])
    k = int(place)
    part = place - k
    return float(table[k] * (1.0 - part) + table[k + 1] * part)


@compiled_lean
def mapped(table: Floats, i: int, fi: float, j: int, fj: float, k: int) -> float:
    """Read the map at cutoff node k, between pressures i, i+1 and speeds j, j+1."""
    low = table[i, j, k] * (1.0 - fj) + table[i, j + 1, k] * fj
    high = table[i + 1, j, k] * (1.0 - fj) + table[i + 1, j + 1, k] * fj
    return float(low * (1.0 - fi) + high * fi)


@compiled_lean
def place_of(at: float, first: float, step: float, count: int) -> tuple[int, float]:
    """Find the cell and the part of it on an even axis of `count` nodes, held at the ends."""
    place = min(max((at - first) / step, 0.0), count - 1.0)
    k = min(int(place), count - 2)
    return k, place - k


@compiled_lean
def reading(
    wanted: Floats, other: Floats, i: int, fi: float, j: int, fj: float, most: float, guess: int
) -> tuple[float, float]:
    """Find the shortest cutoff place at which `wanted` reaches `most`, and `other` there.

    Where the table stays level over several cutoffs, the shortest of them is taken: more steam gives no more.

    The search starts at the cell of the guess and doubles its stride from there, so a good guess costs two
    readings and a bad one costs no more than halving.

    Returns the place on the cutoff axis, negative below its first node (then the share of the first node's
    values that is drawn, less one), and the value of the other table.
    """
    last = wanted.shape[2] - 1
    low = min(max(guess, 0), last - 1)
    low_value = mapped(wanted, i, fi, j, fj, low)
    stride = 1
    high, high_value = low, low_value
    while low_value >= most and low > 0:
        high, high_value = low, low_value
        low = max(low - stride, 0)
        low_value = mapped(wanted, i, fi, j, fj, low)
        stride *= 2
    if low_value >= most:
        share = max(most, 0.0) / low_value if low_value > 0.0 else 0.0
        return share - 1.0, share * mapped(other, i, fi, j, fj, 0)
    while high_value < most and high < last:
        if high > low:
            low, low_value = high, high_value
        high = min(high + stride, last)
        high_value = mapped(wanted, i, fi, j, fj, high)
        stride *= 2
    if high_value < most:
        return float(last), mapped(other, i, fi, j, fj, last)
    while high - low > 1:
        middle = (low + high) // 2
        value = mapped(wanted, i, fi, j, fj, middle)
        if value < most:
            low, low_value = middle, value
        else:
            high, high_value = middle, value
    part = (most - low_value) / (high_value - low_value)
    there = mapped(other, i, fi, j, fj, low)
    return low + part, there + part * (mapped(other, i, fi, j, fj, high) - there)


@compiled_lean
def greatest_pull(
    grid: Grid, pressure: float, speed: float, steam_most: float, cutoff_most: float, guess: int
) -> tuple[float, bool]:
    """Largest indicated pull within a steam rate and a cutoff, and whether the steam held it."""
    i, fi = place_of(pressure, grid.pressure_first, grid.pressure_step, grid.pull.shape[0])
    j, fj = place_of(speed, 0.0, grid.speed_step, grid.pull.shape[1])
    k, fk = place_of(cutoff_most, grid.cutoff_first, grid.cutoff_step, grid.pull.shape[2])
    place, by_steam = reading(grid.steam, grid.pull, i, fi, j, fj, steam_most, guess)
    here, there = mapped(grid.pull, i, fi, j, fj, k), mapped(grid.pull, i, fi, j, fj, k + 1)
    by_cutoff = here + fk * (there - here)
    # Where a longer cutoff would pull no more, it is not the steam that holds the pull.
    if place < k + fk and by_steam < SHORT_OF * by_cutoff:
        return by_steam, True
    return by_cutoff, False


@compiled_lean
def steam_for(grid: Grid, pressure: float, speed: float, pull: float, guess: int) -> tuple[float, float]:
    """Steam rate [kg/s] and cutoff for an indicated pull; below the least cutoff the regulator is eased.

    With the regulator eased the steam falls with the pull, so the cost of throttling is not counted: full
    regulator and a short cutoff come first.
    """
    i, fi = place_of(pressure, grid.pressure_first, grid.pressure_step, grid.pull.shape[0])
    j, fj = place_of(speed, 0.0, grid.speed_step, grid.pull.shape[1])
    place, steam = reading(grid.pull, grid.steam, i, fi, j, fj, pull, guess)
    return max(steam, 0.0), grid.cutoff_first + grid.cutoff_step * max(place, 0.0)
