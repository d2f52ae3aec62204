"""Results kept by equality of arguments."""

from __future__ import annotations

import pytest

from locosim.recent import keep_recent


class Counted:
    """A function that counts its calls."""

    def __init__(self, count: int) -> None:
        self.calls: list[object] = []
        self.kept = keep_recent(count)(self.square)

    def square(self, number: float) -> float:
        self.calls.append(number)
        if number < 0.0:
            raise ValueError("below zero")
        return number * number


def test_an_equal_argument_is_not_computed_again() -> None:
    counted = Counted(2)
    assert [counted.kept(3.0), counted.kept(4.0), counted.kept(3.0)] == [9.0, 16.0, 9.0]
    assert counted.calls == [3.0, 4.0]


def test_the_result_used_least_recently_goes_first() -> None:
    counted = Counted(2)
    for number in (3.0, 4.0, 3.0, 5.0, 3.0, 4.0):
        assert counted.kept(number) == number * number
    assert counted.calls == [3.0, 4.0, 5.0, 4.0]


def test_an_error_is_not_kept() -> None:
    counted = Counted(2)
    for _ in range(2):
        with pytest.raises(ValueError, match="below zero"):
            counted.kept(-1.0)
    assert counted.calls == [-1.0, -1.0]


def test_an_argument_that_cannot_be_hashed_is_compared_all_the_same() -> None:
    total = keep_recent(1)(sum)
    assert total([1, 2]) == total([1, 2]) == 3
