"""A plug of polymer warmed by a hot tube: the closed form behind the law across temperature.

It is the march of :mod:`beadworth.melt.heat` with constant properties, a sliding plug and no
contact resistance, to which a test holds it; capacity fits its law with it.

Heat conduction in a cylinder moving at uniform speed through a tube of uniform wall
temperature (no axial conduction): with Fo = π·α·L/Q (α thermal diffusivity, L heated
length, Q flow; the bore cancels), λ_k the zeros of J₀,

    θ_axis = Σ 2/(λ_k·J₁(λ_k))·exp(−λ_k²·Fo),   θ = (T_wall − T)/(T_wall − T_in).

H.S. Carslaw, J.C. Jaeger, Conduction of Heat in Solids, 2nd ed. 1959, section 7.6 (from memory;
checked against an independent 30-digit table).
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_TERMS = 60
_SMALLEST = 1e-3
"""Below this Fourier number the axis has not warmed by one part in 1e100, and 60 terms end."""


@lru_cache(maxsize=1)
def _zeros() -> tuple[Array, Array]:
    """λ_k and the axis coefficients 2/(λ_k·J₁(λ_k))."""
    from scipy.special import j1, jn_zeros

    zeros = np.asarray(jn_zeros(0, _TERMS), dtype=np.float64)
    return zeros, np.asarray(2.0 / (zeros * j1(zeros)), dtype=np.float64)


def axis_theta(fourier: Array | float) -> Array:
    """Dimensionless temperature left on the axis, 1 (as fed) to 0 (at the wall)."""
    zeros, coefficient = _zeros()
    fo = np.asarray(fourier, dtype=np.float64)
    series = np.exp(-(zeros**2) * np.maximum(fo, _SMALLEST)[..., None]) @ coefficient
    return _whole(fo, series)


def _whole(fourier: Array, series: Array) -> Array:
    """The sum of the series, 1 where the axis has not begun to warm."""
    return np.where(fourier <= 0.004, 1.0, np.minimum(series, 1.0))


def axis_fourier(theta: Array | float) -> Array:
    """The Fourier number at which the axis has come to θ: inverse of the full series.

    Parameters
    ----------
    theta : float or array, 0 < θ < 1

    Returns
    -------
    array
        By Newton steps on ln θ from a table, to rounding; nan outside 0 … 1.
    """
    target = np.asarray(theta, dtype=np.float64)
    inside = (target > 0) & (target < 1)
    safe = np.where(inside, np.minimum(target, 1 - 1e-12), 0.5)
    table_fo, table_theta = _table()
    one_term = np.log(_one_term() / safe) / _zeros()[0][0] ** 2
    fo = np.where(safe < table_theta[-1], one_term, np.interp(-safe, -table_theta, table_fo))
    zeros, coefficient = _zeros()
    squares, steepness = -(zeros**2), coefficient * zeros**2
    for _ in range(2):  # each doubles the digits, and the table gives four
        terms = np.exp(squares * fo[..., None])  # of the series and of its slope
        away = _whole(fo, terms @ coefficient) - safe
        slope = -np.asarray(terms @ steepness)
        step = np.divide(away, slope, out=np.zeros_like(away), where=slope < -1e-9)
        fo = np.maximum(fo - np.clip(step, -0.3 * fo, 0.3 * fo), _SMALLEST)
    return np.where(inside, fo, math.nan)


def _one_term() -> float:
    """2/(λ₁·J₁(λ₁)) = 1.602."""
    return float(_zeros()[1][0])


@lru_cache(maxsize=1)
def _table() -> tuple[Array, Array]:
    fo = np.geomspace(0.008, 1.0, 400)
    return fo, np.asarray(axis_theta(fo))


def ceiling_mm3_s(
    alpha_l_mm3_s: float | Array, softening_c: float | Array, wall_c: Array | float, feed_c: float
) -> Array:
    """Flow at which the axis leaves the heated length just soft, π·α·L/Fo(θ*), mm³/s.

    Parameters
    ----------
    alpha_l_mm3_s : float or array, mm³/s
        Thermal diffusivity × heated length.
    softening_c, wall_c, feed_c : °C
        θ* = (wall − softening)/(wall − feed); 0 where the wall is not above softening.
    """
    wall = np.asarray(wall_c, dtype=np.float64)
    theta = (wall - softening_c) / (wall - feed_c)
    fourier = axis_fourier(np.clip(theta, 1e-9, 1 - 1e-9))
    return np.where(theta > 0, math.pi * np.asarray(alpha_l_mm3_s) / fourier, 0.0)
