"""Compiled functions: the same results with and without numba, and machine code stored in the cache folder."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from locosim import compiled

TESTS = Path(__file__).parent
ROOT = TESTS.parent
PATHS = os.pathsep.join([str(ROOT), str(TESTS), str(TESTS / "journey")])


def python(*words: str, **environment: str) -> str:
    """Output of a new interpreter."""
    done = subprocess.run(
        [sys.executable, *words],
        env={**os.environ, "PYTHONPATH": PATHS, **environment},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, np.ndarray]]:
    """A short run, compiled and in plain Python."""
    folder = tmp_path_factory.mktemp("runs")
    script = str(TESTS / "journey" / "plain_run.py")
    found = {}
    for name, plain in (("compiled", "0"), ("plain", "1")):
        python(script, str(folder / f"{name}.npz"), LOCOSIM_PURE_PYTHON=plain)
        with np.load(folder / f"{name}.npz") as arrays:
            found[name] = dict(arrays)
    return found


def test_one_run_is_compiled_and_the_other_is_not(runs: dict[str, dict[str, np.ndarray]]) -> None:
    if not compiled.available:
        pytest.skip("numba is not in use here")
    assert bool(runs["compiled"]["compiled"])
    assert not bool(runs["plain"]["compiled"])


def test_plain_python_gives_the_results_of_the_compiled_run(runs: dict[str, dict[str, np.ndarray]]) -> None:
    one, other = runs["compiled"], runs["plain"]
    assert len(one["time"]) == len(other["time"]) > 100
    for name in one.keys() - {"compiled"}:
        scale = np.max(np.abs(one[name])) or 1.0
        assert np.max(np.abs(one[name] - other[name])) <= 1e-12 * scale, name


# A compiled function and its value by hand: (2 / 2.3)^(1.3 / 0.3).
CALL = "from locosim.physics.steam.nozzle_flow import critical_ratio; print(critical_ratio(1.3))"
CRITICAL_RATIO = (2 / 2.3) ** (1.3 / 0.3)
PRINT = "from locosim import compiled; print({})"


def test_the_cache_folder_can_be_set(tmp_path: Path) -> None:
    folder = str(tmp_path / "cache here")
    assert python("-c", PRINT.format("compiled.cache_folder()"), LOCOSIM_CACHE=folder) == folder


def test_the_default_cache_is_that_of_the_user() -> None:
    home = Path(python("-c", PRINT.format("compiled.cache_folder()"), LOCOSIM_CACHE=""))
    assert home.name == "locosim"
    assert home.is_absolute()


def test_machine_code_is_stored_in_the_cache_folder(tmp_path: Path) -> None:
    if not compiled.available:
        pytest.skip("numba is not in use here")
    first = python("-c", CALL, LOCOSIM_CACHE=str(tmp_path))
    stored = sorted(tmp_path.rglob("*.nbi"))
    assert stored
    assert len({path.relative_to(tmp_path).parts[0] for path in stored}) == 1
    assert stored[0].relative_to(tmp_path).parts[0].startswith("compiled-")
    assert python("-c", CALL, LOCOSIM_CACHE=str(tmp_path)) == first
    assert sorted(tmp_path.rglob("*.nbi")) == stored


def test_a_cache_that_cannot_be_written_is_ignored(tmp_path: Path) -> None:
    blocked = tmp_path / "a file"
    blocked.write_text("not a folder")
    assert float(python("-c", CALL, LOCOSIM_CACHE=str(blocked))) == pytest.approx(CRITICAL_RATIO)


administrator = pytest.mark.skipif(
    sys.platform == "win32" or os.geteuid() != 0 or not compiled.available,
    reason="only the administrator may give files away",
)
HITS = (
    "from locosim.physics.steam.nozzle_flow import critical_ratio; critical_ratio(1.3)\n"
    "print(sum(critical_ratio.from_python.stats.cache_hits.values()))"
)
# An administrator may write everywhere unless the system takes that power from the process.
UNPRIVILEGED = ["setpriv", "--bounding-set", "-dac_override,-dac_read_search"] if os.geteuid() == 0 else []


@pytest.mark.skipif(
    not compiled.available or sys.platform == "win32" or (os.geteuid() == 0 and not shutil.which("setpriv")),
    reason="nothing is compiled, or every folder can be written",
)
def test_a_warm_cache_that_is_read_only_is_used(tmp_path: Path) -> None:
    python("-c", CALL, LOCOSIM_CACHE=str(tmp_path))
    folders = [tmp_path, *(path for path in tmp_path.rglob("*") if path.is_dir())]
    before = sorted(tmp_path.rglob("*"))
    for folder in folders:
        folder.chmod(0o500)
    try:
        done = subprocess.run(
            [*UNPRIVILEGED, sys.executable, "-c", HITS],
            env={**os.environ, "PYTHONPATH": PATHS, "LOCOSIM_CACHE": str(tmp_path)},
            capture_output=True, text=True, check=True,
        )  # fmt: skip
    finally:
        for folder in folders:
            folder.chmod(0o700)
    assert done.stdout.strip() == "1", done.stderr
    assert sorted(tmp_path.rglob("*")) == before


def _compiled_folder(cache: Path) -> Path:
    return next(cache.glob("compiled-*"))


def test_the_folder_of_machine_code_is_private(tmp_path: Path) -> None:
    if not compiled.available or sys.platform == "win32":
        pytest.skip("nothing is compiled, or folders are private anyway")
    before = os.umask(0o002)
    try:
        python("-c", CALL, LOCOSIM_CACHE=str(tmp_path))
    finally:
        os.umask(before)
    assert _compiled_folder(tmp_path).stat().st_mode & 0o777 == 0o700


@pytest.mark.parametrize("mode", [0o720, 0o702, 0o777])
def test_machine_code_that_others_may_write_is_not_run(mode: int, tmp_path: Path) -> None:
    if not compiled.available or sys.platform == "win32":
        pytest.skip("nothing is compiled, or folders are private anyway")
    python("-c", CALL, LOCOSIM_CACHE=str(tmp_path))
    folder = _compiled_folder(tmp_path)
    folder.chmod(mode)
    for path in folder.iterdir():
        path.write_bytes(b"not to be read")
    done = subprocess.run(
        [sys.executable, "-c", HITS],
        env={**os.environ, "PYTHONPATH": PATHS, "LOCOSIM_CACHE": str(tmp_path)},
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert done.stdout.strip() == "0"
    assert "may be written by others and is not used" in done.stderr
    assert all(path.read_bytes() == b"not to be read" for path in folder.iterdir())


@administrator
def test_machine_code_of_another_user_is_not_run(tmp_path: Path) -> None:
    python("-c", CALL, LOCOSIM_CACHE=str(tmp_path))
    os.chown(_compiled_folder(tmp_path), 65534, 65534)
    assert python("-c", HITS, LOCOSIM_CACHE=str(tmp_path)) == "0"


def test_plain_functions_are_unchanged() -> None:
    text = "print(compiled.available, compiled.compiled(len) is len)"
    assert python("-c", f"from locosim import compiled; {text}", LOCOSIM_PURE_PYTHON="1") == "False True"


def test_missing_numba_is_no_error() -> None:
    text = (
        "import sys; sys.modules['numba'] = None\n"
        "from locosim import compiled; print(compiled.available)\n" + CALL
    )
    available, ratio = python("-c", text).split()
    assert available == "False"
    assert float(ratio) == pytest.approx(CRITICAL_RATIO)


@pytest.mark.parametrize("suffix", ["nbi", "nbc"])
def test_damaged_machine_code_is_recompiled(suffix: str, tmp_path: Path) -> None:
    if not compiled.available:
        pytest.skip("numba is not in use here")
    first = python("-c", CALL, LOCOSIM_CACHE=str(tmp_path))
    damaged = sorted(tmp_path.rglob(f"*.{suffix}"))
    assert damaged
    for path in damaged:
        path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    halved = {path: path.stat().st_size for path in damaged}
    assert python("-c", CALL, LOCOSIM_CACHE=str(tmp_path)) == first
    assert any(path.stat().st_size > size for path, size in halved.items())  # and stored again
    for path in damaged:
        path.write_bytes(b"")
    assert python("-c", CALL, LOCOSIM_CACHE=str(tmp_path)) == first


# Machine code stored by one process and loaded by the next, which then compiles a function that is not stored.
LOAD_THEN_COMPILE = """
import sys
from locosim.physics.steam.nozzle_flow import choked_flow_number, critical_ratio
critical_ratio(1.3)
waited = "numba.np.arraymath" in sys.modules
choked_flow_number(1.3)
print(waited, *(sum(f.from_python.stats.cache_hits.values()) for f in (critical_ratio, choked_flow_number)))
print(*(name for name in ("coverage", "scipy", "yaml") if name in sys.modules))
"""


def test_stored_machine_code_is_loaded_without_the_compiler(tmp_path: Path) -> None:
    """What only the compiler needs is imported when something is compiled, and not for what is stored."""
    if not compiled.available:
        pytest.skip("numba is not in use here")
    python("-c", CALL, LOCOSIM_CACHE=str(tmp_path))
    assert python("-c", LOAD_THEN_COMPILE, LOCOSIM_CACHE=str(tmp_path)).split("\n")[0] == "False 1 0"
    assert python("-c", LOAD_THEN_COMPILE, LOCOSIM_CACHE=str(tmp_path)) == "False 1 1"


def test_packages_that_numba_looks_for_can_be_imported_afterward() -> None:
    if not compiled.available:
        pytest.skip("numba is not in use here")
    look = "import locosim.compiled, sys; print('scipy' in sys.modules); import scipy; print(scipy.__name__)"
    assert python("-c", look).split() == ["False", "scipy"]
    assert python("-c", f"import scipy; {look}").split() == ["True", "scipy"]


CALLED_BY_BOTH = """
from concurrent.futures import ThreadPoolExecutor
from locosim.physics.steam.nozzle_flow import choked_flow_number, critical_ratio, nozzle_flow
nozzle_flow(1e6, 5.0, 8e5, 1.3)  # compiles critical_ratio for itself
print(len(critical_ratio.overloads), critical_ratio(1.3), critical_ratio(exponent=1.3))
with ThreadPoolExecutor(8) as threads:
    list(threads.map(choked_flow_number, [1.3] * 8))
