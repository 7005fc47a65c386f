"""What a hanging strand does to a trace: noise that is alike over seconds, and its size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

SLOW_MG, SLOW_S = 5.0, 300.0
"""Draughts and a warming balance: they come and go within minutes (assumption)."""
USUAL_HANG_MG, USUAL_HANG_S, USUAL_WHITE_MG, USUAL_FILTER_S = 5.0, 4.0, 0.7, 1.0
"""Where the search for the noise of a trace starts, and what it is held near."""
WITHIN = (1.0, 0.6, 0.8, 0.5)
"""Standard deviations of their logarithms beforehand."""


@dataclass(frozen=True)
class Noise:
    """Noise of a trace about what was delivered."""

    hang_mg: float = USUAL_HANG_MG
    """Standard deviation of what hangs from the nozzle."""
    hang_s: float = USUAL_HANG_S
    """Time over which it stays alike."""
    white_mg: float = USUAL_WHITE_MG
    """Standard deviation of a second's mean, each by itself."""
    filter_s: float = USUAL_FILTER_S
    """First-order lag of balance and one-second means, which the hanging mass is seen through."""

    def covariance(self, time_s: Array) -> Array:
        """Of one-second means, mg²; the slow part included."""
        return self.at_lags(*_lags(time_s))

    def at_lags(self, lag_s: Array, place: NDArray[np.intp]) -> Array:
        """The same where the lags there are, and which of them each pair has, are known."""
        long, short = max(self.hang_s, 1.01 * self.filter_s), self.filter_s
        at = long * np.exp(-lag_s / long) - short * np.exp(-lag_s / short)
        at *= self.hang_mg**2 * long / (long**2 - short**2)
        at += SLOW_MG**2 * np.exp(-lag_s / SLOW_S)
        v = np.asarray(at)[place]
        v[np.diag_indices_from(v)] += self.white_mg**2
        return v


def _lags(time_s: Array) -> tuple[Array, NDArray[np.intp]]:
    """How far apart seconds are: a few hundred lags where they are evenly spaced, for all pairs."""
    return np.unique(np.abs(time_s[:, None] - time_s[None, :]), return_inverse=True)


def learn_noise(pieces: Sequence[tuple[Array, Array, Array]]) -> Noise:
    """Noise from pieces of a trace: restricted maximum likelihood about a linear model.

    Parameters
    ----------
    pieces : sequence of (time_s, mass_mg, columns)
        ``columns`` (seconds, unknowns): what a linear model of the mass may be made of.

    Returns
    -------
    Noise

    Notes
    -----
    Restricted likelihood: D. A. Harville, J. Am. Stat. Assoc. 72 (1977) 320 (from memory).
    """
    from scipy.linalg import cho_factor, cho_solve
    from scipy.optimize import minimize

    start = np.log([USUAL_HANG_MG, USUAL_HANG_S, USUAL_WHITE_MG, USUAL_FILTER_S])
    bounds = np.log([0.1, 0.5, 0.05, 0.2]), np.log([200.0, 60.0, 100.0, 8.0])

    lags = [_lags(time) for time, _, _ in pieces]

    def cost(p: Array) -> float:
        q = np.clip(p, *bounds)
        noise = Noise(*np.exp(q).tolist())
        total = 0.5 * float((((p - start) / WITHIN) ** 2).sum())
        for own, (_, mass, columns) in zip(lags, pieces, strict=True):
            factor = cho_factor(noise.at_lags(*own), lower=True, check_finite=False)
            solved = cho_solve(factor, np.column_stack([columns, mass]), check_finite=False)
            inner = columns.T @ solved
            a, b = inner[:, :-1], inner[:, -1]
            misfit = float(mass @ solved[:, -1] - b @ np.linalg.solve(a, b))
            total += float(np.log(np.diag(factor[0])).sum())
            total += 0.5 * (float(np.linalg.slogdet(a)[1]) + misfit)
        return total

    found = minimize(cost, start, method="Nelder-Mead",
                     options={"maxfev": 110, "xatol": 0.05, "fatol": 0.1})  # fmt: skip
    return Noise(*np.exp(np.clip(found.x, *bounds)).tolist())
