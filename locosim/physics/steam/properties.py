"""Properties of water and steam by the IAPWS industrial formulation of 1997.

A thin layer over the library seuif97: SI units, and an error where the library returns a negative code. The
fast table for the cylinder cycle is in `property_table`.
"""

from __future__ import annotations

import math

import numpy as np
import seuif97

from locosim.constants import BTU_PER_POUND, ZERO_CELSIUS
from locosim.errors import OutOfRange
from locosim.physics.types import Floats

_MEGA = 1.0e6
_KILO = 1.0e3
_MIN_VALID_RESULT = -1000.0  # every error code of the library is below, every property used here above

# Heat to evaporate a unit mass of water from and at 212 degF: the unit of equivalent evaporation.
EVAPORATION_FROM_AND_AT_212F = 970.4 * BTU_PER_POUND  # [J/kg]; [Babcock1919], table of factors of evaporation


def saturation_temperature(*, pressure: float) -> float:
    """Boiling temperature of water.

    Args:
        pressure: Absolute pressure, 0.000611 to 22.064 MPa [Pa].

    Returns:
        Temperature [K].

    Raises:
        OutOfRange: No boiling at this pressure.

    References:
        [IF97], region 4.
    """
    return _checked(seuif97.px2t(pressure / _MEGA, 1.0), "boiling", pressure=pressure) + ZERO_CELSIUS


def liquid_enthalpy(*, pressure: float) -> float:
    """Enthalpy of boiling water.

    Args:
        pressure: Absolute pressure [Pa].

    Returns:
        Specific enthalpy [J/kg].
    """
    return wet_steam_enthalpy(pressure=pressure, quality=0.0)


def vapor_enthalpy(*, pressure: float) -> float:
    """Enthalpy of dry saturated steam.

    Args:
        pressure: Absolute pressure [Pa].

    Returns:
        Specific enthalpy [J/kg].
    """
    return wet_steam_enthalpy(pressure=pressure, quality=1.0)


def wet_steam_enthalpy(*, pressure: float, quality: float) -> float:
    """Enthalpy of a mixture of boiling water and dry saturated steam.

    Args:
        pressure: Absolute pressure [Pa].
        quality: Mass of steam over mass of mixture, 0 to 1 [1].

    Returns:
        Specific enthalpy [J/kg].

    Raises:
        OutOfRange: A mixture that does not exist.
    """
    found = seuif97.px2h(pressure / _MEGA, quality)
    return _checked(found, "wet steam", pressure=pressure, quality=quality) * _KILO


def liquid_density(*, pressure: float) -> float:
    """Density of boiling water.

    Args:
        pressure: Absolute pressure [Pa].

    Returns:
        Density [kg/m3].
    """
    return 1.0 / _checked(seuif97.px2v(pressure / _MEGA, 0.0), "boiling", pressure=pressure)


def vapor_density(*, pressure: float) -> float:
    """Density of dry saturated steam.

    Args:
        pressure: Absolute pressure [Pa].

    Returns:
        Density [kg/m3].
    """
    return 1.0 / _checked(seuif97.px2v(pressure / _MEGA, 1.0), "boiling", pressure=pressure)


def vapor_energy(*, pressure: float) -> float:
    """Internal energy of dry saturated steam.

    Args:
        pressure: Absolute pressure [Pa].

    Returns:
        Specific internal energy [J/kg].
    """
    return vapor_enthalpy(pressure=pressure) - pressure / vapor_density(pressure=pressure)


def enthalpy(*, pressure: float, temperature: float) -> float:
    """Enthalpy of water or superheated steam.

    Args:
        pressure: Absolute pressure [Pa].
        temperature: Temperature, 273.15 to 1073.15 [K].

    Returns:
        Specific enthalpy [J/kg].

    Raises:
        OutOfRange: Outside the formulation.

    References:
        [IF97], regions 1 and 2.
    """
    found = seuif97.pt2h(pressure / _MEGA, temperature - ZERO_CELSIUS)
    return _checked(found, "enthalpy", pressure=pressure, temperature=temperature) * _KILO


def specific_volume(*, pressure: float, temperature: float) -> float:
    """Specific volume of water or superheated steam.

    Args:
        pressure: Absolute pressure [Pa].
        temperature: Temperature, 273.15 to 1073.15 [K].

    Returns:
        Specific volume [m3/kg].

    Raises:
        OutOfRange: Outside the formulation.

    References:
        [IF97], regions 1 and 2.
    """
    found = seuif97.pt2v(pressure / _MEGA, temperature - ZERO_CELSIUS)
    return _checked(found, "volume", pressure=pressure, temperature=temperature)


def density(*, pressure: float, temperature: float) -> float:
    """Density of water or superheated steam.

    Args:
        pressure: Absolute pressure [Pa].
        temperature: Temperature, 273.15 to 1073.15 [K].

    Returns:
        Density [kg/m3].
    """
    return 1.0 / specific_volume(pressure=pressure, temperature=temperature)


def internal_energy(*, pressure: float, temperature: float) -> float:
    """Internal energy of water or superheated steam.

    Args:
        pressure: Absolute pressure [Pa].
        temperature: Temperature, 273.15 to 1073.15 [K].

    Returns:
        Specific internal energy [J/kg].
    """
    flow_work = pressure / density(pressure=pressure, temperature=temperature)
    return enthalpy(pressure=pressure, temperature=temperature) - flow_work


