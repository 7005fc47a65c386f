"""Nonlinear least squares with standard errors, on top of ``scipy.optimize.least_squares``.

One route for every curve of this package that has parameters to report. Held against the
certified values *and* standard errors of the NIST StRD nonlinear sets in
``tests/capacity/test_least_squares.py``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.core import FitError, Problem

Array = NDArray[np.float64]
_FAR = 1e150
"""Stands for a residual that overflowed: the search turns back from there."""


@dataclass(frozen=True)
class Solution:
    """A least-squares fit and its linearised uncertainty."""

    value: Array
    u: Array
    """Standard errors √diag(covariance)."""
    covariance: Array
    """s²·(JᵀJ)⁻¹, or (JᵀJ)⁻¹ where the residuals came already standardised."""
    sum_squares: float
    sd: float
    """Residual standard deviation √(sum of squares ÷ dof); nan where dof is 0."""
    dof: int


def least_squares(
    residuals: Callable[[Array], Array],
    start: Array,
    *,
    standardised: bool = False,
    evaluations: int = 20000,
) -> Solution:
    """Minimise Σ r(x)² from a start, and say how well the parameters are known.

    Parameters
    ----------
    residuals : function (p,) → (n,)
        Residuals, weighted as wanted.
    start : array (p,)
    standardised : bool
        The residuals are in units of their standard deviation: the covariance is then
        not scaled by the residual variance.
    evaluations : int
        Of the residuals before the search takes the best it has.

    Returns
    -------
    Solution

    Raises
    ------
    FitError
        Residuals that are not finite at the start, or fewer of them than parameters.
    """
    from scipy.optimize import least_squares as minimise

    def finite(p: Array) -> Array:
        return np.nan_to_num(residuals(p), nan=_FAR, posinf=_FAR, neginf=-_FAR)

    x = np.asarray(start, dtype=np.float64)
    first = residuals(x)
    if first.size < x.size or not np.isfinite(first).all():
        raise FitError(
            Problem(
                f"{first.size} residuals cannot settle {x.size} parameters, "
                "or a residual at the start is not a finite number.",
                where="least squares",
                remedy="Give more readings, or a start inside the model's range.",
            )
        )
    # Levenberg–Marquardt gets near from poor starts; Gauss–Newton on a Jacobian of fourth order
    # then takes the last digits, which its one-sided differences leave behind.
    with np.errstate(over="ignore", invalid="ignore"):
        near = minimise(
            finite,
            x,
            method="lm",
            max_nfev=evaluations,
            ftol=1e-15,
            xtol=1e-15,
            gtol=1e-15,
        )
        x, r, jacobian = _polish(residuals, np.asarray(near.x))
    _, triangle = np.linalg.qr(jacobian)
    try:
        inverse = np.linalg.inv(triangle)
        covariance = inverse @ inverse.T
    except np.linalg.LinAlgError:
        covariance = np.full((x.size, x.size), np.inf)
    ss = float(r @ r)
    dof = r.size - x.size
    if not standardised:
        covariance = covariance * (ss / dof if dof else np.nan)
    return Solution(
        x,
        np.sqrt(np.diag(covariance)),
        covariance,
        ss,
        float(np.sqrt(ss / dof)) if dof else float("nan"),
        dof,
    )


def _jacobian(residuals: Callable[[Array], Array], x: Array) -> Array:
    """Fourth-order central differences, step chosen per parameter."""
    columns = []
    for i, value in enumerate(x):
        step = 1e-3 * (abs(value) if value else 1.0)
        shift = np.zeros_like(x)
        shift[i] = step
        far = residuals(x + 2 * shift) - residuals(x - 2 * shift)
        near = residuals(x + shift) - residuals(x - shift)
        columns.append((8.0 * near - far) / (12.0 * step))
    return np.stack(columns, axis=1)


def _polish(residuals: Callable[[Array], Array], x: Array) -> tuple[Array, Array, Array]:
    """Gauss–Newton steps on a well-differenced Jacobian, while they do not raise the sum.

    Where they end, with the residuals and the Jacobian there.
    """
    r = residuals(x)
    ss = float(r @ r)
    for _ in range(12):
        jacobian = _jacobian(residuals, x)
        step, *_ = np.linalg.lstsq(jacobian, -r, rcond=None)
        trial = residuals(x + step)
        trial_ss = float(trial @ trial)
        if not np.isfinite(trial_ss) or trial_ss > ss * (1 + 1e-12):
            return x, r, jacobian
        x, r, ss = x + step, trial, trial_ss
        if np.abs(step).max() <= 1e-13 * (np.abs(x).max() + 1e-300):
            break
    return x, r, _jacobian(residuals, x)
