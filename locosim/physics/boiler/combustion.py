"""Combustion: theoretical air, flue gas, and the temperature of the gas from its heat.

Heating values are gross (higher) values, so the latent heat of the water vapor in the gas counts as a loss up the
stack.
"""

from __future__ import annotations

import numpy as np

from locosim.frozen import frozen
from locosim.physics.types import Floats, Real

OXYGEN_IN_AIR = 0.2315  # by mass; the 4.32 lb of air for the 1 lb of oxygen of sulfur, [Babcock1919]


def theoretical_air(*, carbon: float, hydrogen: float, oxygen: float, sulfur: float) -> float:
    """Theoretical air: the smallest mass of air that burns a fuel completely.

    Args:
        carbon: Mass fraction of carbon [1].
        hydrogen: Mass fraction of hydrogen [1].
        oxygen: Mass fraction of oxygen [1].
        sulfur: Mass fraction of sulfur [1].

    Returns:
        Mass of dry air per mass of fuel [1].

    References:
        [Babcock1919]: 11.52 C + 34.56 (H - O/8) + 4.32 S.
    """
    return 11.52 * carbon + 34.56 * (hydrogen - oxygen / 8.0) + 4.32 * sulfur


# Enthalpy of the gases above 298.15 K as a (T - T0) + b (T^2 - T0^2)/2, so that the temperature follows from the
# heat by a square root: least squares over 400 to 2,300 K, weighted by enthalpy^-0.5, on the NASA polynomials of
# [GRI30] (from memory, checked on four JANAF values at 2,000 K). Largest error there: N2 0.8 %, O2 3.5 %,
# CO2 10.6 % (at 400 K), H2O 0.6 %; furnace gas of coal, 1.5 % at 600 K and within 0.9 % above 800 K.
GAS_REFERENCE_TEMPERATURE = 298.15  # [K]
_GAS_HEAT_CAPACITY = {  # a [J/(kg K)], b [J/(kg K2)]
    "carbon_dioxide": (882.9, 0.2969),
    "water": (1648.0, 0.6378),
    "nitrogen": (985.9, 0.1667),
    "oxygen": (906.1, 0.1588),
}
LATENT_HEAT_AT_REFERENCE = 2.442e6  # water at 298.15 K [J/kg], [IF97]


@frozen
class FlueGas:
    """Flue gas from a unit mass of fuel, burned completely.

    Attributes:
        carbon_dioxide: Mass of carbon dioxide and sulfur dioxide per mass of fuel [1].
        water: Mass of water vapor per mass of fuel [1].
        nitrogen: Mass of nitrogen per mass of fuel [1].
        oxygen: Mass of unused oxygen per mass of fuel [1].
    """

    carbon_dioxide: Floats
    water: Floats
    nitrogen: Floats
    oxygen: Floats

    @property
    def mass(self) -> Floats:
        """Mass of gas per mass of fuel burned [1]."""
        return self.carbon_dioxide + self.water + self.nitrogen + self.oxygen

    @property
    def heat_capacity_coefficients(self) -> tuple[Floats, Floats]:
        """Coefficients a [J/(kg K)] and b [J/(kg K2)] of the enthalpy, per mass of fuel burned."""
        parts = {name: getattr(self, name) for name in _GAS_HEAT_CAPACITY}
        a = sum((parts[name] * heat[0] for name, heat in _GAS_HEAT_CAPACITY.items()), np.zeros(()))
        b = sum((parts[name] * heat[1] for name, heat in _GAS_HEAT_CAPACITY.items()), np.zeros(()))
        return a, b


def flue_gas(
    *, carbon: float, hydrogen: float, oxygen: float, sulfur: float, moisture: float, excess_air: Floats
) -> FlueGas:
    """Flue gas from complete combustion of a fuel with excess air.

    Dry air counts as oxygen and nitrogen only; ash, and the nitrogen in the fuel, are neglected.

    Args:
        carbon: Mass fraction of carbon in the fuel as fired [1].
        hydrogen: Mass fraction of hydrogen, without that in the moisture [1].
        oxygen: Mass fraction of oxygen, without that in the moisture [1].
        sulfur: Mass fraction of sulfur [1].
        moisture: Mass fraction of water [1].
        excess_air: Air above the theoretical air, over the theoretical air [1].

    Returns:
        The gas per mass of fuel burned.
    """
    excess = np.asarray(excess_air, dtype=float)
    minimum = theoretical_air(carbon=carbon, hydrogen=hydrogen, oxygen=oxygen, sulfur=sulfur)
    return FlueGas(
        carbon_dioxide=np.full_like(excess, carbon * 44.0 / 12.0 + sulfur * 2.0),
        water=np.full_like(excess, hydrogen * 9.0 + moisture),
        nitrogen=minimum * (1.0 + excess) * (1.0 - OXYGEN_IN_AIR),
        oxygen=minimum * excess * OXYGEN_IN_AIR,
    )


def gas_enthalpy(*, temperature: Real, a: Real, b: Real) -> Real:
    """Sensible heat of gas above 298.15 K, the inverse of `gas_temperature`.

    Args:
        temperature: Temperature of the gas [K].
        a: First coefficient of the enthalpy of that mass of gas [J/K].
        b: Second coefficient [J/K2].

    Returns:
        Heat [J], or [W] with coefficients per second.
    """
    above = temperature - GAS_REFERENCE_TEMPERATURE
    return above * (a + 0.5 * b * (temperature + GAS_REFERENCE_TEMPERATURE))


def gas_temperature(*, enthalpy: Floats, a: Floats, b: Floats) -> Floats:
    """Temperature of gas from its sensible heat.

    Args:
        enthalpy: Heat above 298.15 K [J], or [W] with coefficients per second.
        a: First coefficient [J/K].
        b: Second coefficient [J/K2].

    Returns:
        Temperature [K].
    """
    start = a + b * GAS_REFERENCE_TEMPERATURE
    # the root of b x^2 / 2 + start x - enthalpy in a form without cancellation
    above = 2.0 * enthalpy / (start + np.sqrt(start**2 + 2.0 * b * enthalpy))
    return GAS_REFERENCE_TEMPERATURE + above
