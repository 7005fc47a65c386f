"""Coupons alone at their flow that are out of line: each is left out in turn.

A lone coupon pulls the curve towards itself, so its own residual says little: at the lowest flow a
light one passes for the beginning of the loss, and good coupons seem too heavy. What tells is how
much better a curve passes all others once it is left out.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.curve import USUAL_UNSHARED, CurveModel, curve_model
from beadworth.capacity.model.prepare import Group
from beadworth.capacity.model.robust import LARGEST_SHARE, OUT_OF_LINE_LEVEL
from beadworth.capacity.model.starts import Mode, likeliest, modes

Array = NDArray[np.float64]

SUSPECT = 2.1
"""A misfit of so many standard deviations anywhere starts the search: of a coupon on which the
curve hangs by two thirds, that is as far as the test needs."""
FEWEST_FLOWS = 4
"""Of a temperature, the references' included, that must be left."""


def lone_odd(group: Group, loss: float, weight: Array) -> NDArray[np.bool_]:
    """Lone coupons to be set aside, the clearest first.

    Parameters
    ----------
    group : Group
    loss : float
        Stated loss of the ceiling.
    weight : array (readings,)
        0 for readings that do not enter the curve.

    Notes
    -----
    Leaving one reading out of a least-squares fit lowers its sum of squares by the square of its
    externally studentised residual, in units of the variance that is left (Cook and Weisberg,
    Residuals and Influence in Regression, 1982, 2.2.2, from memory). It is held against Student's
    t at 1 % ÷ number of coupons.
    """
    from scipy.special import stdtr

    aside = np.zeros(len(weight), dtype=np.bool_)
    alone = _alone(group, weight) & ~group.joint
    if not alone.any():
        return aside
    left = weight.copy()
    model, best = _best(group, loss, left)
    while True:
        n = int((left > 0).sum())
        dof = n - (2 * len(group.temperatures) + 2) - 1
        if dof < 5 or aside.sum() + 1 > LARGEST_SHARE * n:
            return aside
        tried = _suspects(group, model, best, left, alone & ~aside)
        if not tried:
            return aside
        without = {i: _best(group, loss, _but(left, i)) for i in tried}
        odd = min(without, key=lambda i: without[i][1].sum_squares)
        rest = without[odd][1].sum_squares
        dropped = best.sum_squares - rest
        known = group.scatter.worth
        variance = (rest + known) / (dof + known)
        t = np.sqrt(max(dropped, 0.0) / max(variance, 1e-12))
        if 2.0 * float(stdtr(dof + known, -t)) * n > OUT_OF_LINE_LEVEL:
            return aside
        aside[odd] = True
        left = _but(left, odd)
        model, best = without[odd]


def _best(group: Group, loss: float, weight: Array) -> tuple[CurveModel, Mode]:
    model = curve_model(group.blocks(weight), loss, group.scatter)
    return model, modes(model)[0]


def _alone(group: Group, weight: Array) -> NDArray[np.bool_]:
    """Readings that enter the curve and have no other at their temperature and flow."""
    alone = np.zeros(len(weight), dtype=np.bool_)
    for celsius in group.temperatures:
        at = group.members(celsius)
        at = at[weight[at] > 0]
        _, place, count = np.unique(group.flow[at], return_inverse=True, return_counts=True)
        alone[at] = count[place] == 1
    return alone


def _but(weight: Array, index: int) -> Array:
    left = weight.copy()
    left[index] = 0.0
    return left


def _suspects(
    group: Group, model: CurveModel, best: Mode, weight: Array, alone: NDArray[np.bool_]
) -> list[int]:
    """Lone readings worth leaving out: those of the temperature that fits worst, and any far off.

    Empty where nothing is far off.
    """
    fitted, lost = likeliest(group, model, best, weight)
    sd = np.hypot(group.scatter.sd, USUAL_UNSHARED * -np.log1p(-lost))
    entered = (weight > 0) & np.isfinite(fitted)
    off = np.where(entered, np.abs(group.log_delivered - fitted) / sd, 0.0)
    if off.max() < SUSPECT:
        return []
    worst = group.temperature[int(off.argmax())]
    found = alone & ((off > SUSPECT) | (group.temperature == worst))
    return [int(i) for i in np.flatnonzero(found) if _flows_left(group, weight, int(i))]


def _flows_left(group: Group, weight: Array, index: int) -> bool:
    same = (group.temperature == group.temperature[index]) & (weight > 0)
    same[index] = False
    return len(np.unique(group.flow[same])) >= FEWEST_FLOWS
