"""The one place that knows numba: the same results with and without it, and machine code kept where it belongs."""

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
    """Run the interpreter afresh and give back what it wrote."""
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
    """A short run compiled and in plain Python."""
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


def test_plain_python_gives_what_the_compiled_run_gives(runs: dict[str, dict[str, np.ndarray]]) -> None:
    one, other = runs["compiled"], runs["plain"]
    assert len(one["time"]) == len(other["time"]) > 200
    for name in one.keys() - {"compiled"}:
        scale = np.max(np.abs(one[name])) or 1.0
        assert np.max(np.abs(one[name] - other[name])) <= 1e-12 * scale, name


ASK = "from locosim import compiled; print({})"


def test_the_cache_folder_is_the_named_one(tmp_path: Path) -> None:
    wanted = str(tmp_path / "kept here")
    assert python("-c", ASK.format("compiled.cache_folder()"), LOCOSIM_CACHE=wanted) == wanted


def test_without_a_name_the_cache_is_the_users() -> None:
    home = Path(python("-c", ASK.format("compiled.cache_folder()"), LOCOSIM_CACHE=""))
    assert home.name == "locosim"
    assert home.is_absolute()


def test_machine_code_is_kept_in_the_cache_folder(tmp_path: Path) -> None:
    if not compiled.available:
        pytest.skip("numba is not in use here")
    text = "import locosim.physics.traction.adhesion as k; print(k.adhesion_speed_factor(3.0))"
    first = python("-c", text, LOCOSIM_CACHE=str(tmp_path))
    kept = sorted(tmp_path.rglob("*.nbi"))
    assert kept
    assert len({path.relative_to(tmp_path).parts[0] for path in kept}) == 1
    assert kept[0].relative_to(tmp_path).parts[0].startswith("compiled-")
    assert python("-c", text, LOCOSIM_CACHE=str(tmp_path)) == first
    assert sorted(tmp_path.rglob("*.nbi")) == kept


def test_a_cache_that_cannot_be_written_is_done_without(tmp_path: Path) -> None:
    blocked = tmp_path / "a file"
    blocked.write_text("not a folder")
    text = "import locosim.physics.traction.adhesion as k; print(k.adhesion_speed_factor(0.0))"
    assert float(python("-c", text, LOCOSIM_CACHE=str(blocked))) == pytest.approx(1.0)


def test_plain_functions_are_left_as_they_are() -> None:
    text = "print(compiled.available, compiled.prange is range, compiled.compiled(len) is len)"
    assert python("-c", f"from locosim import compiled; {text}", LOCOSIM_PURE_PYTHON="1") == "False True True"


def test_missing_numba_is_no_hindrance() -> None:
    text = (
        "import sys; sys.modules['numba'] = None\n"
        "from locosim import compiled; import locosim.physics.traction.adhesion as k\n"
        "print(compiled.available, k.adhesion_speed_factor(0.0))"
    )
    assert python("-c", text) == "False 1.0"


@pytest.mark.parametrize("suffix", ["nbi", "nbc"])
def test_damaged_machine_code_is_compiled_anew(suffix: str, tmp_path: Path) -> None:
    if not compiled.available:
        pytest.skip("numba is not in use here")
    text = "import locosim.physics.traction.adhesion as k; print(k.adhesion_speed_factor(3.0))"
    first = python("-c", text, LOCOSIM_CACHE=str(tmp_path))
    damaged = sorted(tmp_path.rglob(f"*.{suffix}"))
    assert damaged
    for path in damaged:
        path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    halved = {path: path.stat().st_size for path in damaged}
    assert python("-c", text, LOCOSIM_CACHE=str(tmp_path)) == first
    assert any(path.stat().st_size > size for path, size in halved.items())  # and kept again
    for path in damaged:
        path.write_bytes(b"")
    assert python("-c", text, LOCOSIM_CACHE=str(tmp_path)) == first
