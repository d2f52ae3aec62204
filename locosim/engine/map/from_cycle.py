"""Performance map by the cylinder cycle.

Some hundred operating points are computed, closer together at low speed and short cutoff, where the figures curve
most. Cubic splines resample them on the even axes of the map; tests/engine/map/test_from_cycle.py bounds the
error. Our own choices:

* The row at rest is that of a slow revolution, one in ten seconds, or in two for a compound: with leakage and
  condensation, tractive effort at rest lasts only seconds. Its steam is extrapolated linearly to the leakage and
  condensation at rest.
* Beyond the cutoff of greatest tractive effort a longer one only chokes the exhaust, and no engineer uses it: from
  there on the map repeats the effort and steam of the best cutoff. Where the cylinders give no effort at a cutoff
  shorter than that, and at all still shorter ones, it has 0.
* Efforts below that of the shortest cutoff are had with the throttle eased: see `throttled`.
* Steam rate and superheat depend on each other: a few points are iterated until both agree, and the temperature is
  interpolated from them.
* Published coefficients of adhesion were measured on two-cylinder engines with cranks at right angles, and include
  the unevenness of their torque. So adhesion is judged by the peak over mean tractive effort at starting of all
  cylinders on an engine unit, over that of such an engine at 85 % cutoff: 1 for two cylinders in full gear, less for
  three.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from scipy.interpolate import make_interp_spline

from locosim.constants import ATMOSPHERE, MPH
from locosim.engine.cylinders.layout import CycleLayout
from locosim.engine.cylinders.operating_points import (
    COARSE_STEPS,
    OperatingPoints,
    diagrams,
    operating_points,
)
from locosim.engine.cylinders.speed_range import max_cycle_speed, min_cycle_speed
from locosim.engine.cylinders.starting import StartingEffort, starting_effort
from locosim.engine.cylinders.wheel_torque import peak_to_mean
from locosim.engine.map.control_axis import control_cutoffs
from locosim.engine.map.from_handbook import PRESSURE_RANGE
from locosim.engine.map.performance_map import PerformanceMap
from locosim.engine.map.store import StoredMap
from locosim.engine.map.throttled import ThrottlingLine, WideOpen, throttling_line
from locosim.engine.own_resistance import machine_friction_at_no_effort
from locosim.engine.plausibility import naming_implausible_inputs
from locosim.errors import NoSolution, OutOfRange
from locosim.model import Assumptions
from locosim.physics.cylinder.cycle import CycleEngine, CyclePoints, cycle_grid
from locosim.physics.types import Floats

COMPUTED_SHAPE = (4, 10, 9)  # points computed: pressures, speeds, cutoffs
NODE_CLUSTERING = (1.0, 1.5, 1.3)  # exponents that cluster the points at the low end of each axis
TEMPERATURE_SHAPE = (2, 4, 4)  # points iterated until steam rate and superheat agree
MAP_SHAPE = (8, 49, 29)  # nodes of the map; the last with the throttle wide open
THROTTLED_SPEEDS = (0, 1, 2, 3, 4, 6, 9)  # of the speeds computed, those at which the throttle is eased
MIN_EFFORT_SHARE = 2e-3  # of the largest effort: less is ripple of the splines and counts as none
MAX_RIPPLE = 5e-3  # of the largest value: ripple of the splines up to here is smoothed silently
EXTRAPOLATION_SLOPE_SHARE = (
    0.7  # of the last slope, from point to point: a straight line bends the splines too far
)
TWO_SPEED_PRESSURE_SHARE = 0.9  # lower pressure of a two-speed map over working pressure
REFERENCE_CUTOFF = 0.85  # full gear of the engines on which adhesion was measured
RIGHT_ANGLE = (0.0, 0.5 * math.pi)


def build_map(engine: CycleLayout) -> StoredMap:
    """Compute the map of an engine.

    Args:
        engine: The engine laid out.

    Returns:
        The map, shape (8, 49, 38).

    Raises:
        OutOfRange: A map that is not fit for use.
    """
    with naming_implausible_inputs(engine.locomotive):
        return _build_map(engine)


def _build_map(engine: CycleLayout) -> StoredMap:
    """Compute the map."""
    ends = _axis_ranges(engine)
    even = [np.linspace(*span, count) for span, count in zip(ends, MAP_SHAPE, strict=True)]
    nodes = [
        _clustered(*span, count, power)
        for span, count, power in zip(ends, COMPUTED_SHAPE, NODE_CLUSTERING, strict=True)
    ]
    pressures, speeds, cutoffs = np.meshgrid(*nodes, indexing="ij")
    found = operating_points(
        engine,
        speeds=speeds,
        cutoffs=cutoffs,
        pressures=pressures,
        temperatures=_steam_temperatures(engine, ends, nodes),
    )
    slow, top = ends[1]
    clamped_axes = [even[0], np.maximum(np.linspace(0.0, top, MAP_SHAPE[1]), slow), even[2]]
    computed = _complete_arrays(found, nodes[1], nodes[2])
    effort, steam, back = (_resampled(values, nodes, clamped_axes) for values in computed)
    at_rest = _steam_at_rest(computed[1], nodes, even)
    slow_steam = steam[:, 0, 0].copy()
    steam[:, 0] = at_rest
    wide_open = _monotone(effort, steam, back)
    line = throttling_line(
        engine,
        WideOpen(
            pressures=nodes[0], speeds=nodes[1], effort=computed[0][:, :, 0], steam=computed[1][:, :, 0]
        ),
        columns=THROTTLED_SPEEDS,
    )
    tables = _with_throttled_branch(wide_open, line, (clamped_axes[0], clamped_axes[1]), slow_steam)
    ratio, shares, starting = _starting_ratio_and_shares(engine)
    return StoredMap(
        pressures=even[0],
        speeds=np.linspace(0.0, top, MAP_SHAPE[1]),
        cutoffs=control_cutoffs(even[2]),
        throttles=tables.throttles,
        effort=tables.effort,
        steam=tables.steam,
        back_pressure=tables.back_pressure,
        peak_effort_ratio=ratio,
        unit_effort_shares=shares,
        min_starting_effort_ratio=starting.worst_ratio,
        live_steam_starting_effort=starting.mean if starting.live_steam else 0.0,
        notes=engine.notes,
    )


def _axis_ranges(engine: CycleLayout) -> list[tuple[float, float]]:
    """Range of absolute pressure [Pa], speed [m/s] and cutoff [1] of the points computed."""
    locomotive = engine.locomotive
    gauge = locomotive.boiler.working_pressure_gauge
    return [
        (PRESSURE_RANGE[0] * gauge + ATMOSPHERE, PRESSURE_RANGE[1] * gauge + ATMOSPHERE),
        (min_cycle_speed(locomotive), max_cycle_speed(locomotive)),
        (engine.min_cutoff, engine.max_cutoff),
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


def _complete_arrays(
    found: OperatingPoints, speeds: Floats, cutoffs: Floats
) -> tuple[Floats, Floats, Floats]:
    """Tractive effort, steam and back pressure with all points filled in: no power means no effort.

    How far below 0 the effort of a choked engine falls does not matter: at most as far as the largest rises above.
    """
    lowest = -max(float(np.nanmax(found.effort, initial=0.0)), 0.0)
    return (
        _extrapolated(np.maximum(found.effort, lowest), speeds, cutoffs, low=lowest, high=0.0),
        _extrapolated(found.steam, speeds, cutoffs, low=0.0, high=np.inf),
        _extrapolated(found.back_pressure, speeds, cutoffs, low=0.0, high=np.inf),
    )


def _resampled(values: Floats, nodes: list[Floats], even: list[Floats]) -> Floats:
    """Resample values from clustered to even axes by cubic splines, one axis after the other."""
    for axis, (at, wanted) in enumerate(zip(nodes, even, strict=True)):
        values = make_interp_spline(at, values, k=min(3, len(at) - 1), axis=axis)(wanted)
    return np.asarray(values)


def _steam_at_rest(steam: Floats, nodes: list[Floats], even: list[Floats]) -> Floats:
    """Steam extrapolated linearly from the two lowest speeds to rest, over even pressures and cutoffs."""
    slow, next_one = nodes[1][:2]
    rest = steam[:, 0] - slow * (steam[:, 1] - steam[:, 0]) / (next_one - slow)
    resampled = _resampled(np.maximum(rest, 0.0), [nodes[0], nodes[2]], [even[0], even[2]])
    return np.asarray(np.maximum.accumulate(resampled, axis=1))


def _steam_temperatures(engine: CycleLayout, ends: list[tuple[float, float]], nodes: list[Floats]) -> Floats:
    """Steam temperature at the points to be computed [K]."""
    shape = tuple(len(axis) for axis in nodes)
    if engine.locomotive.boiler.superheater is None:
        return engine.steam_temperature(np.full(shape, engine.design_steam_rate))
    coarse_nodes = [
        _clustered(*span, count, power)
        for span, count, power in zip(ends, TEMPERATURE_SHAPE, NODE_CLUSTERING, strict=True)
    ]
    pressures, speeds, cutoffs = np.meshgrid(*coarse_nodes, indexing="ij")
    found = operating_points(engine, speeds=speeds, cutoffs=cutoffs, pressures=pressures, steps=COARSE_STEPS)
    steam = _complete_arrays(found, coarse_nodes[1], coarse_nodes[2])[1]
    return engine.steam_temperature(np.maximum(_resampled(steam, coarse_nodes, nodes), 0.0))


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


class _Tables(NamedTuple):
    """Tables of a map, each of shape (pressures, speeds, control nodes)."""

    throttles: Floats  # [1]
    effort: Floats  # [N]
    steam: Floats  # [kg/s]
    back_pressure: Floats  # [Pa]


def _with_throttled_branch(
    wide_open: tuple[Floats, Floats, Floats],
    line: ThrottlingLine,
    axes: tuple[Floats, Floats],
    slow_steam: Floats,
) -> _Tables:
    """Put the throttled branch before the cutoffs with the throttle wide open.

    Args:
        wide_open: Tractive effort, steam and back pressure wide open.
        line: How steam and throttle go with effort at the shortest cutoff.
        axes: Pressures [Pa] and speeds [m/s], the first speed standing for rest.
        slow_steam: Steam at the shortest cutoff and that first speed, shape (pressures,) [kg/s].
    """
    effort, steam, back = wide_open
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
    return _Tables(
        throttles=np.concatenate([throttled.throttles, np.ones_like(effort)], axis=2),
        effort=np.concatenate([throttled.effort, effort], axis=2),
        steam=np.concatenate([throttled.steam, steam], axis=2),
        # Through the same nozzle it goes with the square of the flow.
        back_pressure=np.concatenate([back[:, :, :1] * flow_ratio**2, back], axis=2),
    )


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


def _starting_ratio_and_shares(engine: CycleLayout) -> tuple[float, tuple[float, ...], StartingEffort]:
    """Ratio by which adhesion is judged, share of each engine unit in the effort, and starting effort in full gear."""
    start, cycles = diagrams(
        engine,
        speed=min_cycle_speed(engine.locomotive),
        cutoff=engine.max_cutoff,
        pressure=engine.locomotive.boiler.absolute_pressure,
    )
    shares = start.effort_by_unit[:, 0] / start.effort[0]
    return (
        peak_effort_ratio(engine, peak_to_mean(engine, cycles)),
        tuple(float(share) for share in shares),
        starting_effort(engine, float(start.effort[0])),
    )


def peak_effort_ratio(engine: CycleLayout, peak: float) -> float:
    """Unevenness of the torque relative to that of the engines on which adhesion was measured [1].

    Args:
        engine: The engine laid out.
        peak: Its peak over mean tractive effort at starting [1].
    """
    group = engine.groups[0]
    if len(group.stages) == 2 and len(set(group.units)) == 2:
        return 1.0  # units turn independently, each with two cranks at right angles
    pressure = np.array([engine.locomotive.boiler.absolute_pressure])
    share = 2.0 / group.stages[0].number
    usual = cycle_grid(
        CycleEngine(
            cylinders=(group.stages[0]._replace(number=2.0),),
            cranks=(RIGHT_ANGLE,),
            nozzle_area=share * group.nozzle,
            constants=engine.constants,
        ),
        CyclePoints(
            speeds=min_cycle_speed(engine.locomotive) / (math.pi * group.driver_diameter),
            cutoffs=[REFERENCE_CUTOFF],
            passage_areas=share * group.passage,
            boiler_pressures=pressure,
            boiler_enthalpies=engine.enthalpy(pressure, engine.steam_temperature(np.zeros(1))),
        ),
    )
    return peak / float(usual.peak_torque_ratio[0])


def two_speed_map(
    engine: CycleLayout, speed: float, assumptions: Assumptions = Assumptions()
) -> PerformanceMap:
    """Compute a map of two speeds, starting and the one given, near working pressure: for quick what-ifs.

    Args:
        engine: The engine laid out.
        speed: The speed besides rest [m/s].
        assumptions: Assumed figures; those of machine friction apply.

    Returns:
        The map, shape (2, 2, 38).

    Raises:
        OutOfRange: A speed too low for the cycle, or a map that is not fit for use.
    """
    slow = _axis_ranges(engine)[1][0]
    if not speed > 2.0 * slow:
        raise OutOfRange(
            f"speed must be above {2.0 * slow:.2f} m/s ({2.0 * slow / MPH:.2f} mph), found {speed:.4g} m/s"
        )
    with naming_implausible_inputs(engine.locomotive):
        return _two_speed_map(engine, slow, speed, assumptions)


def _two_speed_map(
    engine: CycleLayout, slow: float, speed: float, assumptions: Assumptions
) -> PerformanceMap:
    """A map of the lowest speed, which stands for rest, and another."""
    working = engine.locomotive.boiler.absolute_pressure
    pressures = np.array([TWO_SPEED_PRESSURE_SHARE * working, working])
    cutoffs = np.linspace(engine.min_cutoff, engine.max_cutoff, MAP_SHAPE[2])
    at = _clustered(engine.min_cutoff, engine.max_cutoff, COMPUTED_SHAPE[2], NODE_CLUSTERING[2])
    found = operating_points(
        engine,
        speeds=np.array([slow, speed])[None, :, None],
        cutoffs=at[None, None, :],
        pressures=pressures[:, None, None],
    )
    speeds = np.array([slow, speed])
    computed = _complete_arrays(found, speeds, at)
    wide = [make_interp_spline(at, values, k=3, axis=2)(cutoffs) for values in computed]
    line = throttling_line(
        engine,
        WideOpen(pressures=pressures, speeds=speeds, effort=computed[0][:, :, 0], steam=computed[1][:, :, 0]),
        rows=(1,),
        columns=(1,),
    )
    tables = _with_throttled_branch(_monotone(*wide), line, (pressures, speeds), wide[1][:, 0, 0])
    ratio, shares, starting = _starting_ratio_and_shares(engine)
    return PerformanceMap(
        method="cycle",
        pressures=pressures,
        speeds=np.array([0.0, speed]),
        cutoffs=control_cutoffs(cutoffs),
        throttles=tables.throttles,
        effort=tables.effort,
        steam=tables.steam,
        back_pressure=tables.back_pressure,
        peak_effort_ratio=ratio,
        unit_effort_shares=shares,
        friction=machine_friction_at_no_effort(engine.locomotive, assumptions),
        friction_share=assumptions.machine_friction_share,
        min_starting_effort_ratio=starting.worst_ratio,
        live_steam_starting_effort=starting.mean if starting.live_steam else 0.0,
    )
