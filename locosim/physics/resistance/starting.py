"""Starting resistance, until a train has broken away, and the rise of bearing resistance in the cold."""

from __future__ import annotations

import math

import numpy as np

from locosim.compiled import compiled, compiled_inline
from locosim.constants import MPH, POUND_PER_SHORT_TON, ZERO_CELSIUS
from locosim.physics.types import Floats

# Plain bearings at the instant of starting, and at the speed at which the train has broken away: [Henderson1907].
PLAIN_BEARINGS = 16 * POUND_PER_SHORT_TON  # [N/kg]
BROKEN_AWAY = 5 * POUND_PER_SHORT_TON  # [N/kg]
BREAKAWAY_SPEED = 6 * MPH  # [m/s]
ROLLER_BEARINGS = 5 * POUND_PER_SHORT_TON  # [N/kg], [Hay1982], from memory, doubtful
# No correction from this air temperature up; laws of resistance were measured in mild weather [K].
MILD_TEMPERATURE = ZERO_CELSIUS + 15.0
# Air colder by this raises bearing resistance by a factor e [K]. Fitted to three sources together: cars of one line 20
# to 30 % harder to haul in winter (1 degC, from memory) than in September [Dingler1897]; and reductions of ratings by
# [CanadianNationalRules] and [Army603] down to -20 degF, read at a ruling grade of 0.5 % and 5 lb per short ton.
COLD_SCALE = 77.0
# Starting rises more: to 35 lb per short ton of plain bearings, [Hay1982], from memory, at 0 degF, our reading.
STARTING_EXPONENT = 1.8


def cold_factor(*, temperature: float, exponent: float = 1.0) -> float:
    """Bearing resistance in cold air over that in mild air: the oil stiffens, the more the colder.

    It applies to the part of the running resistance that does not depend on speed. The air term follows the density
    of the air by itself.

    Args:
        temperature: Temperature of the air [K].
        exponent: Power of the factor: 1 for running on plain bearings, `STARTING_EXPONENT` for starting.

    Returns:
        Factor, 1 from `MILD_TEMPERATURE` up, and 1.3 % more for each kelvin below it at exponent 1 [1].

    References:
        [Dingler1897], B&O haulage tests. [CanadianNationalRules] and [Army603] reduce ratings by as much down to
        -20 degF.
    """
    return math.exp(exponent * max(MILD_TEMPERATURE - temperature, 0.0) / COLD_SCALE)


def resistance_at_rest(*, bearing: str, temperature: float, roller_share: float) -> float:
    """Resistance per mass at the instant of starting, with bearings as cold as the air.

    Args:
        bearing: "roller" or "plain".
        temperature: Temperature of the air [K].
        roller_share: Rise in the cold of roller bearings over that of plain ones, as powers [1].

    Returns:
        Resistance per mass [N/kg].

    References:
        [Henderson1907] for plain bearings, [Hay1982], from memory, for roller bearings; `cold_factor`.
    """
    if bearing == "roller":
        return ROLLER_BEARINGS * cold_factor(
            temperature=temperature, exponent=STARTING_EXPONENT * roller_share
        )
    return PLAIN_BEARINGS * cold_factor(temperature=temperature, exponent=STARTING_EXPONENT)


@compiled_inline
def resistance_after_standing(warm: float, cold: float, standing: float, cooling_time: float) -> float:
    """Resistance at rest of a train that came in with warm bearings, after a time standing.

    Args:
        warm: Resistance at rest with warm bearings, in any unit.
        cold: The same with bearings as cold as the air.
        standing: Time standing [s]; infinite for bearings as cold as the air.
        cooling_time: Time constant of the cooling [s].

    Returns:
        Resistance at rest, in the unit of `warm`.
    """
    return cold + (warm - cold) * math.exp(-standing / cooling_time)


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


def starting_resistances(speed: Floats, running: Floats, at_rest: Floats, broken_away: float) -> Floats:
    """`starting_resistance` at each of several speeds, shape (n,).

    Args:
        speed: Speeds, shape (n,) [m/s].
        running: Running resistance at each, shape (n,), in any unit common to the next two.
        at_rest: Resistance at rest, shape (n,).
        broken_away: Starting resistance at 6 mile/h.
    """
    # Machine code that makes an array would load half the compiler of numba.
    found = np.empty(len(speed))
    write_starting_resistances(speed, running, at_rest, broken_away, found)
    return found


@compiled
def write_starting_resistances(
    speed: Floats, running: Floats, at_rest: Floats, broken_away: float, found: Floats
) -> None:
    """Write the resistances of `starting_resistances` into an array, shape (n,)."""
    for i in range(len(speed)):
        found[i] = starting_resistance(speed[i], running[i], at_rest[i], broken_away)
