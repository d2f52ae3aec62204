"""Compilation by numba where it is installed; the same functions run as plain Python where it is not.

Machine code is stored on disk under a hash of the code of every package that has compiled functions. Numba by itself
checks only the file of the function, so it would keep a caller compiled against an older callee; and it recompiles
when a comment moves a line.

`LOCOSIM_PURE_PYTHON=1`, or `NUMBA_DISABLE_JIT=1`, runs plain Python although numba is installed; results are the same,
only slower.
`LOCOSIM_CACHE` sets the cache folder on disk; the default is the cache folder of the user.
"""

from __future__ import annotations

import contextlib
import logging
import os
import shutil
import stat
import sys
import threading
from collections.abc import Callable
from functools import cache
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from types import FunctionType
from typing import Any, TypeVar, cast

import platformdirs

from locosim.code_digest import code_digest

MAX_MERGED_SIZE = 150  # bytecode of a function that is merged in its callers [bytes]
MAX_FOLDERS = 6  # of machine code: several versions and environments can be in use side by side
# Packages with compiled functions, whole: constants that a function imports are compiled into it as well.
COMPILED = (
    "compiled.py",
    "compiled_parts.py",
    "constants.py",
    "physics/**/*.py",
    "engine/map/**/*.py",
    "journey/kernel/**/*.py",
)

FIRST_RUN = "locosim compiles itself for this machine, which takes some 15 seconds and is done once"

F = TypeVar("F", bound=Callable[..., Any])


def _import_numba() -> Any:
    """Import numba without packages that it imports only to look for a version, settings or a running measurement.

    Together they take a third as long as numba itself. They are left alone where another thread might import one of
    them meanwhile.
    """
    if threading.active_count() > 1:
        return import_module("numba")
    settings = () if Path(".numba_config.yaml").exists() else ("yaml",)
    absent = [name for name in ("scipy", "coverage", *settings) if name not in sys.modules]
    sys.modules.update(dict.fromkeys(absent))
    try:
        return import_module("numba")
    finally:
        for name in absent:
            sys.modules.pop(name, None)


def _import_arrays_without_scipy() -> None:
    """Import the array functions of numba without scipy's linear algebra, of which no kernel makes use.

    Numba imports it only to see whether it is there. Linear algebra in other compiled functions still finds it.
    """
    if "numba.np.arraymath" in sys.modules or "scipy.linalg" in sys.modules:
        return
    import numba.np.linalg

    def absent() -> None:
        raise ImportError

    known = numba.np.linalg.ensure_blas
    numba.np.linalg.ensure_blas = absent
    try:
        arrays: Any = import_module("numba.np.arraymath")
    finally:
        numba.np.linalg.ensure_blas = known
    arrays._HAVE_BLAS = find_spec("scipy") is not None


# Without its compiler numba runs half of itself in Python, which these functions are not made for.
if os.environ.get("LOCOSIM_PURE_PYTHON") == "1" or os.environ.get("NUMBA_DISABLE_JIT", "0") not in ("", "0"):
    available = False
else:
    try:
        numba = _import_numba()
        available = True
    except ImportError:  # numba has no wheel for this machine
        available = False


def cache_folder() -> Path:
    """Folder for what locosim stores on disk between runs; it may not exist yet."""
    folder = os.environ.get("LOCOSIM_CACHE")
    return Path(folder) if folder else Path(platformdirs.user_cache_dir("locosim"))


def first_run() -> bool:
    """Whether the program is compiled where it runs, and no machine code of it is stored yet."""
    if not available:
        return False
    folder = _machine_code_folder()
    return folder is not None and not any(folder.glob("*journey*"))


