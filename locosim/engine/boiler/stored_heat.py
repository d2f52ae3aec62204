"""Heat stored in the boiler: what a short effort above the sustained steam is paid from.

Two stores: water and metal give up heat as the pressure falls, and feed put off need not be heated yet, while the
glass falls. Both make so much steam more over the time of the effort; afterwards pressure and water have to be won
back. How far the pressure is let fall is a choice: lower pressure makes more steam of less worth, so a short effort
is computed for several falls, none below the floor of the check, and the best is taken at each speed.
"""

from __future__ import annotations

from dataclasses import dataclass

from locosim.constants import ATMOSPHERE, STEEL_SPECIFIC_HEAT
from locosim.engine.boiler.steam_supply import SteamSupply
from locosim.errors import Fault, OutOfRange
from locosim.model import Boiler, Criteria, Locomotive
from locosim.physics.steam import properties as steam

WATER_PER_SURFACE = 33.0  # kg of water for each m² of evaporating surface; common practice, no source
DEFERRED_FEED_SHARE = 0.07  # of the working water, some 2 in of glass; common practice, no source
PRESSURE_STEPS = 6  # falls of pressure tried
METAL_MASS_SHARE = 0.20  # of the engine's mass that follows the steam temperature, where no figure is given


def water_at_working_level(boiler: Boiler) -> float:
    """Water in the boiler at working level [kg], by its evaporating surface."""
    return WATER_PER_SURFACE * boiler.evaporative_heating_surface


def metal_mass(locomotive: Locomotive) -> float:
    """Mass of boiler metal that follows the steam temperature [kg]: as given, or 20 % of the engine's mass."""
    given = locomotive.boiler.metal_mass
    return given if given is not None else METAL_MASS_SHARE * locomotive.mass


def stored_heat(locomotive: Locomotive, *, high: float, low: float) -> float:
    """Heat that water and metal give up between two pressures [J].

    Args:
        locomotive: The engine.
        high: Absolute pressure at first [Pa].
        low: Absolute pressure at last [Pa].
    """
    water = steam.liquid_enthalpy(pressure=high) - steam.liquid_enthalpy(pressure=low)
    fall = steam.saturation_temperature(pressure=high) - steam.saturation_temperature(pressure=low)
    return (
        water_at_working_level(locomotive.boiler) * water
        + STEEL_SPECIFIC_HEAT * metal_mass(locomotive) * fall
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortEffort:
    """More steam than the fire makes, for a time.

    Attributes:
        duration: How long [s].
        final_pressure: Absolute pressure at its end [Pa].
        pressure: Mean pressure, at which its pull is read [Pa].
        heat: Heat taken from water and metal, and saved on feed put off [J].
        deferred_feed: Feed put off [kg].
        extra_steam: Steam that makes beyond the sustained [kg/s].
    """

    duration: float
    final_pressure: float
    pressure: float
    heat: float
    deferred_feed: float
    extra_steam: float


def short_efforts(
    locomotive: Locomotive, supply: SteamSupply, *, duration: float, min_pressure_share: float | None = None
) -> tuple[ShortEffort, ...]:
    """What the boiler's stores are good for over a time, for several falls of the pressure.

    Args:
        locomotive: The engine.
        supply: Its steam.
        duration: Length of the effort [s].
        min_pressure_share: Least share of the working gauge pressure at its end [1]; left out, the check's own floor.

    Returns:
        One for each fall, from none to the floor.

    Raises:
        OutOfRange: An effort of less than a minute or more than an hour: the fire's lag rules the one, the sustained
            curve the other.
    """
    if not 60.0 <= duration <= 3600.0:
        figures = {"least": 60.0, "most": 3600.0, "found": duration}
        raise OutOfRange.by(
            [Fault("duration", "must be {least} to {most} for a short effort, found {found}", "s", figures)]
        )
    least = Criteria().min_boiler_pressure if min_pressure_share is None else min_pressure_share
    falls = [1.0 - (1.0 - least) * n / (PRESSURE_STEPS - 1) for n in range(PRESSURE_STEPS)]
    return tuple(_effort(locomotive, supply, duration, share) for share in falls)


def _effort(locomotive: Locomotive, supply: SteamSupply, duration: float, share: float) -> ShortEffort:
    """A short effort that ends at a share of the working gauge pressure."""
    working = locomotive.boiler.absolute_pressure
    end = ATMOSPHERE + share * locomotive.boiler.working_pressure_gauge
    deferred_feed = DEFERRED_FEED_SHARE * water_at_working_level(locomotive.boiler)
    saved = deferred_feed * (steam.liquid_enthalpy(pressure=end) - supply.feed_enthalpy)
    heat = stored_heat(locomotive, high=working, low=end) + saved
    return ShortEffort(
        duration=duration,
        final_pressure=end,
        pressure=0.5 * (working + end),
        heat=heat,
        deferred_feed=deferred_feed,
        extra_steam=heat / duration / supply.evaporation_heat,
    )
