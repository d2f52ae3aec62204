"""The bands: their width from few and many rows, and that no engine is judged by a band made from itself."""

from __future__ import annotations

import numpy as np
import pytest

from docs.build.validation import bands
from docs.build.validation.comparison import Comparison


def row(engine: str, published: float, computed: float = 100.0) -> Comparison:
    return Comparison(
        case=engine, computed=computed, published=published, unit="hp", source="", status="read", judged="power",
        engine=engine,
    )  # fmt: skip


@pytest.mark.parametrize("errors", ["normal", "student", "one-sided"])
@pytest.mark.parametrize("count", [4, 9, 14, 27])
def test_four_fifths_of_new_rows_lie_within(errors, count):
    # the property that a band promises, for populations it does not know; 4,000 bands, standard error 0.6 %
    random = np.random.default_rng(count)
    draw = {
        "normal": lambda n: random.normal(0.0, 0.1, n),
        "student": lambda n: 0.05 * random.standard_t(3, n),
        "one-sided": lambda n: random.exponential(0.1, n),
    }[errors]
    inside = [abs(draw(1)[0]) <= bands.width(np.abs(draw(count))) for _ in range(4000)]
    assert np.mean(inside) > 0.78


def test_the_band_of_three_rows_is_that_of_students_table():
    # t for 80 % two-sided, three degrees of freedom: 1.638 in the printed table, from memory
    assert bands.width([0.1, 0.1, 0.1]) == pytest.approx(0.1638, abs=1e-4)


def test_an_engine_is_not_judged_by_a_band_made_from_itself():
    rows = [
        row(name, 100.0 + error) for name, error in (("a", 5), ("b", -6), ("c", 7), ("d", 4), ("far", 90))
    ]
    found = {b.row.engine: b for b in bands.without_own_engine(rows, "power")}
    assert found["far"].band == pytest.approx(0.07)
    assert not found["far"].inside
    assert found["a"].inside


def test_a_band_is_rounded_up():
    assert bands.rounded(0.0701) == 0.08
    assert bands.rounded(0.07) == 0.07
