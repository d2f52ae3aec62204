"""Boiling water in a boiler, fast: properties along the boiling line for kernels that step through a journey.

Polynomials of sixth degree in x = ln(pressure / 1 MPa), fitted by least squares at 600 Chebyshev nodes of
0.5 to 25 bar absolute to [IF97] through `steam`. Largest relative errors there, measured: temperature 1.0e-7,
enthalpy of water 5.9e-6 and its slope 4.6e-4, latent heat 4.8e-6, density of water 2.4e-6, of steam 7.8e-6.
`tests/physics/test_boiler_water.py` measures them again. Outside that range nothing is promised and nothing
is checked: a kernel holds pressure inside. Each function takes one pressure; the text is the same compiled or
plain.
"""

from __future__ import annotations

import math

from locosim.compiled import compiled

LEAST_PRESSURE = 0.5e5  # absolute [Pa]
GREATEST_PRESSURE = 25.0e5  # absolute [Pa]


@compiled
def _powers(x: float, c0: float, c1: float, c2: float, c3: float, c4: float, c5: float, c6: float) -> float:
    return c0 + x * (c1 + x * (c2 + x * (c3 + x * (c4 + x * (c5 + x * c6)))))


@compiled
def boiling_temperature(pressure: float) -> float:
    """Temperature of boiling water [K] at an absolute pressure [Pa]."""
    return _powers(
        math.log(pressure * 1e-6),
        453.0356522997862,
        43.45554757314704,
        4.612542930905798,
        0.4586377303750304,
        0.03720226158992447,
        0.0019436559976693803,
        2.8382355151199035e-05,
    )


@compiled
def boiling_temperature_slope(pressure: float) -> float:
    """Change of the boiling temperature with pressure [K/Pa] at an absolute pressure [Pa]."""
    slope = _powers(
        math.log(pressure * 1e-6),
        43.45554757314704,
        2 * 4.612542930905798,
        3 * 0.4586377303750304,
        4 * 0.03720226158992447,
        5 * 0.0019436559976693803,
        6 * 2.8382355151199035e-05,
        0.0,
    )
    return slope / pressure


@compiled
def water_enthalpy(pressure: float) -> float:
    """Enthalpy of boiling water [J/kg] at an absolute pressure [Pa]."""
    return _powers(
        math.log(pressure * 1e-6),
        762681.3508639343,
        191920.3498759352,
        24116.296075110142,
        3527.525926758627,
        593.6829207013034,
        92.0967114797084,
        7.681141357336283,
    )


@compiled
def water_enthalpy_slope(pressure: float) -> float:
    """Change of the enthalpy of boiling water with pressure [J/(kg Pa)] at an absolute pressure [Pa]."""
    slope = _powers(
        math.log(pressure * 1e-6),
        191920.3498759352,
        2 * 24116.296075110142,
        3 * 3527.525926758627,
        4 * 593.6829207013034,
        5 * 92.0967114797084,
        6 * 7.681141357336283,
        0.0,
    )
    return slope / pressure


@compiled
def latent_heat(pressure: float) -> float:
    """Heat that turns boiling water into dry steam [J/kg] at an absolute pressure [Pa]."""
    return _powers(
        math.log(pressure * 1e-6),
        2014441.8185183408,
        -153923.61641052764,
        -31747.1948449265,
        -7044.505232913182,
        -1523.0102917734064,
        -267.7321212218429,
        -23.849201502250395,
    )


@compiled
def water_density(pressure: float) -> float:
    """Density of boiling water [kg/m3] at an absolute pressure [Pa]."""
    return _powers(
        math.log(pressure * 1e-6),
        887.1284626827,
        -46.38835345101818,
        -9.381107242756368,
        -1.7416220031732774,
        -0.35173886085282446,
        -0.0588397052411923,
        -0.005040850670038645,
    )


@compiled
def steam_density(pressure: float) -> float:
    """Density of dry saturated steam [kg/m3] at an absolute pressure [Pa]."""
    return math.exp(
        _powers(
            math.log(pressure * 1e-6),
            1.6380962167762112,
            0.9540634561813717,
            0.011951035306570311,
            0.004150289730792912,
            0.001022705057217534,
            0.00019322281268181578,
            1.7967416426690486e-05,
        )
    )


@compiled
def pressure_rate(
    pressure: float, water: float, metal: float, heat: float, feed: float, feed_enthalpy: float, steam: float
) -> float:
    """Change of boiler pressure with time [Pa/s].

    The water in the boiler boils at all times, so pressure moves with its heat:
    dP/dt = (Q + m_feed (h_feed - h_f) - m_steam h_fg) / (M dh_f/dP + C dT_s/dP). The heat held by the steam
    space, below 1 % of that held by the water, is left out, and so is the work of pressure on the water.

    Args:
        pressure: Absolute pressure in the boiler [Pa].
        water: Mass of water in the boiler [kg].
        metal: Heat capacity of the shell and tubes that follow the water's temperature [J/K].
        heat: Heat into the water, standing loss already taken off [W].
        feed: Rate of feed [kg/s].
        feed_enthalpy: Enthalpy of the feed as it enters [J/kg].
        steam: Rate at which steam leaves, saturated [kg/s].
    """
    gained = heat + feed * (feed_enthalpy - water_enthalpy(pressure)) - steam * latent_heat(pressure)
    held = water * water_enthalpy_slope(pressure) + metal * boiling_temperature_slope(pressure)
    return gained / held
