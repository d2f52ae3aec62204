"""Which constants the readings of a log tell apart, by the singular values of their derivatives.

Constants are measured in half widths of their believable ranges. A direction among them in which the readings leave a
95 % interval wider than that range tells nothing that was not known before: constants that take part in it are refused.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from locosim.physics.types import Floats
from locosim.studies.log_constants import APART, Constant

NORMAL_95 = 1.96  # half width of a 95 % interval, in standard deviations
TAKES_PART = (
    0.3  # share of a constant in a direction from which it takes part in it; below, a tenth of its square
)


class MixedUp(NamedTuple):
    """Constants that the readings do not tell apart; one alone is not shown at all.

    Attributes:
        names: Their names.
        width: Half width of the 95 % interval of what they share, over that of the believable range [1].
        advice: What kind of log tells them apart.
    """

    names: tuple[str, ...]
    width: float
    advice: str


def mixed_up(constants: Sequence[Constant], own: Floats) -> list[MixedUp]:
    """Find the constants that are not told apart.

    Args:
        constants: The constants.
        own: Derivatives of the readings by the constants in half widths of the believable range, over the spread of
            the readings, without what the levels of groups explain; shape (n, p).
    """
    _, singular, directions = np.linalg.svd(own, full_matrices=False)
    found = []
    for size, direction in zip(singular, directions, strict=True):
        width = NORMAL_95 / size if size > 1e-9 else np.inf
        if width > 1.0:
            members = [
                c for c, share in zip(constants, np.abs(direction), strict=True) if share >= TAKES_PART
            ]
            found.append(MixedUp(tuple(c.name for c in members), float(width), _advice(members)))
    return found


def _advice(members: Sequence[Constant]) -> str:
    names = {constant.name for constant in members}
    if len(members) == 1:
        return f"the log needs {members[0].needs}"
    found = [text for apart, text in APART if apart <= names]
    return found[0] if found else "; ".join(f"{each.name} needs {each.needs}" for each in members)


def refusal(groups: Sequence[MixedUp]) -> str:
    """The groups in words, with what to do."""
    parts = []
    for group in groups:
        width = (
            "nothing at all"
            if not np.isfinite(group.width) or group.width > 1e3
            else f"{group.width:.1f} times"
        )
        if len(group.names) == 1:
            seen = "shows nothing of" if width.startswith("nothing") else "hardly shows"
            interval = (
                "" if width.startswith("nothing") else f" (its interval is {width} its believable range)"
            )
            parts.append(f"{seen} {group.names[0]}{interval}: {group.advice}")
        else:
            names = f"{', '.join(group.names[:-1])} and {group.names[-1]}"
            interval = (
                "they act alike"
                if width.startswith("nothing")
                else f"what they share has an interval {width} the believable range"
            )
            parts.append(f"cannot tell {names} apart ({interval}): {group.advice}")
    return f"the log {'; and it '.join(parts)}"
