"""Feed devices: injectors, pumps and feedwater heaters, with the heat they return and the steam they use.

All figures are per mass of water that enters the boiler. A heat balance needs `net_enthalpy`: the enthalpy of the
delivery less that of the live steam the boiler supplied for it. For a live-steam injector this is the enthalpy of the
water in the tender, because its steam condenses into the feed and returns to the boiler; the steam of a pump is lost.
"""

from __future__ import annotations

from locosim.constants import ATMOSPHERE, ZERO_CELSIUS
from locosim.errors import OutOfRange
from locosim.frozen import frozen
from locosim.physics.steam import properties as steam

# Water lifted per mass of live steam, 8 to 14 with falling boiler pressure; common practice, no source.
INJECTOR_ENTRAINMENT = 11.0
# Hottest tender water that a live-steam injector lifts, about 120 degF; common practice, no source. Good non-lifting
# injectors lift hotter water, worn ones only colder.
INJECTOR_MAX_WATER_TEMPERATURE = ZERO_CELSIUS + 49.0  # [K]
# Exhaust steam injector: live steam over water delivered, and temperature of the delivery; common practice, no source.
EXHAUST_INJECTOR_LIVE_STEAM = 0.03
EXHAUST_INJECTOR_DELIVERY_TEMPERATURE = ZERO_CELSIUS + 90.0  # [K]
# Steam of a direct-acting feed pump over water delivered: with feed at 60 degF such a pump uses 1.5 % more coal than
# an injector [Babcock1919].
PUMP_STEAM = 0.015
# Smallest temperature difference between feed and exhaust steam in a closed heater; common practice, no source.
CLOSED_HEATER_APPROACH = 15.0  # [K]


@frozen
class FeedWater:
    """A unit mass of feed as it enters the boiler, and its sources.

    Attributes:
        enthalpy: Enthalpy as it enters [J/kg].
        live_steam: Steam drawn from the boiler [1].
        exhaust_steam: Exhaust steam condensed in the injector, or in a closed heater beside the feed [1].
        tender_water: Water drawn from the tender [1].
        net_enthalpy: Enthalpy of the feed less that of the live steam drawn [J/kg].
    """

    enthalpy: float
    live_steam: float
    exhaust_steam: float
    tender_water: float
    net_enthalpy: float

    @property
    def net_water(self) -> float:
        """Mass the boiler gains [1]: the feed less the live steam drawn."""
        return 1.0 - self.live_steam

    @property
    def tender_water_per_net_water(self) -> float:
        """Water drawn from the tender per mass the boiler gains [1]; smaller where exhaust steam is fed back."""
        return self.tender_water / self.net_water

    @property
    def enthalpy_of_net_water(self) -> float:
        """Heat the boiler gains per mass it gains [J/kg]; with an injector, the enthalpy of the tender water.

        With it, a balance can count the feed as net water and leave out the steam of the device.
        """
        return self.net_enthalpy / self.net_water


def live_steam_injector(
    *, pressure: float, tender_water_temperature: float, entrainment: float = INJECTOR_ENTRAINMENT
) -> FeedWater:
    """Feed from a live-steam injector.

    Args:
        pressure: Absolute pressure in the boiler [Pa].
        tender_water_temperature: Temperature of the water in the tender [K].
        entrainment: Water lifted per mass of steam [1].

    Returns:
        The feed.

    Raises:
        OutOfRange: Water too hot for an injector.
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
    """Feed from an exhaust steam injector with supplementary live steam.

    With the throttle shut there is no exhaust steam, and it works as a `live_steam_injector`.

    Args:
        pressure: Absolute pressure in the boiler [Pa].
        tender_water_temperature: Temperature of the water in the tender [K].
        exhaust_enthalpy: Enthalpy of the exhaust steam [J/kg].
        delivery_temperature: Temperature of the delivery [K].
        live_steam_share: Live steam over delivery [1].

    Returns:
        The feed; exhaust steam supplies the heat that the live steam does not.

    Raises:
        OutOfRange: A delivery so cool that it needs no exhaust steam.
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
    """Feed from a pump without a heater, whose steam is lost.

    Args:
        pressure: Absolute pressure in the boiler [Pa].
        tender_water_temperature: Temperature of the water in the tender [K].
        pump_steam: Steam used over water delivered; 0 for a pump driven by the crosshead [1].

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
    """Feed from a pump with a closed feedwater heater, whose condensate is lost.

    Args:
        pressure: Absolute pressure in the boiler [Pa].
        tender_water_temperature: Temperature of the water in the tender [K].
        exhaust_pressure: Absolute pressure of the exhaust steam [Pa].
        exhaust_enthalpy: Enthalpy of the exhaust steam [J/kg].
        exhaust_available: Exhaust steam that may be drawn off, over feed delivered; about 0.15 does not harm the
            draft (common practice, no source) [1].
        pump_steam: Live steam used over water delivered [1].

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
    """Enthalpy of exhaust steam at atmospheric pressure, for use where no cycle has been computed.

    Args:
        quality: Mass of steam over mass of mixture; the default is common practice, no source [1].

    Returns:
        Enthalpy [J/kg].
    """
    return steam.wet_steam_enthalpy(pressure=ATMOSPHERE, quality=quality)
