"""Cylinders by handbook: mean pressure by cutoff, speed factors, steam rates, maximum power.

These are averages over engines of their time, for engines of which only the main dimensions are known.
"""

from __future__ import annotations

from typing import cast

import numpy as np

from locosim.constants import FOOT, HORSEPOWER, HOUR, INCH, POUND, PSI
from locosim.physics.data_tables import read_table
from locosim.physics.types import Real

FOOT_PER_MINUTE = FOOT / 60.0  # [m/s]
_COLE = read_table("cole_1914_speed_factors.csv")
_PISTON_SPEED = _COLE["piston_speed_ft_min"] * FOOT_PER_MINUTE

# Piston speed up to which the rated tractive effort is available, and the end of the table of speed factors [m/s].
FULL_EFFORT_PISTON_SPEED = float(_PISTON_SPEED[0])
MAX_PISTON_SPEED = float(_PISTON_SPEED[-1])

_POUND_PER_HORSEPOWER_HOUR = POUND / (HORSEPOWER * HOUR)
STEAM_PER_WORK_SATURATED = 27.0 * _POUND_PER_HORSEPOWER_HOUR  # [kg/J] indicated, [Cole1914] from memory
STEAM_PER_WORK_SUPERHEATED = 20.8 * _POUND_PER_HORSEPOWER_HOUR  # [kg/J] indicated, [Cole1914] from memory

CLARK_CUTOFFS = (0.10, 0.75)  # range of the table that Clark's rule of mean pressure fits


def mean_pressure_ratio(*, cutoff: Real, clearance: float = 0.0) -> Real:
    """Mean forward pressure over admission pressure, both absolute, for hyperbolic expansion.

    Args:
        cutoff: Fraction of the stroke at which admission ends [1].
        clearance: Clearance volume over swept volume [1].

    Returns:
        Ratio of pressures [1].

    References:
        [MRS70] table II: c + (c + k) ln((1 + k)/(c + k)).
    """
    volume = cutoff + clearance
    ratio: Real = cutoff + volume * np.log((1 + clearance) / volume)
    return ratio


def mean_effective_pressure_clark(*, initial_pressure: float, cutoff: Real) -> Real:
    """Mean effective pressure in locomotive cylinders of the 1850s, from indicator cards.

    Valid for cutoffs within `CLARK_CUTOFFS`; it includes the losses of the valve gears of its time.

    Args:
        initial_pressure: Gauge pressure in the cylinder until cutoff [Pa].
        cutoff: Fraction of the stroke at which admission ends [1].

    Returns:
        Mean effective pressure [Pa].

    References:
        D. K. Clark's 13.5 sqrt(c) - 28 per cent, c in per cent, from memory; it fits table 11 of [Vose1857].
    """
    share: Real = (13.5 * np.sqrt(100 * cutoff) - 28) / 100
    return initial_pressure * share


def speed_factor_saturated(*, piston_speed: Real) -> Real:
    """Tractive effort over rated tractive effort at the full output of the boiler, saturated steam.

    It is 1 up to 250 ft/min (`FULL_EFFORT_PISTON_SPEED`). The table ends at 1,600 ft/min (`MAX_PISTON_SPEED`); beyond
    that the last value is returned, and the caller must refuse such speeds.

    Args:
        piston_speed: Mean piston speed [m/s].

    Returns:
        Speed factor [1].

    References:
        [Cole1914], from memory; linear between the tabulated speeds.
    """
    return np.interp(piston_speed, _PISTON_SPEED, _COLE["saturated"])


def speed_factor_superheated(*, piston_speed: Real) -> Real:
    """Tractive effort over rated tractive effort at the full output of the boiler, superheated steam.

    Known from memory are 1 at 250 ft/min and the values from 1,000 to 1,600. Between 250 and 1,000 ft/min locosim uses
    the saturated factor times a gain that rises linearly from 1 to 1.080, its value at 1,000. This interpolation is our
    own; with it, power rises up to 1,000 ft/min, as the author states.

    Args:
        piston_speed: Mean piston speed [m/s].

    Returns:
        Speed factor [1].

    References:
        [Cole1914], from memory.
    """
    known = np.isfinite(_COLE["superheated"])
    gain = np.interp(
        piston_speed, _PISTON_SPEED[known], _COLE["superheated"][known] / _COLE["saturated"][known]
    )
    table = np.interp(piston_speed, _PISTON_SPEED[known], _COLE["superheated"][known])
    between = gain * speed_factor_saturated(piston_speed=piston_speed)
    factor = np.where(np.less(piston_speed, 1000 * FOOT_PER_MINUTE), between, table)[()]
    return cast(Real, factor)


def max_power_saturated(*, gauge_pressure: float, bore: float) -> float:
    """Maximum indicated power of a two-cylinder simple engine on saturated steam, 700 to 1,000 ft/min.

    Args:
        gauge_pressure: Working gauge pressure of the boiler [Pa].
        bore: Diameter of a cylinder [m].

    Returns:
        Indicated power [W].

    References:
        [Cole1914], from memory: 0.0212 P A hp, P psi, A square inches of one cylinder.
    """
    return 0.0212 * HORSEPOWER * gauge_pressure / PSI * np.pi / 4 * (bore / INCH) ** 2


def max_power_superheated(*, gauge_pressure: float, bore: float) -> float:
    """Maximum indicated power of a two-cylinder simple engine on superheated steam, from 1,000 ft/min up.

    Args:
        gauge_pressure: Working gauge pressure of the boiler [Pa].
        bore: Diameter of a cylinder [m].

    Returns:
        Indicated power [W].

    References:
        [Cole1914], from memory: 0.0229 P A hp, P psi, A square inches of one cylinder.
    """
    return 0.0229 * HORSEPOWER * gauge_pressure / PSI * np.pi / 4 * (bore / INCH) ** 2
