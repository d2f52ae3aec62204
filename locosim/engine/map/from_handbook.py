"""Performance map by the handbook, for engines of which only the main dimensions are known.

The method combines published pieces:

1. Mean pressure over cutoff: hyperbolic expansion with clearance against 17 psi absolute [MRS70], times one
   factor that makes the longest cutoff give the rated tractive effort at starting.
2. That factor falls with piston speed from its starting value at 250 ft/min to 0.75/0.90 of it at 1,000 ft/min
   and beyond: the diagram factors of [MRS70] for medium and high speed. The speeds are our reading.
3. The tractive effort never exceeds the rated one times the speed factor of [Cole1914].
4. Steam: what fills the cylinder to cutoff less what is trapped at compression, times one factor that makes the
   steam rate that of [Cole1914] at 1,000 ft/min on his speed curve at 200 psi. More boiler pressure lowers the rate
   as the hyperbola does.
5. With the throttle eased, the same rules apply at the shortest cutoff with a lower admission pressure.
"""

from __future__ import annotations

import numpy as np

from locosim.constants import ATMOSPHERE, PSI
from locosim.engine.cylinders.speed_range import max_factor_speed
from locosim.engine.map.control_axis import EFFORT_SHARES, control_cutoffs
from locosim.engine.map.performance_map import PerformanceMap
from locosim.engine.own_resistance import machine_friction_at_no_effort
from locosim.engine.rated_effort import unit_efforts
from locosim.model import Assumptions, Cylinders, Locomotive
from locosim.physics.steam.properties import vapor_density
from locosim.physics.traction import mean_pressure as handbook
from locosim.physics.traction.crank_effort import CRANK_ANGLES, standing_effort_ratio
from locosim.physics.traction.mean_pressure import FOOT_PER_MINUTE
from locosim.physics.traction.tractive_effort import piston_speed
from locosim.physics.types import Floats

BACK_PRESSURE = 17.0 * PSI  # absolute, [MRS70] examples to table II
LOW_PISTON_SPEED, HIGH_PISTON_SPEED = handbook.FULL_EFFORT_PISTON_SPEED, 1000 * FOOT_PER_MINUTE
HIGH_SPEED_DIAGRAM_RATIO = 0.75 / 0.90  # [MRS70] diagram factors: high-speed over medium-speed engines
COMPOUND_STEAM_RATIO = 25.0 / 30.0  # middle of [MRS70]'s ranges, lb per ihp-h: two expansions over one
PRESSURE_RANGE = (0.35, 1.05)  # of working gauge pressure
MAP_SHAPE = (8, 65, 25)  # nodes of the map: pressures, speeds, cutoffs with the throttle wide open
ADMISSION_STEPS = 40  # with the throttle eased, from the admission pressure of no effort to boiler pressure
# Pressure at which the published steam rates apply. If they applied at any working pressure, the same admission
# pressure would take more steam in an engine of more boiler pressure. Common practice of 1914, no source.
STEAM_RATE_PRESSURE = 200.0 * PSI  # gauge


def handbook_map(locomotive: Locomotive, assumptions: Assumptions = Assumptions()) -> PerformanceMap:
    """Compute the map of an engine by the handbook.

    The speed axis ends where the table of speed factors ends, at 1,600 ft/min of the fastest pistons.

    Args:
        locomotive: The engine.
        assumptions: Assumed figures; those of machine friction apply.

    Returns:
        The map, shape (8, 65, 34).

    Raises:
        OutOfRange: A compound that no published rule rates.
    """
    working = locomotive.boiler.working_pressure_gauge
    gauge = np.linspace(PRESSURE_RANGE[0] * working, PRESSURE_RANGE[1] * working, MAP_SHAPE[0])
    units = locomotive.engine_units
    speeds = np.linspace(0.0, max_factor_speed(locomotive), MAP_SHAPE[1])
    first = max(unit.min_cutoff for unit in units)
    last = min(unit.max_cutoff for unit in units)
    cutoffs = np.linspace(first, last, MAP_SHAPE[2])
    rated_efforts = unit_efforts(locomotive)
    wide_effort, wide_steam = _effort_and_steam(locomotive, gauge, speeds, cutoffs)
    eased_effort, eased_steam = _throttled_branch(locomotive, gauge, speeds, cutoffs)
    effort = np.concatenate([eased_effort, wide_effort], axis=2)
    return PerformanceMap(
        method="handbook",
        pressures=gauge + ATMOSPHERE,
        speeds=speeds,
        cutoffs=control_cutoffs(cutoffs),
        throttles=np.concatenate([np.full_like(eased_effort, np.nan), np.ones_like(wide_effort)], axis=2),
        effort=effort,
        steam=np.concatenate([eased_steam, wide_steam], axis=2),
        back_pressure=np.full_like(effort, BACK_PRESSURE - ATMOSPHERE),
        # Published coefficients of adhesion are for the mean tractive effort and include its peaks.
        peak_effort_ratio=1.0,
        unit_effort_shares=tuple(rated_effort / sum(rated_efforts) for rated_effort in rated_efforts),
        friction=machine_friction_at_no_effort(locomotive, assumptions),
        friction_share=assumptions.machine_friction_share,
        min_starting_effort_ratio=_worst_starting_ratio(locomotive, rated_efforts),
        live_steam_starting_effort=0.0,
    )


