"""Performance map by the cylinder cycle.

Some hundred operating points are computed, closer together at low speed and short cutoff, where the figures curve
most. Cubic splines resample them on the even axes of the map; tests/engine/map/test_from_cycle.py bounds the
error. Our own choices, besides those of `cycle_tables` and `starting_figures`:

* The row at rest is that of a slow revolution, one in ten seconds, or in two for a compound: with leakage and
  condensation, tractive effort at rest lasts only seconds. Its steam is extrapolated linearly to the leakage and
  condensation at rest.
* Steam rate and superheat depend on each other: a few points are iterated until both agree, and the temperature is
  interpolated from them.
"""

from __future__ import annotations

import numpy as np

from locosim.engine.cylinders.layout import CycleLayout
from locosim.engine.cylinders.operating_points import COARSE_STEPS, operating_points
from locosim.engine.map.control_axis import control_cutoffs
from locosim.engine.map.cycle_tables import (
    axis_ranges,
    complete_arrays,
    computed_nodes,
    resampled,
    with_throttled_branch,
)
from locosim.engine.map.starting_figures import starting_figures
from locosim.engine.map.store import StoredMap
from locosim.engine.map.throttled import WideOpen, throttling_line
from locosim.engine.plausibility import naming_implausible_inputs
from locosim.physics.types import Floats

COMPUTED_SHAPE = (4, 10, 9)  # points computed: pressures, speeds, cutoffs
TEMPERATURE_SHAPE = (2, 4, 4)  # points iterated until steam rate and superheat agree
MAP_SHAPE = (8, 49, 29)  # nodes of the map; the last with the throttle wide open
THROTTLED_SPEEDS = (0, 1, 2, 3, 4, 6, 9)  # of the speeds computed, those at which the throttle is eased


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
    ends = axis_ranges(engine)
    even = [np.linspace(*span, count) for span, count in zip(ends, MAP_SHAPE, strict=True)]
    nodes = computed_nodes(ends, COMPUTED_SHAPE)
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
    computed = complete_arrays(found, nodes[1], nodes[2])
    effort, steam, back = (resampled(values, nodes, clamped_axes) for values in computed)
    at_rest = _steam_at_rest(computed[1], nodes, even)
    slow_steam = steam[:, 0, 0].copy()
    steam[:, 0] = at_rest
    line = throttling_line(
        engine,
        WideOpen(
            pressures=nodes[0], speeds=nodes[1], effort=computed[0][:, :, 0], steam=computed[1][:, :, 0]
        ),
        columns=THROTTLED_SPEEDS,
    )
    tables = with_throttled_branch(
        (effort, steam, back), line, (clamped_axes[0], clamped_axes[1]), slow_steam
    )
    return StoredMap(
        pressures=even[0],
        speeds=np.linspace(0.0, top, MAP_SHAPE[1]),
        cutoffs=control_cutoffs(even[2]),
        **tables._asdict(),
        **starting_figures(engine)._asdict(),
        notes=engine.notes,
    )


def _steam_at_rest(steam: Floats, nodes: list[Floats], even: list[Floats]) -> Floats:
    """Steam extrapolated linearly from the two lowest speeds to rest, over even pressures and cutoffs."""
    slow, next_one = nodes[1][:2]
    rest = steam[:, 0] - slow * (steam[:, 1] - steam[:, 0]) / (next_one - slow)
    over_axes = resampled(np.maximum(rest, 0.0), [nodes[0], nodes[2]], [even[0], even[2]])
    return np.asarray(np.maximum.accumulate(over_axes, axis=1))


def _steam_temperatures(engine: CycleLayout, ends: list[tuple[float, float]], nodes: list[Floats]) -> Floats:
    """Steam temperature at the points to be computed [K]."""
    shape = tuple(len(axis) for axis in nodes)
    if engine.locomotive.boiler.superheater is None:
        return engine.steam_temperature(np.full(shape, engine.design_steam_rate))
    coarse_nodes = computed_nodes(ends, TEMPERATURE_SHAPE)
    pressures, speeds, cutoffs = np.meshgrid(*coarse_nodes, indexing="ij")
    found = operating_points(engine, speeds=speeds, cutoffs=cutoffs, pressures=pressures, steps=COARSE_STEPS)
    steam = complete_arrays(found, coarse_nodes[1], coarse_nodes[2])[1]
    return engine.steam_temperature(np.maximum(resampled(steam, coarse_nodes, nodes), 0.0))
