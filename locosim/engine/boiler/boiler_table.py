"""What the boiler gives and loses over its firing rate, and where each limit lies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from locosim.constants import POUND_PER_SQUARE_FOOT_HOUR
from locosim.engine.boiler.by_heat_balance import fuel_or_default, heat_balance_supply, max_draft
from locosim.engine.boiler.steam_supply import SteamSupply, handbook_supply
from locosim.engine.performance import METHODS
from locosim.errors import OutOfRange
from locosim.model import Crew, Fuel, Locomotive

TABLE_STEP = 20.0 * POUND_PER_SQUARE_FOOT_HOUR  # of the table [kg/(m2 s)]
PLOT_STEP = 2.0 * POUND_PER_SQUARE_FOOT_HOUR  # of a picture [kg/(m2 s)]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoilerPoint:
    """The boiler at one firing rate.

    Attributes:
        firing_rate_per_grate_area: Fuel for each area of grate [kg/(m² s)].
        fuel: Fuel fired [kg/s].
        steam: Steam made, auxiliaries' among it [kg/s].
        efficiency: Heat in the steam over heat fired [1].
        steam_per_fuel: Steam over fuel [1].
        steam_temperature: Of the steam as it leaves the boiler [K]; None of superheated steam by the handbook.
        superheat: Above boiling [K]; None where that is.
        unburned: Share of the heat fired that is never released [1]; None by the handbook.
        smokebox_temperature: Of the gas [K]; None by the handbook.
        draft: Vacuum the fire asks of the smokebox [Pa]; None by the handbook.
    """

    firing_rate_per_grate_area: float
    fuel: float
    steam: float
    efficiency: float
    steam_per_fuel: float
    steam_temperature: float | None
    superheat: float | None
    unburned: float | None
    smokebox_temperature: float | None
    draft: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitPoint:
    """A limit with the fire that goes with it.

    Attributes:
        name: What bounds the steam.
        steam: Steam it allows; None where it is not reached, because it lies beyond the fire's end [kg/s].
        firing_rate_per_grate_area: Fuel for each area of grate that makes it; of a steam the fire cannot make, and of a limit that is
            not reached, the fire's end [kg/(m² s)].
        binds: Whether it is the one that holds the boiler back.
    """

    name: str
    steam: float | None
    firing_rate_per_grate_area: float
    binds: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BoilerTable:
    """The boiler over its firing rate.

    Attributes:
        locomotive: The engine.
        fuel: What is burned.
        supply: Where it was read from.
        points: Rising firing rates, up to where more fuel makes no more steam.
        limits: Least steam first, those that are not reached last.
        available_draft: Vacuum the blast can raise [Pa]; None by the handbook.
    """

    locomotive: Locomotive
    fuel: Fuel
    supply: SteamSupply
    points: tuple[BoilerPoint, ...]
    limits: tuple[LimitPoint, ...]
    available_draft: float | None


def boiler_table(
    locomotive: Locomotive,
    *,
    method: str = "cycle",
    fuel: Fuel | None = None,
    crew: Crew | None = None,
    step: float = TABLE_STEP,
) -> BoilerTable:
    """Tabulate a boiler over its firing rate.

    Args:
        locomotive: The engine.
        method: `cycle`, which means the heat balance here, or `handbook`.
        fuel: What is burned; that of the engine's means of firing when left out.
        crew: Who fires it.
        step: Step of the firing rate [kg/(m² s)].

    Raises:
        OutOfRange: A method that is not known, a step too small or too large, or a fuel that cannot be burned.
    """
    if method not in METHODS:
        raise OutOfRange(f"method must be one of {', '.join(METHODS)}, found {method!r}")
    fuel, crew = fuel_or_default(locomotive, fuel), crew or Crew()
    supply = (handbook_supply if method == "handbook" else heat_balance_supply)(locomotive, fuel, crew)
    grate = locomotive.boiler.grate_area
    top = float(supply.firing_rates[int(np.argmax(supply.steam))]) / grate
    if not top / 500 <= step <= top:
        raise OutOfRange(f"step must be between {top / 500:.4g} and {top:.4g} kg/(m2 s), found {step:.4g}")
    rates = np.arange(step, top * (1 + 1e-9), step)
    return BoilerTable(
        locomotive=locomotive,
        fuel=fuel,
        supply=supply,
        points=tuple(_point(supply, float(rate), grate) for rate in rates),
        limits=tuple(
            LimitPoint(
                name=limit.name,
                steam=limit.steam if limit.reached else None,
                firing_rate_per_grate_area=supply.firing_rate_for(limit.steam) / grate,
                binds=limit is supply.binding,
            )
            for limit in sorted(supply.limits, key=lambda limit: (not limit.reached, limit.steam))
        ),
        available_draft=None if supply.balance is None else max_draft(locomotive),
    )


def _point(supply: SteamSupply, rate: float, grate: float) -> BoilerPoint:
    """Read the boiler at a firing rate in kg/(m² s)."""
    fuel = rate * grate
    heat = float(np.interp(fuel, supply.firing_rates, supply.heat)) - supply.radiation_loss
    made = max(heat / supply.evaporation_heat, 0.0)
    temperature = None
    if supply.steam_temperature is not None:
        temperature = float(np.interp(fuel, supply.firing_rates, supply.steam_temperature))
    balance = supply.balance
    efficiency = made * supply.evaporation_heat / (fuel * supply.heating_value)
    if balance is not None:
        efficiency = float(np.interp(fuel, balance.firing_rate, balance.efficiency))
    return BoilerPoint(
        firing_rate_per_grate_area=rate,
        fuel=fuel,
        steam=made,
        efficiency=efficiency,
        steam_per_fuel=made / fuel,
        steam_temperature=temperature,
        superheat=None if temperature is None else max(temperature - supply.saturation_temperature, 0.0),
        unburned=None
        if balance is None
        else float(np.interp(fuel, balance.firing_rate, balance.unburned / balance.heat_fired)),
        smokebox_temperature=None
        if balance is None
        else float(np.interp(fuel, balance.firing_rate, balance.smokebox_temperature)),
        draft=None if supply.draft is None else float(np.interp(fuel, supply.firing_rates, supply.draft)),
    )
