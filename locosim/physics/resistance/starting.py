"""Starting resistance: resistance of a train from rest until it has broken away."""

from __future__ import annotations

from locosim.compiled import compiled, compiled_inline
from locosim.constants import MPH, POUND_PER_SHORT_TON, ZERO_CELSIUS
from locosim.physics.types import Floats

# Plain bearings at the instant of starting, and at the speed at which the train has broken away: [Henderson1907].
PLAIN_BEARINGS = 16 * POUND_PER_SHORT_TON  # [N/kg]
BROKEN_AWAY = 5 * POUND_PER_SHORT_TON  # [N/kg]
BREAKAWAY_SPEED = 6 * MPH  # [m/s]
# [Hay1982], from memory, doubtful: roller bearings, and plain bearings that have stood in frost.
ROLLER_BEARINGS = 5 * POUND_PER_SHORT_TON  # [N/kg]
PLAIN_BEARINGS_COLD = 35 * POUND_PER_SHORT_TON  # [N/kg]


def resistance_at_rest(*, bearing: str, temperature: float) -> float:
    """Resistance per mass at the instant of starting.

    Args:
        bearing: "roller" or "plain".
        temperature: Temperature of the air [K]; below freezing, plain bearings count as cold.

    Returns:
        Resistance per mass [N/kg].

    References:
        [Henderson1907] for plain bearings; the others [Hay1982], from memory.
    """
    if bearing == "roller":
        return ROLLER_BEARINGS
    return PLAIN_BEARINGS_COLD if temperature < ZERO_CELSIUS else PLAIN_BEARINGS


@compiled_inline
def starting_resistance(speed: float, running: float, at_rest: float, broken_away: float) -> float:
    """Resistance of a train that has not broken away yet, or of each kilogram of it.

    The starting resistance falls in a straight line from its value at rest to the one at 6 mile/h. The running
    resistance counts where it is larger, and alone above 6 mile/h. The source says that about 16 lb per short ton
    come in at the instant of starting and fall to 5 lb near 6 mile/h; locosim reads this as the whole resistance,
    not as an addition.

    Args:
        speed: Speed [m/s].
        running: Running resistance at that speed, in any unit common to the next two.
        at_rest: Resistance at rest.
        broken_away: Starting resistance at 6 mile/h; `at_rest` where that is less.

    Returns:
        Resistance, in the unit of `running`.

    References:
        [Henderson1907].
    """
    if speed > BREAKAWAY_SPEED:
        return running
    part = speed / BREAKAWAY_SPEED
    return max(running, at_rest * (1.0 - part) + min(broken_away, at_rest) * part)


@compiled
def starting_resistances(speed: Floats, running: Floats, at_rest: float, broken_away: float) -> Floats:
    """`starting_resistance` at each of several speeds, shape (n,).

    Args:
        speed: Speeds, shape (n,) [m/s].
        running: Running resistance at each, shape (n,), in any unit common to the next two.
        at_rest: Resistance at rest.
        broken_away: Starting resistance at 6 mile/h.
    """
    found = running.copy()
    for i in range(len(speed)):
        found[i] = starting_resistance(speed[i], running[i], at_rest, broken_away)
    return found