print(sum(choked_flow_number.from_python.stats.cache_misses.values()))
"""


def test_a_function_is_compiled_for_compiled_callers_and_for_python(tmp_path: Path) -> None:
    if not compiled.available:
        pytest.skip("numba is not in use here")
    called, misses = python("-c", CALLED_BY_BOTH, LOCOSIM_CACHE=str(tmp_path)).splitlines()
    overloads, *ratios = map(float, called.split())
    assert overloads == 1
    assert ratios == pytest.approx([CRITICAL_RATIO] * 2)
    assert misses == "1"  # eight threads at once compile it once


# One process stores a part of what it calls; the next joins it with other code, which no process has compiled.
OF_STORED_PARTS = """
from locosim.compiled import compiled
from locosim.physics.steam.nozzle_flow import critical_ratio, nozzle_flow
print(nozzle_flow(1e6, 5.0, 8e5, 1.3) > 0.0, len(critical_ratio.from_python.overloads))
@compiled
def twice(exponent):
    return 2.0 * critical_ratio(exponent)
print(twice(1.3), sum(critical_ratio.stats.cache_hits.values()))
"""


def test_a_part_that_is_stored_is_joined_with_new_code(tmp_path: Path) -> None:
    if not compiled.available:
        pytest.skip("numba is not in use here")
    python("-c", CALLED_BY_BOTH, LOCOSIM_CACHE=str(tmp_path))
    first, second = python("-c", OF_STORED_PARTS, LOCOSIM_CACHE=str(tmp_path)).splitlines()
    assert first == "True 0"  # what only compiled functions call is not compiled for Python
    twice, hits = second.split()
    assert float(twice) == pytest.approx(2.0 * CRITICAL_RATIO)
    assert hits == "1"


# As of a release that nobody has tried: its own compiler is used, and nothing is stored as a part.
NEWER = (
    """
