"""Tables of a map by the cycle: the points to be computed, and what is made of them over the axes of the map.

Our own choices:

* Beyond the cutoff of greatest tractive effort a longer one only chokes the exhaust, and no engineer uses it: from
  there on the map repeats the effort and steam of the best cutoff. Where the cylinders give no effort at a cutoff
  shorter than that, and at all still shorter ones, it has 0.
* Efforts below that of the shortest cutoff are had with the throttle eased: see `throttled`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.interpolate import make_interp_spline

from locosim.constants import ATMOSPHERE
from locosim.engine.cylinders.layout import CycleLayout
from locosim.engine.cylinders.operating_points import OperatingPoints
from locosim.engine.cylinders.speed_range import max_cycle_speed, min_cycle_speed
from locosim.engine.map.from_handbook import PRESSURE_RANGE
from locosim.engine.map.throttled import ThrottlingLine
from locosim.errors import NoSolution, OutOfRange
from locosim.physics.types import Floats

NODE_CLUSTERING = (1.0, 1.5, 1.3)  # exponents that cluster the points at the low end of each axis
MIN_EFFORT_SHARE = 2e-3  # of the largest effort: less is ripple of the splines and counts as none
MAX_RIPPLE = 5e-3  # of the largest value: ripple of the splines up to here is smoothed silently
EXTRAPOLATION_SLOPE_SHARE = (
    0.7  # of the last slope, from point to point: a straight line bends the splines too far
)


def axis_ranges(engine: CycleLayout) -> list[tuple[float, float]]:
    """Range of absolute pressure [Pa], speed [m/s] and cutoff [1] of the points computed.

    Args:
        engine: The engine laid out.
    """
    locomotive = engine.locomotive
    gauge = locomotive.boiler.working_pressure_gauge
    return [
        (PRESSURE_RANGE[0] * gauge + ATMOSPHERE, PRESSURE_RANGE[1] * gauge + ATMOSPHERE),
        (min_cycle_speed(locomotive), max_cycle_speed(locomotive)),
        (engine.min_cutoff, engine.max_cutoff),
    ]


def computed_nodes(ranges: list[tuple[float, float]], shape: tuple[int, ...]) -> list[Floats]:
    """Points along each axis at which the cycle is computed, clustered at the low end.

    Args:
        ranges: Range of each axis, as by `axis_ranges`.
        shape: Number of points along each.
    """
    return [
        _clustered(*span, count, power)
        for span, count, power in zip(ranges, shape, NODE_CLUSTERING, strict=True)
    ]


def _clustered(first: float, last: float, count: int, power: float) -> Floats:
    """Points from first to last, clustered near the first."""
    return first + (last - first) * np.linspace(0.0, 1.0, count) ** power


def _filled_between(values: Floats, cutoffs: Floats) -> Floats:
    """Fill in values between known cutoffs along straight lines; NaN remains beyond them."""
    filled = np.array(values)
    for line in filled.reshape(-1, filled.shape[2]):
        known = np.flatnonzero(np.isfinite(line))
        if known.size:
            inside = slice(known[0], known[-1])
            line[inside] = np.interp(cutoffs[inside], cutoffs[known], line[known])
    return filled


def _extrapolated(values: Floats, speeds: Floats, cutoffs: Floats, *, low: float, high: float) -> Floats:
    """Fill in values where the cycle does not converge.

    Between known cutoffs in a straight line. Where long cutoffs choke the exhaust until no power is left, they go on
    from shorter ones in parallel with the next lower speed; else, from longer cutoffs, along a line that flattens;
    where none are known at a speed, likewise from lower speeds.

    Args:
        values: Shape (pressures, speeds, cutoffs); NaN where to be filled in.
        speeds: The second axis [m/s].
        cutoffs: The last axis [1].
        low: Lowest value to fill in.
        high: Highest value to fill in.

    Raises:
        OutOfRange: Nothing to extrapolate from.
    """
    filled = _filled_between(values, cutoffs)

    def fill(at: Floats, near: Floats, far: Floats, distance: float) -> None:
        missing = np.isnan(at)
        at[missing] = np.clip(near + EXTRAPOLATION_SLOPE_SHARE * distance * (near - far), low, high)[missing]

    def fill_parallel(at: Floats, near: Floats, change: Floats) -> None:
        missing = np.isnan(at)
        at[missing] = np.clip(near + change, low, high)[missing]

    for j in range(filled.shape[1]):
        row = filled[:, j]
        for k in range(2, filled.shape[2]):
            if j > 0:
                beside = filled[:, j - 1]
                fill_parallel(row[:, k], row[:, k - 1], beside[:, k] - beside[:, k - 1])
            distance = (cutoffs[k] - cutoffs[k - 1]) / (cutoffs[k - 1] - cutoffs[k - 2])
            fill(row[:, k], row[:, k - 1], row[:, k - 2], distance)
        for k in range(filled.shape[2] - 3, -1, -1):
            distance = (cutoffs[k + 1] - cutoffs[k]) / (cutoffs[k + 2] - cutoffs[k + 1])
            fill(row[:, k], row[:, k + 1], row[:, k + 2], distance)
        if j == 1:
            fill(row, filled[:, 0], filled[:, 0], 0.0)
        if j > 1:
            distance = (speeds[j] - speeds[j - 1]) / (speeds[j - 1] - speeds[j - 2])
            fill(row, filled[:, j - 1], filled[:, j - 2], distance)
    if not np.all(np.isfinite(filled)) or not filled.max() > 0.0:
        raise NoSolution(
            "the cylinder cycle does not converge for this engine",
            "look at clearance, lap and exhaust lap, or write method = 'handbook'",
        )
    return filled


def complete_arrays(found: OperatingPoints, speeds: Floats, cutoffs: Floats) -> tuple[Floats, Floats, Floats]:
    """Tractive effort, steam and back pressure with all points filled in: no power means no effort.

    How far below 0 the effort of a choked engine falls does not matter: at most as far as the largest rises above.

    Args:
        found: Points computed, shape (pressures, speeds, cutoffs).
        speeds: Speeds of the points [m/s].
        cutoffs: Cutoffs of the points [1].

    Raises:
        OutOfRange: Nothing to extrapolate from.
    """
    lowest = -max(float(np.nanmax(found.effort, initial=0.0)), 0.0)
    return (
        _extrapolated(np.maximum(found.effort, lowest), speeds, cutoffs, low=lowest, high=0.0),
        _extrapolated(found.steam, speeds, cutoffs, low=0.0, high=np.inf),
        _extrapolated(found.back_pressure, speeds, cutoffs, low=0.0, high=np.inf),
    )


def resampled(values: Floats, nodes: list[Floats], even: list[Floats]) -> Floats:
    """Resample values from clustered to even axes by cubic splines, one axis after the other.

    Args:
        values: Values at the nodes.
        nodes: The points along each axis.
        even: The points wanted along each axis.
    """
    for axis, (at, wanted) in enumerate(zip(nodes, even, strict=True)):
        values = make_interp_spline(at, values, k=min(3, len(at) - 1), axis=axis)(wanted)
    return np.asarray(values)


class MapTables(NamedTuple):
    """Tables of a map, each of shape (pressures, speeds, control nodes)."""

    throttles: Floats  # [1]
    effort: Floats  # [N]
    steam: Floats  # [kg/s]
    back_pressure: Floats  # [Pa]


def with_throttled_branch(
    wide_open: tuple[Floats, Floats, Floats],
    line: ThrottlingLine,
    axes: tuple[Floats, Floats],
    slow_steam: Floats,
) -> MapTables:
    """Put the throttled branch before the cutoffs with the throttle wide open, made monotone.

    Args:
        wide_open: Tractive effort, steam and back pressure wide open.
        line: How steam and throttle go with effort at the shortest cutoff.
        axes: Pressures [Pa] and speeds [m/s], the first speed standing for rest.
        slow_steam: Steam at the shortest cutoff and that first speed, shape (pressures,) [kg/s].

    Raises:
        OutOfRange: A map that is not fit for use.
    """
    effort, steam, back = _monotone(*wide_open)
    shortest = steam[:, :, 0].copy()
    shortest[:, 0] = slow_steam
    throttled = line.nodes(
        pressures=axes[0],
        speeds=axes[1],
        effort=effort[:, :, 0],
        steam=shortest,
        rest_steam=steam[:, 0, 0],
    )
    flow_ratio = throttled.steam / np.maximum(steam[:, :, :1], 1e-12)
    return MapTables(
        throttles=np.concatenate([throttled.throttles, np.ones_like(effort)], axis=2),
        effort=np.concatenate([throttled.effort, effort], axis=2),
        steam=np.concatenate([throttled.steam, steam], axis=2),
        # Through the same nozzle it goes with the square of the flow.
        back_pressure=np.concatenate([back[:, :, :1] * flow_ratio**2, back], axis=2),
    )


def _monotone(effort: Floats, steam: Floats, back: Floats) -> tuple[Floats, Floats, Floats]:
    """Make the map monotone: beyond the cutoff of greatest effort all values are repeated.

    Raises:
        OutOfRange: Effort or steam that falls with a longer cutoff by more than the ripple of the splines.
    """
    # At low pressure, high speed and short cutoff, compression takes more work than the steam gives: no effort.
    # What the splines leave above 0 there is none either, nor is any at a cutoff shorter than one without. A longer
    # cutoff than the best may choke the exhaust until nothing is left: that takes nothing from the shorter ones.
    best = np.argmax(effort, axis=2)
    nodes = np.arange(effort.shape[2])[None, None, :]
    without = (effort <= MIN_EFFORT_SHARE * effort.max()) & (nodes <= best[:, :, None])
    without = np.maximum.accumulate(without[:, :, ::-1], axis=2)[:, :, ::-1]
    upward = np.minimum.accumulate(steam[:, :, ::-1], axis=2)[:, :, ::-1]
    effort, steam = np.where(without, 0.0, effort), np.where(without, np.maximum(upward, 0.0), steam)
    place = np.minimum(nodes, best[:, :, None])
    effort, steam, back = (np.take_along_axis(values, place, axis=2) for values in (effort, steam, back))
    return _nondecreasing("tractive effort", effort), _nondecreasing("steam", steam), back


def _nondecreasing(name: str, values: Floats) -> Floats:
    """Make values rise along the cutoff where ripple of the splines lets them fall a little."""
    if not np.all(np.isfinite(values)):
        raise OutOfRange(f"the {name} of the performance map is not finite everywhere")
    nondecreasing = np.maximum.accumulate(values, axis=2)
    worst = float(np.max(nondecreasing - values)) / float(np.max(values))
    if worst > MAX_RIPPLE:
        raise NoSolution(
            f"the {name} of the performance map falls with a longer cutoff by {worst:.2%} of its maximum",
            "look at lap, lead, travel and clearance, or write method = 'handbook'",
        )
    return nondecreasing
