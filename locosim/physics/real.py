"""The number type of the physics functions."""

from __future__ import annotations

from typing import Any, TypeAlias

# A float or a numpy array of floats; what comes out is of the kind that went in. The type system of
# numpy cannot say this for mixed arguments without hiding the formulae behind overloads.
Real: TypeAlias = Any
