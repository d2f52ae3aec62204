"""Noise of a road log that hangs together in time: its correlation, and errors made independent of each other.

The speed of a receiver or the reading of a gauge is off in the same direction for some time. The error is taken as a
first-order process: correlation exp(-t/T) between readings t apart. Readings that hang together tell less than as many
independent ones; leaving that out would give intervals that are too narrow.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.optimize import minimize_scalar

from locosim.physics.types import Floats

MAX_CORRELATION = 0.995  # of neighboring readings: beyond it, the noise cannot be told from a drift
LEAST_GAIN = 2.0  # in the log likelihood, for which a correlation is taken: about one in 20 by chance


def independent(values: Floats, spacing: Floats, correlation_time: float) -> Floats:
    """Errors, or their derivatives, made independent of each other with the same spread.

    Args:
        values: Shape (n,) or (n, p), rows in order of time.
        spacing: Time since the reading before, infinite for the first one of a stretch, shape (n,) [s].
        correlation_time: T [s]; 0 for independent errors.
    """
    if correlation_time <= 0.0:
        return values
    correlation = np.exp(-spacing / correlation_time)
    scale = np.sqrt(1.0 - correlation**2)
    if values.ndim > 1:
        correlation, scale = correlation[:, None], scale[:, None]
    made = values.copy()
    made[1:] -= correlation[1:] * values[:-1]
    return np.asarray(made / scale)


def find_correlation_time(residuals: Floats, jacobian: Floats, spacing: Floats) -> float:
    """Correlation time of errors [s], by the likelihood of what the constants cannot explain (REML); 0 for none.

    Args:
        residuals: At the fitted constants, shape (n,).
        jacobian: Derivatives of the residuals, shape (n, p).
        spacing: As for `independent` [s].
    """
    usual = float(np.median(spacing[np.isfinite(spacing)]))

    def misfit(correlation: float) -> float:
        time = -usual / np.log(correlation) if correlation > 0.0 else 0.0
        return _restricted_misfit(residuals, jacobian, spacing, time)

    found = minimize_scalar(misfit, bounds=(1e-3, MAX_CORRELATION), method="bounded")
    if misfit(0.0) - float(found.fun) < LEAST_GAIN:
        return 0.0
    return float(-usual / np.log(found.x))


def _restricted_misfit(residuals: Floats, jacobian: Floats, spacing: Floats, time: float) -> float:
    """Minus the restricted log likelihood, up to a constant."""
    error, slope = independent(residuals, spacing, time), independent(jacobian, spacing, time)
    q, r = np.linalg.qr(slope)
    rest = error - q @ (q.T @ error)
    free = len(error) - slope.shape[1]
    log_scale = 0.5 * float(np.sum(np.log1p(-np.exp(-2.0 * spacing / time)))) if time > 0.0 else 0.0
    pivots = np.abs(np.diag(r))
    known = pivots > 1e-12 * pivots.max(initial=1e-300)
    spread = 0.5 * free * math.log(float(rest @ rest) / free)
    return float(spread + log_scale + np.sum(np.log(pivots[known])))
