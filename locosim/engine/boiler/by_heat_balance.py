"""Steam supply by the heat balance of the boiler.

Limits, each by name: the grate for its fuel, or the oil burners; the fire, where more fuel makes no more steam
within the table; the fireman or the stoker; the crew's firing rate if given; the draft at the highest usual back
pressure; all feed devices together.

The published rate of the heating surface is no limit here. It is a rating: an average of the boilers of one
railway's practice, made before the heat a surface absorbs could be computed. The heat balance computes it, with
firebox and tubes each by its own law and the falling efficiency included; to cut its answer by the rating would
count the surface twice. The rating is shown beside the limits for comparison, and so is the feed with the largest
device out.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from locosim.constants import POUND_PER_SQUARE_FOOT_HOUR
from locosim.engine.boiler.barrel import barrel_of
from locosim.engine.boiler.feed_devices import FeedSource, feed_sources, mixed_feed
from locosim.engine.boiler.front_end import front_end_evaporation
from locosim.engine.boiler.steam_supply import SteamSupply, SupplyLimit, heating_value, max_crew_firing_rates
from locosim.engine.plausibility import naming_implausible_inputs
from locosim.errors import OutOfRange
from locosim.model import Assumptions, Boiler, Crew, Fuel, Locomotive
from locosim.physics.boiler import draft as draft
from locosim.physics.boiler import limits as supply_limits
from locosim.physics.boiler.barrel import Barrel
from locosim.physics.boiler.evaporation import surface_evaporation
from locosim.physics.boiler.fuels import FUELS, FuelProperties, scaled_to_heating_value
from locosim.physics.boiler.heat_balance import HeatBalance, heat_balance
from locosim.physics.boiler.losses import OUTER_TO_HEATING_SURFACE_RATIO, boiler_outer_surface, radiation_loss
from locosim.physics.steam import properties as steam
from locosim.physics.types import Floats
from locosim.recent import keep_recent

MAX_GRATE_RATE = 260.0 * POUND_PER_SQUARE_FOOT_HOUR  # [kg/(m2 s)], end of the table; nobody fires so hard
RATE_STEPS = 130  # steps of the table
AIR_TEMPERATURE = 288.15  # around the boiler [K]


def fuel_or_default(locomotive: Locomotive, fuel: Fuel | None) -> Fuel:
    """The fuel burned: as given, or the usual fuel of the engine's means of firing.

    Args:
        locomotive: The engine.
        fuel: The fuel, or None.

    Raises:
        OutOfRange: Oil in a coal-burning engine, or a solid fuel in an oil burner.
    """
    oil = locomotive.boiler.firing == "oil"
    if fuel is None:
        return Fuel(kind="oil" if oil else "bituminous")
    if oil != (fuel.kind == "oil"):
        raise OutOfRange(
            f"{locomotive.name} has firing = {locomotive.boiler.firing!r}, found fuel kind {fuel.kind!r}; "
            + ("write kind = 'oil'" if oil else "write a solid fuel, or firing = 'oil' in the engine file")
        )
    return fuel


def make_fuel(locomotive: Locomotive, *, kind: str | None, heating_value: float | None) -> Fuel:
    """A fuel by its kind and heating value.

    Args:
        locomotive: The engine.
        kind: Kind of fuel; None for the usual fuel of the engine's means of firing.
        heating_value: Gross heating value as fired [J/kg]; None for the published value of the kind.

    Raises:
        OutOfRange: A kind or a value that is not known.
    """
    usual = fuel_or_default(locomotive, None)
    return Fuel(kind=usual.kind if kind is None else kind, heating_value=heating_value)


def heat_balance_supply(
    locomotive: Locomotive, fuel: Fuel, crew: Crew, assumptions: Assumptions = Assumptions()
) -> SteamSupply:
    """Compute the steam supply by the heat balance of the boiler.

    Args:
        locomotive: The engine.
        fuel: What is burned.
        crew: Who fires it.
        assumptions: Assumed figures; those of the boiler and its draft apply.

    Returns:
        The supply, at 131 firing rates.

    Raises:
        OutOfRange: A heating value the kind of fuel cannot have, or a boiler that makes no steam or makes it too hot.
    """
    properties = scaled_to_heating_value(fuel=FUELS[fuel.kind], heating_value=heating_value(fuel))
    properties = _with_unburned_factor(properties, locomotive.boiler, assumptions)
    sources = feed_sources(locomotive, assumptions)
    with naming_implausible_inputs(locomotive):
        supply = _supply_with_feed(locomotive, properties, crew, assumptions, sources[0])
        mixed = mixed_feed(sources, supply.sustained)
        if not locomotive.feed_devices or mixed.enthalpy == sources[0].enthalpy:
            return supply
        # A second pass: the mix of devices depends on the evaporation.
        return _supply_with_feed(locomotive, properties, crew, assumptions, mixed)


def _with_unburned_factor(fuel: FuelProperties, boiler: Boiler, assumptions: Assumptions) -> FuelProperties:
    """The fuel with its unburned share times the factor of the engine, or the assumed one."""
    factor = assumptions.unburned_factor if boiler.unburned_factor is None else boiler.unburned_factor
    return replace(
        fuel,
        unburned_low_rate=factor * fuel.unburned_low_rate,
        unburned_slope=factor * fuel.unburned_slope,
    )


def _barrel(boiler: Boiler, assumptions: Assumptions) -> Barrel:
    """Tubes and flues, with the heat transfer to the superheater times the engine's or the assumed factor."""
    own, barrel = boiler.superheater_factor, barrel_of(boiler)
    factor = assumptions.superheater_factor if own is None else own
    return replace(barrel, element_factor=factor * barrel.element_factor)


