"""Statistics of failures: intervals of a probability, and what drives a result.

scipy is imported where it is used: it is slow to import, and not needed to read a result.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from locosim.frozen import frozen
from locosim.physics.types import Floats

CONFIDENCE = 0.95
MAX_BINS = 20  # of a number, for its share of the variance
SAMPLES_PER_BIN = 10
MIN_SAMPLES = 20  # for anything about inputs
GROUPS = 25  # of samples, for the interval of a share
RANK_SPREAD = (
    1.03  # of Fisher's z of a rank correlation over that of a correlation; [Fieller1957], from memory
)

Bools = npt.NDArray[np.bool_]


@frozen
class Probability:
    """Probability of an event, from how often it happened in a sample.

    Attributes:
        count: How often it happened.
        samples: Number of samples.
        low: Lower end of the interval [1].
        high: Upper end; a one-sided bound where it never happened [1].
    """

    count: int
    samples: int
    low: float
    high: float

    @property
    def estimate(self) -> float:
        """Share of the samples in which it happened [1]."""
        return self.count / self.samples if self.samples else float("nan")


def probability(count: int, samples: int) -> Probability:
    """Probability of an event with its interval at 95 % confidence by Clopper and Pearson.

    Where the event never happened, or always, the interval is one-sided: the bound holds with 95 % confidence.

    Args:
        count: How often it happened.
        samples: Number of samples.

    References:
        [ClopperPearson1934], from memory: quantiles of the beta distribution. It takes the samples as independent;
        those of a Latin hypercube scatter no more where there are many [Stein1987].
    """
    from scipy.special import betaincinv

    if samples == 0:
        return Probability(count=0, samples=0, low=0.0, high=1.0)
    tail = (1.0 - CONFIDENCE) / (1.0 if count in (0, samples) else 2.0)
    low = 0.0 if count == 0 else float(betaincinv(count, samples - count + 1, tail))
    high = 1.0 if count == samples else float(betaincinv(count + 1, samples - count, 1.0 - tail))
    return Probability(count=count, samples=samples, low=low, high=high)


class Side(NamedTuple):
    """The side of an input on which an event happens: some outcomes, or the numbers below or above a split.

    Attributes:
        outcomes: Numbers of the outcomes; none for an input that is a number.
        split: Where the side ends.
        below: Whether the side is below it.
        of_failures: Share of the failures on this side [1].
        of_samples: Share of all samples on it [1].
        by_chance: Probability that chance alone gives such a side to an input, of as many inputs as there are [1].
    """

    outcomes: tuple[int, ...] = ()
    split: float = float("nan")
    below: bool = False
    of_failures: float = 0.0
    of_samples: float = 0.0
    by_chance: float = 1.0


@frozen
class Influence:
    """What an input does to a result.

    Attributes:
        rank_correlation: Of the input and the result; 0 for outcomes without an order [1].
        rank_low: Lower end of its interval [1].
        rank_high: Upper end [1].
        share: Share of the variance of the result that goes with the input alone [1].
        share_low: Lower end of its interval [1].
        share_high: Upper end [1].
        side: Side of the input on which the failures are.
    """

    rank_correlation: float
    rank_low: float
    rank_high: float
    share: float
    share_low: float
    share_high: float
    side: Side = Side()


NO_INFLUENCE = Influence(
    rank_correlation=0.0, rank_low=0.0, rank_high=0.0, share=0.0, share_low=0.0, share_high=0.0
)


def bins_of(values: Floats, *, outcomes: bool) -> npt.NDArray[np.int_]:
    """Number of the bin of each value, shape (n,): an outcome is a bin; numbers are in bins of equal counts."""
    from scipy.stats import rankdata

    if outcomes:
        return np.unique(values, return_inverse=True)[1]
    count = int(np.clip(len(values) // SAMPLES_PER_BIN, 2, MAX_BINS))
    ranks = rankdata(values, method="ordinal") - 1
    return np.asarray(ranks * count // len(values), dtype=int)


def first_order_share(result: Floats, bins: npt.NDArray[np.int_]) -> float:
    """Share of the variance of a result that goes with one input alone, whatever the others are.

    It is the variance of the mean result by bin over the whole variance, with the part that chance gives to so many
    bins taken off; it can be a little below 0.

    Args:
        result: Results, shape (n,).
        bins: Number of the bin of the input, shape (n,).

    References:
        The correlation ratio, corrected for the bins ([Kelley1935], from memory); a first-order index of [Sobol1993],
        from memory.
    """
    return float(_shares(result, bins, np.zeros(len(result), dtype=int))[0])


def _shares(result: Floats, bins: npt.NDArray[np.int_], groups: npt.NDArray[np.int_]) -> Floats:
    """First-order share of all samples, then without each group of them, shape (1 + groups,)."""
    centered = result - result.mean()
    size = (int(groups.max()) + 1, int(bins.max()) + 1)
    places = groups * size[1] + bins

    def without_each(weights: Floats | None) -> Floats:
        """Sums by bin of all samples, then without each group, shape (1 + groups, bins)."""
        by_group = np.bincount(places, weights, minlength=size[0] * size[1]).reshape(size)
        whole = by_group.sum(axis=0)
        return np.concatenate([whole[None, :], whole - by_group])

    count, total, square = without_each(None), without_each(centered), without_each(centered**2)
    n = count.sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = total.sum(axis=1) / n
        whole = square.sum(axis=1) - n * mean**2
        between = np.where(count > 0.0, total**2 / count, 0.0).sum(axis=1) - n * mean**2
        within = (whole - between) / (n - (count > 0.0).sum(axis=1))
        share = 1.0 - within / (whole / (n - 1.0))
    return np.asarray(np.where(whole > 1e-12 * max(float(np.sum(result**2)), 1e-300), share, 0.0))


class RankedInput(NamedTuple):
    """An input with what is needed of it for every result.

    Attributes:
        values: Values, or numbers of outcomes, shape (n,).
        discrete: Whether they are numbers of outcomes.
        bins: Number of the bin of each, shape (n,).
        ranks: Ranks of the values about their mean, of unit length; zeros where they do not vary, shape (n,).
    """

    values: Floats
    discrete: bool
    bins: npt.NDArray[np.int_]
    ranks: Floats


def ranked_inputs(inputs: Floats, *, outcomes: tuple[bool, ...]) -> tuple[RankedInput, ...]:
    """Inputs with their bins and ranks.

    Args:
        inputs: Values of the inputs, shape (n, d).
        outcomes: Whether each input has outcomes, shape (d,).
    """
    return tuple(
        RankedInput(values, discrete, bins_of(values, outcomes=discrete), _unit_ranks(values))
        for values, discrete in zip(inputs.T, outcomes, strict=True)
    )


def influences(result: Floats, inputs: Sequence[RankedInput], *, failed: Bools) -> tuple[Influence, ...]:
    """What each input does to a result, with intervals at 95 % confidence.

    The interval of a share is by the jackknife: the share without each of some groups of samples. Both intervals take
    the samples as independent of each other.

    Args:
        result: Results, shape (n,).
        inputs: The inputs.
        failed: Whether the result is a failure, shape (n,).

    References:
        [Quenouille1956], from memory, for the jackknife.
    """
    if len(result) < MIN_SAMPLES or np.ptp(result) == 0.0:
        return (NO_INFLUENCE,) * len(inputs)
    ranks = _unit_ranks(result)
    return tuple(_influence(result, ranks, each, failed, len(inputs)) for each in inputs)


def _influence(result: Floats, ranks: Floats, each: RankedInput, failed: Bools, inputs: int) -> Influence:
    n = len(result)
    if not np.any(each.ranks):
        return NO_INFLUENCE
    share, *without = _shares(result, each.bins, np.arange(n) % GROUPS)
    wide = _jackknife_spread(np.array(without))
    rank = float(np.sum(ranks * each.ranks))
    rank_low, rank_high = _rank_interval(rank, n)
    return Influence(
        rank_correlation=rank,
        rank_low=rank_low,
        rank_high=rank_high,
        share=max(float(share), 0.0),
        share_low=max(float(share) - wide, 0.0),
        share_high=min(max(float(share) + wide, 0.0), 1.0),
        side=failure_side(each.values, failed, discrete=each.discrete, inputs=inputs),
    )


def _jackknife_spread(without: Floats) -> float:
    """Half the interval of a figure, from the figures without each group."""
    from scipy.special import stdtrit

    count = len(without)
    deviation = np.sqrt((count - 1.0) / count * np.sum((without - without.mean()) ** 2))
    return float(stdtrit(count - 1, 0.5 + 0.5 * CONFIDENCE) * deviation)


def rank_correlation(first: Floats, second: Floats) -> float:
    """Spearman's correlation of the ranks; 0 where one of both does not vary.

    Args:
        first: Values, shape (n,).
        second: Values, shape (n,).
    """
    return float(np.sum(_unit_ranks(first) * _unit_ranks(second)))


def _unit_ranks(values: Floats) -> Floats:
    """Ranks about their mean, of unit length; zeros where the values do not vary, shape (n,)."""
    from scipy.stats import rankdata

    if len(values) == 0 or np.ptp(values) == 0.0:
        return np.zeros(len(values))
    ranks = rankdata(values) - 0.5 * (len(values) + 1.0)
    return np.asarray(ranks / np.sqrt(np.sum(ranks**2)))


def _rank_interval(correlation: float, n: int) -> tuple[float, float]:
    """Interval of a rank correlation by Fisher's z."""
    from scipy.special import ndtri

    z = np.arctanh(np.clip(correlation, -0.999999, 0.999999))
    wide = float(ndtri(0.5 + 0.5 * CONFIDENCE)) * RANK_SPREAD / np.sqrt(n - 3)
    return float(np.tanh(z - wide)), float(np.tanh(z + wide))


