"""The steam supply by the boiler's heat balance.

What binds, each by name: the grate for its fuel; the fire, where more fuel makes no more steam within the table;
the fireman, the stoker or the burners; what the crew says it can fire; the draft at the back pressure one is
ready to pay; the feed devices all together.

The published rate of the heating surface does not bind here. It is a rating: it says what boilers of one
railway's practice were worth on average, before anybody computed what the surface takes from the gas. The heat
balance does just that, with firebox and tubes each by its own law and the falling efficiency in it; to cut its
answer by the rating would count the surface twice. It is shown beside the limits for comparison, and so is the
feed with the largest device out of use.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from locosim.constants import ATMOSPHERE, POUND_PER_SQUARE_FOOT_HOUR
from locosim.engine.boiler.steam_supply import FEED_TEMPERATURE, SteamSupply, SupplyLimit, heating_value
from locosim.engine.plausibility import naming_implausible_inputs
from locosim.errors import OutOfRange
from locosim.model import Boiler, Crew, FeedDevice, Fuel, Locomotive
from locosim.physics.boiler import draft as draft
from locosim.physics.boiler import feed
from locosim.physics.boiler import limits as supply_limits
from locosim.physics.boiler.evaporation import surface_evaporation
from locosim.physics.boiler.fuels import FUELS, FuelProperties, scaled_to_heating_value
from locosim.physics.boiler.gas_passages import GAS_AREA_TO_TUBE_SURFACE, TUBE_DIAMETER
from locosim.physics.boiler.heat_balance import HeatBalance, heat_balance
from locosim.physics.boiler.losses import OUTER_TO_HEATING_SURFACE_RATIO, boiler_outer_surface, radiation_loss
from locosim.physics.steam import properties as steam
from locosim.physics.types import Floats

MAX_GRATE_RATE = 260.0 * POUND_PER_SQUARE_FOOT_HOUR  # [kg/(m2 s)], end of the table; nobody fires so hard
RATE_STEPS = 130  # steps of the table
AIR_TEMPERATURE = 288.15  # round the boiler [K]
WIND_SPEED = 10.0  # past the boiler, an engine at 36 km/h [m/s]: the loss is 1.6 times that at rest
MAX_HEATER_STEAM_SHARE = 0.15  # of the feed that may be taken as exhaust steam; common practice, no source


def fuel_or_default(locomotive: Locomotive, fuel: Fuel | None) -> Fuel:
    """The fuel burned: the one given, or what the means of firing burn.

    Args:
        locomotive: The engine.
        fuel: The fuel, or None.

    Raises:
        OutOfRange: Oil and a coal fire together.
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
    """The fuel by its kind and heating value, either of them the usual one when left out.

    Args:
        locomotive: The engine.
        kind: Kind of fuel.
        heating_value: Gross heating value as fired [J/kg].

    Raises:
        OutOfRange: A kind or a value that is not known.
    """
    usual = fuel_or_default(locomotive, None)
    return Fuel(kind=usual.kind if kind is None else kind, heating_value=heating_value)


def heat_balance_supply(locomotive: Locomotive, fuel: Fuel, crew: Crew) -> SteamSupply:
    """Steam supply by the heat balance of the boiler.

    Args:
        locomotive: The engine.
        fuel: What is burned.
        crew: Who fires it.

    Raises:
        OutOfRange: A heating value the kind of fuel cannot have, or a boiler that makes no steam or makes it too hot.
    """
    known = FUELS[fuel.kind]
    fuel_properties = scaled_to_heating_value(fuel=known, heating_value=heating_value(fuel))
    first = _primary_feed(locomotive)
    with naming_implausible_inputs(locomotive):
        supply = _supply(locomotive, fuel_properties, crew, first)
        mixed = _mixed_feed(locomotive, supply.sustained)
        # One more round: the mix of devices is read at the steam it gives.
        return (
            supply if mixed.enthalpy == first.enthalpy else _supply(locomotive, fuel_properties, crew, mixed)
        )


def design_supply(locomotive: Locomotive) -> SteamSupply:
    """The supply the engine was designed for: usual fuel, and as much of it as the grate burns.

    Nozzle and steam pipes are made for this, whoever fires today.
    """
    return heat_balance_supply(locomotive, fuel_or_default(locomotive, None), Crew())