def _worst_starting_ratio(locomotive: Locomotive, rated_efforts: tuple[float, ...]) -> float:
    """Tractive effort at rest at the worst crank angle over the rated one [1]; a compound counts as simple.

    Args:
        locomotive: The engine.
        rated_efforts: Rated tractive effort of each unit [N].
    """
    worst = 0.0
    for unit, rated in zip(locomotive.engine_units, rated_efforts, strict=True):
        turns = CRANK_ANGLES.get(sum(c.number for c in unit.cylinders), CRANK_ANGLES[2])
        ratio = standing_effort_ratio([2.0 * np.pi * turn for turn in turns], cutoff=unit.max_cutoff)
        worst += rated * ratio / locomotive.tractive_effort_factor
    return worst / sum(rated_efforts)


def _effort_and_steam(
    locomotive: Locomotive, gauge: Floats, speeds: Floats, cutoffs: Floats
) -> tuple[Floats, Floats]:
    """Indicated tractive effort [N] and steam [kg/s] of all units, shape (admission pressures, speeds, cutoffs)."""
    effort = np.zeros((len(gauge), len(speeds), len(cutoffs)))
    steam = np.zeros_like(effort)
    for unit, rated_effort in zip(locomotive.engine_units, unit_efforts(locomotive), strict=True):
        pistons = np.asarray(
            piston_speed(speed=speeds, stroke=unit.stroke, driver_diameter=unit.driver_diameter)
        )
        unit_effort = _unit_indicated_effort(
            locomotive, unit.cylinders[0], rated_effort, gauge, pistons, cutoffs
        )
        effort += unit_effort
        per_work = _steam_per_work(locomotive, unit.cylinders[0], gauge, cutoffs)
        steam += (
            unit_effort / _diagram_factor_ratio(pistons)[None, :, None] * speeds[None, :, None] * per_work
        )
    return effort, steam


def _throttled_branch(
    locomotive: Locomotive, gauge: Floats, speeds: Floats, cutoffs: Floats
) -> tuple[Floats, Floats]:
    """Effort [N] and steam [kg/s] at the shortest cutoff with less admission pressure, at `EFFORT_SHARES`."""
    shares = np.array(EFFORT_SHARES)
    effort, steam = (np.zeros((len(gauge), len(speeds), len(shares))) for _ in range(2))
    wide_effort, wide_steam = (
        table[:, :, 0] for table in _effort_and_steam(locomotive, gauge, speeds, cutoffs)
    )
    no_effort = min(
        _no_effort_pressure(unit.cylinders[0], float(cutoffs[0])) for unit in locomotive.engine_units
    )
    for i, boiler in enumerate(gauge):
        # At low speed, where no curve of the handbook limits the effort; the same shares apply at all speeds.
        if wide_effort[i, 1] <= 0.0:
            continue
        admissions = np.linspace(no_effort - ATMOSPHERE, boiler, ADMISSION_STEPS + 1)[1:]
        efforts, steams = (
            table[:, 0, 0] for table in _effort_and_steam(locomotive, admissions, speeds[1:2], cutoffs)
        )
        # The step next to no effort is carried on in a straight line.
        efforts = np.concatenate([[2.0 * efforts[0] - efforts[1]], efforts])
        steams = np.concatenate([[2.0 * steams[0] - steams[1]], steams])
        effort[i] = shares * wide_effort[i][:, None]
        steam[i] = wide_steam[i][:, None] * np.interp(shares * efforts[-1], efforts, steams) / steams[-1]
    return effort, steam


