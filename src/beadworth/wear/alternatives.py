"""What a series may have done beside nothing, and how much likelier its readings make it.

A slope over the whole length, or one step at any place; a yearly season may lie under either, and
under nothing. Each is weighed against nothing by the readings' likelihood averaged over sizes a
priori (D. W. K. Andrews and W. Ploberger, Econometrica 62 (1994) 1383: of all tests of a shift at
an unknown place the average over places has the greatest average power; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

SIDE = 3
"""Fewest readings on either side of a step."""
MOST_STEPS = 40
"""Places at which a step is looked for; in a longer log they are spread evenly."""
MONTH_DAYS, YEAR_DAYS = 365.25 / 12, 365.25
STEP_SD, RISE_SD = 2.0, 3.0
"""Standard deviations, in those of a reading, of the height of a step and of the whole rise of a
slope before a reading is taken."""
SLOPE_SHARE = 0.2
"""Weight of a slope beforehand, beside 1 − this for all steps together."""
LEAST_LEFT = 1e-12
"""Share of a series' squares that is taken as left where nothing is."""
SEASONS = ((0.0, 0.5), (0.7, 0.3), (3.0, 0.2))
"""Seasons possible where a year was logged: standard deviation of sine and of cosine, in those of a
reading, with its weight beforehand."""


@dataclass(frozen=True)
class Weighing:
    """How much likelier each alternative is than nothing, with its weight beforehand."""

    each: Array
    """(series, seasons, alternatives); a slope first, then steps; over nothing in any season."""

    @property
    def change(self) -> Array:
        """How much likelier a change is than none, in logarithm: (series,)."""
        return np.asarray(np.log(self.each.sum(axis=(1, 2))))


@dataclass(frozen=True)
class Alternatives:
    """A slope and steps over given days."""

    columns: Array
    """(readings, alternatives), each freed of its mean; a month of slope, a step of height 1."""
    starts: NDArray[np.intp]
    """First reading after each step."""
    year: Array
    """(readings, 2): sine and cosine of the year; no columns where less than a year was logged."""
    sds: Array
    """Standard deviation of each column's size beforehand, in those of a reading."""
    shares: Array
    """Weight of each beforehand."""

    def weigh(self, rows: Array) -> Weighing:
        """Weigh series (series, readings) of these days; the scatter of a reading is unknown.

        With z the readings freed of their mean and V = 1 + S·Sᵀ + a·aᵀ their covariance for a
        season S and a size a, in units of an unknown variance (p ∝ 1/σ), the likelihood is
        |V|^(−½)·(zᵀV⁻¹z)^(−(n−1)/2).
        """
        z = rows - rows.mean(axis=1, keepdims=True)
        whole = (z * z).sum(axis=1) + 1e-300
        power = -0.5 * (rows.shape[1] - 1)
        a = self.columns * self.sds
        nothing, each = np.zeros(len(rows)), []
        for spread, share in SEASONS if self.year.shape[1] else SEASONS[:1]:
            season = spread * self.year
            inner = np.eye(season.shape[1]) + season.T @ season
            solved_z = z - (z @ season) @ np.linalg.solve(inner, season.T)
            solved_a = a - season @ np.linalg.solve(inner, season.T @ a)
            own = 1.0 + (a * solved_a).sum(axis=0)
            square = (z * solved_z).sum(axis=1) / whole
            left = square[:, None] - (z @ solved_a) ** 2 / (own * whole[:, None])
            # a series that an alternative explains to the last digit has no scatter to divide by
            weight = share / np.sqrt(np.linalg.det(inner))
            nothing += weight * np.maximum(square, LEAST_LEFT) ** power
            each.append(weight * self.shares / np.sqrt(own) * np.maximum(left, LEAST_LEFT) ** power)
        return Weighing(np.stack(each, axis=1) / nothing[:, None, None])

    def fit(self, y: Array, which: int, season: bool) -> tuple[float, float, Array]:
        """Least squares of one alternative, beside a season or not.

        Returns
        -------
        size a month of slope or of the step, half the swing of the season (0 without), residuals
        """
        columns = [np.ones(len(y)), self.columns[:, which], *(self.year.T if season else ())]
        base = np.stack(columns, axis=1)
        found, *_ = np.linalg.lstsq(base, y, rcond=None)
        return float(found[1]), float(np.hypot(*found[2:])) if season else 0.0, y - base @ found


@lru_cache(maxsize=256)
def alternatives(layout: tuple[float, ...]) -> Alternatives:
    """What may have happened to readings of some days, counted from the first."""
    t = np.asarray(layout)
    count = len(t)
    every = np.arange(SIDE, count - SIDE + 1)
    starts = every[np.unique(np.linspace(0, len(every) - 1, MOST_STEPS).astype(int))]
    raw = [t / MONTH_DAYS, *((np.arange(count) >= k).astype(float) for k in starts)]
    columns = np.stack(raw, axis=1)
    sds = np.full(columns.shape[1], STEP_SD)
    sds[0] = RISE_SD * MONTH_DAYS / (t[-1] - t[0])
    year = np.zeros((count, 0))
    if t[-1] - t[0] >= YEAR_DAYS:
        angle = 2 * np.pi * t / YEAR_DAYS
        year = np.stack([np.sin(angle), np.cos(angle)], axis=1)
        year = year - year.mean(axis=0)
    shares = np.append(SLOPE_SHARE, np.full(len(starts), (1.0 - SLOPE_SHARE) / len(starts)))
    return Alternatives(columns - columns.mean(axis=0), starts, year, sds, shares)
