"""The plain fit of accepted looks along a ladder: logistic or probit, by greatest likelihood.

It knows nothing of graders, lapses or grades, and has no answer where the bands fall apart into
all good and all bad. It stands beside the threshold as what is usually done.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

ROUNDS = 60


@dataclass(frozen=True)
class PlainFit:
    """Coefficients with standard errors, and the level of half."""

    intercept: float
    slope: float
    u_intercept: float
    u_slope: float
    half: float
    """Where half are bad."""
    u_half: float
    """By the delta method."""
    log_likelihood: float


def plain_fit(
    levels: ArrayLike,
    bad: ArrayLike,
    looks: ArrayLike,
    link: Literal["logit", "probit"] = "logit",
) -> PlainFit | None:
    """Fit the chance of a bad look, F(a + b·level), by Fisher scoring.

    Parameters
    ----------
    levels, bad, looks : arrays of n
        Level, looks that were bad, looks in all.

    Returns
    -------
    PlainFit or None
        None where nothing finite fits best: bands all good, all bad, or cleanly apart.
    """
    from scipy.special import expit, log_expit, log_ndtr, ndtr

    x, k, n = (np.asarray(v, float) for v in (levels, bad, looks))
    design = np.column_stack([np.ones_like(x), x - x.mean()])
    b = np.zeros(2)
    for _ in range(ROUNDS):
        eta = design @ b
        if link == "logit":
            p = expit(eta)
            slope = p * (1 - p)
        else:
            p, slope = ndtr(eta), np.exp(-(eta**2) / 2) / np.sqrt(2 * np.pi)
        spread = np.maximum(p * (1 - p), 1e-300)
        score = design.T @ ((k - n * p) * slope / spread)
        information = (design * (n * slope**2 / spread)[:, None]).T @ design
        if not np.isfinite(information).all() or np.linalg.cond(information) > 1e12:
            return None
        step = np.linalg.solve(information, score)
        b = b + step
        if np.abs(step).max() < 1e-10 * (1 + np.abs(b).max()):
            break
    else:
        return None
    if abs(b[1]) * np.ptp(x) > 200:
        return None
    cov = np.linalg.inv(information)
    back = np.array([[1.0, -x.mean()], [0.0, 1.0]])
    a = back @ b
    cov = back @ cov @ back.T
    half = -a[0] / a[1]
    gradient = np.array([-1 / a[1], a[0] / a[1] ** 2])
    low, high = (log_expit, -1) if link == "logit" else (log_ndtr, -1)
    eta = design @ b
    log = float((k * low(eta) + (n - k) * low(high * eta)).sum())
    u = np.sqrt(np.diag(cov))
    return PlainFit(
        float(a[0]), float(a[1]), float(u[0]), float(u[1]), float(half),
        float(np.sqrt(gradient @ cov @ gradient)), log,
    )  # fmt: skip
