"""The public names: all there, documented, loaded on first use, and quick to import."""

from __future__ import annotations

import doctest
import inspect
import subprocess
import sys
from pathlib import Path

import pytest

import locosim
from locosim import model

ROOT = Path(__file__).resolve().parents[2]
HEAVY = {"numpy", "scipy", "pint", "numba", "matplotlib", "jinja2", "seuif97", "typer", "pandas"}


@pytest.mark.parametrize("name", locosim.__all__)
def test_every_public_name_exists_and_is_documented(name: str) -> None:
    found = getattr(locosim, name)
    assert inspect.getdoc(found)
    assert name in dir(locosim)
    if inspect.isfunction(found):
        text = inspect.getdoc(found) or ""
        assert "Raises:" in text or "as for `load_engine`" in text
        assert all(f"{each}:" in text for each in inspect.signature(found).parameters) or "as for" in text


def test_the_model_classes_are_all_public() -> None:
    assert set(model.__all__) <= set(locosim.__all__)


def test_a_name_that_does_not_exist_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="module 'locosim' has no attribute 'speed_curves'"):
        _ = locosim.speed_curves


def in_a_fresh_process(code: str) -> list[str]:
    """Words that a fresh process prints."""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    return done.stdout.split()


def test_importing_is_quick_and_loads_no_heavy_library() -> None:
    # Processor time, so that a busy machine does not count; the budget is 50 ms.
    code = "import sys, time; t = time.process_time(); import locosim; print(time.process_time() - t, *sys.modules)"
    seconds, *modules = in_a_fresh_process(code)
    assert {name.partition(".")[0] for name in modules} & HEAVY == set()
    assert float(seconds) < 0.05


def test_reading_an_engine_loads_no_compiler_and_no_plotting() -> None:
    code = "import sys, locosim; locosim.load_engine('scenarios/engines/teasel.toml'); print(*sys.modules)"
    loaded = {name.partition(".")[0] for name in in_a_fresh_process(code)}
    assert {"numba", "matplotlib", "scipy", "typer"} & loaded == set()


def test_the_example_of_the_package_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    assert doctest.testmod(locosim).failed == 0