def _no_effort_pressure(cylinders: Cylinders, cutoff: float) -> float:
    """Absolute admission pressure at which the mean pressure of a cutoff is the back pressure [Pa]."""
    ratio = handbook.mean_pressure_ratio(cutoff=np.asarray(cutoff), clearance=cylinders.clearance)
    return float(BACK_PRESSURE / ratio)


def _diagram_factor_ratio(pistons: Floats) -> Floats:
    """Diagram factor over its starting value [1]; piston speeds in m/s, shape (n,)."""
    return np.asarray(
        np.interp(pistons, [LOW_PISTON_SPEED, HIGH_PISTON_SPEED], [1.0, HIGH_SPEED_DIAGRAM_RATIO])
    )


def _net_pressure_ratio(cylinders: Cylinders, pressure: Floats | float, cutoff: Floats | float) -> Floats:
    """Hyperbolic mean pressure less back pressure, over admission pressure [1]; absolute pressure in Pa."""
    ratio = handbook.mean_pressure_ratio(cutoff=np.asarray(cutoff), clearance=cylinders.clearance)
    return np.asarray(np.maximum(ratio - BACK_PRESSURE / pressure, 0.0))


def _unit_indicated_effort(
    locomotive: Locomotive,
    cylinders: Cylinders,
    rated_effort: float,
    gauge: Floats,
    pistons: Floats,
    cutoffs: Floats,
) -> Floats:
    """Indicated tractive effort of one engine unit [N], shape (pressures, piston speeds, cutoffs)."""
    working = locomotive.boiler.working_pressure_gauge
    pressure = (gauge + ATMOSPHERE)[:, None, None]
    top = (working + ATMOSPHERE) * _net_pressure_ratio(cylinders, working + ATMOSPHERE, float(cutoffs[-1]))
    by_cutoff = (
        rated_effort * pressure * _net_pressure_ratio(cylinders, pressure, cutoffs[None, None, :]) / top
    )
    by_cutoff = by_cutoff * _diagram_factor_ratio(pistons)[None, :, None]
    factor = handbook.speed_factor_saturated
    if locomotive.boiler.superheater is not None:
        factor = handbook.speed_factor_superheated
    by_speed = rated_effort * (gauge / working)[:, None, None] * factor(piston_speed=pistons)[None, :, None]
    return np.asarray(np.minimum(by_cutoff, by_speed))


def _steam_per_work(locomotive: Locomotive, cylinders: Cylinders, gauge: Floats, cutoffs: Floats) -> Floats:
    """Steam over the work of the starting diagram [kg/J], shape (pressures, 1, cutoffs)."""
    superheated = locomotive.boiler.superheater is not None
    published = handbook.STEAM_PER_WORK_SUPERHEATED if superheated else handbook.STEAM_PER_WORK_SATURATED
    factor = handbook.speed_factor_superheated if superheated else handbook.speed_factor_saturated
    if locomotive.compound:
        published *= COMPOUND_STEAM_RATIO
    rated_at = STEAM_RATE_PRESSURE + ATMOSPHERE
    # The cutoff at which the diagram meets the speed curve at 1,000 ft/min.
    net = _net_pressure_ratio(cylinders, rated_at, cutoffs)
    wanted = float(net[-1]) * float(factor(piston_speed=HIGH_PISTON_SPEED)) / HIGH_SPEED_DIAGRAM_RATIO
    reference_cutoff = float(np.interp(wanted, net, cutoffs))
    at_reference = _steam_per_swept_volume(cylinders, np.array([rated_at]), np.array([reference_cutoff])) / (
        rated_at * _net_pressure_ratio(cylinders, rated_at, reference_cutoff) * HIGH_SPEED_DIAGRAM_RATIO
    )
    scale = published / float(at_reference[0, 0, 0])
    pressure = gauge + ATMOSPHERE
    work = pressure[:, None, None] * _net_pressure_ratio(
        cylinders, pressure[:, None, None], cutoffs[None, None, :]
    )
    filling = _steam_per_swept_volume(cylinders, pressure, cutoffs)
    return np.asarray(scale * filling / np.maximum(work, 1.0))


def _steam_per_swept_volume(cylinders: Cylinders, pressure: Floats, cutoffs: Floats) -> Floats:
    """Dry steam to cutoff less that trapped in the clearance, per swept volume [kg/m³]; (pressures, 1, cutoffs)."""
    fresh = np.array([vapor_density(pressure=float(p)) for p in pressure])[:, None, None]
    kept = vapor_density(pressure=BACK_PRESSURE)
    clearance = cylinders.clearance
    return np.asarray(fresh * (cutoffs[None, None, :] + clearance) - kept * clearance)
