"""Interpolation in the performance map: compiled, because a run reads the map tens of thousands of times."""

from __future__ import annotations

from typing import NamedTuple

from locosim.compiled import compiled_inline
from locosim.physics.types import Floats

ROUNDING_MARGIN = 1.0 - 1e-9  # less by no more than rounding


class MapGrid(NamedTuple):
    """Tractive effort and steam on even axes of absolute pressure and speed (from rest), and of control.

    Along the control axis the throttle opens at the shortest cutoff, from shut at node 0 to wide open at node
    `wide_open`; from there on the cutoff lengthens in even steps.
    """

    pressure_start: float
    pressure_step: float
    speed_step: float
    wide_open: int  # first node with the throttle wide open
    cutoff_start: float
    cutoff_step: float
    effort: Floats  # indicated tractive effort at the rim [N], shape (pressures, speeds, nodes)
    steam: Floats  # steam to the cylinders [kg/s], same shape
    throttles: Floats  # throttle opening [1], same shape


class Setting(NamedTuple):
    """What an effort takes: steam, and how throttle and reverse lever are set."""

    steam: float  # to the cylinders [kg/s]
    cutoff: float  # [1]
    throttle: float  # opening [1]
    place: float  # on the control axis, in cells


class Cells(NamedTuple):
    """Cells of a map where a search begins."""

    control: int
    speed: int


@compiled_inline
def between(table: Floats, first: float, step: float, at: float) -> float:
    """Interpolate a table of shape (n,) on an even axis; outside it the end value applies."""
    place = (at - first) / step
    last = len(table) - 1
    if place <= 0.0:
        return float(table[0])
    if place >= last:
        return float(table[last])
    k = int(place)
    part = place - k
    return float(table[k] * (1.0 - part) + table[k + 1] * part)


@compiled_inline
def value_at_node(table: Floats, i: int, fi: float, j: int, fj: float, k: int) -> float:
    """Interpolate a map at control node k, between pressures i, i+1 and speeds j, j+1."""
    # Speed comes last: it is the last to be known in a step, and the processor waits for it.
    slower = table[i, j, k] * (1.0 - fi) + table[i + 1, j, k] * fi
    faster = table[i, j + 1, k] * (1.0 - fi) + table[i + 1, j + 1, k] * fi
    return float(slower + fj * (faster - slower))


@compiled_inline
def cell_of(at: float, first: float, step: float, count: int) -> tuple[int, float]:
    """Cell on an even axis of `count` nodes, and the position in it from 0 to 1; limited to the axis."""
    place = min(max((at - first) / step, 0.0), count - 1.0)
    k = min(int(place), count - 2)
    return k, place - k


@compiled_inline
def cell_near(at: float, first: float, step: float, count: int, guess: int) -> tuple[int, float]:
    """The same as `cell_of`, searched from a cell close by, so that its values are read before the place is known."""
    place = min(max((at - first) / step, 0.0), count - 1.0)
    k = guess
    while k > 0 and place < k:
        k -= 1
    while k < count - 2 and place >= k + 1:
        k += 1
    return k, place - k


@compiled_inline
def reading(
    wanted: Floats, other: Floats, i: int, fi: float, j: int, fj: float, most: float, guess: int
) -> tuple[float, float]:
    """Find the first place on the control axis where the table `wanted` reaches `most`, and the table `other` there.

    Where `wanted` is level over several nodes, the first applies: more steam gives no more.

    The search starts at the cell of the guess and doubles its stride, so a good guess costs two readings and a
    poor one no more than bisection.

    Returns the position on the control axis in cells, and the value of `other`; below the first node that of the node.
    """
    last = wanted.shape[2] - 1
    low = min(max(guess, 0), last - 1)
    low_value = value_at_node(wanted, i, fi, j, fj, low)
    stride = 1
    high, high_value = low, low_value
    while low_value >= most and low > 0:
        high, high_value = low, low_value
        low = max(low - stride, 0)
        low_value = value_at_node(wanted, i, fi, j, fj, low)
        stride *= 2
    if low_value >= most:
        return 0.0, value_at_node(other, i, fi, j, fj, 0)
    while high_value < most and high < last:
        if high > low:
            low, low_value = high, high_value
        high = min(high + stride, last)
        high_value = value_at_node(wanted, i, fi, j, fj, high)
        stride *= 2
    if high_value < most:
        return float(last), value_at_node(other, i, fi, j, fj, last)
    while high - low > 1:
        middle = (low + high) // 2
        value = value_at_node(wanted, i, fi, j, fj, middle)
        if value < most:
            low, low_value = middle, value
        else:
            high, high_value = middle, value
    part = (most - low_value) / (high_value - low_value)
    there = value_at_node(other, i, fi, j, fj, low)
    return low + part, there + part * (value_at_node(other, i, fi, j, fj, high) - there)


