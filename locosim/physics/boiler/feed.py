"""Putting water into the boiler: injectors, pumps, heaters; what each gives back and what it costs.

All is per mass of water that enters the boiler. The figure a heat ledger needs is `net_enthalpy`: what the
delivery brings, less the live steam the boiler itself gave for it. For a live-steam injector that is the
enthalpy of the water in the tender: its steam condenses into the feed and comes home, so it neither heats
the feed at the expense of the stack nor costs anything, while pumps throw their steam away.
"""

from __future__ import annotations

from dataclasses import dataclass

from locosim.constants import ATMOSPHERE, ZERO_CELSIUS
from locosim.errors import OutOfRange
from locosim.physics.steam import properties as steam

# Water lifted by a mass of live steam: 8 to 14 with falling boiler pressure; common practice, no source.
INJECTOR_ENTRAINMENT = 11.0
# Hottest water in the tender a live-steam injector lifts, about 120 degF; common practice, no source: no
# published limit was found, good non-lifting ones take more, worn ones less.
INJECTOR_MAX_WATER_TEMPERATURE = ZERO_CELSIUS + 49.0  # [K]
# Exhaust injector: live steam that helps, over water delivered, and temperature of delivery; common practice,
# no source.
EXHAUST_INJECTOR_LIVE_STEAM = 0.03
EXHAUST_INJECTOR_DELIVERY_TEMPERATURE = ZERO_CELSIUS + 90.0  # [K]
# Steam of a direct-acting feed pump over water delivered: such a pump takes 1.5 % more coal than an
# injector at 60 degF feed [Babcock1919].
PUMP_STEAM = 0.015
# Closest the water comes to the exhaust steam, with metal between. Common practice, no source.
CLOSED_HEATER_APPROACH = 15.0  # [K]


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedWater:
    """A unit mass of feed as it enters the boiler, and where it came from.

    Attributes:
        enthalpy: Enthalpy as it enters [J/kg].
        live_steam: Steam taken from the boiler [1].
        exhaust_steam: Exhaust steam condensed in the injector, or in a closed heater beside the feed [1].
        tender_water: Water taken from the tender [1].
        net_enthalpy: Enthalpy brought, less that of the live steam taken [J/kg].
    """

    enthalpy: float
    live_steam: float
    exhaust_steam: float
    tender_water: float
    net_enthalpy: float

    @property
    def net_water(self) -> float:
        """Mass the boiler gains [1]: what enters, less the live steam taken."""
        return 1.0 - self.live_steam

    @property
    def tender_water_per_net_water(self) -> float:
        """Water taken from the tender for each mass the boiler gains [1]: less with exhaust steam fed back."""
        return self.tender_water / self.net_water

    @property
    def enthalpy_of_net_water(self) -> float:
        """Heat the boiler gains for each mass it gains [J/kg]: of an injector, that of the tender water.

        With it a ledger may book feed as net water alone and leave the device's steam out.
        """
        return self.net_enthalpy / self.net_water


def live_steam_injector(
    *, pressure: float, tender_water_temperature: float, entrainment: float = INJECTOR_ENTRAINMENT
) -> FeedWater:
    """Feed from an injector worked by live steam.

    Args:
        pressure: Absolute pressure in the boiler [Pa].
        tender_water_temperature: Temperature of the water in the tender [K].
        entrainment: Water lifted by a mass of steam [1].

    Returns:
        The feed; without its steam it weighs less than what enters the boiler.

    Raises:
        OutOfRange: Water too hot for it to work.
    """
    if tender_water_temperature > INJECTOR_MAX_WATER_TEMPERATURE:
        raise OutOfRange(
            f"an injector does not lift water of {tender_water_temperature:.1f} K; it works up to "
            f"{INJECTOR_MAX_WATER_TEMPERATURE:.1f} K"
        )
    live = 1.0 / (1.0 + entrainment)
    given = live * steam.vapor_enthalpy(pressure=pressure)
    water = (1.0 - live) * steam.enthalpy(pressure=pressure, temperature=tender_water_temperature)
    return FeedWater(
        enthalpy=given + water,
        live_steam=live,
        exhaust_steam=0.0,
        tender_water=1.0 - live,
        net_enthalpy=water,
    )