def failure_side(values: Floats, failed: Bools, *, discrete: bool, inputs: int) -> Side:
    """The side of an input on which the failures are.

    Args:
        values: Values of the input, or numbers of outcomes, shape (n,).
        failed: Whether each is a failure, shape (n,).
        discrete: Whether the values are numbers of outcomes.
        inputs: Number of inputs that are looked at; with more of them, chance makes a larger difference in one.

    References:
        [SpearHornberger1980], from memory: the statistic of Kolmogorov and Smirnov as a measure of what drives an
        event; its distribution by `scipy.stats.kstwo`. Of outcomes, the binomial distribution.
    """
    failures = int(np.count_nonzero(failed))
    if failures in (0, len(failed)) or np.ptp(values) == 0.0:
        return Side()
    return (_outcome_side if discrete else _number_side)(values, failed, inputs)


def _number_side(values: Floats, failed: Bools, inputs: int) -> Side:
    failures = int(np.count_nonzero(failed))
    order = np.argsort(values, kind="stable")
    last_of_each = np.append(np.diff(values[order]) > 0.0, True)
    of_failures = np.cumsum(failed[order])[last_of_each] / failures
    of_samples = (np.flatnonzero(last_of_each) + 1.0) / len(values)
    place = int(np.argmax(np.abs(of_failures - of_samples)))
    below = bool(of_failures[place] > of_samples[place])
    share, whole = float(of_failures[place]), float(of_samples[place])
    return Side(
        split=float(values[order][last_of_each][place]),
        below=below,
        of_failures=share if below else 1.0 - share,
        of_samples=whole if below else 1.0 - whole,
        by_chance=_by_chance(abs(share - whole), failures, inputs),
    )


