"""The largest whole number that suffices, found from what each of several things has to spare."""

from __future__ import annotations

from collections.abc import Callable

FIRST_STRIDE = 1 / 16  # of the number at which a search begins [1]
STRIDE_GROWTH = 4
FAR = 2**40  # beyond any number that is searched

# What each of several things has to spare at a number, by name; below 0 what one lacks.
Spare = dict[str, float]


def last_that(
    spare: Callable[[int], Spare], guess: int, most: int, *, first: float = FIRST_STRIDE
) -> int | None:
    """The largest number from 0 to one at which nothing lacks, where ever more lacks beyond.

    Args:
        spare: What is to spare at a number.
        guess: Number to begin at.
        most: Largest number.
        first: First stride, over the number to begin at [1].

    Returns:
        The number; None where something lacks at 0.
    """
    if most < 0:
        return None
    number = min(max(guess, 0), most)
    found = spare(number)
    stride, step = max(round(first * number), 1), -1 if is_short(found) else 1
    longest, is_expected = STRIDE_GROWTH * stride, False
    while True:  # to the side on which the answer is
        beyond = min(max(number + step * stride, 0), most)
        if beyond == number:
            return number if step > 0 else None
        there = spare(beyond)
        if is_short(there) != (step < 0):
            return last_between(spare, min(number, beyond), max(number, beyond))
        expected = _expected_stride(found, there, stride)
        # One that was expected to be enough, and was not, is not followed by another.
        is_expected = expected < longest and not is_expected
        stride, longest = (expected, longest) if is_expected else (longest, STRIDE_GROWTH * longest)
        number, found = beyond, there


def _expected_stride(before: Spare, now: Spare, stride: int) -> int:
    """Stride after one, with which something just lacks, or nothing does, on a straight line through both ends.

    What has already come to lack, or ceased to, tells nothing of the way ahead.
    """
    to_go = [
        now[name] / (before[name] - now[name]) * stride
        for name in now
        if name in before and (0.0 < now[name] < before[name] or before[name] < now[name] < 0.0)
    ]
    return int(min(to_go, default=FAR)) + 1


def last_between(spare: Callable[[int], Spare], low: int, high: int) -> int:
    """The largest number at which nothing lacks, from one at which nothing does and one at which something does.

    The next to try is the least at which something would just not lack on a straight line; the middle, where the
    last one did not halve what is left.
    """
    at_low, at_high, is_slow = spare(low), spare(high), False
    while high - low > 1:
        roots = [
            at_low[name] / (at_low[name] - lack) if at_low.get(name, -1.0) >= 0.0 else 0.5
            for name, lack in at_high.items()
            if lack < 0.0
        ]
        part = 0.5 if is_slow else min(roots)
        width = high - low
        number = min(max(low + int(part * width), low + 1), high - 1)
        found = spare(number)
        if is_short(found):
            high, at_high = number, found
        else:
            low, at_low = number, found
        is_slow = not is_slow and high - low > width / 2
    return low


def is_short(spare: Spare) -> bool:
    """Whether something lacks."""
    return any(each < 0.0 for each in spare.values())
