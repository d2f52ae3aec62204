"""The loop of the kernel in C gives what the kernel gives, so that their times can be compared."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trials
from in_c import build, steady_run_in_c
from long_line import two_hundred_kilometres

from locosim.journey.kernel import arrays as records
from locosim.journey.run import run_prepared
from locosim.journey.setup.prepare import prepare


def test_the_c_code_gives_what_the_kernel_gives(tmp_path: Path) -> None:
    library = build(tmp_path)
    if library is None:
        pytest.skip("there is no gcc")
    excursion = two_hundred_kilometres()
    prepared = prepare(excursion, trials.performance(excursion))
    last, found = steady_run_in_c(library, prepared)()
    expected = run_prepared(prepared)
    assert last == expected.last_node == len(prepared.chainage) - 1
    assert np.mean(found.limits == expected.limit) > 0.999  # a limit may hang on the last digit
    for got, wanted in ((found.nodes, expected.nodes), (found.steps, expected.steps)):
        for row, like in zip(got, wanted, strict=True):
            near = 1e-10 * float(np.nanmax(np.abs(like), initial=0.0))
            assert np.allclose(row, like, rtol=0.0, atol=near, equal_nan=True)
    assert found.sums == pytest.approx(expected.sums, rel=1e-9, abs=1e-9 * np.max(expected.sums))
    assert expected.sums[records.FUEL_BURNED] > 0.0
