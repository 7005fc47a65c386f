"""The period of one wave in an evenly spaced series, with an interval that holds in red noise."""

from __future__ import annotations

import math

import numpy as np

from beadworth.cause.finding import Interval
from beadworth.cause.profile import Basis, wave_power, whitener
from beadworth.core import FitError, coverage_factor

FEWEST_VALUES = 24
CYCLES = 3.0
"""The fewest in a series: fewer look like its trend."""
STANDS_OUT = 12.0
"""Power over the noise from which a wave is believed. The noise is found without the wave, so that
noise alone passes more often than exp(−12) would have it; the benchmark prints how often."""


def series_period(values: np.ndarray, step_mm: float) -> Interval:
    """Period of the strongest wave in a series, mm, with its 95 % interval.

    Noise may be red: its covariance comes from a robust floor of the series' own spectrum, found
    again without the wave; wave and a cubic trend are fitted by generalised least squares.

    Parameters
    ----------
    values : array (n,), n ≥ 24
        At even steps: calipers along a wall, or a profile.
    step_mm : float, > 0

    Returns
    -------
    Interval
        Student's t with n − 7 degrees of freedom.

    Raises
    ------
    FitError
        Too few values, no spread, or no wave of three cycles that stands out.
    """
    from scipy.optimize import least_squares

    y = np.asarray(values, float)
    n = y.size
    if n < FEWEST_VALUES or not np.ptp(y) > 0:
        raise FitError(
            f"{n} values with a spread of {np.ptp(y) if n else 0:g} show no period.", "series", n,
            f"Give {FEWEST_VALUES} values or more at even steps.",
        )  # fmt: skip
    x = step_mm * np.arange(n)
    whiten = whitener(y, step_mm)
    k, power = _scan(whiten, y, x, step_mm)
    wave = _wave(whiten, y, x, k)
    whiten = whitener(y - wave, step_mm)
    k, power = _scan(whiten, y, x, step_mm)
    if power < STANDS_OUT:
        raise FitError(
            f"no wave stands out: the strongest has {power:.1f} times the power of the noise.",
            "series", power, "Measure a longer piece, or at shorter steps.",
        )  # fmt: skip
    data, half = whiten @ y, x.mean()

    def rest(theta: np.ndarray) -> np.ndarray:
        angle = 2 * np.pi * (x - half) * theta[0]
        pair = whiten @ np.stack([np.cos(angle), np.sin(angle)], 1)
        return np.asarray(data - pair @ theta[1:])

    start = np.concatenate([[k], _pair(whiten, y, x - half, k)])
    fit = least_squares(
        rest, start, x_scale=[1e-3 / (n * step_mm), *np.maximum(abs(start[1:]), 1e-9)]
    )
    spare = n - 7
    variance = 2 * fit.cost / spare
    jacobian = np.asarray(fit.jac)
    u = math.sqrt(variance * float(np.linalg.inv(jacobian.T @ jacobian)[0, 0]))
    factor = coverage_factor(spare)
    period = 1 / float(fit.x[0])
    return Interval(period, period - factor * u * period**2, period + factor * u * period**2)


def _scan(whiten: np.ndarray, y: np.ndarray, x: np.ndarray, step_mm: float) -> tuple[float, float]:
    """Cycles/mm of the strongest wave, and its power over the noise."""
    length = x.size * step_mm
    k = np.arange(CYCLES / length, 0.45 / step_mm, 0.25 / length)
    angle = 2 * np.pi * k * x[:, None]
    power = wave_power(whiten @ y, Basis(whiten @ np.cos(angle), whiten @ np.sin(angle)))
    i = int(np.argmax(power))
    return float(k[i]), float(power[i])


def _pair(whiten: np.ndarray, y: np.ndarray, x: np.ndarray, k: float) -> np.ndarray:
    angle = 2 * np.pi * k * x
    pair = np.stack([np.cos(angle), np.sin(angle)], 1)
    return np.asarray(np.linalg.lstsq(whiten @ pair, whiten @ y, rcond=None)[0])


def _wave(whiten: np.ndarray, y: np.ndarray, x: np.ndarray, k: float) -> np.ndarray:
    angle = 2 * np.pi * k * x
    return np.asarray(np.stack([np.cos(angle), np.sin(angle)], 1) @ _pair(whiten, y, x, k))
