"""Number types of the physics functions."""

from __future__ import annotations

from typing import TypeAlias, TypeVar

import numpy as np
import numpy.typing as npt

# An array of floats.
Floats: TypeAlias = npt.NDArray[np.float64]

# A float or an array of floats: all arguments of a function marked `Real` are of one kind, and so is its result.
# Arguments marked `float` are the same for all elements of an array.
Real = TypeVar("Real", float, Floats)