def entropy(*, pressure: float, temperature: float) -> float:
    """Entropy of water or superheated steam.

    Args:
        pressure: Absolute pressure [Pa].
        temperature: Temperature, 273.15 to 1073.15 [K].

    Returns:
        Specific entropy [J/(kg K)].

    Raises:
        OutOfRange: Outside the formulation.
    """
    found = seuif97.pt2s(pressure / _MEGA, temperature - ZERO_CELSIUS)
    return _checked(found, "entropy", pressure=pressure, temperature=temperature) * _KILO


def temperature_at_enthalpy(*, pressure: float, enthalpy: float) -> float:
    """Temperature of steam, wet or superheated, of known enthalpy.

    Args:
        pressure: Absolute pressure [Pa].
        enthalpy: Specific enthalpy [J/kg].

    Returns:
        Temperature [K].

    Raises:
        OutOfRange: Outside the formulation.
    """
    found = seuif97.ph2t(pressure / _MEGA, enthalpy / _KILO)
    return _checked(found, "temperature", pressure=pressure, enthalpy=enthalpy) + ZERO_CELSIUS


def temperatures_at_enthalpy(*, pressure: float, enthalpy: Floats) -> Floats:
    """Temperatures of steam, wet or superheated, of known enthalpies.

    Args:
        pressure: Absolute pressure [Pa].
        enthalpy: Specific enthalpies, shape (n,) [J/kg].

    Returns:
        Temperatures, shape (n,) [K].

    Raises:
        OutOfRange: One of them outside the formulation.
    """
    mega = pressure / _MEGA
    found = np.array([seuif97.ph2t(mega, kilo) for kilo in (enthalpy / _KILO).tolist()])
    for k in np.flatnonzero(~(found >= _MIN_VALID_RESULT)):
        _checked(float(found[k]), "temperature", pressure=pressure, enthalpy=float(enthalpy[k]))
    return found + ZERO_CELSIUS


def saturation_pressures(*, temperature: Floats) -> Floats:
    """Absolute pressures at which water boils at temperatures.

    Args:
        temperature: Temperatures, 273.15 to 647.096, shape (n,) [K].

    Returns:
        Absolute pressures, shape (n,) [Pa].

    Raises:
        OutOfRange: No boiling at one of them.

    References:
        [IF97], region 4.
    """
    celsius = np.asarray(temperature) - ZERO_CELSIUS
    found = np.array([seuif97.tx2p(each, 1.0) for each in celsius.tolist()])
    for k in np.flatnonzero(~(found >= _MIN_VALID_RESULT)):
        _checked(float(found[k]), "boiling", temperature=float(temperature[k]))
    return found * _MEGA


def saturation_enthalpies(*, pressure: Floats) -> tuple[Floats, Floats]:
    """Enthalpies of boiling water and of dry saturated steam.

    Args:
        pressure: Absolute pressures, shape (n,) [Pa].

    Returns:
        Specific enthalpies of both, each of shape (n,) [J/kg].

    Raises:
        OutOfRange: No boiling at one of the pressures.
    """
    megas = (pressure / _MEGA).tolist()
    found = np.array([[seuif97.px2h(mega, quality) for mega in megas] for quality in (0.0, 1.0)])
    for quality, k in np.argwhere(~(found >= _MIN_VALID_RESULT)):
        _checked(float(found[quality, k]), "wet steam", pressure=float(pressure[k]), quality=float(quality))
    liquid, vapor = found * _KILO
    return liquid, vapor


def density_at_enthalpy(*, pressure: float, enthalpy: float) -> float:
    """Density of steam, wet or superheated, of known enthalpy.

    Args:
        pressure: Absolute pressure [Pa].
        enthalpy: Specific enthalpy [J/kg].

    Returns:
        Density [kg/m3].

    Raises:
        OutOfRange: Outside the formulation.
    """
    found = seuif97.ph2v(pressure / _MEGA, enthalpy / _KILO)
    return 1.0 / _checked(found, "density", pressure=pressure, enthalpy=enthalpy)


def enthalpy_at_entropy(*, pressure: float, entropy: float) -> float:
    """Enthalpy of steam after a loss-free expansion to this pressure.

    Args:
        pressure: Absolute pressure [Pa].
        entropy: Specific entropy [J/(kg K)].

    Returns:
        Specific enthalpy [J/kg].

    Raises:
        OutOfRange: Outside the formulation.
    """
    found = seuif97.ps2h(pressure / _MEGA, entropy / _KILO)
    return _checked(found, "enthalpy", pressure=pressure, entropy=entropy) * _KILO


def _checked(found: float, what: str, **given: float) -> float:
    if math.isnan(found) or found < _MIN_VALID_RESULT:
        state = ", ".join(f"{name} {value:.6g}" for name, value in given.items())
        raise OutOfRange(
            f"no {what} of water or steam at {state} (Pa, K, J/kg); the 1997 formulation covers "
            "273.15 to 1073.15 K up to 100 MPa, mixtures up to 22.064 MPa"
        )
    return float(found)