def design_supply(locomotive: Locomotive, assumptions: Assumptions = Assumptions()) -> SteamSupply:
    """The supply the engine was designed for: the usual fuel, at any rate the crew can fire.

    The steam temperature of the performance map is that of this supply, whoever fires today.

    Args:
        locomotive: The engine.
        assumptions: Assumed figures, as for `heat_balance_supply`.

    Raises:
        OutOfRange: A boiler that makes no steam or makes it too hot.
    """
    return heat_balance_supply(locomotive, fuel_or_default(locomotive, None), Crew(), assumptions)


def _supply_with_feed(
    locomotive: Locomotive, fuel: FuelProperties, crew: Crew, assumptions: Assumptions, feed: FeedSource
) -> SteamSupply:
    """The supply with a feed that does not change with the evaporation."""
    boiler = locomotive.boiler
    pressure = boiler.absolute_pressure
    loss = boiler_radiation_loss(boiler, assumptions)
    balance = _heat_balance(boiler, _barrel(boiler, assumptions), fuel, feed, loss)
    needed = required_smokebox_draft(boiler, balance, assumptions)
    feed_enthalpy = float(balance.feed_enthalpy[0])  # as the balance used it: converted from the temperature
    temperature = balance.steam_temperature
    return SteamSupply(
        method="cycle",
        firing_rates=_firing_rates(boiler),
        steam=_with_zero_first(balance.steam_rate),
        heat=_with_zero_first(balance.firebox + balance.tubes),
        steam_temperature=np.concatenate([temperature[:1], temperature]),
        limits=(
            *_firing_limits(_max_firing_rates(locomotive, fuel, crew, assumptions), balance),
            *_front_end_limits(locomotive, balance, assumptions),
            *_feed_limits(locomotive),
        ),
        feed_enthalpy=feed_enthalpy,
        tender_water_ratio=feed.tender_water,
        evaporation_heat=steam.vapor_enthalpy(pressure=pressure) - feed_enthalpy,
        radiation_loss=loss,
        heating_value=fuel.heating_value,
        saturation_temperature=steam.saturation_temperature(pressure=pressure),
        ratings=_ratings(locomotive),
        balance=balance,
        draft=_with_zero_first(needed),
    )


def _firing_rates(boiler: Boiler) -> Floats:
    """Firing rates of the table, from 0 [kg/s]."""
    return np.linspace(0.0, MAX_GRATE_RATE, RATE_STEPS + 1) * boiler.grate_area


@keep_recent(16)
def _heat_balance(
    boiler: Boiler, barrel: Barrel, fuel: FuelProperties, feed: FeedSource, loss: float
) -> HeatBalance:
    """Heat balance at each firing rate except the first, 0; radiation loss in W."""
    pressure = boiler.absolute_pressure
    return heat_balance(
        firing_rate=_firing_rates(boiler)[1:],
        grate_area=boiler.grate_area,
        firebox_surface=boiler.firebox_surface,
        barrel=barrel,
        pressure=pressure,
        feed_temperature=steam.temperature_at_enthalpy(pressure=pressure, enthalpy=feed.enthalpy),
        fuel=fuel,
        radiation_loss=loss,
    )


def _with_zero_first(values: Floats) -> Floats:
    """Put a zero before the first firing rate of the balance."""
    return np.concatenate([[0.0], values])


