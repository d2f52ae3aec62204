"""Latin hypercube samples: each input takes each of n equally likely slices of its distribution exactly once."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from locosim.errors import OutOfRange
from locosim.physics.types import Floats

MIN_SAMPLES_PER_INPUT = 3  # for correlations, so that those of the samples themselves are far from 1


def latin_hypercube(*, samples: int, inputs: int, seed: int) -> Floats:
    """Shares of independent uniform inputs, shape (samples, inputs), each column with one value in each slice.

    Args:
        samples: Number of samples.
        inputs: Number of inputs.
        seed: Seed; the same one gives the same samples.

    References:
        [McKay1979], from memory, by `scipy.stats.qmc`.
    """
    from scipy.stats import qmc  # slow to import, and not needed to read a result

    if inputs == 0:
        return np.empty((samples, 0))
    return np.asarray(qmc.LatinHypercube(inputs, rng=np.random.default_rng(seed)).random(samples))


def with_correlations(shares: Floats, correlations: npt.ArrayLike, names: tuple[str, ...]) -> Floats:
    """Shares in another order down each column, so that their normal scores are correlated.

    Each column keeps its values, and with them its slices; only which ones meet in a sample changes.

    Args:
        shares: Latin hypercube, shape (n, d).
        correlations: Wanted correlation matrix of the normal scores, shape (d, d).
        names: Of the inputs, for the message.

    Raises:
        OutOfRange: No such correlations can be together.

    References:
        [ImanConover1982], from memory.
    """
    wanted = np.asarray(correlations, dtype=float)
    involved = np.flatnonzero(np.any(wanted != np.eye(len(wanted)), axis=0))
    if len(involved) == 0:
        return shares
    wanted, columns = wanted[np.ix_(involved, involved)], shares[:, involved]
    if np.min(np.linalg.eigvalsh(wanted)) <= 0.0:
        raise OutOfRange(
            f"these correlations cannot be together: {', '.join(names)}; make them smaller, or leave one out"
        )
    if len(columns) < MIN_SAMPLES_PER_INPUT * len(involved):
        raise OutOfRange(
            f"{len(involved)} correlated inputs need at least {MIN_SAMPLES_PER_INPUT * len(involved)} samples, found "
            f"{len(columns)}"
        )
    from scipy.special import ndtri

    scores = ndtri(columns)
    given = np.linalg.cholesky(np.corrcoef(scores, rowvar=False))
    mixed = scores @ np.linalg.inv(given).T @ np.linalg.cholesky(wanted).T
    places = np.argsort(np.argsort(mixed, axis=0, kind="stable"), axis=0, kind="stable")
    ordered = shares.copy()
    ordered[:, involved] = np.take_along_axis(np.sort(columns, axis=0), places, axis=0)
    return ordered
