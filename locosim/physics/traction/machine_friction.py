"""Machine friction: resistance of motion and driving axles between cylinders and wheel rim.

All laws have the same arguments, so a law can be chosen by name; unused arguments are marked.
"""

from __future__ import annotations

from typing import Protocol

import numpy as np

from locosim.constants import GRAVITY, POUND_PER_SHORT_TON, PSI
from locosim.physics.types import Real

# Resistance of the coupled axles, kg per tonne, by their number: [Strahl1913], from memory.
STRAHL_AXLE_RESISTANCE = {2: 5.8, 3: 7.3, 4: 8.4, 5: 9.3}


class FrictionLaw(Protocol):
    """A law of machine friction."""

    def __call__(
        self, *, indicated_effort: Real, mass_on_drivers: Real, driving_axles: Real, effort_per_pressure: Real
    ) -> Real:
        """Friction as a force at the rim [N]."""


def cole_1914(
    *, indicated_effort: Real, mass_on_drivers: Real, driving_axles: Real, effort_per_pressure: Real
) -> Real:
    """Machine friction proportional to the weight on drivers.

    The law includes the running resistance of the driving axles; other axles and the tender run as cars.

    Args:
        indicated_effort: Not used [N].
        mass_on_drivers: Mass on the driving wheels [kg].
        driving_axles: Not used [1].
        effort_per_pressure: Not used [N/Pa].

    Returns:
        Friction as a force at the rim [N].

    References:
        [Cole1914], from memory: 22.2 lb per short ton on drivers.
    """
    return 22.2 * POUND_PER_SHORT_TON * mass_on_drivers


def strahl_1913(
    *, indicated_effort: Real, mass_on_drivers: Real, driving_axles: Real, effort_per_pressure: Real
) -> Real:
    """Resistance of motion and coupled axles of a two-cylinder engine, by the number of coupled axles.

    The law includes the running resistance of the driving axles.

    Args:
        indicated_effort: Not used [N].
        mass_on_drivers: Mass on the driving wheels [kg].
        driving_axles: Number of coupled axles in one frame, 2 to 5, interpolated between and constant outside [1].
        effort_per_pressure: Not used [N/Pa].

    Returns:
        Friction as a force at the rim [N].

    References:
        [Strahl1913], from memory: 5.8, 7.3, 8.4, 9.3 kg per tonne for 2, 3, 4, 5 coupled axles.
    """
    per_tonne = np.interp(driving_axles, list(STRAHL_AXLE_RESISTANCE), list(STRAHL_AXLE_RESISTANCE.values()))
    return per_tonne / 1000 * GRAVITY * mass_on_drivers


def bourne_1865(
    *, indicated_effort: Real, mass_on_drivers: Real, driving_axles: Real, effort_per_pressure: Real
) -> Real:
    """Friction of the unloaded engine, 1 psi on the pistons, plus one seventh of the effort at the rim.

    Bourne calls one seventh an upper figure.

    Args:
        indicated_effort: Indicated tractive effort [N].
        mass_on_drivers: Not used [kg].
        driving_axles: Not used [1].
        effort_per_pressure: Tractive effort per mean effective pressure [N/Pa].

    Returns:
        Friction as a force at the rim, never below that of the unloaded engine [N].

    References:
        [Bourne1865] Q. 497. Indicated = 8/7 of delivered + 1 psi, so friction = indicated/8 + 7/8 psi.
    """
    unloaded = PSI * effort_per_pressure
    return np.maximum(unloaded, indicated_effort / 8 + 7 / 8 * unloaded)


LAWS: dict[str, FrictionLaw] = {
    "cole_1914": cole_1914,
    "strahl_1913": strahl_1913,
    "bourne_1865": bourne_1865,
}
