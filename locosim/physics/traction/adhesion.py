"""Adhesion of the driving wheels at speed, and the tractive effort it allows."""

from __future__ import annotations

from typing import Any

import numpy as np

from locosim.compiled import compiled_inline, in_python
from locosim.constants import GRAVITY
from locosim.physics.types import Floats, Real


@compiled_inline
def curtius_kniffler(speed: float) -> float:
    """Coefficient of adhesion of electric locomotives on dry rail, falling with speed.

    Args:
        speed: Speed [m/s].

    Returns:
        Coefficient of adhesion [1].

    References:
        [CurtiusKniffler1944], from memory: 7.5 / (V + 44) + 0.161, V in km/h.
    """
    return 7.5 / (3.6 * speed + 44.0) + 0.161


@compiled_inline
def adhesion_speed_factor(speed: float) -> float:
    """Coefficient of adhesion at a speed over that at rest.

    The shape is that of `curtius_kniffler` over its own value at rest, 0.331. It was measured on electric
    locomotives, whose torque is even; using it for other rail conditions is an assumption of locosim.
    [Koffman1948] gives 0.25 on dry rail up to 40 to 50 mile/h, so the shape errs to the low side there.

    Args:
        speed: Speed [m/s].

    Returns:
        Factor [1].

    References:
        [CurtiusKniffler1944], from memory, for the shape.
    """
    return curtius_kniffler(speed) / curtius_kniffler(0.0)


def adhesion_speed_factors(speed: Floats) -> Floats:
    """`adhesion_speed_factor` at each of several speeds, shape (n,).

    Args:
        speed: Speeds, shape (n,) [m/s].
    """
    arithmetic: Any = in_python(adhesion_speed_factor)
    return np.asarray(arithmetic(speed))


def adhesion_limited_effort(
    *, mass_on_drivers: float, coefficient: Real, peak_effort_ratio: float = 1.0
) -> Real:
    """Maximum mean effort of an engine unit without slip at the peak of its torque.

    Args:
        mass_on_drivers: Mass on the driving wheels of the engine unit [kg].
        coefficient: Coefficient of adhesion [1].
        peak_effort_ratio: Maximum torque over mean torque [1].

    Returns:
        Mean effort at the rim [N].

    References:
        Friction; the usual rule with a ratio of 1, as in [RailText85] p. 25.
    """
    return mass_on_drivers * GRAVITY * coefficient / peak_effort_ratio
