"""Compiled functions: the same results with and without numba, and machine code stored in the cache folder."""

from __future__ import annotations

import os
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
    assert len(one["time"]) == len(other["time"]) > 200
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
