"""What a boiler evaporates by the handbook: by grate, by heating surfaces, by rules of proportion.

Equivalent evaporation is from and at 212 °F; the actual is that over the factor of evaporation
(`steam.factor_of_evaporation`), through which feed temperature, pressure and superheat enter.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from locosim.constants import FOOT, HOUR, POUND_PER_SQUARE_FOOT_HOUR
from locosim.physics.steam.properties import EVAPORATION_FROM_AND_AT_212F
from locosim.physics.types import Real

MAX_FIRING_RATE_PER_GRATE_AREA = (
    120 * POUND_PER_SQUARE_FOOT_HOUR
)  # [kg/(m² s)] of coal, [Cole1914] from memory
FIREBOX_EVAPORATION_RATE = 55 * POUND_PER_SQUARE_FOOT_HOUR  # [kg/(m² s)] of water, [Cole1914] from memory
# Water for each area of the whole evaporating surface in German ratings, [GermanRules] from memory.
GERMAN_SURFACE_RATE = 57 / HOUR  # [kg/(m² s)]

# [Bruce1952] chart 16, two points read at second hand: firing rate and water evaporated per mass of coal.
BRUCE_FIRING_RATES = (50 * POUND_PER_SQUARE_FOOT_HOUR, 200 * POUND_PER_SQUARE_FOOT_HOUR)  # [kg/(m² s)]
BRUCE_EVAPORATION = (7.5, 5.0)  # [kg/kg]


class EvaporationLine(NamedTuple):
    """Equivalent evaporation per mass of coal, falling with that of the heating surface.

    Attributes:
        intercept: Evaporation per mass of dry coal at no load [kg/kg].
        slope: Its fall for each unit of evaporation of the heating surface [kg/kg per kg/(m² s)].
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

    A straight line through two published points, 7.5 at 50 and 5.0 at 200 lb per sq ft and hour; it is
    carried on outside them, where nothing was published (`BRUCE_FIRING_RATES`).

    Args:
        firing_rate_per_grate_area: Coal for each area of grate [kg/(m² s)].

    Returns:
        Evaporation per mass of coal [kg/kg].

    References:
        [Bruce1952] chart 16, at second hand.
    """
    (low, high), (at_low, at_high) = BRUCE_FIRING_RATES, BRUCE_EVAPORATION
    return at_low + (at_high - at_low) * (firing_rate_per_grate_area - low) / (high - low)


def grate_evaporation(
    *, grate_area: Real, firing_rate_per_grate_area: Real = MAX_FIRING_RATE_PER_GRATE_AREA
) -> Real:
    """Water evaporated by a grate at a firing rate.

    Args:
        grate_area: Area of the grate [m²].
        firing_rate_per_grate_area: Coal for each area of grate; without it the customary limit, 120 lb/(ft² h) [kg/(m² s)].

    Returns:
        Evaporation [kg/s].

    References:
        [Bruce1952] chart 16 for the yield; [Cole1914], from memory, for the limit.
    """
    return (
        grate_area
        * firing_rate_per_grate_area
        * evaporation_per_coal(firing_rate_per_grate_area=firing_rate_per_grate_area)
    )


def goss_evaporation_per_coal(*, line: EvaporationLine, evaporation_per_surface: Real) -> Real:
    """Equivalent evaporation per mass of dry coal at a rate of the heating surface.

    Args:
        line: Line of the boiler.
        evaporation_per_surface: Evaporation from and at 212 °F for each area of heating surface [kg/(m² s)].

    Returns:
        Evaporation from and at 212 °F per mass of dry coal [kg/kg].

    References:
        [Goss1907], [Goss1910], from memory: E = a - b H.
    """
    return line.intercept - line.slope * evaporation_per_surface


def cole_evaporation(*, firebox_surface: Real, tube_surface: Real, tube_rate: Real) -> Real:
    """Evaporation of a boiler from the rates of its firebox and its tubes.

    Args:
        firebox_surface: Firebox, combustion chamber and arch tubes [m²].
        tube_surface: Tubes and flues [m²].
        tube_rate: Evaporation for each area of tube surface; no published value is at hand [kg/(m² s)].

    Returns:
        Evaporation [kg/s].

    References:
        [Cole1914], from memory: firebox 55 lb per sq ft and hour; tubes by length, diameter and spacing.
    """
    return FIREBOX_EVAPORATION_RATE * firebox_surface + tube_rate * tube_surface


def surface_evaporation(
    *, evaporative_heating_surface: Real, evaporation_per_surface: Real = GERMAN_SURFACE_RATE
) -> Real:
    """Evaporation that a rate on the whole evaporating surface gives.

    Args:
        evaporative_heating_surface: Firebox, tubes and flues [m²].
        evaporation_per_surface: Water for each area; without it the German rating, 57 kg/(m² h) [kg/(m² s)].

    Returns:
        Evaporation [kg/s].

    References:
        [GermanRules], from memory: 57 kg/(m² h) for ratings, about 70 for later boilers.
    """
    return evaporative_heating_surface * evaporation_per_surface


def clark_evaporation(*, heating_surface: Real, grate_area: Real) -> Real:
    """Volume of water evaporated in unit time at good economy, by heating surface and grate.

    Args:
        heating_surface: Whole heating surface [m²].
        grate_area: Area of the grate [m²].

    Returns:
        Volume of water [m³/s].

    References:
        [Vose1857] article 362, D. K. Clark's rule: c = 0.002225 S² / G, cubic feet an hour, square feet.
    """
    return 0.002225 * heating_surface**2 / grate_area * FOOT / HOUR


def clark_heating_surface(*, water: Real, grate_area: Real) -> Real:
    """Heating surface needed to evaporate a volume of water at good economy.

    Args:
        water: Volume of water in unit time [m³/s].
        grate_area: Area of the grate [m²].

    Returns:
        Heating surface [m²].

    References:
        [Vose1857] article 362, D. K. Clark's rule: S = 21.2 sqrt(G c), cubic feet an hour, square feet.
    """
    return 21.2 * np.sqrt(grate_area * water * HOUR / FOOT)


def vose_grate_area(*, water: Real) -> Real:
    """Grate area needed to evaporate a volume of water.

    Args:
        water: Volume of water in unit time [m³/s].

    Returns:
        Grate area [m²].

    References:
        [Vose1857] article 362 and [Bourne1865]: 16 cubic feet of water an hour for each square foot.
    """
    return water * HOUR / (16 * FOOT)


def boiler_efficiency(*, equivalent_evaporation_per_coal: Real, heating_value: Real) -> Real:
    """Heat in the steam over heat in the coal.

    Args:
        equivalent_evaporation_per_coal: Evaporation from and at 212 °F per mass of coal [kg/kg].
        heating_value: Heating value of that coal [J/kg].

    Returns:
        Efficiency of boiler, furnace and grate together [1].

    References:
        [Babcock1919], heat balance example.
    """
    return equivalent_evaporation_per_coal * EVAPORATION_FROM_AND_AT_212F / heating_value