def _by_chance(difference: float, failures: int, inputs: int) -> float:
    """Probability that the greatest difference of shares in any of some inputs is as great by chance, or 1.

    It is at least that of such a difference at the median, which is quick to compute: mostly that makes it 1.
    """
    from scipy.special import bdtrc
    from scipy.stats import kstwo

    above_median = math.ceil(failures * (0.5 + difference))
    if inputs * 2.0 * float(bdtrc(above_median - 1, failures, 0.5)) >= 1.0:
        return 1.0
    return min(1.0, inputs * float(kstwo.sf(difference, failures)))


def _outcome_side(values: Floats, failed: Bools, inputs: int) -> Side:
    from scipy.stats import binom

    failures = int(np.count_nonzero(failed))
    numbers = np.unique(values)
    here = np.array([np.count_nonzero(values == number) for number in numbers]) / len(values)
    there = np.array([np.count_nonzero(failed & (values == number)) for number in numbers])
    more = there / failures > here
    count, whole = int(there[more].sum()), float(here[more].sum())
    # The side was chosen from all sides that the outcomes can form.
    sides = inputs * (2.0 ** len(numbers) - 2.0)
    return Side(
        outcomes=tuple(int(number) for number in numbers[more]),
        of_failures=count / failures,
        of_samples=whole,
        by_chance=min(1.0, sides * float(binom.sf(count - 1, failures, whole))) if more.any() else 1.0,
    )
