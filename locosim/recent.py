"""The last few results of a function, found again by equality of the arguments.

Frozen descriptions are compared, not hashed: a changed excursion shares its route and its engine with the one it was
changed from, and comparing what is the same object takes no time, where a hash would walk the whole line each time.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")


def keep_recent(count: int) -> Callable[[Callable[P, T]], Callable[P, T]]:
    """Decorator that keeps the results of the last calls of a function with different arguments.

    The function must depend on its arguments alone, and nobody may change its results. An error is not kept.

    Args:
        count: Number of results kept; the one used least recently goes first.
    """

    def decorate(function: Callable[P, T]) -> Callable[P, T]:
        kept: list[tuple[object, T]] = []

        @wraps(function)
        def wrapped(*args: P.args, **named: P.kwargs) -> T:
            nonlocal kept
            key = (args, named) if named else args
            before = kept
            for place, (known, result) in enumerate(before):
                if known == key:
                    if place > 0 or known is not key:
                        # The new key: the next call is likely to have the same objects.
                        kept = [(key, result), *before[:place], *before[place + 1 :]]
                    return result
            result = function(*args, **named)
            kept = [
                (key, result),
                *kept[: count - 1],
            ]  # one assignment, so that threads do not disturb each other
            return result

        return wrapped

    return decorate