import numba
numba.version_info = numba.version_info._replace(major=99)
from locosim import compiled_parts
def none(*words):
    raise AssertionError("a part was made")
compiled_parts.Part.finalize = none
"""
    + CALLED_BY_BOTH
)


def test_a_numba_newer_than_tried_compiles_by_itself(tmp_path: Path) -> None:
    if not compiled.available:
        pytest.skip("numba is not in use here")
    for _ in ("compiled", "loaded"):
        called, misses = python("-c", NEWER, LOCOSIM_CACHE=str(tmp_path)).splitlines()
        _, *ratios = map(float, called.split())
        assert ratios == pytest.approx([CRITICAL_RATIO] * 2)
    assert misses == "0"
    with pytest.raises(AssertionError, match="a part was made"):
        python("-c", NEWER.replace("major=99", "major=0"), LOCOSIM_CACHE=str(tmp_path / "tried"))


PLAIN = """
from locosim.compiled import in_python
from locosim.physics.steam.nozzle_flow import critical_ratio, nozzle_flow
found = in_python(nozzle_flow)(1e6, 5.0, 8e5, 1.3)
print(*(len(each.from_python.overloads) for each in (nozzle_flow, critical_ratio)), found)
print(nozzle_flow(1e6, 5.0, 8e5, 1.3))
"""


def test_a_function_run_in_python_compiles_nothing_that_it_calls() -> None:
    if not compiled.available:
        pytest.skip("numba is not in use here")
    *overloads, plain, fast = python("-c", PLAIN).split()
    assert overloads == ["0", "0"]
    assert float(plain) == pytest.approx(float(fast), rel=1e-12)


def test_only_the_first_run_says_that_it_compiles(tmp_path: Path) -> None:
    if not compiled.available:
        pytest.skip("numba is not in use here")
    first = "from locosim import compiled; print(compiled.first_run())\n" + CALL
    for times in (1, 0):
        done = subprocess.run(
            [sys.executable, "-c", first],
            env={**os.environ, "PYTHONPATH": PATHS, "LOCOSIM_CACHE": str(tmp_path)},
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        assert done.stderr.count(compiled.FIRST_RUN) == times
        assert done.stdout.split()[0] == "True"  # the journey is not compiled yet
