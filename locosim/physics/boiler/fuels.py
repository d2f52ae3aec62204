"""Fuels as data, and how a locomotive grate burns them.

A fuel is its ultimate analysis as fired, its gross heating value, and three figures of its combustion on a grate:
excess air, share unburned, and maximum firing rate. Every figure has its source.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from locosim.constants import BTU_PER_POUND, POUND_PER_SQUARE_FOOT_HOUR
from locosim.errors import OutOfRange
from locosim.frozen import frozen
from locosim.physics.boiler.combustion import FlueGas, flue_gas, theoretical_air
from locosim.physics.types import Floats

# Scale of the fall of excess air with the firing rate; common practice, no source.
_EXCESS_AIR_SCALE = 80.0 * POUND_PER_SQUARE_FOOT_HOUR  # [kg/(m2 s)]
_MAX_UNBURNED = 0.9  # far beyond the range of the line; keeps the share below 1


@frozen
class FuelProperties:
    """Properties of a fuel as fired and of its combustion on a locomotive grate.

    Attributes:
        name: Name of the fuel.
        carbon: Mass fraction of carbon [1].
        hydrogen: Mass fraction of hydrogen, without that in the moisture [1].
        oxygen: Mass fraction of oxygen, without that in the moisture [1].
        sulfur: Mass fraction of sulfur [1].
        moisture: Mass fraction of water [1].
        ash: Mass fraction of ash [1].
        heating_value: Gross heating value as fired [J/kg].
        excess_air_low_rate: Excess air over theoretical air at the lowest firing rate [1].
        excess_air_high_rate: The same at the highest firing rate [1].
        unburned_low_rate: Share of the heating value lost unburned at the lowest firing rate [1].
        unburned_slope: Increase of that share with the air drawn through the grate [m2 s/kg].
        grate_limit: Maximum sustained firing rate per grate area [kg/(m2 s)]; for oil, the rate that good practice
            allows on the same area.
        source: Sources of these figures.
    """

    name: str
    carbon: float
    hydrogen: float
    oxygen: float
    sulfur: float
    moisture: float
    ash: float
    heating_value: float
    excess_air_low_rate: float
    excess_air_high_rate: float
    unburned_low_rate: float
    unburned_slope: float
    grate_limit: float
    source: str

    @property
    def theoretical_air(self) -> float:
        """Theoretical dry air per mass of fuel as fired [1]."""
        return theoretical_air(
            carbon=self.carbon, hydrogen=self.hydrogen, oxygen=self.oxygen, sulfur=self.sulfur
        )


# Fitted together with the factor of the superheater elements of `barrel`, for bituminous coal of 13,500 Btu/lb and feed
# at 60 degF, to: 7.5 and 5.0 lb of steam per lb of coal at 50 and 200 lb/ft2 h [Bruce1952], 6.15 at 130 [LMSRating],
# E = 11.305 - 0.221 H of a saturated boiler [Goss1907] (from memory); 560 and 660 degF of a Type A superheater, taken
# to be at 30 and 120 lb/ft2 h (from memory); at less weight, because surface or firing rate is in doubt, the lower
# steam temperature of [DinglerPower1915] and of [DinglerSuperheater1915]; and, with a third of the weight, efficiencies
# of 0.80, 0.70, 0.60, 0.50 at 30, 70, 110, 150 lb/ft2 h (from memory, low confidence). Standard errors of the fit:
# 0.019 and 0.010. tests/validation/test_boiler_fit.py repeats it. No other fuel was fitted: all solid fuels use the
# same line in terms of the air drawn, oil a flatter one from memory.
_UNBURNED_LOW_RATE = 0.029
_UNBURNED_SLOPE = 0.115  # [m2 s/kg]


def _as_fired(*, moisture: float, **dry: float) -> dict[str, float]:
    """Analysis and heating value as fired, from those of the dry fuel."""
    return {"moisture": moisture} | {name: value * (1.0 - moisture) for name, value in dry.items()}


BITUMINOUS = FuelProperties(
    name="bituminous",
    **_as_fired(
        moisture=0.05,
        carbon=0.7857,
        hydrogen=0.0560,
        oxygen=0.0702,
        sulfur=0.0118,
        ash=0.0652,
        heating_value=14225.0 * BTU_PER_POUND,
    ),
    excess_air_low_rate=0.5,
    excess_air_high_rate=0.2,
    unburned_low_rate=_UNBURNED_LOW_RATE,
    unburned_slope=_UNBURNED_SLOPE,
    grate_limit=120.0 * POUND_PER_SQUARE_FOOT_HOUR,
    source="carbon, hydrogen and heating value of the dry coal [Babcock1919], heat balance example; oxygen, "
    "sulfur and ash of the same coal from memory; 5 % moisture common practice, no source, which gives the "
    "13,500 Btu/lb of good coal; excess air 50 % [Babcock1919], 20 % at hard firing from "
    "memory; 120 lb/ft2 h [Cole1914], from memory",
)

SUBBITUMINOUS = FuelProperties(
    name="subbituminous",
    **_as_fired(
        moisture=0.20,
        carbon=0.68,
        hydrogen=0.048,
        oxygen=0.160,
        sulfur=0.006,
        ash=0.094,
        heating_value=11688.0 * BTU_PER_POUND,
    ),
    excess_air_low_rate=0.5,
    excess_air_high_rate=0.2,
    unburned_low_rate=_UNBURNED_LOW_RATE,
    unburned_slope=_UNBURNED_SLOPE,
    grate_limit=150.0 * POUND_PER_SQUARE_FOOT_HOUR,
    source="analysis of a western coal from memory, heating value from it by Dulong [Babcock1919]; 150 "
    "lb/ft2 h common practice, no source",
)

ANTHRACITE = FuelProperties(
    name="anthracite",
    **_as_fired(
        moisture=0.03,
        carbon=0.84,
        hydrogen=0.024,
        oxygen=0.025,
        sulfur=0.007,
        ash=0.096,
        heating_value=13586.0 * BTU_PER_POUND,
    ),
    excess_air_low_rate=0.6,
    excess_air_high_rate=0.3,
    unburned_low_rate=_UNBURNED_LOW_RATE,
    unburned_slope=_UNBURNED_SLOPE,
    grate_limit=65.0 * POUND_PER_SQUARE_FOOT_HOUR,
    source="analysis from memory, heating value from it by Dulong [Babcock1919]; excess air and 65 lb/ft2 h "
    "common practice, no source: small sizes are burned slowly on wide grates",
)

WOOD = FuelProperties(
    name="wood",
    **_as_fired(
        moisture=0.20,
        carbon=0.50,
        hydrogen=0.06,
        oxygen=0.43,
        sulfur=0.0,
        ash=0.01,
        heating_value=8316.0 * BTU_PER_POUND,
    ),
    excess_air_low_rate=0.6,
    excess_air_high_rate=0.3,
    unburned_low_rate=_UNBURNED_LOW_RATE,
    unburned_slope=_UNBURNED_SLOPE,
    grate_limit=150.0 * POUND_PER_SQUARE_FOOT_HOUR,
    source="dry oak 8,316 Btu/lb and 20 % moisture when air-dried [Babcock1919]; analysis from memory; "
    "excess air and 150 lb/ft2 h common practice, no source",
)

OIL = FuelProperties(
    name="oil",
    **_as_fired(
        moisture=0.01,
        carbon=0.85,
        hydrogen=0.115,
        oxygen=0.012,
        sulfur=0.015,
        ash=0.0,
        heating_value=18900.0 * BTU_PER_POUND,
    ),
    excess_air_low_rate=0.25,
    excess_air_high_rate=0.15,
    unburned_low_rate=0.02,
    unburned_slope=0.02,
    grate_limit=80.0 * POUND_PER_SQUARE_FOOT_HOUR,
    source="18,900 Btu/lb, the best Californian oil of [Babcock1919]; analysis, excess air, losses from "
    "memory; 80 lb/ft2 h on the area that a grate would have makes as much gas, and so needs as much draft, as "
    "bituminous coal at its limit",
)

FUELS = {fuel.name: fuel for fuel in (BITUMINOUS, SUBBITUMINOUS, ANTHRACITE, WOOD, OIL)}


def scaled_to_heating_value(*, fuel: FuelProperties, heating_value: float) -> FuelProperties:
    """The same kind of fuel with more or less ash, so that it has a given heating value.

    Args:
        fuel: The published fuel of that kind.
        heating_value: Gross heating value as fired [J/kg].

    Returns:
        The fuel with its combustible scaled; the rest is ash, and a fuel with no ash left loses moisture.

    Raises:
        OutOfRange: A heating value above that of the fuel free of ash and moisture.
    """
    max_heating_value = fuel.heating_value / (1.0 - fuel.moisture - fuel.ash)
    if heating_value > max_heating_value * (1 + 1e-9):
        raise OutOfRange(
            f"the heating value of {fuel.name.replace('_', '-')} must be at most "
            f"{_rounded_down(max_heating_value / 1e6, 10)} MJ/kg "
            f"({_rounded_down(max_heating_value / BTU_PER_POUND, 1)} Btu/lb), its value free of ash and moisture; "
            f"found {heating_value / 1e6:.4g} MJ/kg ({heating_value / BTU_PER_POUND:.5g} Btu/lb)"
        )
    scale = heating_value / fuel.heating_value
    combustible = scale * (1.0 - fuel.moisture - fuel.ash)
    moisture = min(fuel.moisture, max(1.0 - combustible, 0.0))
    return replace(
        fuel,
        carbon=fuel.carbon * scale,
        hydrogen=fuel.hydrogen * scale,
        oxygen=fuel.oxygen * scale,
        sulfur=fuel.sulfur * scale,
        moisture=moisture,
        ash=max(1.0 - combustible - moisture, 0.0),
        heating_value=heating_value,
    )


def _rounded_down(value: float, parts: int) -> str:
    """A limit rounded down, so that the figure in the message is itself within the limit."""
    return f"{math.floor(value * parts) / parts:g}"


def excess_air(*, firing_rate_per_grate_area: Floats, fuel: FuelProperties) -> Floats:
    """Excess air over theoretical air at a firing rate.

    A thin fire admits about 50 % of excess air, a thick fire under a strong blast about 20 %; between them the
    excess falls exponentially. Common practice, no source, except for the ends, whose sources are in the fuel.

    Args:
        firing_rate_per_grate_area: Fuel fired per area of grate, shape (n,) [kg/(m2 s)].
        fuel: The fuel.

    Returns:
        Excess air [1].
    """
    span = fuel.excess_air_low_rate - fuel.excess_air_high_rate
    return fuel.excess_air_high_rate + span * np.exp(-firing_rate_per_grate_area / _EXCESS_AIR_SCALE)


def unburned_share(*, firing_rate_per_grate_area: Floats, fuel: FuelProperties) -> Floats:
    """Share of the heating value lost unburned: sparks, ash-pan loss, unburned gas.

    A straight line in the air drawn through the grate, because the blast carries the sparks off.

    Args:
        firing_rate_per_grate_area: Fuel fired per area of grate, shape (n,) [kg/(m2 s)].
        fuel: The fuel.

    Returns:
        Share lost [1].
    """
    line = fuel.unburned_low_rate + fuel.unburned_slope * fuel.theoretical_air * firing_rate_per_grate_area
    return np.minimum(line, _MAX_UNBURNED)


def combustion_gas(*, firing_rate_per_grate_area: Floats, fuel: FuelProperties) -> FlueGas:
    """Flue gas per mass of fuel burned, at the excess air of a firing rate.

    Args:
        firing_rate_per_grate_area: Fuel fired per area of grate, shape (n,) [kg/(m2 s)].
        fuel: The fuel.

    Returns:
        The gas per mass of fuel burned.
    """
    return flue_gas(
        carbon=fuel.carbon,
        hydrogen=fuel.hydrogen,
        oxygen=fuel.oxygen,
        sulfur=fuel.sulfur,
        moisture=fuel.moisture,
        excess_air=excess_air(firing_rate_per_grate_area=firing_rate_per_grate_area, fuel=fuel),
    )
