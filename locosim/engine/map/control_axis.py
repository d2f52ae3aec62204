"""Control axis of the performance map: the throttle opens at the shortest cutoff, then the cutoff lengthens."""

from __future__ import annotations

import numpy as np

from locosim.physics.types import Floats

# Nodes of the throttled branch: shares of the effort at the shortest cutoff with the throttle wide open.
EFFORT_SHARES = (0.0, 0.05, 0.15, 0.30, 0.45, 0.60, 0.75, 0.88, 0.96)


def control_cutoffs(cutoffs: Floats) -> Floats:
    """Cutoff at each node of the control axis: the shortest on the throttled branch [1].

    Args:
        cutoffs: Cutoffs with the throttle wide open, evenly spaced [1].
    """
    return np.concatenate([np.full(len(EFFORT_SHARES), cutoffs[0]), cutoffs])