def boiler_radiation_loss(boiler: Boiler, assumptions: Assumptions = Assumptions()) -> float:
    """Heat lost by the outside of a boiler [W], taken as the same at all train speeds.

    Args:
        boiler: The boiler.
        assumptions: Assumed figures; `boiler_wind_speed` applies.
    """
    if boiler.shell_inside_diameter is not None and boiler.water_space_length is not None:
        outside = boiler_outer_surface(
            diameter=boiler.shell_inside_diameter, length=boiler.water_space_length
        )
    else:
        outside = OUTER_TO_HEATING_SURFACE_RATIO * boiler.evaporative_heating_surface
    return float(
        radiation_loss(
            outer_surface=outside,
            water_temperature=steam.saturation_temperature(pressure=boiler.absolute_pressure),
            air_temperature=AIR_TEMPERATURE,
            wind=assumptions.boiler_wind_speed,
        )
    )


def required_smokebox_draft(
    boiler: Boiler, balance: HeatBalance, assumptions: Assumptions = Assumptions()
) -> Floats:
    """Smokebox vacuum the fire requires [Pa], shape (n,) as the firing rates of the balance.

    The pressure drop is that of the small tubes. Where only surfaces are known, gas area and length follow by rule.

    Args:
        boiler: The boiler.
        balance: Its heat balance at n firing rates.
        assumptions: Assumed figures; `draft_roughness_factor` applies.
    """
    passage, own = barrel_of(boiler).all_gas, boiler.draft_roughness_factor
    drop = draft.tube_pressure_drop(
        gas_rate=balance.gas_rate,
        free_gas_area=passage.area,
        tube_length=passage.length,
        tube_diameter=passage.diameter,
        roughness_factor=assumptions.draft_roughness_factor if own is None else own,
        gas_temperature=0.5 * (balance.firebox_exit_temperature + balance.smokebox_temperature),
    )
    return np.asarray(draft.required_draft(tube_drop=drop))


def _max_firing_rates(
    locomotive: Locomotive, fuel: FuelProperties, crew: Crew, assumptions: Assumptions
) -> dict[str, float]:
    """Highest firing rate by the grate or burners and by who or what fires [kg/s]."""
    boiler = locomotive.boiler
    # Burners are sized for the firebox; the heat per area of an equal grate is the fuel's own figure.
    first = supply_limits.OIL_BURNER if boiler.firing == "oil" else supply_limits.GRATE
    found = {
        first: supply_limits.grate_limit(grate_area=boiler.grate_area, fuel=fuel)
        if boiler.max_firing_rate is None
        else boiler.max_firing_rate * boiler.grate_area
    }
    return found | max_crew_firing_rates(boiler, crew, assumptions)


def _firing_limits(rates: dict[str, float], balance: HeatBalance) -> list[SupplyLimit]:
    """Evaporation at each highest firing rate; first the fire's own limit, where it lies within the table."""
    end = supply_limits.fire_limit(balance=balance)
    if end < balance.firing_rate[-1]:
        rates = {supply_limits.FIRE: end, **rates}
    return [
        SupplyLimit(
            name=name,
            steam=supply_limits.steam_from_firing_rate(firing_rate=rate, balance=balance),
            reached=rate < end or name == supply_limits.FIRE,
        )
        for name, rate in rates.items()
    ]


def _front_end_limits(
    locomotive: Locomotive, balance: HeatBalance, assumptions: Assumptions
) -> list[SupplyLimit]:
    """Evaporation at which the back pressure reaches the highest allowed."""
    limit = front_end_evaporation(locomotive, assumptions)
    most = float(np.max(balance.steam_rate))
    return [SupplyLimit(name=supply_limits.FRONT_END, steam=min(limit, most), reached=limit < most)]


def _feed_limits(locomotive: Locomotive) -> list[SupplyLimit]:
    """Evaporation that all feed devices together can replace; no limit where no device is given."""
    if not locomotive.feed_devices:
        return []
    rates = [device.max_rate for device in locomotive.feed_devices]
    return [SupplyLimit(name=supply_limits.FEED_DEVICES, steam=supply_limits.feed_limit(rates=rates))]


def _ratings(locomotive: Locomotive) -> tuple[SupplyLimit, ...]:
    """Ratings shown beside the limits, for comparison."""
    surface = surface_evaporation(evaporative_heating_surface=locomotive.boiler.evaporative_heating_surface)
    found = [SupplyLimit(name="heating surface, 57 kg/(m² h) [GermanRules]", steam=float(surface))]
    if len(locomotive.feed_devices) > 1:
        rates = [device.max_rate for device in locomotive.feed_devices]
        found.append(
            SupplyLimit(
                name="feed devices, largest one out", steam=supply_limits.feed_limit_largest_out(rates=rates)
            )
        )
    return tuple(found)
