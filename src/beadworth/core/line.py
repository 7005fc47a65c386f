"""Straight lines with their uncertainties (JCGM 100:2008, annex H.3)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from beadworth.core.errors import FitError


@dataclass(frozen=True)
class Line:
    """y = intercept + slope·(x − x0) by least squares, and what its scatter says."""

    intercept: float
    slope: float
    u_intercept: float
    u_slope: float
    correlation: float
    """Of intercept and slope."""
    scatter: float
    """Standard deviation of the residuals, n − 2 degrees of freedom; 0 for two points."""
    dof: int

    def at(self, x: float) -> tuple[float, float]:
        """Value and standard uncertainty at x (counted from x0)."""
        variance = (
            self.u_intercept**2
            + (x * self.u_slope) ** 2
            + 2.0 * x * self.u_intercept * self.u_slope * self.correlation
        )
        return self.intercept + self.slope * x, math.sqrt(max(variance, 0.0))


def fit_line(
    x: Sequence[float], y: Sequence[float], *, x0: float = 0.0, sigma: float | None = None
) -> Line:
    """Least squares of a line; ``sigma`` is the least scatter to reckon with, in units of y.

    Parameters
    ----------
    x, y : sequences, the same length, at least 2 different x
    x0 : float
        Where the intercept is taken.
    sigma : float, optional
        What one reading cannot be better than: taken where the scatter of the points is less
        (three points can lie on a line by luck), and for two points.

    Raises
    ------
    FitError
        Fewer than two different x, unequal lengths, or numbers that are none.
    """
    a, b = np.asarray(x, dtype=float) - x0, np.asarray(y, dtype=float)
    if a.shape != b.shape or not (np.isfinite(a).all() and np.isfinite(b).all()):
        raise FitError(
            f"{a.size} values of x and {b.size} of y, all finite, are needed in equal number.",
            "straight line",
            remedy="Check the table for gaps.",
        )
    spread = float(((a - a.mean()) ** 2).sum()) if a.size else 0.0
    if np.unique(a).size < 2:
        raise FitError(
            "a line needs at least two different lengths.",
            "straight line",
            np.unique(a).size,
            "Measure at more than one length.",
        )
    n = a.size
    slope = float(((a - a.mean()) * (b - b.mean())).sum()) / spread
    intercept = float(b.mean()) - slope * float(a.mean())
    rest = b - intercept - slope * a
    scatter = math.sqrt(float((rest**2).sum()) / (n - 2)) if n > 2 else 0.0
    s = max(scatter, sigma or 0.0)
    u_slope = s / math.sqrt(spread)
    u_intercept = s * math.sqrt(float((a**2).sum()) / (n * spread))
    correlation = -float(a.sum()) / math.sqrt(n * float((a**2).sum()))
    return Line(intercept, slope, u_intercept, u_slope, correlation, scatter, n - 2)
