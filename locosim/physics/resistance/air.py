"""Air of the altitude."""

from __future__ import annotations

# Air at rest with the lapse of the standard atmosphere: 288.15 K at sea level, 6.5 K colder per km, gas constant
# 287.053 J/(kg K). The figures are those of the international standard atmosphere, from memory.
_SEA_LEVEL_TEMPERATURE = 288.15  # [K]
_LAPSE = 0.0065  # [K/m]
_EXPONENT = 9.80665 / (287.053 * _LAPSE)


def standard_pressure_ratio(*, altitude: float) -> float:
    """Pressure of the air over that at sea level.

    Density is in proportion to it, and to the inverse of the temperature of the day.

    Args:
        altitude: Altitude above the sea, below 11 km [m].

    Returns:
        Pressure ratio [1].

    References:
        [StandardAtmosphere]; by the weight of the air and the gas law, dp/p = -g dz/(R T).
    """
    return float((1.0 - _LAPSE * altitude / _SEA_LEVEL_TEMPERATURE) ** _EXPONENT)
