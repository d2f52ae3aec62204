"""What is burned, as data, and how a grate burns it.

A fuel is its ultimate analysis as fired, its gross heating value, and the three things a grate does to it:
the air it draws, the share it wastes, and the rate at which it ends. Every number stands with where it is
from.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from locosim.constants import BTU_PER_POUND, POUND_PER_SQUARE_FOOT_HOUR
from locosim.errors import OutOfRange
from locosim.physics.boiler.combustion import FlueGas, flue_gas, theoretical_air
from locosim.physics.types import Floats

# The excess of air falls with the firing rate by this scale. Common practice, no source.
_EXCESS_AIR_SCALE = 80.0 * POUND_PER_SQUARE_FOOT_HOUR  # [kg/(m2 s)]
_MAX_UNBURNED = 0.9  # the line is nowhere good so far out; it must not pass 1


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelProperties:
    """A fuel as fired, and how a locomotive grate burns it.

    Attributes:
        name: What the trade calls it.
        carbon: Mass fraction of carbon [1].
        hydrogen: Mass fraction of hydrogen, that of the moisture not counted [1].
        oxygen: Mass fraction of oxygen, that of the moisture not counted [1].
        sulfur: Mass fraction of sulfur [1].
        moisture: Mass fraction of water [1].
        ash: Mass fraction of ash [1].
        heating_value: Gross heating value as fired [J/kg].
        excess_air_low_rate: Excess of air over the least demand at the lightest fire [1].
        excess_air_high_rate: The same at the hardest fire [1].
        unburned_low_rate: Share of the heating value lost in ash and gas at the lightest fire [1].
        unburned_slope: Growth of that share with the air drawn through the grate [m2 s/kg].
        grate_limit: Greatest sustained rate on the grate [kg/(m2 s)]; for oil, the same heat by good
            practice.
        source: Where these are from.
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
        """Least dry air per mass of fuel as fired [1]."""
        return theoretical_air(
            carbon=self.carbon, hydrogen=self.hydrogen, oxygen=self.oxygen, sulfur=self.sulfur
        )


# Fitted together with the superheater factor of `gas_passages`, for bituminous coal of 13,500 Btu/lb and
# feed at 60 degF, to: 7.5 and 5.0 lb of steam per lb of coal at 50 and 200 lb/ft2 h [Bruce1952], 6.15 at
# 130 [LMSRating], E = 11.305 - 0.221 H of a saturated boiler [Goss1907] (from memory), and with a third of
# the weight efficiencies 0.80, 0.70, 0.60, 0.50 at 30, 70, 110, 150 lb/ft2 h (from memory, low confidence).
# Standard errors of the fit: 0.019 and 0.010. tests/validation/test_boiler_fit.py shows what is met. No other
# fuel was fitted: all solid fuels take the same line in the air they draw, oil a flatter one from memory.
_UNBURNED_LOW_RATE = 0.041
_UNBURNED_SLOPE = 0.110  # [m2 s/kg]


def _as_fired(*, moisture: float, **dry: float) -> dict[str, float]:
    """Turn an analysis of the dry fuel, heating value with it, into one as fired."""
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
    "13,500 Btu/lb the trade calls good coal; excess air 50 % [Babcock1919], 20 % at hard firing from "
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
    "common practice, no source: the fine sizes are burned slowly on wide grates",
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
    grate_limit=90.0 * POUND_PER_SQUARE_FOOT_HOUR,
    source="18,900 Btu/lb, the best Californian oil of [Babcock1919]; analysis, excess air, losses from "
    "memory; 90 lb/h on each square foot that would be grate, common practice, no source",
)

FUELS = {fuel.name: fuel for fuel in (BITUMINOUS, SUBBITUMINOUS, ANTHRACITE, WOOD, OIL)}


def scaled_to_heating_value(*, fuel: FuelProperties, heating_value: float) -> FuelProperties:
    """The fuel made leaner or richer by ash, to a given heating value.

    Args:
        fuel: The published fuel of the kind.
        heating_value: Gross heating value as fired [J/kg].

    Returns:
        The fuel, all that burns scaled alike, the rest ash; richer than its ash allows, it loses water too.

    Raises:
        OutOfRange: More than the fuel has with neither ash nor water in it.
    """
    max_heating_value = fuel.heating_value / (1.0 - fuel.moisture - fuel.ash)
    if heating_value > max_heating_value * (1 + 1e-9):
        raise OutOfRange(
            f"the heating value of {fuel.name.replace('_', '-')} must be at most {_rounded_down(max_heating_value / 1e6, 10)} MJ/kg "
            f"({_rounded_down(max_heating_value / BTU_PER_POUND, 1)} Btu/lb), which it has with neither ash nor water, found "
            f"{heating_value / 1e6:.4g} MJ/kg ({heating_value / BTU_PER_POUND:.5g} Btu/lb)"
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
    """A limit cut, not rounded, so that who writes it stays within it."""
    return f"{math.floor(value * parts) / parts:g}"


def excess_air(*, firing_rate_per_grate_area: Floats, fuel: FuelProperties) -> Floats:
    """Air drawn above the least demand of what burns, over that demand.

    A thin fire lets through half as much again as it needs, a thick one under a hard blast about a fifth;
    between them an exponential. Common practice, no source, but for the ends named in the fuel.

    Args:
        firing_rate_per_grate_area: Fuel fired per area of grate [kg/(m2 s)].
        fuel: The fuel.

    Returns:
        Excess of air [1].
    """
    span = fuel.excess_air_low_rate - fuel.excess_air_high_rate
    return fuel.excess_air_high_rate + span * np.exp(-firing_rate_per_grate_area / _EXCESS_AIR_SCALE)


def unburned_share(*, firing_rate_per_grate_area: Floats, fuel: FuelProperties) -> Floats:
    """Share of the heating value that never becomes heat: sparks, ash pan, unburned gas.

    A straight line in the air drawn through the grate, since the blast carries the sparks.

    Args:
        firing_rate_per_grate_area: Fuel fired per area of grate [kg/(m2 s)].
        fuel: The fuel.

    Returns:
        Share lost [1].
    """
    line = fuel.unburned_low_rate + fuel.unburned_slope * fuel.theoretical_air * firing_rate_per_grate_area
    return np.minimum(line, _MAX_UNBURNED)


def combustion_gas(*, firing_rate_per_grate_area: Floats, fuel: FuelProperties) -> FlueGas:
    """Gas per mass of fuel that burns, at the excess of air of this rate.

    Args:
        firing_rate_per_grate_area: Fuel fired per area of grate [kg/(m2 s)].
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
