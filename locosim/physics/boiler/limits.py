"""What holds the steam back: each limit is a firing rate or a steam rate, and has a name.

The draft's is in `draft`, those of the heating surface in `evaporation`. A firing rate becomes a steam
rate through a heat balance.
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
DRAFT = "draft"
CREW_FIRING = "crew firing rate"
FEED_DEVICES = "feed devices"

MAX_HAND_FIRING = 3000.0 * POUND / HOUR  # [kg/s] sustained; [Glancey2012] and a second source, at second hand


def grate_limit(*, grate_area: float, fuel: FuelProperties) -> float:
    """Firing rate a grate sustains with this fuel, by the handbook for coal: name "grate".

    Args:
        grate_area: Area of the grate [m2].
        fuel: The fuel.

    Returns:
        Firing rate [kg/s].

    References:
        [Cole1914], from memory, 120 lb/ft2 h of coal; other fuels as their `source` says.
    """
    return grate_area * fuel.grate_limit


def fire_limit(*, balance: HeatBalance) -> float:
    """Firing rate beyond which more fuel makes no more steam: name "fire".

    Args:
        balance: Heat balance over rising firing rates.

    Returns:
        Firing rate; the last of the balance where steam still rises there [kg/s].
    """
    return float(balance.firing_rate[int(np.argmax(balance.steam_rate))])


def steam_from_firing_rate(*, firing_rate: float, balance: HeatBalance) -> float:
    """Steam that a limit on the firing rate allows, no more than the fire's greatest.

    Args:
        firing_rate: Firing rate [kg/s].
        balance: Heat balance over rising firing rates.

    Returns:
        Steam [kg/s].

    Raises:
        OutOfRange: A firing rate below the first of the balance.
    """
    top = int(np.argmax(balance.steam_rate)) + 1
    first = float(balance.firing_rate[0])
    if firing_rate < first:
        raise OutOfRange(f"a firing rate of {firing_rate:.4g} kg/s is below the {first:.4g} of the balance")
    return float(np.interp(firing_rate, balance.firing_rate[:top], balance.steam_rate[:top]))


def feed_limit(*, rates: Sequence[float]) -> float:
    """Steam all feed devices together can replace: name "feed devices".

    Args:
        rates: Greatest delivery of each, net of its own live steam [kg/s].

    Returns:
        Steam [kg/s].
    """
    return float(sum(rates))


def feed_limit_largest_out(*, rates: Sequence[float]) -> float:
    """Steam the feed devices can replace with the largest out of use.

    Args:
        rates: Greatest delivery of each, net of its own live steam [kg/s].

    Returns:
        Steam; 0 where there is but one [kg/s].
    """
    return float(sum(rates) - max(rates, default=0.0))
