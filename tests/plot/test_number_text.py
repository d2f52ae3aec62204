"""Numbers in cells and at contours: neighbors must differ in what is printed."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from locosim.plot.variation_axes import number_text

COLUMN: Any = SimpleNamespace(kind="pressure")


@pytest.mark.parametrize(
    ("value", "span", "text"),
    [
        (180.1, 0.8, "180.1"),
        (1319.24, 2.0, "1,319.2"),
        (1319.2, 500.0, "1,319"),
        (123456.0, 1e5, "123,456"),
        (999.9996, 1000.0, "1,000"),
        (0.01234, 0.5, "0.0123"),
        (-52.31, 200.0, "-52.3"),
        (5.0, 0.0, "5"),
        (0.0, 1.0, "0"),
        (float("nan"), 1.0, "-"),
    ],
)
def test_a_number_has_the_digits_that_its_span_needs(value: float, span: float, text: str) -> None:
    assert number_text(value, COLUMN, span) == text


@pytest.mark.parametrize("low", [0.05, 1.0, 180.0, 2000.0, 65000.0])
@pytest.mark.parametrize("span", [0.004, 0.8, 7.0, 300.0])
def test_nine_values_over_a_span_are_told_apart(low: float, span: float) -> None:
    texts = [number_text(float(value), COLUMN, span) for value in np.linspace(low, low + span, 9)]
    assert len(set(texts)) == 9
