"""Boiler performance and losses over the firing rate, and where each limit lies."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from locosim.constants import POUND_PER_SQUARE_FOOT_HOUR
from locosim.engine.anchor_notes import anchor_notes
from locosim.engine.boiler.by_heat_balance import fuel_or_default
from locosim.engine.boiler.by_method import compute_steam_supply
from locosim.engine.boiler.front_end import FrontEnd, front_end
from locosim.engine.boiler.steam_supply import SteamSupply
from locosim.engine.handbook_scope import method_cautions
from locosim.errors import Fault, OutOfRange
from locosim.frozen import frozen
from locosim.model import Assumptions, Crew, Fuel, Locomotive
from locosim.physics.boiler.heat_balance import HeatBalance
from locosim.physics.types import Floats

TABLE_STEP = 20.0 * POUND_PER_SQUARE_FOOT_HOUR  # of a table [kg/(m2 s)]
PLOT_STEP = 2.0 * POUND_PER_SQUARE_FOOT_HOUR  # of a plot [kg/(m2 s)]


@frozen
class BoilerPoint:
    """The boiler at one firing rate.

    Attributes:
        firing_rate_per_grate_area: Fuel per unit of grate area [kg/(m² s)].
        fuel: Firing rate [kg/s].
        steam: Evaporation, including steam for the auxiliaries [kg/s].
        efficiency: Heat in the steam over heat fired [1].
        steam_per_fuel: Evaporation over firing rate [1].
        steam_temperature: Steam temperature leaving the boiler [K]; None by the handbook if there is a superheater.
        superheat: Steam temperature above saturation [K]; None where the temperature is.
        unburned: Share of the heat fired that is never released [1]; None by the handbook.
        smokebox_temperature: Temperature of the smokebox gas [K]; None by the handbook.
        draft: Smokebox vacuum the fire requires [Pa]; None by the handbook.
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


@frozen
class LimitPoint:
    """A limit on the evaporation, with the firing rate that reaches it.

    Attributes:
        name: Name of the limit.
        steam: Evaporation it allows [kg/s]; None where it is not reached, because it lies beyond the fire's limit.
        firing_rate_per_grate_area: Firing rate that makes that steam, per unit of grate area; the fire's limit where
            the fire cannot make it or the limit is not reached [kg/(m² s)].
        binds: Whether it is the lowest limit.
    """

    name: str
    steam: float | None
    firing_rate_per_grate_area: float
    binds: bool


@frozen
class ForcedPoint:
    """The boiler forced to a firing rate or a draft, whatever its limits.

    Attributes:
        asked: `firing rate` or `draft`.
        point: The boiler at that firing rate.
        exceeded: Limits that this evaporation exceeds, by name.
    """

    asked: str
    point: BoilerPoint
    exceeded: tuple[str, ...]


@frozen(eq=False)
class BoilerTable:
    """The boiler over its firing rate.

    Attributes:
        locomotive: The engine.
        fuel: What is burned.
        supply: The steam supply the table was read from.
        points: Rising firing rates, up to where more fuel makes no more steam.
        limits: Lowest evaporation first, limits that are not reached last.
        front_end: What the front end raises, and what the fire requires of it; None by the handbook.
        assumptions: Assumed figures it was computed with.
        forced: The boiler forced to the firing rates and drafts asked for.
        notes: Keys set from the test sheet, and cautions on the method.
    """

    locomotive: Locomotive
    fuel: Fuel
    supply: SteamSupply
    points: tuple[BoilerPoint, ...]
    limits: tuple[LimitPoint, ...]
    front_end: FrontEnd | None
    assumptions: Assumptions = Assumptions()
    forced: tuple[ForcedPoint, ...] = ()
    notes: tuple[str, ...] = ()