def _supply(locomotive: Locomotive, fuel: FuelProperties, crew: Crew, water: _FeedSource) -> SteamSupply:
    boiler = locomotive.boiler
    pressure = boiler.absolute_pressure
    firing = np.linspace(0.0, MAX_GRATE_RATE, RATE_STEPS + 1) * boiler.grate_area
    lost = boiler_standing_loss(boiler)
    balance = heat_balance(
        firing_rate=firing[1:],
        grate_area=boiler.grate_area,
        firebox_surface=boiler.firebox_surface,
        tube_surface=boiler.tube_surface,
        superheater_surface=boiler.superheater.surface if boiler.superheater is not None else 0.0,
        pressure=pressure,
        feed_temperature=steam.temperature_at_enthalpy(pressure=pressure, enthalpy=water.enthalpy),
        fuel=fuel,
        radiation_loss=lost,
    )
    needed = required_smokebox_draft(boiler, balance)
    feed_enthalpy = float(balance.feed_enthalpy[0])  # as the balance read it: back from its temperature
    temperature = balance.steam_temperature
    return SteamSupply(
        method="cycle",
        firing_rates=firing,
        steam=_with_zero_first(balance.steam_rate),
        heat=_with_zero_first(balance.firebox + balance.tubes),
        steam_temperature=np.concatenate([temperature[:1], temperature]),
        limits=_limits(locomotive, fuel, crew, balance, needed),
        feed_enthalpy=feed_enthalpy,
        tender_water_ratio=water.tender,
        evaporation_heat=steam.vapor_enthalpy(pressure=pressure) - feed_enthalpy,
        radiation_loss=lost,
        heating_value=fuel.heating_value,
        saturation_temperature=steam.saturation_temperature(pressure=pressure),
        ratings=_ratings(locomotive),
        balance=balance,
        draft=_with_zero_first(needed),
    )


def _with_zero_first(values: Floats) -> Floats:
    """Put a zero before the first firing rate of the balance."""
    return np.concatenate([[0.0], values])


def boiler_standing_loss(boiler: Boiler) -> float:
    """Heat the outside of a boiler loses at a moderate speed [W]."""
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
            wind=WIND_SPEED,
        )
    )


def required_smokebox_draft(boiler: Boiler, balance: HeatBalance) -> Floats:
    """Vacuum the fire asks of the smokebox at each firing rate [Pa].

    Where the tubes' length is not given it follows from the usual gas area: length over diameter 100.
    """
    length = boiler.tube_length
    usual = TUBE_DIAMETER / (4.0 * GAS_AREA_TO_TUBE_SURFACE)
    drop = draft.tube_pressure_drop(
        gas_rate=balance.gas_rate,
        free_gas_area=boiler.tube_surface * GAS_AREA_TO_TUBE_SURFACE,
        tube_length=usual if length is None else length,
        tube_diameter=TUBE_DIAMETER,
        gas_temperature=0.5 * (balance.firebox_exit_temperature + balance.smokebox_temperature),
    )
    return np.asarray(draft.required_draft(tube_drop=drop))


def vacuum_ratio(locomotive: Locomotive) -> float:
    """Vacuum over back pressure of the engine's front end [1]."""
    own = locomotive.steam_passages.draft_to_back_pressure_ratio
    return draft.DRAFT_TO_BACK_PRESSURE_RATIO if own is None else own


def max_draft(locomotive: Locomotive) -> float:
    """Vacuum the blast raises at the greatest back pressure that is usual [Pa]."""
    return float(draft.available_draft(back_pressure=draft.MAX_BACK_PRESSURE, ratio=vacuum_ratio(locomotive)))


