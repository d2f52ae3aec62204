"""The page of computing times: made from what was measured, with growth as a power law."""

from __future__ import annotations

import pytest

from docs.build.performance.measures import CASES, LENGTHS, SAMPLES, SimilarChecks, Spent, growth_exponent
from docs.build.performance.page import BENCHMARKS, Figures, milliseconds, page
from docs.build.performance.sweep import Sweep


@pytest.mark.parametrize("power", [0.0, 1.0, 2.0])
def test_the_exponent_is_that_of_the_power_law(power: float) -> None:
    times = [3e-4 * length**power for length in LENGTHS]
    assert growth_exponent(LENGTHS, times) == pytest.approx(power, abs=1e-9)


def test_a_part_that_does_not_grow_makes_the_exponent_less_than_one() -> None:
    assert 0.3 < growth_exponent((1.0, 2.0, 4.0), (2.0, 3.0, 5.0)) < 1.0


def measured(*, busy: float = 0.0, in_c: float | None = 1e-3) -> Figures:
    spent = Spent(1.0, 2.0)
    return Figures(
        busy=busy,
        kernel=(2e-3, 1e-3),
        plain=(0.6, 0.3),
        in_c=in_c,
        solver=(7.0, 12714.48, 12714.64),
        by_length={"preparing": [length * 1e-8 for length in LENGTHS]},
        similar=[SimilarChecks("spring_special", 63e3, 0.010, 0.012)],
        batches={(rows, jobs): Spent(0.01 * rows, 0.01 * rows) for rows in CASES for jobs in (1, 2)},
        risks=dict.fromkeys(((SAMPLES[0], 1), (SAMPLES[0], 2), (SAMPLES[-1], 2)), spent),
        sweeps=[Sweep(1e9, 5000, 112.0, 218.0, 167e6)],
        benchmarks=dict.fromkeys(BENCHMARKS, 0.02),
        commands={"python -c pass": spent},
        first_check=Spent(11.0, 18.0),
    )


def test_the_page_gives_ratios_exponents_and_the_machine() -> None:
    text = page(measured())
    assert "| compiled by numba | 2 ms | 1 | 1 ms | 1 |" in text
    assert "| the same loop in C, gcc -O3 -march=native |  |  | 1 ms | 1.00 |" in text
    assert "| the same source in plain Python | 600 ms | 300 | 300 ms | 300 |" in text
    assert "a difference of 0.0013 %" in text
    assert "| preparing | 0.25 ms | 0.5 ms | 1 ms | 2 ms | 4 ms | 1.00 |" in text
    assert "| spring_special | 39 mi | 10.0 ms | 12.0 ms | 83 |" in text
    assert "| 5,000 | 1,000,000 km | 112 s | 218 s | 44 ms | 167 MB |" in text
    assert "an empty cache, takes 11.0 s of wall time" in text
    assert "exponent 1.00. Two jobs take\n1.00 of" in text
    assert max(map(len, text.splitlines())) <= 120
    assert "too long" not in text


def test_the_page_says_what_was_left_out_and_that_the_machine_was_busy() -> None:
    text = page(measured(busy=3.0, in_c=None))
    assert "| the same loop in C" not in text
    assert "Other work ran when the measuring began (load 3.0)" in text


def test_milliseconds_have_two_figures_or_more() -> None:
    assert [milliseconds(s) for s in (5.1e-5, 0.00123, 0.0123, 1.2345)] == [
        "0.051 ms",
        "1.2 ms",
        "12.3 ms",
        "1,234 ms",
    ]
