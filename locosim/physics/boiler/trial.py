"""The arithmetic of a boiler trial: water weighed, fuel weighed, and what the trade makes of them."""

from __future__ import annotations

from locosim.constants import HOUR, POUND
from locosim.physics.types import Real

BOILER_HORSEPOWER = 30.0 * POUND / HOUR  # [kg/s] of steam of 70 psi from feed at 100 degF, [Babcock1919]


def equivalent_evaporation(*, water: Real, steam_moisture: Real, factor: Real) -> Real:
    """Water the same heat would have evaporated from and at 212 degF.

    Args:
        water: Water fed [kg], or [kg/s].
        steam_moisture: Water over mixture in the steam made [1].
        factor: Factor of evaporation, `steam.factor_of_evaporation` [1].

    Returns:
        Evaporation from and at 212 degF, in the measure of `water`.

    References:
        [Babcock1919], efficiency example.
    """
    return water * (1.0 - steam_moisture) * factor


def evaporation_per_dry_fuel(*, evaporation: Real, fuel: Real, moisture: Real) -> Real:
    """Evaporation per mass of dry fuel.

    Args:
        evaporation: Water evaporated [kg].
        fuel: Fuel fired, as weighed [kg].
        moisture: Water in the fuel [1].

    Returns:
        Evaporation per mass of dry fuel [1].

    References:
        [Babcock1919], efficiency example.
    """
    return evaporation / (fuel * (1.0 - moisture))


def evaporation_per_combustible(*, evaporation: Real, dry_fuel: Real, refuse: Real) -> Real:
    """Evaporation per mass of what can burn.

    Args:
        evaporation: Water evaporated [kg].
        dry_fuel: Dry fuel fired [kg].
        refuse: Ash and refuse weighed back [kg].

    Returns:
        Evaporation per mass of combustible [1].

    References:
        [Babcock1919], efficiency example.
    """
    return evaporation / (dry_fuel - refuse)


def boiler_horsepower(*, steam_rate: Real) -> Real:
    """Boiler horsepower of a rate of steam of 70 psi made from feed at 100 degF.

    Args:
        steam_rate: Steam made [kg/s].

    Returns:
        Boiler horsepower [1].

    References:
        [Babcock1919], capacity.
    """
    return steam_rate / BOILER_HORSEPOWER