def _limits(
    locomotive: Locomotive, fuel: FuelProperties, crew: Crew, balance: HeatBalance, needed: Floats
) -> tuple[SupplyLimit, ...]:
    boiler = locomotive.boiler
    rates = {}
    end = supply_limits.fire_limit(balance=balance)
    if end < balance.firing_rate[-1]:
        rates[supply_limits.FIRE] = end
    by_grate = supply_limits.grate_limit(grate_area=boiler.grate_area, fuel=fuel)
    # Burners are made for the firebox; its heat per area that would be grate is the fuel's own figure.
    rates[supply_limits.OIL_BURNER if boiler.firing == "oil" else supply_limits.GRATE] = by_grate
    if boiler.firing == "hand":
        rates[supply_limits.FIREMAN] = supply_limits.MAX_HAND_FIRING
    if boiler.firing == "stoker":
        rates[supply_limits.STOKER] = supply_limits.MAX_STOKER_FIRING
    if crew.max_firing is not None:
        rates[supply_limits.CREW_FIRING] = crew.max_firing
    rates[supply_limits.DRAFT] = draft.draft_limit(
        firing_rate=balance.firing_rate,
        needed=needed,
        raised=np.full_like(needed, max_draft(locomotive)),
    )
    limits = [
        SupplyLimit(
            name=name,
            steam=supply_limits.steam_from_firing_rate(firing_rate=rate, balance=balance),
            reached=rate < end or name == supply_limits.FIRE,
        )
        for name, rate in rates.items()
    ]
    if locomotive.feed_devices:
        feed_rates = [device.max_rate for device in locomotive.feed_devices]
        limits.append(
            SupplyLimit(name=supply_limits.FEED_DEVICES, steam=supply_limits.feed_limit(rates=feed_rates))
        )
    return tuple(limits)


def _ratings(locomotive: Locomotive) -> tuple[SupplyLimit, ...]:
    """What is shown beside the limits."""
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


@dataclass(frozen=True, slots=True, kw_only=True)
class _FeedSource:
    """A device, and what each kilogram the boiler gains by it brings and takes."""

    rate: float  # [kg/s]
    enthalpy: float  # [J/kg], net of what the boiler gives
    tender: float  # water from the tender [1]


def _feed_sources(locomotive: Locomotive) -> list[_FeedSource]:
    """Devices in the order a crew uses them: what brings most heat first."""
    found = []
    for device in locomotive.feed_devices:
        water = feed_water(locomotive.boiler, device)
        found.append(
            _FeedSource(
                rate=device.max_rate,
                enthalpy=water.enthalpy_of_net_water,
                tender=water.tender_water_per_net_water,
            )
        )
    return sorted(found, key=lambda device: -device.enthalpy)


def feed_water(boiler: Boiler, device: FeedDevice) -> feed.FeedWater:
    """What a feed device delivers.

    A device's rate is read as what the boiler gains by it. A heater is taken as closed: its condensate is lost,
    so the tender gives all the water. An exhaust injector feeds exhaust steam back, and spares the tender.

    Args:
        boiler: The boiler.
        device: The device.
    """
    pressure = boiler.absolute_pressure
    exhaust = feed.atmospheric_exhaust_enthalpy()
    if device.kind == "injector":
        return feed.live_steam_injector(pressure=pressure, tender_water_temperature=FEED_TEMPERATURE)
    if device.kind == "exhaust_steam_injector":
        return feed.exhaust_steam_injector(
            pressure=pressure, tender_water_temperature=FEED_TEMPERATURE, exhaust_enthalpy=exhaust
        )
    if device.kind == "pump":
        return feed.pump_without_heater(pressure=pressure, tender_water_temperature=FEED_TEMPERATURE)
    return feed.pump_with_closed_heater(
        pressure=pressure,
        tender_water_temperature=FEED_TEMPERATURE,
        exhaust_pressure=ATMOSPHERE,
        exhaust_enthalpy=exhaust,
        exhaust_available=MAX_HEATER_STEAM_SHARE,
    )


def _primary_feed(locomotive: Locomotive) -> _FeedSource:
    """The first device's feed, or tender water where no device is named."""
    devices = _feed_sources(locomotive)
    if devices:
        return devices[0]
    plain = steam.enthalpy(pressure=locomotive.boiler.absolute_pressure, temperature=FEED_TEMPERATURE)
    return _FeedSource(rate=math.inf, enthalpy=plain, tender=1.0)


def _mixed_feed(locomotive: Locomotive, wanted: float) -> _FeedSource:
    """Mean feed when the devices together deliver a rate; wanted in kg/s."""
    devices = _feed_sources(locomotive)
    if not devices:
        return _primary_feed(locomotive)
    left, heat, water = wanted, 0.0, 0.0
    for device in devices:
        part = min(left, device.rate)
        heat += part * device.enthalpy
        water += part * device.tender
        left -= part
    given = wanted - left
    if given <= 0.0:
        return devices[0]
    return _FeedSource(rate=given, enthalpy=heat / given, tender=water / given)
