"""Evaporation by the handbook: per mass of coal and per area of heating surface.

Equivalent evaporation is from and at 212 °F.
"""

from __future__ import annotations

from typing import NamedTuple

from locosim.constants import HOUR, POUND_PER_SQUARE_FOOT_HOUR
from locosim.physics.types import Real

# Water per area of the whole evaporative heating surface in German ratings, [GermanRules] from memory.
GERMAN_SURFACE_RATE = 57 / HOUR  # [kg/(m² s)]

# [Bruce1952] chart 16, two points read at second hand: firing rate and water evaporated per mass of coal.
BRUCE_FIRING_RATES = (50 * POUND_PER_SQUARE_FOOT_HOUR, 200 * POUND_PER_SQUARE_FOOT_HOUR)  # [kg/(m² s)]
BRUCE_EVAPORATION = (7.5, 5.0)  # [kg/kg]


class EvaporationLine(NamedTuple):
    """Equivalent evaporation per mass of coal, falling with the evaporation per heating surface.

    Attributes:
        intercept: Evaporation per mass of dry coal at no load [kg/kg].
        slope: Decrease with each unit of evaporation per heating surface [kg/kg per kg/(m² s)].
    """

    intercept: float
    slope: float


# [Goss1907] and [Goss1910], from memory, medium: E = a - b H, E lb per lb of dry coal, H lb per sq ft and
# hour, from and at 212 °F. The first for the first boiler of a testing plant, the others for its last.
GOSS_LINES = {
    "saturated_first_boiler": EvaporationLine(10.08, 0.296 / POUND_PER_SQUARE_FOOT_HOUR),
    "saturated_1907": EvaporationLine(11.305, 0.221 / POUND_PER_SQUARE_FOOT_HOUR),
    "superheated_1910": EvaporationLine(11.706, 0.214 / POUND_PER_SQUARE_FOOT_HOUR),
}


def evaporation_per_coal(*, firing_rate_per_grate_area: Real) -> Real:
    """Water evaporated per mass of good bituminous coal, falling with the firing rate.

    A straight line through two published points, 7.5 at 50 and 5.0 at 200 lb/ft² h, extended beyond them
    (`BRUCE_FIRING_RATES`), where nothing was published.

    Args:
        firing_rate_per_grate_area: Coal fired per area of grate [kg/(m² s)].

    Returns:
        Evaporation per mass of coal [kg/kg].

    References:
        [Bruce1952] chart 16, at second hand.
    """
    (low, high), (at_low, at_high) = BRUCE_FIRING_RATES, BRUCE_EVAPORATION
    return at_low + (at_high - at_low) * (firing_rate_per_grate_area - low) / (high - low)


def goss_evaporation_per_coal(*, line: EvaporationLine, evaporation_per_surface: Real) -> Real:
    """Equivalent evaporation per mass of dry coal at a rate of evaporation per heating surface.

    Args:
        line: The line published for the boiler.
        evaporation_per_surface: Evaporation from and at 212 °F per area of heating surface [kg/(m² s)].

    Returns:
        Evaporation from and at 212 °F per mass of dry coal [kg/kg].

    References:
        [Goss1907], [Goss1910], from memory: E = a - b H.
    """
    return line.intercept - line.slope * evaporation_per_surface


def surface_evaporation(
    *, evaporative_heating_surface: float, evaporation_per_surface: float = GERMAN_SURFACE_RATE
) -> float:
    """Evaporation of the whole evaporative heating surface at a rate per area.

    Args:
        evaporative_heating_surface: Firebox, tubes and flues [m²].
        evaporation_per_surface: Water per area; by default the German rating, 57 kg/(m² h) [kg/(m² s)].

    Returns:
        Evaporation [kg/s].

    References:
        [GermanRules], from memory: 57 kg/(m² h) for ratings, about 70 for later boilers.
    """
    return evaporative_heating_surface * evaporation_per_surface
