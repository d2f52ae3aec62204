"""The one place that knows numba: compiled when it is installed, the same text in plain Python when not.

Machine code is kept on disk under a hash of the texts of all rooms that have compiled ones. Numba alone watches
only the file of the function itself, and would go on using a caller compiled against an older callee.

`LOCOSIM_PLAIN=1` runs the plain text although numba is installed; results are the same, only slower.
`LOCOSIM_CACHE` names the folder for what is kept on disk; without it the user's cache folder is used.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, TypeVar, cast

import platformdirs

MOST_KEPT = 6  # folders of machine code, so that versions and environments side by side each find their own
COMPILED = ("physics", "performance", "journey")  # rooms of the package with compiled texts

F = TypeVar("F", bound=Callable[..., Any])

if os.environ.get("LOCOSIM_PLAIN") == "1":
    available = False
else:
    try:
        import numba

        available = True
    except ImportError:  # numba has no wheel for this machine
        available = False


def cache_folder() -> Path:
    """Folder for what locosim keeps on disk between runs; it may not exist yet."""
    named = os.environ.get("LOCOSIM_CACHE")
    return Path(named) if named else Path(platformdirs.user_cache_dir("locosim"))


@cache
def _machine_code_folder() -> Path | None:
    """Folder for machine code of just these texts, or None where nothing can be written."""
    digest = hashlib.sha256()
    package = Path(__file__).parent
    # Rooms with compiled texts are taken whole: numbers a text imports are frozen into its machine code too.
    for path in sorted(
        [package / "constants.py", *(p for room in COMPILED for p in (package / room).glob("*.py"))]
    ):
        digest.update(path.read_bytes())
    folder = cache_folder() / f"compiled-{digest.hexdigest()[:16]}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        os.utime(folder)  # the folders used last are kept
    except OSError:
        return None
    with contextlib.suppress(OSError):  # another process may be tidying up as well
        older = sorted(cache_folder().glob("compiled-*"), key=lambda found: found.stat().st_mtime)
        for old in older[:-MOST_KEPT]:
            shutil.rmtree(old, ignore_errors=True)
    return folder if os.access(folder, os.W_OK) else None


class _Forgiving:
    """Numba's keeper of one function's machine code, for which a damaged file is as good as none."""

    def __init__(self, keeper: Any) -> None:
        self._keeper = keeper

    def __getattr__(self, name: str) -> Any:
        return getattr(self._keeper, name)

    def load_overload(self, signature: Any, context: Any) -> Any:
        """Load machine code, or nothing, so that it is compiled anew."""
        try:
            return self._keeper.load_overload(signature, context)
        except Exception:  # a damaged pickle may raise anything
            with contextlib.suppress(OSError):
                self._keeper.flush()
            return None

    def save_overload(self, signature: Any, data: Any) -> None:
        """Keep machine code, where the disk takes it."""
        with contextlib.suppress(OSError):
            self._keeper.save_overload(signature, data)


if available:
    prange: Any = numba.prange

    def _compile(function: F, *, parallel: bool = False, lean: bool = False) -> F:
        """Compile on first call, keeping the result in the folder of these texts where there is one.

        A lean function is compiled without numba's reference counting and laid into its callers: counting
        references and copying tuples of many arrays from call to call took three quarters of a run.
        """
        folder = _machine_code_folder()
        settings: Any = numba.config
        kept, settings.CACHE_DIR = settings.CACHE_DIR, str(folder or "")
        try:
            options: dict[str, Any] = {"parallel": parallel, "error_model": "numpy"}
            if lean:
                options |= {"_nrt": False, "forceinline": True}
            result: Any = numba.njit(cache=folder is not None, **options)(function)
            result._cache = _Forgiving(result._cache)
        finally:
            settings.CACHE_DIR = kept
        return cast(F, result)

    def compiled(function: F) -> F:
        """Compile a function of scalars and arrays, keeping the machine code on disk."""
        return _compile(function)

    def compiled_lean(function: F) -> F:
        """Compile a function that makes no arrays and calls only others like it."""
        return _compile(function, lean=True)

    def compiled_parallel(function: F) -> F:
        """Compile a function whose `prange` loops run on all cores."""
        return _compile(function, parallel=True)

else:
    prange = range

    def compiled(function: F) -> F:
        """Leave the function as it is: numba is not in use."""
        return function

    def compiled_lean(function: F) -> F:
        """Leave the function as it is: numba is not in use."""
        return function

    def compiled_parallel(function: F) -> F:
        """Leave the function as it is: numba is not in use."""
        return function
