"""Random-effects pooling of estimates from separate trials.

Model: y_i = μ + δ_i + ε_i with δ_i ~ N(0, τ²) and ε_i ~ N(0, u_i²), u_i known. Equations and
sources stand in ``docs/explanation/typical-values.md``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from beadworth.core import CONFIDENCE, FitError, InputError, Problem

Array = NDArray[np.float64]
Method = Literal["REML", "DL"]
FEWEST = 3
"""Trials below which the spread between trials cannot be told from the spread within them."""


@dataclass(frozen=True)
class Pooled:
    """Estimates of several trials pooled."""

    k: int
    """Number of estimates."""
    mean: float
    """μ̂, the mean over trials."""
    u: float
    """Its standard uncertainty, 1 ÷ √Σw with w = 1 ÷ (u_i² + τ²)."""
    low: float
    high: float
    """Interval of μ at ``confidence``: modified Hartung–Knapp, Student's t with k − 1."""
    prediction_low: float
    prediction_high: float
    """Where a further trial's true value lies, nominally at ``confidence``: Student's t with k − 2,
    τ² taken as known (what that covers: benchmarks/pooling_coverage.py)."""
    tau2: float
    """Variance of true values between trials."""
    i2: float
    """Share of the total variance that is between trials, 0 to 1."""
    q: float
    """Cochran's Q."""
    q_p: float
    """Of Q where all trials share one true value."""
    weights: tuple[float, ...]
    """Share of each estimate in the mean; they add to 1."""
    method: Method
    confidence: float


def pool(
    estimates: Sequence[float],
    u: Sequence[float],
    *,
    method: Method = "REML",
    confidence: float = CONFIDENCE,
) -> Pooled:
    """Pool estimates of one quantity by a random-effects model.

    Parameters
    ----------
    estimates : sequence of float
        One per trial, in one unit.
    u : sequence of float, > 0
        Standard uncertainty of each.
    method : "REML" or "DL"
        Restricted maximum likelihood (Viechtbauer 2005), or the moment estimator of
        DerSimonian & Laird (1986).
    confidence : float
        Of both intervals.

    Raises
    ------
    InputError
        Numbers that cannot be pooled: not finite, an uncertainty not above zero.
    FitError
        Fewer than three estimates: cannot tell.
    """
    y, s2 = _checked(estimates, u)
    k = len(y)
    tau2 = _reml(y, s2) if method == "REML" else dersimonian_laird(y, s2)
    w = 1 / (s2 + tau2)
    mean, variance = float(w @ y / w.sum()), float(1 / w.sum())
    # Hartung & Knapp (2001), never narrower than without it (Röver, Knapp & Friede 2015, mKH)
    factor = max(1.0, float(w @ (y - mean) ** 2) / (k - 1))
    half, ahead = _student(k - 1, confidence), factor * variance
    # Higgins, Thompson & Spiegelhalter (2009) with the variance above
    further = _student(k - 2, confidence) * math.sqrt(tau2 + ahead)
    q, q_p, i2 = _heterogeneity(y, s2, tau2)
    return Pooled(
        k=k,
        mean=mean,
        u=math.sqrt(variance),
        low=mean - half * math.sqrt(ahead),
        high=mean + half * math.sqrt(ahead),
        prediction_low=mean - further,
        prediction_high=mean + further,
        tau2=tau2,
        i2=i2,
        q=q,
        q_p=q_p,
        weights=tuple((w / w.sum()).tolist()),
        method=method,
        confidence=confidence,
    )


def _checked(estimates: Sequence[float], u: Sequence[float]) -> tuple[Array, Array]:
    y, s = np.asarray(estimates, dtype=np.float64), np.asarray(u, dtype=np.float64)
    if y.ndim != 1 or y.shape != s.shape:
        raise InputError(
            f"{y.size} estimates and {s.size} uncertainties do not pair up.",
            "estimates",
            remedy="Give one uncertainty with each estimate.",
        )
    problems = [
        Problem(f"{y[i]:g} with standard uncertainty {s[i]:g} cannot be pooled.",
                f"estimate {i + 1}", float(s[i]), "Give finite numbers, uncertainties above zero.")
        for i in np.flatnonzero(~(np.isfinite(y) & np.isfinite(s) & (s > 0) & (s * s > 0)))
    ]  # fmt: skip
    if problems:
        raise InputError(problems)
    if len(y) < FEWEST:
        raise FitError(
            f"cannot tell: {len(y)} trials are too few to see how much trials differ; "
            f"{FEWEST} are needed.",
            "estimates",
            len(y),
            "Import more trials.",
        )
    return y, s * s


def _student(dof: int, confidence: float) -> float:
    from scipy.special import stdtrit

    return float(stdtrit(dof, (1 + confidence) / 2))


def dersimonian_laird(y: Array, s2: Array) -> float:
    """τ² by moments, not below 0 (DerSimonian & Laird 1986, equation 8)."""
    w = 1 / s2
    q = float(w @ (y - w @ y / w.sum()) ** 2)
    return max(0.0, (q - (len(y) - 1)) / float(w.sum() - w @ w / w.sum()))


def restricted_log_likelihood(tau2: float | Array, y: Array, s2: Array) -> Array:
    """Restricted log-likelihood of each τ² up to a constant (Viechtbauer 2005, equation 13)."""
    v = s2 + np.asarray(tau2)[..., None]
    w = 1 / v
    total = w.sum(axis=-1)
    mean = (w @ y / total)[..., None]
    apart: Array = np.log(v).sum(axis=-1) + np.log(total) + (w * (y - mean) ** 2).sum(axis=-1)
    return -0.5 * apart


def _reml(y: Array, s2: Array) -> float:
    """τ² of greatest restricted likelihood, not below 0.

    The likelihood may have several peaks, so it is walked over a grid first. Everything is in
    units of the data's own spread, so that the answer scales as the data do.
    """
    from scipy.optimize import minimize_scalar

    spread = float(np.var(y, ddof=1))
    if spread <= 1e-12 * s2.min():  # far less apart than they are uncertain: no heterogeneity
        return 0.0
    z, r2 = (y - y.mean()) / math.sqrt(spread), s2 / spread
    grid = np.concatenate([[0.0], np.geomspace(1e-6, 20.0, 120)])
    best = int(np.argmax(restricted_log_likelihood(grid, z, r2)))
    if best == 0:
        return 0.0
    found = minimize_scalar(
        lambda t: -float(restricted_log_likelihood(t, z, r2)),
        bounds=(grid[best - 1], grid[min(best + 1, len(grid) - 1)]),
        method="bounded",
        options={"xatol": 1e-12},
    )
    return float(found.x) * spread


def _heterogeneity(y: Array, s2: Array, tau2: float) -> tuple[float, float, float]:
    """Q, its p value, and I² = τ² ÷ (τ² + typical u²) (Higgins & Thompson 2002, eqs 9 and 10)."""
    from scipy.special import gammaincc

    w, k = 1 / s2, len(y)
    q = float(w @ (y - w @ y / w.sum()) ** 2)
    typical = (k - 1) * float(w.sum()) / float(w.sum() ** 2 - w @ w)
    return q, float(gammaincc((k - 1) / 2, q / 2)), tau2 / (tau2 + typical)
