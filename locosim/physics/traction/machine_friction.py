"""Machine friction: the force that motion and driving axles absorb between cylinders and wheel rim."""

from __future__ import annotations

from locosim.constants import POUND_PER_SHORT_TON
from locosim.physics.types import Real


def machine_friction(*, at_no_effort: float, thrust_share: float, effort: Real) -> Real:
    """Machine friction of the two-term law: a constant part, and a part in proportion to the piston thrust.

    The constant part is that of axle boxes, rods and packing under the weight on drivers; it includes the running
    resistance of the driving axles, and the other axles and the tender run as cars. The second part is that of
    crossheads, pins and boxes under the thrust, which is in proportion to the indicated tractive effort.

    Args:
        at_no_effort: Friction without steam, as a force at the rim [N].
        thrust_share: Friction added per indicated tractive effort [1].
        effort: Indicated tractive effort at the rim, any shape [N].

    Returns:
        Friction as a force at the rim, in the shape of `effort` [N].

    References:
        The form and a figure for each part are in [Bourne1865]: 1 psi on the pistons of an unloaded engine, and at
        most one seventh of the load.
    """
    return at_no_effort + thrust_share * effort


def cole_1914(*, mass_on_drivers: float) -> float:
    """Machine friction proportional to the weight on drivers, the same at any effort and speed.

    It includes the running resistance of the driving axles, like `machine_friction`. The validation page compares
    the two.

    Args:
        mass_on_drivers: Mass on the driving wheels [kg].

    Returns:
        Friction as a force at the rim [N].

    References:
        [Cole1914], from memory: 22.2 lb per short ton on drivers.
    """
    return 22.2 * POUND_PER_SHORT_TON * mass_on_drivers
