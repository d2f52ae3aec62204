"""The number type of the physics functions."""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

# A float or a numpy array of floats; what comes out is of the kind that went in. The type system of
# numpy cannot say this for mixed arguments without hiding the formulae behind overloads.
Real: TypeAlias = Any

# An array of floats.
Floats: TypeAlias = npt.NDArray[np.float64]
