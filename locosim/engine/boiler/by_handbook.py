"""Steam supply by the handbook, from published averages."""

from __future__ import annotations

import numpy as np

from locosim.constants import BTU_PER_POUND, POUND_PER_SQUARE_FOOT_HOUR
from locosim.engine.boiler.steam_supply import SteamSupply, SupplyLimit, heating_value, max_crew_firing_rates
from locosim.model import Assumptions, Crew, Fuel, Locomotive
from locosim.physics.boiler import evaporation
from locosim.physics.boiler import limits as supply_limits
from locosim.physics.boiler.fuels import FUELS, FuelProperties, scaled_to_heating_value
from locosim.physics.steam import properties as steam
from locosim.physics.types import Floats

MAX_GRATE_RATE = 220 * POUND_PER_SQUARE_FOOT_HOUR  # [kg/(m2 s)], end of the table
RATE_STEPS = 110  # steps of the table
# Coal that the grate limit and the evaporation line apply to: "good coal 13500+ Btu/lb" [Trainorders4728623].
REFERENCE_HEATING_VALUE = 13500.0 * BTU_PER_POUND


def handbook_supply(
    locomotive: Locomotive, fuel: Fuel, crew: Crew, assumptions: Assumptions = Assumptions()
) -> SteamSupply:
    """Compute the steam supply by the handbook.

    Evaporation per coal falls with the firing rate [Bruce1952]; it is scaled with the heating value against
    good coal of 13,500 Btu/lb. Limits: the grate (for coal 120 lb per square foot and hour [Cole1914]), the
    whole evaporative surface at 57 kg/(m² h) [GermanRules], 3,000 lb of coal per hour where a fireman fires
    by hand, the stoker (an assumption), the crew's firing rate if given, and all feed devices together.

    Args:
        locomotive: The engine.
        fuel: What is burned.
        crew: Who fires it.
        assumptions: Assumed figures; `max_stoker_firing` and `tender_water_temperature` apply.

    Returns:
        The supply, at 111 firing rates.

    Raises:
        OutOfRange: A heating value the kind of fuel cannot have.
    """
    boiler = locomotive.boiler
    properties = scaled_to_heating_value(fuel=FUELS[fuel.kind], heating_value=heating_value(fuel))
    rates = np.linspace(0.0, MAX_GRATE_RATE, RATE_STEPS + 1)
    made = (
        boiler.grate_area
        * rates
        * evaporation.evaporation_per_coal(firing_rate_per_grate_area=rates)
        * (properties.heating_value / REFERENCE_HEATING_VALUE)
    )
    firing = rates * boiler.grate_area
    pressure = boiler.absolute_pressure
    feed = steam.enthalpy(pressure=pressure, temperature=assumptions.tender_water_temperature)
    dry = steam.vapor_enthalpy(pressure=pressure)
    boiling = steam.saturation_temperature(pressure=pressure)
    return SteamSupply(
        method="handbook",
        firing_rates=firing,
        steam=made,
        heat=made * (dry - feed),
        steam_temperature=np.full_like(firing, boiling) if boiler.superheater is None else None,
        limits=(
            *_firing_limits(_max_firing_rates(locomotive, properties, crew, assumptions), firing, made),
            *_other_limits(locomotive),
        ),
        feed_enthalpy=feed,
        tender_water_ratio=1.0,
        evaporation_heat=dry - feed,
        radiation_loss=0.0,  # the published evaporation per coal includes the losses of the boiler
        heating_value=properties.heating_value,
        saturation_temperature=boiling,
    )


def _max_firing_rates(
    locomotive: Locomotive, fuel: FuelProperties, crew: Crew, assumptions: Assumptions
) -> dict[str, float]:
    """Highest firing rate by each limit on the fire [kg/s]."""
    boiler = locomotive.boiler
    per_area = fuel.grate_limit if boiler.max_firing_rate is None else boiler.max_firing_rate
    grate = {supply_limits.GRATE: per_area * boiler.grate_area}
    return grate | max_crew_firing_rates(boiler, crew, assumptions)


def _firing_limits(rates: dict[str, float], firing: Floats, made: Floats) -> list[SupplyLimit]:
    """Evaporation at each highest firing rate."""
    return [
        SupplyLimit(name=name, steam=float(np.interp(rate, firing, made)), reached=rate < float(firing[-1]))
        for name, rate in rates.items()
    ]


def _other_limits(locomotive: Locomotive) -> list[SupplyLimit]:
    """Limits on the steam itself: heating surface and feed devices."""
    surface = evaporation.surface_evaporation(
        evaporative_heating_surface=locomotive.boiler.evaporative_heating_surface
    )
    found = [SupplyLimit(name=supply_limits.HEATING_SURFACE, steam=float(surface))]
    if locomotive.feed_devices:
        rates = [device.max_rate for device in locomotive.feed_devices]
        found.append(
            SupplyLimit(name=supply_limits.FEED_DEVICES, steam=supply_limits.feed_limit(rates=rates))
        )
    return found
