"""Engine and boiler together, computed by one method."""

from __future__ import annotations

from typing import TYPE_CHECKING

from locosim.engine.anchor_notes import anchor_notes
from locosim.engine.boiler.barrel import barrel_notes
from locosim.engine.boiler.by_heat_balance import fuel_or_default
from locosim.engine.boiler.by_method import compute_steam_supply
from locosim.engine.boiler.steam_supply import SteamSupply
from locosim.engine.handbook_scope import method_cautions
from locosim.engine.map.cached import cycle_map
from locosim.engine.map.from_handbook import handbook_map
from locosim.engine.map.nearby import NearbyMaps
from locosim.engine.map.performance_map import PerformanceMap
from locosim.engine.plausibility import input_notes
from locosim.frozen import frozen
from locosim.model import Assumptions, Crew, Excursion, Fuel, Locomotive
from locosim.recent import keep_recent

if TYPE_CHECKING:
    from locosim.engine.cylinders.layout import CycleLayout


@frozen(eq=False)
class Performance:
    """Performance of a locomotive with a fuel and a crew.

    Attributes:
        locomotive: The engine.
        map: Tractive effort and steam of the cylinders.
        supply: Steam of the boiler.
        fuel: What is burned.
        notes: What was set by rule because the engine file does not give it, and implausible inputs.
        assumptions: Assumed figures it was computed with.
        maps: What the map was interpolated from; None where it was computed.
    """

    locomotive: Locomotive
    map: PerformanceMap
    supply: SteamSupply
    fuel: Fuel
    notes: tuple[str, ...] = ()
    assumptions: Assumptions = Assumptions()
    maps: NearbyMaps | None = None

    @property
    def method(self) -> str:
        """Method of the map: `cycle` or `handbook`."""
        return self.map.method

    @property
    def sustained_cylinder_steam(self) -> float:
        """Sustained evaporation less the continuous demand of the auxiliaries [kg/s]."""
        return max(self.supply.sustained - self.locomotive.auxiliaries.continuous_demand, 0.0)

    @property
    def mass_on_drivers(self) -> float:
        """Mass on drivers that counts for adhesion of the whole tractive effort [kg].

        The unit that slips first sets it: the mass on each unit's drivers over its share of the tractive effort.
        """
        units = zip(self.locomotive.engine_units, self.map.unit_effort_shares, strict=True)
        return min(unit.mass_on_drivers / share for unit, share in units) / self.map.peak_effort_ratio


def compute_performance(
    locomotive: Locomotive,
    *,
    method: str = "cycle",
    fuel: Fuel | None = None,
    crew: Crew | None = None,
    assumptions: Assumptions = Assumptions(),
    maps: NearbyMaps | None = None,
) -> Performance:
    """Compute the performance of a locomotive.

    The first map of an engine by the cycle takes some seconds; it is stored on disk and read from there afterwards.

    Args:
        locomotive: The engine.
        method: `cycle`, from the cylinder cycle and the boiler's heat balance, or `handbook`, from published
            averages.
        fuel: What is burned; None for bituminous coal, or oil where the engine burns oil.
        crew: Who fires it; None for a crew without a firing rate of its own.
        assumptions: Assumed figures.
        maps: Maps to interpolate the map from by the cycle; None to compute it.

    Raises:
        OutOfRange: A method that is not known, a fuel the engine cannot burn, or an engine the method does not
            cover.
    """
    return _computed(locomotive, method, fuel_or_default(locomotive, fuel), crew or Crew(), assumptions, maps)


@keep_recent(4)
def _computed(
    locomotive: Locomotive,
    method: str,
    fuel: Fuel,
    crew: Crew,
    assumptions: Assumptions,
    maps: NearbyMaps | None,
) -> Performance:
    supply = compute_steam_supply(locomotive, method=method, fuel=fuel, crew=crew, assumptions=assumptions)
    notes: tuple[str, ...] = ()
    if method == "handbook":
        performance_map = _handbook_map(locomotive, assumptions)
    else:
        performance_map, notes = (maps.find if maps else _cycle_map)(locomotive, assumptions)
        notes = (*notes, *barrel_notes(locomotive.boiler))
    return Performance(
        locomotive=locomotive,
        map=performance_map.with_power_factor(assumptions.power_factor).with_drifting_steam(
            drifting_steam(locomotive, assumptions)
        ),
        supply=supply,
        fuel=fuel,
        notes=(
            *notes,
            *anchor_notes(locomotive),
            *method_cautions(locomotive, method),
            *input_notes(locomotive, supply.sustained),
        ),
        assumptions=assumptions,
        maps=maps,
    )


def drifting_steam(locomotive: Locomotive, assumptions: Assumptions) -> float:
    """Steam to the cylinders with the throttle shut, which keeps them warm and oiled [kg/s].

    It goes by the area of the pistons, not by what the boiler makes: with poorer coal they want no less.
    """
    sets = (cylinders for unit in locomotive.engine_units for cylinders in unit.cylinders)
    return assumptions.drifting_steam * sum(cylinders.number * cylinders.area for cylinders in sets)


def cycle_layout(locomotive: Locomotive, assumptions: Assumptions = Assumptions()) -> CycleLayout:
    """The engine laid out for the cycle, computed once and then reused.

    Args:
        locomotive: The engine.
        assumptions: Assumed figures.

    Raises:
        OutOfRange: Cylinders arranged so that the cycle does not cover them, or a gear that gives no cutoff.
    """
    return _cached_cycle_layout(locomotive, assumptions)


@keep_recent(32)
def _cached_cycle_layout(locomotive: Locomotive, assumptions: Assumptions) -> CycleLayout:
    # Slow to import, and not needed for a map stored on disk.
    from locosim.engine.cylinders.layout import build_cycle_layout

    return build_cycle_layout(locomotive, assumptions)


# A map does not depend on fuel and crew, and what-ifs use the same engine again and again.
_handbook_map = keep_recent(16)(handbook_map)
_cycle_map = keep_recent(16)(cycle_map)


def compute_excursion_performance(excursion: Excursion, *, maps: NearbyMaps | None = None) -> Performance:
    """Compute the performance of the engine of an excursion, by the excursion's method and assumptions.

    Args:
        excursion: The excursion.
        maps: Maps to interpolate that of the engine from; None to compute it.

    Raises:
        OutOfRange: A fuel the engine cannot burn, or an engine the method does not cover.
    """
    return compute_performance(
        excursion.locomotive,
        method=excursion.method,
        fuel=excursion.fuel,
        crew=excursion.crew,
        assumptions=excursion.assumptions,
        maps=maps,
    )