@compiled_inline
def cutoff_cell(grid: MapGrid, cutoff: float) -> tuple[int, float]:
    """Cell of the control axis for a cutoff with the throttle wide open, and the position in it from 0 to 1."""
    count = grid.effort.shape[2] - grid.wide_open
    k, fk = cell_of(cutoff, grid.cutoff_start, grid.cutoff_step, count)
    return grid.wide_open + k, fk


@compiled_inline
def max_effort(
    grid: MapGrid, pressure: float, speed: float, max_steam: float, max_cutoff: float, guess: Cells
) -> tuple[float, bool, float]:
    """Largest indicated tractive effort within a steam rate and a cutoff.

    Returns the effort [N], whether steam limits it, and its place on the control axis in cells.
    """
    i, fi = cell_of(pressure, grid.pressure_start, grid.pressure_step, grid.effort.shape[0])
    j, fj = cell_near(speed, 0.0, grid.speed_step, grid.effort.shape[1], guess.speed)
    k, fk = cutoff_cell(grid, max_cutoff)
    place, by_steam = reading(grid.steam, grid.effort, i, fi, j, fj, max_steam, guess.control)
    here, there = value_at_node(grid.effort, i, fi, j, fj, k), value_at_node(grid.effort, i, fi, j, fj, k + 1)
    by_cutoff = here + fk * (there - here)
    # Where a longer cutoff would give no more tractive effort, steam is not the limit.
    if place < k + fk and by_steam < ROUNDING_MARGIN * by_cutoff:
        return by_steam, True, place
    return by_cutoff, False, k + fk


@compiled_inline
def find_setting(grid: MapGrid, pressure: float, speed: float, effort: float, guess: Cells) -> Setting:
    """Find steam, cutoff and throttle for an indicated tractive effort."""
    i, fi = cell_of(pressure, grid.pressure_start, grid.pressure_step, grid.effort.shape[0])
    j, fj = cell_near(speed, 0.0, grid.speed_step, grid.effort.shape[1], guess.speed)
    place, steam = reading(grid.effort, grid.steam, i, fi, j, fj, effort, guess.control)
    return setting_at(grid, pressure, speed, place, steam, guess.speed)


@compiled_inline
def setting_at(
    grid: MapGrid, pressure: float, speed: float, place: float, steam: float, speed_cell: int
) -> Setting:
    """Cutoff and throttle at a place on the control axis, which takes some steam.

    Wide open with a short cutoff comes first; the throttle is eased at the shortest cutoff only.
    """
    if place >= grid.wide_open:
        cutoff = grid.cutoff_start + grid.cutoff_step * (place - grid.wide_open)
        return Setting(steam, cutoff, 1.0, place)
    i, fi = cell_of(pressure, grid.pressure_start, grid.pressure_step, grid.effort.shape[0])
    j, fj = cell_near(speed, 0.0, grid.speed_step, grid.effort.shape[1], speed_cell)
    k = int(place)
    here = value_at_node(grid.throttles, i, fi, j, fj, k)
    there = value_at_node(grid.throttles, i, fi, j, fj, k + 1)
    return Setting(steam, grid.cutoff_start, here + (place - k) * (there - here), place)
