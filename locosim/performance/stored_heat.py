"""Heat stored in the boiler: what a short effort above the sustained steam is paid from.

Water and metal give up heat as the pressure falls. With the feed kept up, so that the glass stays where it is, the
heat between working pressure and a floor makes so much steam more, over the time of the effort; afterwards it has to
be won back.
"""

from __future__ import annotations

from dataclasses import dataclass

from locosim.constants import ATMOSPHERE, STEEL_HEAT_CAPACITY
from locosim.errors import OutOfRange
from locosim.model import Boiler, Criteria, Locomotive
from locosim.performance.steam_supply import SteamSupply
from locosim.physics import steam

WATER_OVER_SURFACE = 33.0  # kg of water for each m² of evaporating surface; common practice, no source
METAL_SHARE = 0.20  # of the engine's mass that follows the steam temperature, where no figure is given


def working_water(boiler: Boiler) -> float:
    """Water in the boiler at working level [kg], by its evaporating surface."""
    return WATER_OVER_SURFACE * boiler.evaporating_surface


def metal_mass(locomotive: Locomotive) -> float:
    """Mass of boiler metal that follows the steam temperature [kg]: as given, or 20 % of the engine's mass."""
    given = locomotive.boiler.metal_mass
    return given if given is not None else METAL_SHARE * locomotive.mass


def stored_heat(locomotive: Locomotive, *, high: float, low: float) -> float:
    """Heat that water and metal give up between two pressures [J].

    Args:
        locomotive: The engine.
        high: Absolute pressure at first [Pa].
        low: Absolute pressure at last [Pa].
    """
    water = steam.liquid_enthalpy(pressure=high) - steam.liquid_enthalpy(pressure=low)
    fall = steam.saturation_temperature(pressure=high) - steam.saturation_temperature(pressure=low)
    return working_water(locomotive.boiler) * water + STEEL_HEAT_CAPACITY * metal_mass(locomotive) * fall


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortEffort:
    """More steam than the fire makes, for a time.

    Attributes:
        duration: How long [s].
        floor: Absolute pressure at its end [Pa].
        pressure: Mean pressure, at which its pull is read [Pa].
        heat: Heat taken from water and metal [J].
        extra_steam: Steam that makes beyond the sustained [kg/s].
    """

    duration: float
    floor: float
    pressure: float
    heat: float
    extra_steam: float


def short_effort(
    locomotive: Locomotive, supply: SteamSupply, *, duration: float, pressure_share: float | None = None
) -> ShortEffort:
    """What the boiler's stored heat is good for over a time.

    Args:
        locomotive: The engine.
        supply: Its steam.
        duration: Length of the effort [s].
        pressure_share: Share of the working gauge pressure at its end [1]; left out, the check's own floor.

    Raises:
        OutOfRange: An effort of less than a minute or more than an hour: the feed and the fire's lag rule the one,
            the sustained curve the other.
    """
    if not 60.0 <= duration <= 3600.0:
        raise OutOfRange(f"a short effort lasts 60 to 3600 s, found {duration:g} s")
    share = Criteria().pressure_least if pressure_share is None else pressure_share
    working = locomotive.boiler.absolute_pressure
    floor = ATMOSPHERE + share * locomotive.boiler.working_pressure_gauge
    heat = stored_heat(locomotive, high=working, low=floor)
    return ShortEffort(
        duration=duration,
        floor=floor,
        pressure=0.5 * (working + floor),
        heat=heat,
        extra_steam=heat / duration / supply.steam_heat,
    )
