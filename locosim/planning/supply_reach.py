"""Fewest places at which tanks must be filled, as a shortest path over the places of a line.

A tank that is filled is full, whatever was in it: what lies ahead depends only on where each tank was filled last. The
fewest fillings from there on are thus the same for all ways that led there, and a recursion over the last places
filled finds the fewest of all exactly, for the use it is given.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cached_property
from math import inf

from locosim.frozen import frozen


@frozen
class Tank:
    """A tank and what is used from it along a line with n places.

    Attributes:
        first: In the tank at the start, over the reserve.
        full: In the full tank, over the reserve.
        used: Used from the start to the arrival at each place and at the end, n + 1 values, never falling.
        offered: Whether it can be filled at each place, n values.
    """

    first: float
    full: float
    used: Sequence[float]
    offered: Sequence[bool]

    def lasts(self, filled: int, place: int) -> bool:
        """Whether it lasts from the place where it was filled last, -1 for the start, to a place, n for the end."""
        if filled < 0:
            return self.used[place] <= self.first
        return self.used[place] - self.used[filled] <= self.full


@frozen(slots=False)
class Reach:
    """Choices of places where the tanks of an engine are filled.

    A stop fills every tank that can be filled there.

    Attributes:
        tanks: The tanks.
    """

    tanks: tuple[Tank, ...]

    @cached_property
    def count(self) -> int:
        """Number of places."""
        return len(self.tanks[0].offered)

    @cached_property
    def _known(self) -> dict[tuple[int, tuple[int, ...]], float]:
        return {}

    @cached_property
    def _counted(self) -> dict[tuple[int, tuple[int, ...], int], int]:
        return {}

    def fewest(self) -> int | None:
        """Fewest places at which to stop; None where all do not suffice."""
        found = self._fewest_from(0, (-1,) * len(self.tanks))
        return int(found) if found < inf else None

    def choices(self, count: int) -> Iterator[tuple[int, ...]]:
        """Every choice of so many places that suffices, by the index of each place."""
        yield from self._choices_from(0, (-1,) * len(self.tanks), count)

    def number(self, count: int) -> int:
        """Number of choices of so many places that suffice; `choices` yields each."""
        return self._number_from(0, (-1,) * len(self.tanks), count)

    def suffices(self, chosen: Sequence[Sequence[int]]) -> bool:
        """Whether the tanks last with fillings at given places, one sequence for each tank, in order."""
        return all(
            tank.lasts(a, b)
            for tank, places in zip(self.tanks, chosen, strict=True)
            for a, b in zip([-1, *places], [*places, self.count], strict=True)
        )

    def _filled(self, place: int, last: tuple[int, ...]) -> tuple[int, ...] | None:
        """Last fillings after a stop at a place; None where a tank does not last to it."""
        after = tuple(place if tank.offered[place] else k for tank, k in zip(self.tanks, last, strict=True))
        moved = zip(self.tanks, last, after, strict=True)
        return after if all(a == b or tank.lasts(a, b) for tank, a, b in moved) else None

    def _fewest_from(self, place: int, last: tuple[int, ...]) -> float:
        """Fewest stops from a place on, by where each tank was filled last; infinite where none suffice."""
        key = (place, last)
        if key not in self._known:
            if place == self.count:
                lasting = all(tank.lasts(k, self.count) for tank, k in zip(self.tanks, last, strict=True))
                self._known[key] = 0.0 if lasting else inf
            else:
                after = self._filled(place, last)
                stopped = 1.0 + self._fewest_from(place + 1, after) if after is not None else inf
                self._known[key] = min(self._fewest_from(place + 1, last), stopped)
        return self._known[key]

    def _none_from(self, place: int, last: tuple[int, ...], count: int) -> bool:
        """Whether no choice of so many places from one on suffices."""
        return self._fewest_from(place, last) > count or count > self.count - place

    def _number_from(self, place: int, last: tuple[int, ...], count: int) -> int:
        """Number of choices of so many places from one on that suffice."""
        if self._none_from(place, last, count):
            return 0
        if place == self.count:
            return 1
        key = (place, last, count)
        if key not in self._counted:
            after = self._filled(place, last)
            stopped = 0
            if count > 0 and after is not None:
                stopped = self._number_from(place + 1, after, count - 1)
            self._counted[key] = stopped + self._number_from(place + 1, last, count)
        return self._counted[key]

    def _choices_from(self, place: int, last: tuple[int, ...], count: int) -> Iterator[tuple[int, ...]]:
        if self._none_from(place, last, count):
            return
        if place == self.count:
            yield ()
            return
        after = self._filled(place, last)
        if count > 0 and after is not None:
            for rest in self._choices_from(place + 1, after, count - 1):
                yield (place, *rest)
        yield from self._choices_from(place + 1, last, count)
