"""Limits of the steam supply, each a firing rate or a steam rate, by name.

The limit of the front end is in `engine.boiler.front_end`, that by the heating surface in `evaporation`. A firing rate
gives a steam rate through a heat balance.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from locosim.constants import HOUR, POUND
from locosim.errors import OutOfRange
from locosim.physics.boiler.fuels import FuelProperties
from locosim.physics.boiler.heat_balance import HeatBalance

GRATE = "grate"
FIRE = "fire"
HEATING_SURFACE = "heating surface"
FIREMAN = "fireman"
STOKER = "stoker"
OIL_BURNER = "oil burner"
FRONT_END = "front end"
CREW_FIRING = "crew firing rate"
FEED_DEVICES = "feed devices"

MAX_HAND_FIRING = 3000.0 * POUND / HOUR  # [kg/s] sustained; [Glancey2012] and a second source, at second hand


def grate_limit(*, grate_area: float, fuel: FuelProperties) -> float:
    """Maximum sustained firing rate of a grate; name of this limit: "grate".

    Args:
        grate_area: Area of the grate [m2].
        fuel: The fuel.

    Returns:
        Firing rate [kg/s].

    References:
        [Cole1914], from memory, 120 lb/ft2 h of coal; for other fuels see their `source`.
    """
    return grate_area * fuel.grate_limit


def fire_limit(*, balance: HeatBalance) -> float:
    """Firing rate beyond which more fuel makes no more steam; name of this limit: "fire".

    Args:
        balance: Heat balance over rising firing rates.

    Returns:
        Firing rate; the last of the balance where the steam rate still rises there [kg/s].
    """
    return float(balance.firing_rate[int(np.argmax(balance.steam_rate))])


def steam_from_firing_rate(*, firing_rate: float, balance: HeatBalance) -> float:
    """Steam made at a firing rate, at most the maximum of the balance.

    Args:
        firing_rate: Firing rate [kg/s].
        balance: Heat balance over rising firing rates.

    Returns:
        Steam [kg/s].

    Raises:
        OutOfRange: A firing rate below the first one of the balance.
    """
    top = int(np.argmax(balance.steam_rate)) + 1
    first = float(balance.firing_rate[0])
    if firing_rate < first:
        raise OutOfRange(
            f"a firing rate of {firing_rate:.4g} kg/s is below the lowest of the heat balance, {first:.4g} kg/s"
        )
    return float(np.interp(firing_rate, balance.firing_rate[:top], balance.steam_rate[:top]))


def feed_limit(*, rates: Sequence[float]) -> float:
    """Steam that all feed devices together can replace; name of this limit: "feed devices".

    Args:
        rates: Maximum delivery of each, net of its own live steam [kg/s].

    Returns:
        Steam [kg/s].
    """
    return float(sum(rates))


def feed_limit_largest_out(*, rates: Sequence[float]) -> float:
    """Steam that the feed devices can replace with the largest one failed.

    Args:
        rates: Maximum delivery of each, net of its own live steam [kg/s].

    Returns:
        Steam; 0 with a single device [kg/s].
    """
    return float(sum(rates) - max(rates, default=0.0))