def boiler_table(
    locomotive: Locomotive,
    *,
    method: str = "cycle",
    fuel: Fuel | None = None,
    crew: Crew | None = None,
    step: float = TABLE_STEP,
    firing_rates: Sequence[float] = (),
    drafts: Sequence[float] = (),
    assumptions: Assumptions = Assumptions(),
) -> BoilerTable:
    """Tabulate a boiler over its firing rate.

    Args:
        locomotive: The engine.
        method: `cycle`, which means the heat balance here, or `handbook`.
        fuel: What is burned; None for the usual fuel of the engine's means of firing.
        crew: Who fires it; None for a crew without a firing rate of its own.
        step: Step of the firing rate per unit of grate area [kg/(m² s)].
        firing_rates: Firing rates per unit of grate area to force the boiler to, whatever its limits [kg/(m² s)].
        drafts: Drafts in the smokebox to force it to [Pa].
        assumptions: Assumed figures.

    Returns:
        The table, one point per step.

    Raises:
        OutOfRange: A method that is not known, a step too small or too large, a firing rate or draft beyond the table,
            or a fuel that cannot be burned.
    """
    fuel, crew = fuel_or_default(locomotive, fuel), crew or Crew()
    supply = compute_steam_supply(locomotive, method=method, fuel=fuel, crew=crew, assumptions=assumptions)
    grate = locomotive.boiler.grate_area
    top = float(supply.firing_rates[int(np.argmax(supply.steam))]) / grate
    if not top / 500 <= step <= top:
        raise OutOfRange(f"step must be between {top / 500:.4g} and {top:.4g} kg/(m2 s), found {step:.4g}")
    return BoilerTable(
        locomotive=locomotive,
        fuel=fuel,
        supply=supply,
        points=tuple(_point(supply, float(rate), grate) for rate in np.arange(step, top * (1 + 1e-9), step)),
        limits=_limit_points(supply, grate),
        front_end=None if supply.draft is None else front_end(locomotive, supply, assumptions),
        assumptions=assumptions,
        forced=(
            *(
                _forced(supply, _checked_rate(supply, rate, grate), grate, "firing rate")
                for rate in firing_rates
            ),
            *(
                _forced(supply, supply.firing_rate_at_draft(draft) / grate, grate, "draft")
                for draft in drafts
            ),
        ),
        notes=(*anchor_notes(locomotive), *method_cautions(locomotive, method)),
    )


def _checked_rate(supply: SteamSupply, rate: float, grate: float) -> float:
    """A firing rate in kg/(m² s), if the table has it; grate area in m².

    Raises:
        OutOfRange: A firing rate of 0 or beyond the table.
    """
    least, most = float(supply.firing_rates[1]) / grate, float(supply.firing_rates[-1]) / grate
    if not least <= rate <= most:
        figures = {"least": least, "most": most, "found": rate}
        text = "must be between {least} and {most}, found {found}"
        raise OutOfRange.by([Fault("firing_rates", text, "kg/m^2/s", figures)])
    return rate


def _forced(supply: SteamSupply, rate: float, grate: float, asked: str) -> ForcedPoint:
    """The boiler forced to a firing rate in kg/(m² s), with the limits exceeded; grate area in m²."""
    point = _point(supply, rate, grate)
    exceeded = tuple(
        limit.name for limit in supply.limits if limit.reached and point.steam > limit.steam * (1.0 + 1e-9)
    )
    return ForcedPoint(asked=asked, point=point, exceeded=exceeded)


def _limit_points(supply: SteamSupply, grate: float) -> tuple[LimitPoint, ...]:
    """Each limit with its firing rate, lowest first; grate area in m²."""
    return tuple(
        LimitPoint(
            name=limit.name,
            steam=limit.steam if limit.reached else None,
            firing_rate_per_grate_area=supply.firing_rate_for(limit.steam) / grate,
            binds=limit is supply.binding,
        )
        for limit in sorted(supply.limits, key=lambda limit: (not limit.reached, limit.steam))
    )


def _point(supply: SteamSupply, rate: float, grate: float) -> BoilerPoint:
    """The boiler at a firing rate in kg/(m² s); grate area in m²."""
    fuel = rate * grate
    heat = float(np.interp(fuel, supply.firing_rates, supply.heat)) - supply.radiation_loss
    made = max(heat / supply.evaporation_heat, 0.0)
    temperature = _at_firing_rate(fuel, supply, supply.steam_temperature)
    balance = supply.balance
    efficiency = made * supply.evaporation_heat / (fuel * supply.heating_value)
    return BoilerPoint(
        firing_rate_per_grate_area=rate,
        fuel=fuel,
        steam=made,
        efficiency=efficiency if balance is None else _in_balance(fuel, balance, balance.efficiency),
        steam_per_fuel=made / fuel,
        steam_temperature=temperature,
        superheat=None if temperature is None else max(temperature - supply.saturation_temperature, 0.0),
        unburned=None
        if balance is None
        else _in_balance(fuel, balance, balance.unburned / balance.heat_fired),
        smokebox_temperature=None
        if balance is None
        else _in_balance(fuel, balance, balance.smokebox_temperature),
        draft=_at_firing_rate(fuel, supply, supply.draft),
    )


def _at_firing_rate(fuel: float, supply: SteamSupply, values: Floats | None) -> float | None:
    """A column of the supply at a firing rate in kg/s; None where the method does not give it."""
    return None if values is None else float(np.interp(fuel, supply.firing_rates, values))


def _in_balance(fuel: float, balance: HeatBalance, values: Floats) -> float:
    """A column of the heat balance at a firing rate in kg/s."""
    return float(np.interp(fuel, balance.firing_rate, values))
