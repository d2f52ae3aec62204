"""Distributions of an uncertain figure, as quantile functions: the value below which a share of all values lies."""

from __future__ import annotations

from typing import Protocol

import numpy as np

from locosim.frozen import frozen
from locosim.physics.types import Floats


class Distribution(Protocol):
    """A distribution by its quantile function."""

    def quantile(self, share: Floats) -> Floats:
        """Value below which a share of all values lies, shape (n,)."""


@frozen
class Normal:
    """A normal distribution, cut off at two ends.

    Attributes:
        mean: Mean of the distribution that is not cut off.
        deviation: Standard deviation of it.
        low: Lowest value.
        high: Highest value.
    """

    mean: float
    deviation: float
    low: float = -np.inf
    high: float = np.inf

    def quantile(self, share: Floats) -> Floats:
        """Value below which a share of all values lies, shape (n,)."""
        from scipy.special import ndtr, ndtri  # slow to import, and not needed to read a result

        first, last = (ndtr((end - self.mean) / self.deviation) for end in (self.low, self.high))
        return np.asarray(self.mean + self.deviation * ndtri(first + share * (last - first)))


@frozen
class Lognormal:
    """A lognormal distribution, cut off at two ends.

    Attributes:
        median: Median of the distribution that is not cut off.
        spread: Standard deviation of the natural logarithm [1].
        low: Lowest value.
        high: Highest value.
    """

    median: float
    spread: float
    low: float = 0.0
    high: float = np.inf

    def quantile(self, share: Floats) -> Floats:
        """Value below which a share of all values lies, shape (n,)."""
        low = np.log(self.low) if self.low > 0.0 else -np.inf
        of_logarithm = Normal(
            mean=float(np.log(self.median)),
            deviation=self.spread,
            low=float(low),
            high=float(np.log(self.high)),
        )
        return np.asarray(np.exp(of_logarithm.quantile(share)))


@frozen
class Triangular:
    """A triangular distribution.

    Attributes:
        low: Lowest value.
        likely: Most likely value.
        high: Highest value.
    """

    low: float
    likely: float
    high: float

    def quantile(self, share: Floats) -> Floats:
        """Value below which a share of all values lies, shape (n,)."""
        width = self.high - self.low
        rising = self.low + np.sqrt(share * width * (self.likely - self.low))
        falling = self.high - np.sqrt((1.0 - share) * width * (self.high - self.likely))
        return np.asarray(np.where(share * width < self.likely - self.low, rising, falling))


@frozen
class Uniform:
    """A uniform distribution between two ends."""

    low: float
    high: float

    def quantile(self, share: Floats) -> Floats:
        """Value below which a share of all values lies, shape (n,)."""
        return np.asarray(self.low + share * (self.high - self.low))


@frozen
class Outcomes:
    """Numbers 0, 1, 2 ... of outcomes with their probabilities.

    Attributes:
        probabilities: Of each outcome; their sum is 1 [1].
    """

    probabilities: tuple[float, ...]

    def quantile(self, share: Floats) -> Floats:
        """Number of the outcome at a share of all values, shape (n,)."""
        ends = np.cumsum(self.probabilities)[:-1]
        return np.asarray(np.searchsorted(ends, share, side="right"), dtype=float)
