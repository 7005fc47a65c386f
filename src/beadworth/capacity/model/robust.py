"""Coupons out of line and scatter that differs, found by stated tests."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.prepare import Group
from beadworth.text import signed_percent

Array = NDArray[np.float64]

OUT_OF_LINE_LEVEL = 0.01
"""Chance that a trial without any odd coupon has one set aside (Bonferroni over its coupons)."""
UNEQUAL_LEVEL = 0.02
"""Chance that a trial of even scatter is weighted all the same (Bonferroni)."""
_KNEE = (0.1, 0.5, 1.0, 2.5)
"""Fitted losses, in stated losses, at which louder coupons may set in; the clearest is taken."""
LARGEST_SHARE = 0.15
"""Never more than this share of a group is set aside."""


@dataclass(frozen=True)
class Weights:
    """A weight per reading: 0 set aside, else 1 ÷ relative variance."""

    weight: Array
    notes: tuple[str, ...]


def reweigh(
    group: Group, fitted: Array, loss: Array, stated_loss: float, parameters: int
) -> Weights:
    """Look for odd coupons and unequal scatter in the residuals of a fit.

    Parameters
    ----------
    group : Group
    fitted : array (readings,)
        Fitted ln(g/mm); nan where the reading's temperature was not fitted.
    loss : array (readings,)
        Fitted loss.
    stated_loss : float
        Loss the ceiling is read at; the knee is looked for about it.
    parameters : int
        Parameters the fit spent.

    Notes
    -----
    A coupon with replicates is set aside when its residual, against the scatter of the coupons
    that are in line, has a Student-t probability under 1 % ÷ number of coupons, *and* it departs
    as far from its own replicates. Replicates that agree with one another are evidence against
    the curve, not odd coupons. Coupons alone at their flow: :mod:`~beadworth.capacity.model.lone`.
    """
    used = np.isfinite(fitted)
    residual = np.where(used, group.log_delivered - fitted, 0.0)
    weight = np.ones(len(residual))
    notes: list[str] = []
    odd = _odd(group, residual, used, parameters)  # must not pass for noise
    variance, words = _unequal(group, residual, used & ~odd, loss, stated_loss)
    notes += words
    aside = _odd(group, residual / np.sqrt(variance), used, parameters)
    weight = np.where(aside, 0.0, 1.0 / variance)
    notes += [set_aside_note(group, int(i), float(residual[i])) for i in np.flatnonzero(aside)]
    return Weights(weight, tuple(notes))


def set_aside_note(group: Group, index: int, residual: float) -> str:
    """What is said of a reading that was left out of the curve."""
    r = group.readings[index]
    name = f"coupon {r.coupon}" if r.coupon else "a coupon"
    return (
        f"{name} at {r.temperature_c:g} °C and {r.flow_mm3_s:g} mm³/s is out of line by "
        f"{signed_percent(np.expm1(residual))} of its mass and was left out of the curve; "
        "weigh or run it again, or void it with a reason."
    )


def _odd(
    group: Group, residual: Array, used: NDArray[np.bool_], parameters: int
) -> NDArray[np.bool_]:
    from scipy.special import stdtr

    aside = np.zeros(len(residual), dtype=np.bool_)
    n = int(used.sum())
    if n - parameters < 6:
        return aside
    size = np.abs(residual)
    scale = 1.4826 * float(np.median(size[used])) * np.sqrt(n / (n - parameters))
    suspect = used & (size > 3.0 * max(scale, 1e-4))
    clean = used & ~suspect
    dof = int(clean.sum()) - parameters
    if not suspect.any() or dof < 5:
        return aside
    s = float(np.sqrt((residual[clean] ** 2).sum() / dof))
    for i in np.flatnonzero(suspect)[np.argsort(-size[suspect])]:
        chance = 2.0 * float(stdtr(dof, -size[i] / s))
        if chance * n > OUT_OF_LINE_LEVEL or (aside.sum() + 1) > LARGEST_SHARE * n:
            continue
        same = used & (group.temperature == group.temperature[i]) & (group.flow == group.flow[i])
        same[i] = False
        if not same.any():
            continue  # alone at its flow: its own residual does not tell
        others = group.log_delivered[same & ~aside]
        if len(others) >= 2:
            apart = abs(group.log_delivered[i] - np.median(others))
            if apart < 3.0 * s * np.sqrt(1 + 1.5 / len(others)):
                continue
        elif len(others) == 1 and abs(group.log_delivered[i] - others[0]) < 3.0 * s * np.sqrt(2.0):
            continue
        aside[i] = True
    return aside


def _unequal(
    group: Group,
    residual: Array,
    used: NDArray[np.bool_],
    loss: Array,
    stated_loss: float,
) -> tuple[Array, list[str]]:
    """Relative variances: in the knee against below it, then temperature by temperature.

    Replicates only: scatter within a flow cannot be mistaken for a curve that does not fit.
    The largest square of each side is cut down first, so that one odd coupon does not pass for
    noise.
    """
    variance = np.ones(len(residual))
    notes: list[str] = []
    deviation, dof = _within(group, used)
    knee = [
        ("where delivery falls off and above", used & (loss >= part * stated_loss))
        for part in _KNEE
    ]
    blocks = [
        (f"at {t:g} °C", used & (group.temperature == t))
        for t in group.temperatures
        if len(group.temperatures) > 1
    ]
    for splits, other in ((knee, "below it"), (blocks, "at the other temperatures")):
        for this, mask in sorted(
            splits, key=lambda s: _chance(deviation, dof, s[1], used & ~s[1], variance)[0]
        )[: 1 if splits is knee else None]:
            chance, ratio = _chance(deviation, dof, mask, used & ~mask, variance)
            if chance * (len(knee) + len(blocks)) > UNEQUAL_LEVEL:
                continue
            variance[mask] *= ratio
            notes.append(
                f"coupons {this} scatter {np.sqrt(ratio):.1f} times as much as {other}; "
                "readings were weighted accordingly."
            )
    return variance, notes


def _chance(
    deviation: Array, dof: Array, a: NDArray[np.bool_], b: NDArray[np.bool_], variance: Array
) -> tuple[float, float]:
    """Two-sided probability of the F test, and the ratio of variances a to b."""
    from scipy.special import fdtrc

    dof_a, dof_b = float(dof[a].sum()), float(dof[b].sum())
    if min(dof_a, dof_b) < 5:
        return 1.0, 1.0
    scaled = deviation / np.sqrt(variance)
    ratio = _spread(scaled[a], dof_a) / _spread(scaled[b], dof_b)
    f, d1, d2 = (ratio, dof_a, dof_b) if ratio > 1 else (1 / ratio, dof_b, dof_a)
    return 2.0 * float(fdtrc(d1, d2, f)), ratio


def _within(group: Group, used: NDArray[np.bool_]) -> tuple[Array, Array]:
    """Deviation of each reading from the mean of its replicates, and its degrees of freedom."""
    deviation, dof = np.zeros(len(used)), np.zeros(len(used))
    keys = np.stack([group.temperature, group.flow], axis=1)
    _, cell = np.unique(keys, axis=0, return_inverse=True)
    for k in range(int(cell.max()) + 1):
        at = np.flatnonzero((cell == k) & used)
        if len(at) > 1:
            deviation[at] = group.log_delivered[at] - group.log_delivered[at].mean()
            dof[at] = 1 - 1 / len(at)
    return deviation, dof


def _spread(deviation: Array, dof: float) -> float:
    """Variance of replicates, the largest square cut to what the rest would make likely."""
    squares = np.sort(deviation**2)
    rest = squares[:-1].sum() / max(dof - 1.0, 1.0)
    return float((squares[:-1].sum() + min(squares[-1], 6.0 * rest)) / dof) + 1e-12
