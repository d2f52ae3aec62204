"""The one place that knows numba: compiled when it is installed, the same text in plain Python when not.

Set `LOCOSIM_PLAIN=1` to run the plain text although numba is installed; results are the same, only slower.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any, TypeVar

F = TypeVar("F", bound=Callable[..., Any])

if os.environ.get("LOCOSIM_PLAIN") == "1":
    available = False
else:
    try:
        import numba

        available = True
    except ImportError:  # numba has no wheel for this machine
        available = False

if available:
    prange = numba.prange

    def compiled(function: F) -> F:
        """Compile a function of scalars and arrays, keeping the machine code on disk."""
        result: F = numba.njit(cache=True)(function)
        return result

    def compiled_parallel(function: F) -> F:
        """Compile a function whose `prange` loops run on all cores."""
        result: F = numba.njit(cache=True, parallel=True)(function)
        return result

else:
    prange = range

    def compiled(function: F) -> F:
        """Leave the function as it is: numba is not in use."""
        return function

    def compiled_parallel(function: F) -> F:
        """Leave the function as it is: numba is not in use."""
        return function
