"""Performance map by the cylinder cycle, read from disk where it was computed before.

Machine friction is not stored: it follows from engine and assumptions. `from_cycle` computes a map; it is imported, and
with it the compiled cycle, only when no map is stored.
"""

from __future__ import annotations

import threading

from locosim.engine.map.performance_map import PerformanceMap
from locosim.engine.map.store import StoredMap, load_map, map_key, map_lock, store_map
from locosim.engine.own_resistance import machine_friction_at_no_effort
from locosim.model import Assumptions, Locomotive

MAX_KEPT_BYTES = 64e6  # of maps in memory, of some 500 kB each


class MapMemory:
    """Maps in memory, up to a size: a sweep asks for the same few hundred engines again and again."""

    def __init__(self) -> None:
        self._maps: dict[str, StoredMap] = {}
        self._lock = threading.Lock()

    def find(self, key: str) -> StoredMap | None:
        """A map by its key, which is then the one used last; None where it is not kept."""
        with self._lock:
            found = self._maps.pop(key, None)
            if found is not None:
                self._maps[key] = found
            return found

    def keep(self, key: str, found: StoredMap) -> None:
        """Keep a map, and drop those used least recently beyond the size."""
        with self._lock:
            self._maps.pop(key, None)
            self._maps[key] = found
            size = sum(each.size for each in self._maps.values())
            while size > MAX_KEPT_BYTES and len(self._maps) > 1:
                size -= self._maps.pop(next(iter(self._maps))).size

    @property
    def size(self) -> int:
        """Size of all maps kept [bytes]."""
        return sum(each.size for each in self._maps.values())


_MEMORY = MapMemory()


def cycle_map(
    locomotive: Locomotive, assumptions: Assumptions = Assumptions()
) -> tuple[PerformanceMap, tuple[str, ...]]:
    """Map of an engine by the cycle, from memory or disk where it is stored, with the notes of the layout.

    Args:
        locomotive: The engine.
        assumptions: Assumed figures; those of `store.MAP_ASSUMPTIONS` and of machine friction apply.

    Returns:
        The map, and notes on what was set by rule.

    Raises:
        OutOfRange: An engine the cycle does not cover, or a map that is not fit for use.
    """
    return map_from(stored_map(locomotive, assumptions), locomotive, assumptions)


def stored_map(locomotive: Locomotive, assumptions: Assumptions) -> StoredMap:
    """The stored part of the map of an engine, computed where it is not stored; arguments and errors as `cycle_map`."""
    key = map_key(locomotive, assumptions)
    found = _MEMORY.find(key) or load_map(key)
    if found is None:
        with map_lock(key):
            # Another process may have stored it meanwhile.
            found = load_map(key) or _computed(key, locomotive, assumptions)
    _MEMORY.keep(key, found)
    return found


def _computed(key: str, locomotive: Locomotive, assumptions: Assumptions) -> StoredMap:
    """The map of an engine, computed and stored."""
    from locosim.engine.cylinders.layout import build_cycle_layout
    from locosim.engine.map.from_cycle import build_map

    found = build_map(build_cycle_layout(locomotive, assumptions))
    store_map(key, found)
    return found


def map_from(
    found: StoredMap, locomotive: Locomotive, assumptions: Assumptions
) -> tuple[PerformanceMap, tuple[str, ...]]:
    """A stored map with the machine friction of the engine, and its notes."""
    return (
        PerformanceMap(
            method="cycle",
            pressures=found.pressures,
            speeds=found.speeds,
            cutoffs=found.cutoffs,
            throttles=found.throttles,
            effort=found.effort,
            steam=found.steam,
            back_pressure=found.back_pressure,
            peak_effort_ratio=found.peak_effort_ratio,
            unit_effort_shares=tuple(found.unit_effort_shares),
            friction=machine_friction_at_no_effort(locomotive, assumptions),
            friction_share=assumptions.machine_friction_share,
            min_starting_effort_ratio=found.min_starting_effort_ratio,
            live_steam_starting_effort=found.live_steam_starting_effort,
        ),
        found.notes,
    )