def exhaust_steam_injector(
    *,
    pressure: float,
    tender_water_temperature: float,
    exhaust_enthalpy: float,
    delivery_temperature: float = EXHAUST_INJECTOR_DELIVERY_TEMPERATURE,
    live_steam_share: float = EXHAUST_INJECTOR_LIVE_STEAM,
) -> FeedWater:
    """Feed from an injector worked by exhaust steam with some live steam.

    With the throttle shut there is no exhaust steam: it then works by live steam, see `live_steam_injector`.

    Args:
        pressure: Absolute pressure in the boiler [Pa].
        tender_water_temperature: Temperature of the water in the tender [K].
        exhaust_enthalpy: Enthalpy of the exhaust steam [J/kg].
        delivery_temperature: Temperature of the delivery [K].
        live_steam_share: Live steam over delivery [1].

    Returns:
        The feed: the exhaust steam brings what heat the live steam does not.

    Raises:
        OutOfRange: A delivery no exhaust steam is needed for.
    """
    delivered = steam.enthalpy(pressure=pressure, temperature=delivery_temperature)
    water = steam.enthalpy(pressure=pressure, temperature=tender_water_temperature)
    live = steam.vapor_enthalpy(pressure=pressure)
    exhaust = (delivered - live_steam_share * live - (1.0 - live_steam_share) * water) / (
        exhaust_enthalpy - water
    )
    if not 0.0 <= exhaust < 1.0:
        raise OutOfRange(f"a delivery at {delivery_temperature:.1f} K does not need exhaust steam")
    return FeedWater(
        enthalpy=delivered,
        live_steam=live_steam_share,
        exhaust_steam=exhaust,
        tender_water=1.0 - live_steam_share - exhaust,
        net_enthalpy=delivered - live_steam_share * live,
    )


def pump_without_heater(
    *, pressure: float, tender_water_temperature: float, pump_steam: float = PUMP_STEAM
) -> FeedWater:
    """Feed from a pump without a heater; its steam goes to the open air.

    Args:
        pressure: Absolute pressure in the boiler [Pa].
        tender_water_temperature: Temperature of the water in the tender [K].
        pump_steam: Steam it takes over water delivered; 0 for a pump driven by the engine itself [1].

    Returns:
        The feed.
    """
    water = steam.enthalpy(pressure=pressure, temperature=tender_water_temperature)
    return FeedWater(
        enthalpy=water,
        live_steam=pump_steam,
        exhaust_steam=0.0,
        tender_water=1.0,
        net_enthalpy=water - pump_steam * steam.vapor_enthalpy(pressure=pressure),
    )


def pump_with_closed_heater(
    *,
    pressure: float,
    tender_water_temperature: float,
    exhaust_pressure: float,
    exhaust_enthalpy: float,
    exhaust_available: float,
    pump_steam: float = PUMP_STEAM,
) -> FeedWater:
    """Feed from a pump whose heater keeps the exhaust apart; its condensate is taken as lost.

    Args:
        pressure: Absolute pressure in the boiler [Pa].
        tender_water_temperature: Temperature of the water in the tender [K].
        exhaust_pressure: Absolute pressure of the exhaust steam [Pa].
        exhaust_enthalpy: Enthalpy of the exhaust steam [J/kg].
        exhaust_available: Exhaust steam that may be taken over feed delivered; about 0.15 of the exhaust does
            not yet hurt the draft (common practice, no source) [1].
        pump_steam: Live steam it takes over water delivered [1].

    Returns:
        The feed.
    """
    water = steam.enthalpy(pressure=pressure, temperature=tender_water_temperature)
    limit = steam.saturation_temperature(pressure=exhaust_pressure) - CLOSED_HEATER_APPROACH
    hottest = steam.enthalpy(pressure=pressure, temperature=max(limit, tender_water_temperature))
    given_up = exhaust_enthalpy - steam.liquid_enthalpy(pressure=exhaust_pressure)
    exhaust = min((hottest - water) / given_up, exhaust_available)
    delivered = water + exhaust * given_up
    return FeedWater(
        enthalpy=delivered,
        live_steam=pump_steam,
        exhaust_steam=exhaust,
        tender_water=1.0,
        net_enthalpy=delivered - pump_steam * steam.vapor_enthalpy(pressure=pressure),
    )


def atmospheric_exhaust_enthalpy(*, quality: float = 0.95) -> float:
    """Enthalpy of exhaust steam where no cycle has been computed; quality common practice, no source.

    Args:
        quality: Steam over mixture [1].

    Returns:
        Enthalpy [J/kg].
    """
    return steam.wet_steam_enthalpy(pressure=ATMOSPHERE, quality=quality)