@cache
def _machine_code_folder() -> Path | None:
    """Folder for the machine code of exactly this source code; None where there is none that can be trusted.

    Machine code that is loaded is run, so nobody else may be able to write it.
    """
    digest = code_digest(COMPILED, cache_folder())
    versions = f"python-{sys.version_info[0]}.{sys.version_info[1]}-numba-{numba.__version__}"
    folder = cache_folder() / f"compiled-{digest[:16]}-{versions}"
    log = logging.getLogger(__name__)
    try:
        if not folder.exists():
            log.warning(FIRST_RUN)
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not _is_private(folder):
            log.warning(
                "%s may be written by others and is not used; locosim compiles itself at every start. Remove that "
                "folder, or set LOCOSIM_CACHE to a folder of your own",
                folder,
            )
            return None
    except OSError:
        return None
    with contextlib.suppress(
        OSError
    ):  # it may be read-only, and another process may delete folders meanwhile
        os.utime(folder)  # marks it as recently used
        # Others than this one, which seems to be the oldest where the clock was set back.
        others = [found for found in cache_folder().glob("compiled-*") if found != folder]
        for old in sorted(others, key=lambda found: found.stat().st_mtime)[: -(MAX_FOLDERS - 1)]:
            shutil.rmtree(old, ignore_errors=True)
    return folder


def _is_private(folder: Path) -> bool:
    """Whether a folder belongs to the user or the administrator, and nobody else may write in it."""
    if os.name != "posix":
        return True  # the cache folder of a user is private there
    found = folder.lstat()
    return (
        stat.S_ISDIR(found.st_mode)
        and found.st_uid in (0, os.geteuid())
        and not found.st_mode & _OTHERS_WRITE
    )


_OTHERS_WRITE = stat.S_IWGRP | stat.S_IWOTH


if available:
    from numba.core.caching import CompileResultCacheImpl, FunctionCache
    from numba.core.registry import CPUDispatcher

    from locosim import compiled_parts

    _COMPILER, _COMPILER_OF_PARTS = compiled_parts.compilers(numba.version_info[:2])

    class _Folder:
        """Place of the machine code of a function; it may be read-only."""

        def __init__(self, folder: Path) -> None:
            self._folder = folder

        def get_cache_path(self) -> str:
            return str(self._folder)

        def get_source_stamp(self) -> str:
            return self._folder.name  # which has the hash of the source code

        def ensure_cache_path(self) -> None:
            if not os.access(self._folder, os.W_OK):
                raise PermissionError(f"{self._folder} is read-only")

    _Stored: Any = FunctionCache

    class _Contents(CompileResultCacheImpl):
        """What is stored of a function, named by module and function alone.

        Numba would add the line number and the date of the file.
        """

        suffix = ""

        def __init__(self, function: Callable[..., Any]) -> None:
            self._locator = _Folder(_machine_code_folder() or Path())
            self._filename_base = f"{function.__module__}.{function.__qualname__}{self.suffix}"

        def rebuild(self, target_context: Any, payload: Any) -> Any:
            """The result of a compilation, from what is stored of it."""
            return compiled_parts.load_stored(target_context, payload)

    class _Cache(_Stored):  # type: ignore[misc]
        """Machine code of a function on disk; a damaged file is compiled again."""

        _impl_class = _Contents

        def load_overload(self, signature: Any, context: Any) -> Any:
            """Load machine code; None if it must be compiled.

            Machine code needs only the reference counting of numba. What the compiler knows of types and functions,
            which numba would have ready before it loads anything, takes longer than all the loading.
            """
            found = None
            try:
                compiled_parts.provide_memory(context, numba.version_info)
                found = super()._load_overload(signature, context)
            except Exception:  # a damaged pickle may raise anything
                with contextlib.suppress(OSError):
                    self.flush()
            if found is None:
                _import_arrays_without_scipy()  # before the compiler does
            return found

        def save_overload(self, signature: Any, data: Any) -> None:
            """Store machine code if the folder can be written."""
            with contextlib.suppress(OSError):
                super().save_overload(signature, data)

    class _ContentsFromPython(_Contents):
        """What is stored of a function that was called from Python."""

        suffix = ".from_python"

    class _CacheFromPython(_Cache):
        """Machine code of such a function."""

        _impl_class = _ContentsFromPython


