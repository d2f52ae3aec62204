"""Engine and boiler together: what both allow, with the method that says so."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from locosim.engine.boiler.by_heat_balance import fuel_or_default, heat_balance_supply
from locosim.engine.boiler.steam_supply import SteamSupply, handbook_supply
from locosim.engine.map.cached import cycle_map
from locosim.engine.map.from_handbook import handbook_map, max_factor_speed
from locosim.engine.map.performance_map import PerformanceMap
from locosim.engine.plausibility import input_notes
from locosim.errors import OutOfRange
from locosim.model import Crew, Excursion, Fuel, Locomotive

if TYPE_CHECKING:
    from locosim.engine.cylinders.layout import CycleLayout

METHODS = ("cycle", "handbook")
# Turns a second of the driving wheels at which the cycle computes starting. Slower, leaks and condensation take all,
# and the receiver of a two-expansion engine does not fill.
MIN_WHEEL_SPEED, MIN_WHEEL_SPEED_COMPOUND = 0.1, 0.5
MAP_SPEED_MARGIN = 1.05  # end of the map over the speed the engine is passed for, where that is more


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Performance:
    """What a locomotive can do with a fuel and a crew.

    Attributes:
        locomotive: The engine.
        map: Pull and steam of the cylinders.
        supply: Steam of the boiler.
        fuel: What is burned.
        notes: What was taken by a rule for want of a figure in the engine file, and what in it is hardly meant.
    """

    locomotive: Locomotive
    map: PerformanceMap
    supply: SteamSupply
    fuel: Fuel
    notes: tuple[str, ...] = ()

    @property
    def method(self) -> str:
        """Method of the map, as outputs name it."""
        return self.map.method

    @property
    def sustained_cylinder_steam(self) -> float:
        """Sustained steam less what auxiliaries take at all times [kg/s]."""
        return max(self.supply.sustained - self.locomotive.auxiliaries.continuous_demand, 0.0)

    @property
    def mass_on_drivers(self) -> float:
        """Adhesive mass that counts for the whole pull [kg].

        The unit that slips first sets it: the mass on each unit's wheels over its share of the pull.
        """
        units = zip(self.locomotive.engine_units, self.map.unit_effort_shares, strict=True)
        return min(unit.mass_on_drivers / share for unit, share in units) / self.map.peak_effort_ratio


def compute_performance(
    locomotive: Locomotive, *, method: str = "cycle", fuel: Fuel | None = None, crew: Crew | None = None
) -> Performance:
    """Compute what a locomotive can do.

    Args:
        locomotive: The engine.
        method: `cycle`, from the cylinder cycle and the boiler's heat balance, or `handbook`, from published
            averages.
        fuel: What is burned; bituminous coal, or oil where the engine burns oil, when left out.
        crew: Who fires it.

    Raises:
        OutOfRange: A method that is not known, a fuel the engine cannot burn, or an engine the method does not
            cover.
    """
    if method not in METHODS:
        raise OutOfRange(f"method must be one of {', '.join(METHODS)}, found {method!r}")
    fuel, crew = fuel_or_default(locomotive, fuel), crew or Crew()
    notes: tuple[str, ...] = ()
    if method == "handbook":
        supply, performance_map = handbook_supply(locomotive, fuel, crew), _handbook_map(locomotive)
    else:
        supply = heat_balance_supply(locomotive, fuel, crew)
        performance_map, notes = _cycle_map(locomotive)
    return Performance(
        locomotive=locomotive,
        map=performance_map,
        supply=supply,
        fuel=fuel,
        notes=(*notes, *input_notes(locomotive, supply.sustained)),
    )


def cycle_layout(locomotive: Locomotive) -> CycleLayout:
    """The engine as the cycle takes it, laid out once."""
    return _cached_cycle_layout(locomotive)


@lru_cache(maxsize=32)
def _cached_cycle_layout(locomotive: Locomotive) -> CycleLayout:
    from locosim.engine.cylinders.layout import (
        build_cycle_layout,  # slow to load, and not needed for a map kept on disk
    )

    return build_cycle_layout(locomotive)


# A map does not depend on fuel and crew, and what-ifs ask for the same engine again and again.
_handbook_map = lru_cache(maxsize=16)(handbook_map)
_cycle_map = lru_cache(maxsize=16)(cycle_map)


def min_cycle_speed(locomotive: Locomotive) -> float:
    """Speed from which on the cycle computes [m/s]; below it the map holds what that speed gives."""
    turns = MIN_WHEEL_SPEED_COMPOUND if locomotive.compound else MIN_WHEEL_SPEED
    return turns * math.pi * max(unit.driver_diameter for unit in locomotive.engine_units)


def max_cycle_speed(locomotive: Locomotive) -> float:
    """Speed up to which the cycle computes [m/s]: the handbook's, or a little above what she is passed for."""
    passed = locomotive.max_speed
    end = max_factor_speed(locomotive)
    return end if passed is None else max(end, MAP_SPEED_MARGIN * passed)


def compute_excursion_performance(excursion: Excursion) -> Performance:
    """Compute what the engine of an excursion can do, by the method it asks for."""
    return compute_performance(
        excursion.locomotive, method=excursion.method, fuel=excursion.fuel, crew=excursion.crew
    )
