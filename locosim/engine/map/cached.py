"""The performance map by the cylinder cycle, from disk where it was made before.

Machine friction is that of [Cole1914], as by the handbook: it has the running of the coupled wheels in it. How the
map is made is told in `map_making`, which is only called, and with it the compiled cycle, when there is none.
"""

from __future__ import annotations

from locosim.engine.map.performance_map import PerformanceMap
from locosim.engine.map.store import load_map, map_key, store_map
from locosim.engine.own_resistance import engine_machine_friction
from locosim.model import Locomotive


def cycle_map(locomotive: Locomotive) -> tuple[PerformanceMap, tuple[str, ...]]:
    """The map of an engine by the cycle, from disk when it was made before, and what was assumed for it.

    Args:
        locomotive: The engine.

    Raises:
        OutOfRange: An engine the cycle does not cover, or a map that is not fit for use.
    """
    key = map_key(locomotive)
    found = load_map(key)
    if found is None:
        from locosim.engine.cylinders.layout import build_cycle_layout
        from locosim.engine.map.from_cycle import build_map

        found = build_map(build_cycle_layout(locomotive))
        store_map(key, found)
    return (
        PerformanceMap(
            method="cycle",
            pressures=found.pressures,
            speeds=found.speeds,
            cutoffs=found.cutoffs,
            effort=found.effort,
            steam=found.steam,
            back_pressure=found.back_pressure,
            peak_effort_ratio=found.peak_effort_ratio,
            unit_effort_shares=tuple(found.unit_effort_shares),
            friction=engine_machine_friction(locomotive),
        ),
        found.notes,
    )
