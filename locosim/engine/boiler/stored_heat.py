"""Heat stored in the boiler, which supplies a short effort above the sustained evaporation.

There are two stores: water and metal give up heat as the pressure falls, and feed put off need not be heated yet,
while the level in the glass falls. Both make extra steam for the time of the effort; afterwards pressure and water
must be restored. How far the pressure may fall is a choice: lower pressure makes more steam, but each pound does less
work. So a short effort is computed for several pressure drops, none below the floor of the check, and the best is
used at each speed.
"""

from __future__ import annotations

from locosim.constants import ATMOSPHERE, STEEL_SPECIFIC_HEAT
from locosim.engine.boiler.steam_supply import SteamSupply
from locosim.errors import Fault, OutOfRange
from locosim.frozen import frozen
from locosim.model import Assumptions, Boiler, Criteria, Locomotive
from locosim.physics.steam import properties as steam

PRESSURE_STEPS = 6  # pressure drops computed


def water_at_working_level(boiler: Boiler, assumptions: Assumptions) -> float:
    """Water in the boiler at working level [kg], from its evaporative surface.

    Args:
        boiler: The boiler.
        assumptions: Assumed figures; `water_per_surface` applies.
    """
    return assumptions.water_per_surface * boiler.evaporative_heating_surface


def metal_mass(locomotive: Locomotive, assumptions: Assumptions) -> float:
    """Mass of boiler metal that follows the steam temperature [kg]: as given, or a share of the engine's mass.

    Args:
        locomotive: The engine.
        assumptions: Assumed figures; `boiler_metal_share` applies.
    """
    given = locomotive.boiler.metal_mass
    return given if given is not None else assumptions.boiler_metal_share * locomotive.mass


def stored_heat(
    locomotive: Locomotive, *, high: float, low: float, assumptions: Assumptions = Assumptions()
) -> float:
    """Heat that water and metal give up between two pressures [J].

    Args:
        locomotive: The engine.
        high: Absolute pressure at the start [Pa].
        low: Absolute pressure at the end [Pa].
        assumptions: Assumed figures; `water_per_surface` and `boiler_metal_share` apply.

    Raises:
        OutOfRange: A pressure outside the steam tables.
    """
    water = steam.liquid_enthalpy(pressure=high) - steam.liquid_enthalpy(pressure=low)
    drop = steam.saturation_temperature(pressure=high) - steam.saturation_temperature(pressure=low)
    return (
        water_at_working_level(locomotive.boiler, assumptions) * water
        + STEEL_SPECIFIC_HEAT * metal_mass(locomotive, assumptions) * drop
    )


@frozen
class ShortEffort:
    """Steam beyond the sustained evaporation, for a limited time.

    Attributes:
        duration: Length of the effort [s].
        final_pressure: Absolute pressure at its end [Pa].
        pressure: Mean absolute pressure, at which the tractive effort is read [Pa].
        heat: Heat given up by water and metal, and saved on feed put off [J].
        deferred_feed: Feed put off [kg].
        extra_steam: Steam this makes beyond the sustained evaporation [kg/s].
    """

    duration: float
    final_pressure: float
    pressure: float
    heat: float
    deferred_feed: float
    extra_steam: float


def short_efforts(
    locomotive: Locomotive,
    supply: SteamSupply,
    *,
    duration: float,
    min_pressure_share: float | None = None,
    assumptions: Assumptions = Assumptions(),
) -> tuple[ShortEffort, ...]:
    """Extra steam from stored heat over a time, for several pressure drops.

    Args:
        locomotive: The engine.
        supply: Its steam supply.
        duration: Length of the effort, 60 to 3,600 [s].
        min_pressure_share: Lowest share of the working gauge pressure at its end [1]; None for the floor of the check.
        assumptions: Assumed figures; `deferred_feed_share` and those of `stored_heat` apply.

    Returns:
        Six efforts, from no pressure drop to the floor.

    Raises:
        OutOfRange: An effort of less than a minute, where the lag of the fire governs, or of more than an hour, where
            the sustained curve does.
    """
    if not 60.0 <= duration <= 3600.0:
        figures = {"least": 60.0, "most": 3600.0, "found": duration}
        raise OutOfRange.by(
            [Fault("duration", "must be {least} to {most} for a short effort, found {found}", "s", figures)]
        )
    floor = Criteria().min_boiler_pressure if min_pressure_share is None else min_pressure_share
    shares = [1.0 - (1.0 - floor) * n / (PRESSURE_STEPS - 1) for n in range(PRESSURE_STEPS)]
    return tuple(_short_effort(locomotive, supply, duration, share, assumptions) for share in shares)


def _short_effort(
    locomotive: Locomotive, supply: SteamSupply, duration: float, share: float, assumptions: Assumptions
) -> ShortEffort:
    """A short effort that ends at a share of the working gauge pressure."""
    working = locomotive.boiler.absolute_pressure
    end = ATMOSPHERE + share * locomotive.boiler.working_pressure_gauge
    deferred = assumptions.deferred_feed_share * water_at_working_level(locomotive.boiler, assumptions)
    saved = deferred * (steam.liquid_enthalpy(pressure=end) - supply.feed_enthalpy)
    heat = stored_heat(locomotive, high=working, low=end, assumptions=assumptions) + saved
    return ShortEffort(
        duration=duration,
        final_pressure=end,
        pressure=0.5 * (working + end),
        heat=heat,
        deferred_feed=deferred,
        extra_steam=heat / duration / supply.evaporation_heat,
    )
