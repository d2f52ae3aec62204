"""Crank arrangements, and the least tractive effort at rest that follows from them."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

# Crank angles behind the first, by number of cylinders on an engine unit, in any number of sets [revolution]: two at
# right angles, three evenly, four as two pairs of opposed cranks at right angles. Common practice, no source; a choice
# of arrangement, so no assumption with a range.
CRANK_ANGLES = {1: (0.0,), 2: (0.0, 0.25), 3: (0.0, 1 / 3, 2 / 3), 4: (0.0, 0.25, 0.5, 0.75)}


def standing_effort_ratio(cranks: Sequence[float], *, cutoff: float, steps: int = 7200) -> float:
    """Least torque at rest over the torque of full boiler pressure all through the stroke.

    Closed form for an infinite connecting rod and no preadmission: a cylinder pushes with the sine of its crank angle
    from dead center to cutoff, and not at all from cutoff to the end of the stroke.

    Args:
        cranks: Crank angle of each cylinder on an engine unit [rad].
        cutoff: Cutoff as a fraction of the stroke [1].
        steps: Crank angles tried in a revolution.

    Returns:
        Ratio [1]; with two cranks at right angles and cutoff 1 it is pi/4.
    """
    angle = np.linspace(0.0, 2.0 * math.pi, steps, endpoint=False)
    torque = np.zeros(steps)
    for crank in cranks:
        past_dead_center = (angle + crank) % math.pi
        pushing = past_dead_center <= math.acos(1.0 - 2.0 * cutoff)
        torque += np.where(pushing, np.sin(past_dead_center), 0.0)
    return float(torque.min()) / (len(cranks) * 2.0 / math.pi)
