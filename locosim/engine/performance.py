"""Engine and boiler together: what both allow, with the method that says so."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from locosim.engine.boiler.by_heat_balance import fuel_for, heat_supply
from locosim.engine.boiler.steam_supply import SteamSupply, handbook_supply
from locosim.engine.map.cached import cycle_map
from locosim.engine.map.from_handbook import end_of_speed_factors, handbook_map
from locosim.engine.map.performance_map import PerformanceMap
from locosim.engine.plausibility import figure_notes
from locosim.errors import OutOfRange
from locosim.model import Crew, Excursion, Fuel, Locomotive

if TYPE_CHECKING:
    from locosim.engine.cylinders.layout import CycleEngine

METHODS = ("cycle", "handbook")
# Turns a second of the driving wheels at which the cycle computes starting. Slower, leaks and condensation take all,
# and the receiver of a two-expansion engine does not fill.
SLOW, SLOW_TWO_EXPANSIONS = 0.1, 0.5
FASTER = 1.05  # end of the map over the speed the engine is passed for, where that is more


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Performance:
    """What a locomotive can do with a fuel and a crew.

    Attributes:
        locomotive: The engine.
        map: Pull and steam of the cylinders.
        supply: Steam of the boiler.
        fuel: What is burnt.
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
    def cylinder_steam(self) -> float:
        """Sustained steam less what auxiliaries take at all times [kg/s]."""
        return max(self.supply.sustained - self.locomotive.auxiliaries.steady, 0.0)

    @property
    def adhesive_mass(self) -> float:
        """Adhesive mass that counts for the whole pull [kg].

        The unit that slips first sets it: the mass on each unit's wheels over its share of the pull.
        """
        units = zip(self.locomotive.engine_units, self.map.unit_shares, strict=True)
        return min(unit.adhesive_mass / share for unit, share in units) / self.map.effort_ratio


def performance_of(
    locomotive: Locomotive, *, method: str = "cycle", fuel: Fuel | None = None, crew: Crew | None = None
) -> Performance:
    """Compute what a locomotive can do.

    Args:
        locomotive: The engine.
        method: `cycle`, from the cylinder cycle and the boiler's heat balance, or `handbook`, from published
            averages.
        fuel: What is burnt; bituminous coal, or oil where the engine burns oil, when left out.
        crew: Who fires it.

    Raises:
        OutOfRange: A method that is not known, a fuel the engine cannot burn, or an engine the method does not
            cover.
    """
    if method not in METHODS:
        raise OutOfRange(f"method must be one of {', '.join(METHODS)}, found {method!r}")
    burnt, hands = fuel_for(locomotive, fuel), crew or Crew()
    notes: tuple[str, ...] = ()
    if method == "handbook":
        supply, charts = handbook_supply(locomotive, burnt, hands), _handbook_map(locomotive)
    else:
        supply = heat_supply(locomotive, burnt, hands)
        charts, notes = _cycle_map(locomotive)
    return Performance(
        locomotive=locomotive,
        map=charts,
        supply=supply,
        fuel=burnt,
        notes=(*notes, *figure_notes(locomotive, supply.sustained)),
    )


def laid_out(locomotive: Locomotive) -> CycleEngine:
    """The engine as the cycle takes it, laid out once."""
    return _laid_out(locomotive)


@lru_cache(maxsize=32)
def _laid_out(locomotive: Locomotive) -> CycleEngine:
    from locosim.engine.cylinders.layout import (
        cycle_engine,  # slow to load, and not needed for a map kept on disk
    )

    return cycle_engine(locomotive)


# A map does not depend on fuel and crew, and what-ifs ask for the same engine again and again.
_handbook_map = lru_cache(maxsize=16)(handbook_map)
_cycle_map = lru_cache(maxsize=16)(cycle_map)


def slowest_speed(locomotive: Locomotive) -> float:
    """Speed from which on the cycle computes [m/s]; below it the map holds what that speed gives."""
    turns = SLOW_TWO_EXPANSIONS if locomotive.two_expansion else SLOW
    return turns * math.pi * max(unit.driving_wheel_diameter for unit in locomotive.engine_units)


def fastest_speed(locomotive: Locomotive) -> float:
    """Speed up to which the cycle computes [m/s]: the handbook's, or a little above what she is passed for."""
    passed = locomotive.speed_greatest
    end = end_of_speed_factors(locomotive)
    return end if passed is None else max(end, FASTER * passed)


def performance_for(excursion: Excursion) -> Performance:
    """Compute what the engine of an excursion can do, by the method it asks for."""
    return performance_of(
        excursion.locomotive, method=excursion.method, fuel=excursion.fuel, crew=excursion.crew
    )