if available:
    # A division by what does not change in a loop becomes a multiplication, which may change the last digit.
    _OPTIONS: dict[str, Any] = {
        "nopython": True,
        "error_model": "numpy",
        "no_cfunc_wrapper": True,
        "fastmath": {"arcp"},
    }
    _FOR_CALLERS = {"forceinline", "inline", "no_cpython_wrapper"}  # options without which Python can call

    class _Function(CPUDispatcher):
        """A function for compiled callers, without the code by which Python could call it.

        That code takes apart every tuple of arrays, a third of the time to compile the journey, and nine functions in
        ten are called only by others. A call from Python goes to the same function compiled with that code.
        """

        _lock = threading.RLock()
        _from_python: Any = None

        def __call__(self, *args: Any, **named: Any) -> Any:
            return (self._from_python or self.from_python)(*args, **named)

        @property
        def from_python(self) -> Any:
            """The function that Python calls."""
            with self._lock:  # threads that call it at once compile it once
                if self._from_python is None:
                    options = {k: v for k, v in self.targetoptions.items() if k not in _FOR_CALLERS}
                    self._from_python = CPUDispatcher(
                        py_func=self.py_func,
                        targetoptions=options,
                        pipeline_class=_COMPILER,
                    )
                    if _machine_code_folder() is not None:
                        self._from_python._cache = _CacheFromPython(self.py_func)
            return self._from_python

    def _compile(function: F, **options: Any) -> F:
        """Compile on first call, and store the result if there is a folder for this source code."""
        options = {**_OPTIONS, "no_cpython_wrapper": True, **options}
        result: Any = _Function(py_func=function, targetoptions=options, pipeline_class=_COMPILER_OF_PARTS)
        if _machine_code_folder() is not None:
            result._cache = _Cache(function)
        return cast(F, result)

    def compiled(function: F) -> F:
        """Compile a function of scalars and arrays; its machine code is stored on disk."""
        return _compile(function)

    def compiled_inline(function: F) -> F:
        """Compile and inline a function that creates no arrays and calls only functions that create none.

        It is compiled without the reference counting of numba. Counting references and copying tuples of arrays from
        call to call took three quarters of the time of a run. A short one is merged in its callers before they are
        compiled: by itself it costs 0.1 s.
        """
        if len(function.__code__.co_code) <= MAX_MERGED_SIZE:
            return _compile(function, _nrt=False, forceinline=True, inline="always")
        return _compile(function, _nrt=False, forceinline=True)

    def compiled_apart(function: F) -> F:
        """Compile a function that creates no arrays, and leave it to the optimizer whether to inline it.

        It is for a long function that is called from several places.
        """
        return _compile(function, _nrt=False)

    def compiled_unlocked(function: F) -> F:
        """Compile a function that creates no arrays and runs without the lock of the interpreter.

        Threads share its work.
        """
        return _compile(function, _nrt=False, nogil=True)

else:

    def compiled(function: F) -> F:
        """Return the function unchanged: numba is not in use."""
        return function

    def compiled_inline(function: F) -> F:
        """Return the function unchanged: numba is not in use."""
        return function

    def compiled_apart(function: F) -> F:
        """Return the function unchanged: numba is not in use."""
        return function

    def compiled_unlocked(function: F) -> F:
        """Return the function unchanged: numba is not in use."""
        return function


def in_python(function: F) -> F:
    """The plain Python function behind a compiled one, which calls such functions in turn.

    It is for a few calls of a short function: loading its machine code takes longer, and compiling it far longer.
    """
    return cast(F, _in_python(function)) if hasattr(function, "py_func") else function


@cache
def _in_python(function: Any) -> FunctionType:
    plain = function.py_func
    known = plain.__globals__
    called = [name for name in plain.__code__.co_names if hasattr(known.get(name), "py_func")]
    in_place = {name: in_python(known[name]) for name in called}
    return FunctionType(plain.__code__, {**known, **in_place}, plain.__name__, plain.__defaults__)
