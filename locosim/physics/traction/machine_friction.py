"""Machine friction: the force that motion and driving axles absorb between cylinders and wheel rim."""

from __future__ import annotations

from locosim.constants import POUND_PER_SHORT_TON


def cole_1914(*, mass_on_drivers: float) -> float:
    """Machine friction proportional to the weight on drivers, the same at any effort and speed.

    It includes the running resistance of the driving axles; the other axles and the tender run as cars.

    Args:
        mass_on_drivers: Mass on the driving wheels [kg].

    Returns:
        Friction as a force at the rim [N].

    References:
        [Cole1914], from memory: 22.2 lb per short ton on drivers.
    """
    return 22.2 * POUND_PER_SHORT_TON * mass_on_drivers
