"""A pull from outside over a part of a run: what a helper would give at its coupler, without its weight."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from locosim.frozen import frozen
from locosim.journey.setup.helper_performance import HELPER_SPEED_COUNT
from locosim.journey.setup.prepare import PreparedRun

ENOUGH_ADHESION = 1e12  # adhesive weight that never limits the pull [N]


@frozen
class AssistingPull:
    """A constant pull where the train engine gives full effort.

    Attributes:
        force: [N]
        start: Chainage of the engine where it begins, in the direction of travel [m].
        end: Where it ends [m].
    """

    force: float
    start: float
    end: float


def with_pull(prepared: PreparedRun, pull: AssistingPull) -> PreparedRun:
    """The run with a pull from outside, in the steps that lie between its ends.

    Raises:
        ValueError: The run has helpers, whose place the pull would take.
    """
    if prepared.helpers:
        raise ValueError("a pull from outside is for a run without helpers")
    chainage = prepared.chainage
    inside = (chainage[:-1] >= pull.start - 1e-6) & (chainage[1:] <= pull.end + 1e-6)
    return replace(
        prepared,
        line=prepared.line._replace(helper_row=np.where(inside, 0, -1).astype(np.int8)),
        engine=prepared.engine._replace(
            helper_effort=np.full((1, HELPER_SPEED_COUNT), pull.force),
            helper_adhesive_weight=np.array([ENOUGH_ADHESION]),
            helper_resistance=np.zeros((1, 3)),
            helper_starting=np.zeros((1, 2)),
            helper_friction=np.zeros(1),
        ),
    )
