"""Latin hypercubes and distributions: slices, quantiles and correlations."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from scipy.special import ndtri

from locosim.errors import OutOfRange
from locosim.studies.distributions import Lognormal, Normal, Outcomes, Triangular, Uniform
from locosim.studies.latin_hypercube import latin_hypercube, with_correlations

SHARES = np.array([0.001, 0.1, 0.37, 0.5, 0.81, 0.999])


def test_each_input_takes_each_slice_once() -> None:
    shares = latin_hypercube(samples=50, inputs=4, seed=3)
    assert np.array_equal(np.sort(np.floor(50 * shares), axis=0), np.tile(np.arange(50.0)[:, None], 4))


def test_samples_are_those_of_scipy() -> None:
    theirs = stats.qmc.LatinHypercube(7, rng=np.random.default_rng(11)).random(40)
    assert np.array_equal(latin_hypercube(samples=40, inputs=7, seed=11), theirs)


def test_the_same_seed_gives_the_same_samples_and_another_one_others() -> None:
    first, again, other = (latin_hypercube(samples=20, inputs=3, seed=seed) for seed in (1, 1, 2))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        (Normal(mean=3.0, deviation=2.0), stats.norm(3.0, 2.0)),
        (Normal(mean=3.0, deviation=2.0, low=2.0, high=7.0), stats.truncnorm(-0.5, 2.0, 3.0, 2.0)),
        (Lognormal(median=4.0, spread=0.3), stats.lognorm(0.3, scale=4.0)),
        (Triangular(low=1.0, likely=2.0, high=6.0), stats.triang(0.2, 1.0, 5.0)),
        (Triangular(low=1.0, likely=6.0, high=6.0), stats.triang(1.0, 1.0, 5.0)),
        (Triangular(low=1.0, likely=1.0, high=6.0), stats.triang(0.0, 1.0, 5.0)),
        (Uniform(low=-1.0, high=3.0), stats.uniform(-1.0, 4.0)),
    ],
    ids=["normal", "cut-off", "lognormal", "triangular", "likely-high", "likely-low", "uniform"],
)
def test_quantiles_are_those_of_scipy(ours: Normal, theirs: stats.rv_continuous) -> None:
    assert ours.quantile(SHARES) == pytest.approx(theirs.ppf(SHARES), rel=1e-9)


def test_outcomes_follow_in_order_of_their_probabilities() -> None:
    numbers = Outcomes(probabilities=(0.7, 0.0, 0.3)).quantile(np.linspace(0.0005, 0.9995, 1000))
    assert [np.count_nonzero(numbers == each) for each in range(3)] == [700, 0, 300]


def test_correlations_keep_the_slices() -> None:
    shares = latin_hypercube(samples=1000, inputs=3, seed=1)
    wanted = np.array([[1.0, 0.7, 0.0], [0.7, 1.0, -0.4], [0.0, -0.4, 1.0]])
    mixed = with_correlations(shares, wanted, ("a", "b", "c"))
    assert np.array_equal(np.sort(mixed, axis=0), np.sort(shares, axis=0))
    # Putting the columns in order again moves a correlation by little.
    assert np.corrcoef(ndtri(mixed), rowvar=False) == pytest.approx(wanted, abs=0.02)


def test_no_correlation_changes_nothing() -> None:
    shares = latin_hypercube(samples=30, inputs=2, seed=1)
    assert with_correlations(shares, np.eye(2), ("a", "b")) is shares


def test_correlations_that_cannot_be_together_are_refused() -> None:
    shares = latin_hypercube(samples=30, inputs=3, seed=1)
    impossible = [[1.0, 0.9, -0.9], [0.9, 1.0, 0.9], [-0.9, 0.9, 1.0]]
    with pytest.raises(OutOfRange, match="wind with rain"):
        with_correlations(shares, impossible, ("wind with rain",))


def test_inputs_without_a_correlation_keep_their_order_and_samples_may_be_few() -> None:
    shares = latin_hypercube(samples=30, inputs=60, seed=1)
    wanted = np.eye(60)
    wanted[3, 50] = wanted[50, 3] = 0.5
    mixed = with_correlations(shares, wanted, ("a with b",))
    others = [number for number in range(60) if number not in (3, 50)]
    assert np.array_equal(mixed[:, others], shares[:, others])
    assert np.corrcoef(ndtri(mixed[:, [3, 50]]), rowvar=False)[0, 1] == pytest.approx(0.5, abs=0.1)


def test_many_correlated_inputs_need_many_samples() -> None:
    shares = latin_hypercube(samples=20, inputs=10, seed=1)
    with pytest.raises(OutOfRange, match="10 correlated inputs need at least 30 samples, found 20"):
        with_correlations(shares, np.full((10, 10), 0.1) + 0.9 * np.eye(10), ())
