"""The two-unknown physical law across temperatures, tested against free ceilings."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.least_squares import Solution, least_squares
from beadworth.capacity.model.posterior import Posterior
from beadworth.capacity.result import Ceiling, Law
from beadworth.melt import ceiling_mm3_s

Array = NDArray[np.float64]

SUPPORT_LEVEL = 0.05


def fit_law(
    posterior: Posterior, ceilings: Sequence[Ceiling], feed_c: float, dof: float
) -> Law | None:
    """Fit α·L and T* to the free ceilings of one group, their correlation included.

    Parameters
    ----------
    posterior : Posterior
        Blocks in the order of ``ceilings``.
    ceilings : sequence of Ceiling
        One-sided ones do not enter.
    feed_c : float
        Temperature of the filament entering, °C.
    dof : float
        Degrees of freedom behind the ceilings' uncertainties.

    Returns
    -------
    Law or None
        None with fewer than two ceilings known from both sides.
    """
    known = [i for i, c in enumerate(ceilings) if c.bound == "interval"]
    if len(known) < 2:
        return None
    temperature = np.array([ceilings[i].temperature_c for i in known])
    flow = np.array([ceilings[i].flow_mm3_s or math.nan for i in known])
    covariance = np.cov(posterior.draws.ceiling[:, known], rowvar=False)
    solution = _solve(temperature, flow, covariance, feed_c)
    alpha_l, softening = (
        math.exp(solution.value[0]),
        float(temperature[0] - math.exp(solution.value[1])),
    )
    gap = math.exp(solution.value[1])
    u_alpha_l, u_softening = alpha_l * float(solution.u[0]), gap * float(solution.u[1])
    product = float(solution.u[0] * solution.u[1])
    if not (math.isfinite(product) and product > 0):
        return None  # the ceilings leave one of the two unknowns wholly open
    # softening falls as the gap below the coolest block widens, hence the sign
    correlation = -float(solution.covariance[0, 1]) / product
    p = _p_value(solution.sum_squares, len(known) - 2, dof)
    sensible = bool(feed_c < softening and u_softening < temperature[0] - feed_c)
    rig, material = ceilings[0].rig, ceilings[0].material
    return Law(
        rig,
        material,
        alpha_l,
        u_alpha_l,
        softening,
        u_softening,
        correlation,
        feed_c,
        p,
        p is not None and p >= SUPPORT_LEVEL and sensible,
        _sentence(len(known), p, alpha_l, softening, sensible),
        max(1.0, solution.sum_squares / max(len(known) - 2, 1)) if p is not None else 1.0,
    )


def _solve(temperature: Array, flow: Array, covariance: Array, feed_c: float) -> Solution:
    """Generalised least squares in ln α·L and ln(coolest block − T*)."""
    whiten = np.linalg.inv(np.linalg.cholesky(covariance))
    widest = math.log(temperature[0] - feed_c - 1.0)

    def residuals(p: Array) -> Array:
        softening = temperature[0] - math.exp(min(p[1], widest))
        return whiten @ (
            flow - ceiling_mm3_s(math.exp(min(p[0], 20.0)), softening, temperature, feed_c)
        )

    best: Solution | None = None
    for gap in np.minimum([15.0, 60.0, 120.0], 0.9 * (temperature[0] - feed_c)):
        unit = ceiling_mm3_s(1.0, temperature[0] - gap, temperature, feed_c)
        start = np.array([math.log(float(flow @ unit / (unit @ unit))), math.log(gap)])
        found = least_squares(residuals, start, standardised=True)
        if best is None or found.sum_squares < best.sum_squares:
            best = found
    assert best is not None
    return best


def predict(
    law: Law, temperature_c: float, dof: float, confidence: float
) -> tuple[float, float, float]:
    """The law's ceiling at a temperature with its interval: (flow, low, high), mm³/s.

    The covariance of the two unknowns is carried through in ln flow, widened by the misfit
    where there is any; the interval opens by itself outside the tested range.
    """
    from scipy.special import stdtrit

    def log_flow(log_alpha_l: float, softening: float) -> float:
        value = float(ceiling_mm3_s(math.exp(log_alpha_l), softening, temperature_c, law.feed_c))
        return math.log(max(value, 1e-6))

    a, s = math.log(law.alpha_l_mm3_s), law.softening_c
    h = min(0.05, 0.2 * max(temperature_c - s, 0.05))
    slope_s = (log_flow(a, s + h) - log_flow(a, s - h)) / (2 * h)
    u_a, u_s = law.u_alpha_l_mm3_s / law.alpha_l_mm3_s, law.u_softening_c
    variance = u_a**2 + (slope_s * u_s) ** 2 + 2 * law.correlation * u_a * slope_s * u_s
    reach = float(stdtrit(max(dof, 1.0), 0.5 + confidence / 2))
    half = reach * math.sqrt(max(variance, 0.0) * law.misfit)
    middle = log_flow(a, s)
    return math.exp(middle), math.exp(middle - half), math.exp(middle + half)


def _p_value(chi2: float, spare: int, dof: float) -> float | None:
    from scipy.special import fdtrc

    if spare < 1:
        return None
    return float(fdtrc(spare, max(dof, 1.0), chi2 / spare))


def _sentence(count: int, p: float | None, alpha_l: float, softening: float, sensible: bool) -> str:
    law = f"α·L {alpha_l:.3g} mm³/s, softening {softening:.0f} °C"
    if p is None:
        return (
            f"Two temperatures settle the two unknowns of the heat law ({law}) and cannot test it; "
            "a third would."
        )
    if p < SUPPORT_LEVEL:
        return (
            f"The {count} ceilings do not follow the heat law with one α·L and one softening "
            f"temperature (p = {p:.2g}); each temperature keeps its own."
        )
    if not sensible:
        return (
            f"The {count} ceilings do not pin down the heat law (p = {p:.2g}, but the softening "
            "temperature is open); each temperature keeps its own."
        )
    return f"The {count} ceilings follow the heat law with {law} (p = {p:.2g})."
