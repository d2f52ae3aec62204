"""Engine and boiler together: what both allow, with the method that says so."""

from __future__ import annotations

from dataclasses import dataclass

from locosim.model import Crew, Excursion, Fuel, Locomotive
from locosim.performance.handbook_map import handbook_map
from locosim.performance.performance_map import PerformanceMap
from locosim.performance.steam_supply import SteamSupply, handbook_supply


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Performance:
    """What a locomotive can do with a fuel and a crew.

    Attributes:
        locomotive: The engine.
        map: Pull and steam of the cylinders.
        supply: Steam of the boiler.
    """

    locomotive: Locomotive
    map: PerformanceMap
    supply: SteamSupply

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
    locomotive: Locomotive, *, method: str = "handbook", fuel: Fuel | None = None, crew: Crew | None = None
) -> Performance:
    """Compute what a locomotive can do.

    Args:
        locomotive: The engine.
        method: `handbook`, from published averages.
        fuel: What is burnt; bituminous coal when left out.
        crew: Who fires it.
    """
    return Performance(
        locomotive=locomotive,
        map=handbook_map(locomotive),
        supply=handbook_supply(locomotive, fuel or Fuel(), crew or Crew()),
    )


def performance_for(excursion: Excursion) -> Performance:
    """Compute what the engine of an excursion can do, by the method it asks for."""
    return performance_of(
        excursion.locomotive, method=excursion.method, fuel=excursion.fuel, crew=excursion.crew
    )
