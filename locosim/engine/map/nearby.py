"""Maps for other assumptions than those of a base, interpolated between a few that are computed.

A study draws the assumptions anew in each sample, and a map takes seconds. What the cylinders receive moves with few
figures: the steam temperature, the area of the nozzle, the cutoff of the low-pressure cylinders, and the factor on the
steam. The factor is exact. For each of the others a map is computed below and above that of the base; a map is the
base, plus the change between these maps that goes with each figure by itself. All assumptions of the boiler meet in the
steam temperature at a steam rate; its changes are added up too, each interpolated between the ends of its assumption.
Throttle openings, which no rule judges, leave out the area of the throttle.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from locosim.engine.boiler.front_end import EXHAUST_HEATERS
from locosim.engine.map.cached import map_from, stored_map
from locosim.engine.map.performance_map import PerformanceMap
from locosim.engine.map.store import MAP_ASSUMPTIONS, StoredMap, map_parts
from locosim.frozen import frozen
from locosim.model import Assumptions, Locomotive
from locosim.physics.types import Floats

# Assumptions that the cylinders meet directly; all others of a map, by the steam temperature alone.
BY_THEMSELVES = ("heater_exhaust_share", "low_pressure_cutoff_offset", "low_pressure_cutoff_slope")
SUPERHEATER_FACTORS = (0.6, 1.5)  # on that of the base, for maps at a lower and a higher steam temperature
MAX_EXTRAPOLATION = 1.5  # of the change of temperature between maps
MIN_CHANGE = 1.0  # of temperature between maps that counts: with hardly any steam it is 0 [K]
_RATES = 100  # steam rates at which temperatures are known
_TABLES = ("throttles", "effort", "steam", "back_pressure")
_FIGURES = ("peak_effort_ratio", "min_starting_effort_ratio", "live_steam_starting_effort")
_ALL = (*_TABLES, *_FIGURES, "unit_effort_shares")  # what of a map changes


class Levels(NamedTuple):
    """Something known at some values of an assumption.

    Attributes:
        at: Values of the assumption, at least two and rising.
        changes: Change from the base at each, shape (levels, ...).
    """

    at: tuple[float, ...]
    changes: Floats

    def change(self, value: float) -> Floats:
        """Change at a value between or beyond them, along straight lines, shape (...)."""
        first = min(max(bisect_left(self.at, value) - 1, 0), len(self.at) - 2)
        share = (value - self.at[first]) / (self.at[first + 1] - self.at[first])
        here, there = self.changes[first], self.changes[first + 1]
        return np.asarray(here + share * (there - here))


@frozen(slots=False, eq=False)
class _Temperatures:
    """Steam temperatures that assumptions of the boiler give, and maps at two others than those of the base.

    Attributes:
        steam: Table of steam of the base [kg/s].
        rates: Steam rates to the cylinders, shape (n,), from 0 to more than the most of that table [kg/s].
        usual: Temperature at each with the assumptions of the base [K].
        by_name: Change of it with each assumption [K].
        lower: Change of it at the rates of the table of steam of the base, in the map of less superheat [K].
        higher: The same in that of more superheat [K].
        maps: Both maps.
    """

    steam: Floats
    rates: Floats
    usual: Floats
    by_name: dict[str, Levels]
    lower: Floats
    higher: Floats
    maps: tuple[StoredMap, StoredMap]

    @cached_property
    def _cells(self) -> tuple[npt.NDArray[np.int_], Floats]:
        """Number of the rate at or below each point of the table of steam, and by how much that is more [kg/s]."""
        numbers = np.searchsorted(self.rates, self.steam, side="right") - 1
        return numbers, self.steam - self.rates[numbers]

    @cached_property
    def _ends(self) -> tuple[Floats, Floats, Floats, Floats]:
        """Least and most change that counts, and the divisors of the weights of both maps."""
        low, high = np.minimum(self.lower, -MIN_CHANGE), np.maximum(self.higher, MIN_CHANGE)
        return low, high, low * (low - high), high * (high - low)

    def weights(self, assumptions: Assumptions, factor: float) -> tuple[Floats, Floats]:
        """Weights of the changes to both maps at the points of the table of steam."""
        # With more steam for the same work, it passes the superheater faster.
        change = np.interp(factor * self.rates, self.rates, self.usual) - self.usual
        for name, each in self.by_name.items():
            change = change + each.change(getattr(assumptions, name))
        numbers, beyond = self._cells
        low, high, of_low, of_high = self._ends
        at = (np.diff(change) / np.diff(self.rates))[numbers] * beyond + change[numbers]
        at = np.minimum(np.maximum(at, MAX_EXTRAPOLATION * low), MAX_EXTRAPOLATION * high)
        # A parabola through the three maps.
        return at * (at - high) / of_low, at * (at - low) / of_high


@frozen(slots=False, eq=False)
class MapsOfEngine:
    """The map of an engine with the assumptions of the base, and how it changes.

    Attributes:
        parts: What the map depends on of the engine.
        base: The map.
        assumptions: Assumptions of the base.
        by_name: Changes of all tables and figures with assumptions that the cylinders meet directly: for each the
            levels, and the map at each.
        temperatures: Those of the steam; None where no assumption drawn moves them.
        own_factor: Whether the engine has a factor of its own on the steam.
    """

    parts: tuple[object, ...]
    base: StoredMap
    assumptions: Assumptions
    by_name: dict[str, tuple[tuple[float, ...], tuple[StoredMap, ...]]]
    temperatures: _Temperatures | None
    own_factor: bool

    @cached_property
    def _changes(self) -> dict[tuple[str, str], Levels]:
        """Changes of each table and figure with each assumption."""
        return {
            (name, of): Levels(
                at, np.array([np.subtract(getattr(each, of), getattr(self.base, of)) for each in maps])
            )
            for name, (at, maps) in self.by_name.items()
            for of in _ALL
        }

    @cached_property
    def _by_temperature(self) -> dict[str, list[Floats]]:
        """Changes of each table to the maps at both other steam temperatures."""
        maps = self.temperatures.maps if self.temperatures is not None else ()
        return {of: [getattr(each, of) - getattr(self.base, of) for each in maps] for of in _TABLES}

    def at(self, assumptions: Assumptions) -> StoredMap:
        """The map for other assumptions."""
        factor = (
            1.0 if self.own_factor else assumptions.steam_rate_factor / self.assumptions.steam_rate_factor
        )
        changed = {of: self._by_themselves(of, assumptions) for of in _ALL}
        if self.temperatures is not None:
            weights = self.temperatures.weights(assumptions, factor)
            for of in _TABLES:
                for weight, change in zip(weights, self._by_temperature[of], strict=True):
                    changed[of] += weight * change
        # Along the control axis effort, steam and throttle opening rise.
        rising = {of: np.maximum.accumulate(changed[of], axis=2) for of in ("throttles", "effort", "steam")}
        figures: dict[str, Any] = {of: float(changed[of]) for of in _FIGURES}
        return replace(
            self.base,
            throttles=np.minimum(np.maximum(rising["throttles"], 0.0), 1.0),
            effort=rising["effort"],
            steam=factor * np.maximum(rising["steam"], 0.0),
            back_pressure=changed["back_pressure"],
            unit_effort_shares=tuple(float(share) for share in changed["unit_effort_shares"]),
            **figures,
        )

    def _by_themselves(self, of: str, assumptions: Assumptions) -> Floats:
        """A table or figure with the changes by assumptions that the cylinders meet directly."""
        total = np.array(getattr(self.base, of), dtype=float)
        for name in self.by_name:
            total += self._changes[name, of].change(getattr(assumptions, name))
        return total


class NearbyMaps:
    """Maps of some engines for assumptions near those of a base.

    Making it computes what is not stored of the maps: two for a simple engine with a superheater, none for one without.
    The map of the base itself is unchanged.

    Args:
        base: Assumptions of the base.
        drawn: Names of the assumptions that differ; those that enter no map are ignored.
        locomotives: The engines. The map of any other one is computed.
    """

    def __init__(self, base: Assumptions, drawn: Sequence[str], locomotives: Sequence[Locomotive]) -> None:
        names = tuple(name for name in MAP_ASSUMPTIONS if name in drawn)
        self._engines = [_maps_of(each, base, names) for each in locomotives]

    def find(
        self, locomotive: Locomotive, assumptions: Assumptions
    ) -> tuple[PerformanceMap, tuple[str, ...]]:
        """Map of an engine, and notes, as from `cached.cycle_map`."""
        parts = map_parts(locomotive)
        for each in self._engines:
            if each.parts == parts:
                return map_from(each.at(assumptions), locomotive, assumptions)
        return map_from(stored_map(locomotive, assumptions), locomotive, assumptions)


def _maps_of(locomotive: Locomotive, base: Assumptions, drawn: Sequence[str]) -> MapsOfEngine:
    """The maps of an engine."""
    usual = stored_map(locomotive, base)
    by_name = {
        name: (_levels(name, base), tuple(stored_map(locomotive, each) for each in _at_levels(name, base)))
        for name in drawn
        if name in BY_THEMSELVES and _is_read(name, locomotive)
    }
    return MapsOfEngine(
        parts=map_parts(locomotive),
        base=usual,
        assumptions=base,
        by_name=by_name,
        temperatures=_temperatures(locomotive, base, drawn, usual.steam),
        own_factor=locomotive.steam_passages.steam_rate_factor is not None,
    )


def _levels(name: str, base: Assumptions) -> tuple[float, ...]:
    """The value of an assumption and the ends of its range, rising."""
    data = Assumptions.declared()[name].metadata
    return tuple(sorted({float(data["low"]), float(getattr(base, name)), float(data["high"])}))


def _at_levels(name: str, base: Assumptions) -> list[Assumptions]:
    """The base with each of these values."""
    return [replace(base, **{name: value}) for value in _levels(name, base)]


def _is_read(name: str, locomotive: Locomotive) -> bool:
    """Whether an assumption can move the steam temperature of an engine, or what else its cylinders receive."""
    if name.startswith("low_pressure"):
        return locomotive.compound
    if name in ("throttle_area_ratio", "steam_rate_factor"):
        return False
    if name in ("heater_exhaust_share", "max_heater_steam_share"):
        return any(device.kind in EXHAUST_HEATERS for device in locomotive.feed_devices)
    return True


def _temperatures(
    locomotive: Locomotive, base: Assumptions, drawn: Sequence[str], steam: Floats
) -> _Temperatures | None:
    """Steam temperatures of an engine; None where no assumption drawn moves them.

    Args:
        locomotive: The engine.
        base: Assumptions of the base.
        drawn: Names of the assumptions drawn.
        steam: Table of steam of the map of the base [kg/s].
    """
    if locomotive.boiler.superheater is None:
        return None
    from locosim.engine.cylinders.layout import build_cycle_layout  # slow to import

    rates = np.linspace(0.0, 1.2 * float(np.max(steam)), _RATES)

    def along(engine: Locomotive, assumptions: Assumptions) -> Floats:
        """Temperature at the rates [K]."""
        return build_cycle_layout(engine, assumptions).steam_temperature(rates)

    usual = along(locomotive, base)
    changes = {
        name: Levels(
            _levels(name, base),
            np.array([along(locomotive, each) - usual for each in _at_levels(name, base)]),
        )
        for name in drawn
        if _is_read(name, locomotive)
    }
    changes = {name: each for name, each in changes.items() if np.any(each.changes)}
    if not changes and "steam_rate_factor" not in drawn:
        return None
    own = locomotive.boiler.superheater_factor
    at_base = base.superheater_factor if own is None else own
    engines = [
        replace(locomotive, boiler=replace(locomotive.boiler, superheater_factor=factor * at_base))
        for factor in SUPERHEATER_FACTORS
    ]
    lower, higher = (np.interp(steam, rates, along(engine, base) - usual) for engine in engines)
    return _Temperatures(
        steam=steam,
        rates=rates,
        usual=usual,
        by_name=changes,
        lower=lower,
        higher=higher,
        maps=(stored_map(engines[0], base), stored_map(engines[1], base)),
    )
