"""Feedwater: what each feed device delivers, and the mix when several deliver together."""

from __future__ import annotations

import math

from locosim.constants import ATMOSPHERE
from locosim.frozen import frozen
from locosim.model import Assumptions, Boiler, FeedDevice, Locomotive
from locosim.physics.boiler import feed
from locosim.physics.steam import properties as steam


@frozen
class FeedSource:
    """Feed per mass the boiler gains.

    Attributes:
        rate: Highest rate at which the boiler gains water [kg/s].
        enthalpy: Heat the feed brings, net of the steam its device uses [J/kg].
        tender_water: Water from the tender per mass the boiler gains [1].
    """

    rate: float
    enthalpy: float
    tender_water: float


def feed_water(
    boiler: Boiler, device: FeedDevice, assumptions: Assumptions = Assumptions()
) -> feed.FeedWater:
    """Water as a feed device delivers it.

    The rate of a device is the rate at which the boiler gains water. A heater is treated as closed: its
    condensate is lost, so all the water comes from the tender. An exhaust steam injector returns exhaust steam
    to the boiler and saves tender water.

    Args:
        boiler: The boiler.
        device: The device.
        assumptions: Assumed figures; `tender_water_temperature` and `max_heater_steam_share` apply.

    Returns:
        The feed per mass that enters the boiler.

    Raises:
        OutOfRange: Tender water too hot for an injector.
    """
    pressure, tender = boiler.absolute_pressure, assumptions.tender_water_temperature
    exhaust = feed.atmospheric_exhaust_enthalpy()
    if device.kind == "injector":
        return feed.live_steam_injector(pressure=pressure, tender_water_temperature=tender)
    if device.kind == "exhaust_steam_injector":
        return feed.exhaust_steam_injector(
            pressure=pressure, tender_water_temperature=tender, exhaust_enthalpy=exhaust
        )
    if device.kind == "pump":
        return feed.pump_without_heater(pressure=pressure, tender_water_temperature=tender)
    return feed.pump_with_closed_heater(
        pressure=pressure,
        tender_water_temperature=tender,
        exhaust_pressure=ATMOSPHERE,
        exhaust_enthalpy=exhaust,
        exhaust_available=assumptions.max_heater_steam_share,
    )


def feed_sources(locomotive: Locomotive, assumptions: Assumptions) -> list[FeedSource]:
    """Feed of each device, in the order a crew uses them: hottest first.

    Args:
        locomotive: The engine.
        assumptions: Assumed figures, as for `feed_water`.

    Returns:
        One per device; without devices, tender water at any rate.
    """
    found = []
    for device in locomotive.feed_devices:
        water = feed_water(locomotive.boiler, device, assumptions)
        found.append(
            FeedSource(
                rate=device.max_rate,
                enthalpy=water.enthalpy_of_net_water,
                tender_water=water.tender_water_per_net_water,
            )
        )
    if not found:
        plain = steam.enthalpy(
            pressure=locomotive.boiler.absolute_pressure, temperature=assumptions.tender_water_temperature
        )
        return [FeedSource(rate=math.inf, enthalpy=plain, tender_water=1.0)]
    return sorted(found, key=lambda source: -source.enthalpy)


def mixed_feed(sources: list[FeedSource], rate: float) -> FeedSource:
    """Mean feed when the devices together deliver a rate, each up to its highest rate.

    Args:
        sources: Feed of each device, in the order of use; at least one.
        rate: Feed wanted [kg/s].

    Returns:
        The mean; its rate is what the devices can deliver of the feed wanted.
    """
    remaining, heat, water = rate, 0.0, 0.0
    for source in sources:
        part = min(remaining, source.rate)
        heat += part * source.enthalpy
        water += part * source.tender_water
        remaining -= part
    delivered = rate - remaining
    if delivered <= 0.0:
        return sources[0]
    return FeedSource(rate=delivered, enthalpy=heat / delivered, tender_water=water / delivered)
