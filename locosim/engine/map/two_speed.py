"""Performance map of two speeds by the cylinder cycle, for quick what-ifs; see `from_cycle` for the whole map."""

from __future__ import annotations

import numpy as np
from scipy.interpolate import make_interp_spline

from locosim.constants import MPH
from locosim.engine.cylinders.layout import CycleLayout
from locosim.engine.cylinders.operating_points import operating_points
from locosim.engine.map.control_axis import control_cutoffs
from locosim.engine.map.cycle_tables import (
    axis_ranges,
    complete_arrays,
    computed_nodes,
    with_throttled_branch,
)
from locosim.engine.map.from_cycle import COMPUTED_SHAPE, MAP_SHAPE
from locosim.engine.map.performance_map import PerformanceMap
from locosim.engine.map.starting_figures import starting_figures
from locosim.engine.map.throttled import WideOpen, throttling_line
from locosim.engine.own_resistance import machine_friction_at_no_effort
from locosim.engine.plausibility import naming_implausible_inputs
from locosim.errors import OutOfRange
from locosim.model import Assumptions

TWO_SPEED_PRESSURE_SHARE = 0.9  # lower pressure of a two-speed map over working pressure


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
    slow = axis_ranges(engine)[1][0]
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
    at = computed_nodes(axis_ranges(engine), COMPUTED_SHAPE)[2]
    found = operating_points(
        engine,
        speeds=np.array([slow, speed])[None, :, None],
        cutoffs=at[None, None, :],
        pressures=pressures[:, None, None],
    )
    speeds = np.array([slow, speed])
    computed = complete_arrays(found, speeds, at)
    effort, steam, back = (make_interp_spline(at, values, k=3, axis=2)(cutoffs) for values in computed)
    line = throttling_line(
        engine,
        WideOpen(pressures=pressures, speeds=speeds, effort=computed[0][:, :, 0], steam=computed[1][:, :, 0]),
        rows=(1,),
        columns=(1,),
    )
    tables = with_throttled_branch((effort, steam, back), line, (pressures, speeds), steam[:, 0, 0])
    return PerformanceMap(
        method="cycle",
        pressures=pressures,
        speeds=np.array([0.0, speed]),
        cutoffs=control_cutoffs(cutoffs),
        **tables._asdict(),
        friction=machine_friction_at_no_effort(engine.locomotive, assumptions),
        friction_share=assumptions.machine_friction_share,
        **starting_figures(engine)._asdict(),
    )
