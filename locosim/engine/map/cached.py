"""The performance map by the cylinder cycle, from disk where it was made before.

Machine friction is that of [Cole1914], as by the handbook: it has the running of the coupled wheels in it. How the
map is made is told in `map_making`, which is only called, and with it the compiled cycle, when there is none.
"""

from __future__ import annotations

from locosim.engine.map.performance_map import PerformanceMap
from locosim.engine.map.store import keep, kept, map_key
from locosim.engine.own_resistance import machine_friction_of
from locosim.model import Locomotive


def cycle_map(locomotive: Locomotive) -> tuple[PerformanceMap, tuple[str, ...]]:
    """The map of an engine by the cycle, from disk when it was made before, and what was assumed for it.

    Args:
        locomotive: The engine.

    Raises:
        OutOfRange: An engine the cycle does not cover, or a map that is not fit for use.
    """
    key = map_key(locomotive)
    found = kept(key)
    if found is None:
        from locosim.engine.cylinders.layout import cycle_engine
        from locosim.engine.map.from_cycle import made_map

        found = made_map(cycle_engine(locomotive))
        keep(key, found)
    return (
        PerformanceMap(
            method="cycle",
            pressures=found.pressures,
            speeds=found.speeds,
            cutoffs=found.cutoffs,
            pull=found.pull,
            steam=found.steam,
            back_pressure=found.back_pressure,
            effort_ratio=found.effort_ratio,
            unit_shares=tuple(found.unit_shares),
            friction=machine_friction_of(locomotive),
        ),
        found.notes,
    )
