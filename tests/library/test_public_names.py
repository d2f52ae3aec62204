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


def in_a_fresh_process(code: str) -> str:
    command = [sys.executable, "-X", "importtime", "-c", code]
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT)
    return f"{done.stdout}\n{done.stderr}"


def test_importing_is_quick_and_loads_no_heavy_library() -> None:
    # The time Python itself measures for the import, the best of three; 50 ms is the budget.
    times = []
    for _ in range(3):
        printed = in_a_fresh_process(
            "import sys, locosim; print(*{n.partition('.')[0] for n in sys.modules})"
        )
        assert set(printed.splitlines()[0].split()) & HEAVY == set()
        line = next(line for line in printed.splitlines() if line.endswith("| locosim"))
        times.append(int(line.split("|")[1]) / 1000)
    assert min(times) < 50.0, times


def test_reading_an_engine_loads_no_compiler_and_no_plotting() -> None:
    code = "import sys, locosim; locosim.load_engine('scenarios/engines/teasel.toml'); print(*sys.modules)"
    loaded = {name.partition(".")[0] for name in in_a_fresh_process(code).splitlines()[0].split()}
    assert {"numba", "matplotlib", "scipy", "typer"} & loaded == set()


def test_the_example_of_the_package_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    assert doctest.testmod(locosim).failed == 0
