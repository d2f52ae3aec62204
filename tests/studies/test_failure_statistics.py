"""Intervals, shares of the variance and sides of failures against figures known otherwise."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ndtri
from scipy.stats import binomtest, kstwo, norm, spearmanr

from locosim.studies.failure_statistics import (
    failure_side,
    first_order_share,
    influences,
    probability,
    rank_correlation,
    ranked_inputs,
)
from locosim.studies.latin_hypercube import latin_hypercube


@pytest.mark.parametrize(("count", "samples"), [(1, 20), (3, 100), (59, 2000), (99, 100)])
def test_the_interval_is_that_of_clopper_and_pearson(count: int, samples: int) -> None:
    found = probability(count, samples)
    exact = binomtest(count, samples).proportion_ci(0.95, method="exact")
    assert (found.low, found.high) == pytest.approx((exact.low, exact.high), rel=1e-9)
    assert found.estimate == count / samples


def test_none_and_all_have_one_sided_bounds() -> None:
    none, everyone = probability(0, 200), probability(200, 200)
    assert (none.low, none.high) == (0.0, pytest.approx(1 - 0.05 ** (1 / 200)))
    assert (everyone.low, everyone.high) == (pytest.approx(0.05 ** (1 / 200)), 1.0)
    assert f"{none.high:.1%}" == "1.5%"


# The interval takes samples as independent; a Latin hypercube of a sum scatters less, so it contains the true
# probability more often than asked for. By the binomial distribution, 250 of 300 would be far below 95 %.
@pytest.mark.parametrize("inputs", [1, 3, 10])
@pytest.mark.parametrize("true", [0.01, 0.05, 0.3])
def test_intervals_contain_the_true_probability_under_a_latin_hypercube(inputs: int, true: float) -> None:
    inside, counts = 0, []
    for seed in range(300):
        scores = ndtri(latin_hypercube(samples=100, inputs=inputs, seed=seed))
        count = int(np.count_nonzero(scores.sum(axis=1) / math.sqrt(inputs) > norm.ppf(1.0 - true)))
        found = probability(count, 100)
        inside += found.low <= true <= found.high
        counts.append(count)
    assert inside / 300 >= 0.95
    assert np.mean(counts) == pytest.approx(100 * true, abs=4.0 * math.sqrt(100 * true / 300))
    assert np.var(counts) < 1.2 * 100 * true * (
        1 - true
    )  # 1.2: three standard errors of the variance of 300 counts


def test_the_share_of_a_linear_sum_is_that_of_its_variances() -> None:
    random = np.random.default_rng(4)
    inputs = random.normal(size=(20_000, 3))
    result = inputs @ np.array([3.0, 1.5, 0.0])
    ranked = ranked_inputs(inputs, outcomes=(False,) * 3)
    shares = [first_order_share(result, each.bins) for each in ranked]
    # Twenty bins of a normal input keep 99.0 % of its variance. A share rho² has the standard error
    # 2 rho (1 - rho²) / sqrt(n).
    for share, true in zip(shares, (0.8, 0.2, 0.0), strict=True):
        error = 2.0 * math.sqrt(true) * (1.0 - true) / math.sqrt(20_000)
        assert share == pytest.approx(true, abs=0.01 * true + 3.0 * error + 0.002)


def test_inputs_that_act_only_together_have_no_share_alone() -> None:
    random = np.random.default_rng(5)
    inputs = random.choice([-1.0, 1.0], size=(4000, 2))
    found = influences(
        inputs[:, 0] * inputs[:, 1],
        ranked_inputs(inputs, outcomes=(True, True)),
        failed=np.zeros(4000, dtype=bool),
    )
    assert [each.share for each in found] == pytest.approx([0.0, 0.0], abs=0.01)


def test_the_share_of_an_outcome_is_the_variance_between_the_outcomes() -> None:
    random = np.random.default_rng(6)
    rail = (random.random(20_000) < 0.2).astype(float)
    result = 2.0 * rail + random.normal(size=20_000)
    between = 4.0 * 0.2 * 0.8
    (ranked,) = ranked_inputs(rail[:, None], outcomes=(True,))
    assert first_order_share(result, ranked.bins) == pytest.approx(between / (between + 1.0), abs=0.01)


def test_intervals_contain_true_shares_and_rank_correlations_as_often_as_they_say() -> None:
    true = (0.8, 0.2, 0.0)
    ranks = [6 / math.pi * math.asin(0.5 * math.sqrt(share)) for share in true]  # of normal variables
    inside, rank_inside = np.zeros(3), np.zeros(3)
    for seed in range(100):
        scores = ndtri(latin_hypercube(samples=500, inputs=3, seed=seed))
        found = influences(
            scores @ np.array([3.0, 1.5, 0.0]),
            ranked_inputs(scores, outcomes=(False,) * 3),
            failed=np.zeros(500, dtype=bool),
        )
        inside += [
            each.share_low <= share <= each.share_high for each, share in zip(found, true, strict=True)
        ]
        rank_inside += [
            each.rank_low <= rank <= each.rank_high for each, rank in zip(found, ranks, strict=True)
        ]
    # 95 of 100, less three standard errors of such a count.
    least = 95 - 3 * math.sqrt(100 * 0.95 * 0.05)
    assert np.all(inside >= least)
    assert np.all(rank_inside >= least)


def test_rank_correlation_is_that_of_spearman() -> None:
    random = np.random.default_rng(7)
    first = random.integers(0, 9, size=200).astype(float)  # with ties
    second = first + random.normal(size=200)
    assert rank_correlation(first, second) == pytest.approx(float(spearmanr(first, second).statistic))
    assert rank_correlation(first, np.ones(200)) == 0.0


def test_the_side_of_a_number_ends_where_the_failures_end() -> None:
    values = np.linspace(0.0, 1.0, 1001)
    side = failure_side(values, values < 0.1, discrete=False, inputs=50)
    assert side.below
    assert side.split == pytest.approx(0.099, abs=2e-3)
    assert (side.of_failures, side.of_samples) == (1.0, pytest.approx(0.1, abs=1e-3))
    assert side.by_chance < 1e-6
    above = failure_side(values, values > 0.8, discrete=False, inputs=50)
    assert (above.below, above.of_failures) == (False, 1.0)


@pytest.mark.parametrize("inputs", [1, 3, 50])
@pytest.mark.parametrize("failures", [2, 9, 40, 300])
def test_chance_makes_a_side_by_the_distribution_of_kolmogorov_and_smirnov(
    failures: int, inputs: int
) -> None:
    random, seen = np.random.default_rng(failures), set()
    for drawn_to_low in (0.0, 0.2, 0.35, 0.5, 0.7, 1.0):
        values = random.random(1000)
        failed = np.zeros(1000, dtype=bool)
        failed[np.argsort(values**drawn_to_low * random.random(1000))[:failures]] = True
        side = failure_side(values, failed, discrete=False, inputs=inputs)
        by_chance = inputs * kstwo.sf(abs(side.of_failures - side.of_samples), failures)
        assert side.by_chance == pytest.approx(min(1.0, by_chance), rel=1e-6, abs=1e-300)
        seen.add(side.by_chance < 1.0)
    assert True in seen


def test_the_side_of_outcomes_is_those_more_frequent_among_the_failures() -> None:
    rail = np.repeat([0.0, 1.0, 2.0], [700, 200, 100])
    failed = np.zeros(1000, dtype=bool)
    failed[[750, 760, 770, 780, 790, 905, 910, 915, 920, 10]] = True
    side = failure_side(rail, failed, discrete=True, inputs=1)
    assert side.outcomes == (1, 2)
    assert (side.of_failures, side.of_samples) == pytest.approx((0.9, 0.3))
    assert side.by_chance < 0.01


def test_few_failures_of_an_input_that_does_nothing_name_no_side() -> None:
    named = 0
    for seed in range(200):
        random = np.random.default_rng(seed)
        values, failed = random.random((500, 40)), random.random(500) < 0.02
        named += any(
            failure_side(column, failed, discrete=False, inputs=40).by_chance < 0.01 for column in values.T
        )
    assert named <= 2 + 3 * math.sqrt(2)  # 1 % of 200, and three standard errors
