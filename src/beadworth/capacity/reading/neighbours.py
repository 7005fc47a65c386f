"""One coupon against those of its own temperature and flow: no curve enters.

Coupons of one setting differ by their scatter and by the steps of the balance alone, however
sharp the knee they stand in. The scatter is that of all replicates of the rig and material,
pooled with what was known before any was weighed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.block import Scatter
from beadworth.core import display_step
from beadworth.trial import Reading, delivered_g_per_mm

Array = NDArray[np.float64]

USUAL_EXCESS = 6.0
"""A setting whose variance is more than this many times that of the others is cut down: an odd
coupon may stand in it."""

COARSER = 2.0
"""Settings whose display counts for more than this many times the finest tell no scatter."""


@dataclass(frozen=True)
class Apart:
    """How far a coupon lies from the others of its setting."""

    excess: float
    """Relative mass above their mean."""
    others: int
    p: float
    """Two-sided probability that a good coupon lies as far off."""
    who: tuple[str, ...]
    """Coupons of the setting, where they have names."""


def rounding_u(reading: Reading, step_g: float) -> float:
    """Standard uncertainty of the net mass from the display, relative.

    Half a step either way, rectangular (JCGM 100:2008, 4.3.7); twice where a tare was read too.
    """
    readings = 1 if reading.tare_g is None else 2
    return float(step_g * np.sqrt(readings / 12.0) / max(reading.net_g, 1e-9))


def apart(known: Sequence[Reading], coupon: Reading, scatter: Scatter) -> Apart | None:
    """Hold a coupon against the others of its temperature and flow.

    Parameters
    ----------
    known : sequence of Reading
        Of the rig and material, all masses above 0; ``coupon`` itself is left out where it is one.
    coupon : Reading
    scatter : Scatter
        What is known of the scatter without them.

    Returns
    -------
    Apart or None
        None where no other coupon has its temperature and flow.

    Notes
    -----
    The difference to the mean of k others, over √(1 + 1/k)·√(s² + u²), is held against Student's t.
    s² is :func:`own_variance`; u is the display's. For k = 1 this is √2·√(s² + u²).
    """
    from scipy.special import stdtr

    others = [r for r in known if r is not coupon]
    here = [r for r in others if _setting(r) == _setting(coupon)]
    if not here:
        return None
    step = display_step([r.mass_g for r in (*others, coupon)])
    variance, dof = own_variance(others, scatter, step)
    y = np.log(delivered_g_per_mm([*here, coupon]))
    excess = float(y[-1] - y[:-1].mean())
    variance += float(np.mean([rounding_u(r, step) ** 2 for r in (*here, coupon)]))
    away = abs(excess) / np.sqrt((1 + 1 / len(here)) * variance)
    return Apart(
        float(np.expm1(excess)),
        len(here),
        2.0 * float(stdtr(dof, -away)),
        tuple(r.coupon for r in here if r.coupon),
    )


def farthest(known: Sequence[Reading]) -> Reading | None:
    """The coupon farthest from the middle of its setting; None where every one stands alone."""
    worst, found = 0.0, None
    for own in _settings(known):
        y = np.log(delivered_g_per_mm(own))
        away = np.abs(y - np.median(y)) * np.sqrt(1 - 1 / len(y))
        if float(away.max()) > worst:
            worst, found = float(away.max()), own[int(away.argmax())]
    return found


def own_variance(
    readings: Sequence[Reading], scatter: Scatter, step_g: float
) -> tuple[float, float]:
    """Relative variance of a coupon that is not the display's, and its degrees of freedom.

    Squares among replicates, less what the display makes of them, pooled with the prior, which
    counts as :attr:`Scatter.worth` squares of its size. The loudest setting's are cut to
    :data:`USUAL_EXCESS` times the variance of the rest, since an odd coupon may stand in it.
    """
    cells = [own for own in _settings(readings) if len(own) > 1]
    shown = [float(np.mean([rounding_u(r, step_g) ** 2 for r in own])) for own in cells]
    squares: list[float] = []
    free: list[int] = []
    for own, u2 in zip(cells, shown, strict=True):
        if u2 > COARSER**2 * min(shown):
            continue  # so light that the display hides what they scatter
        y = np.log(delivered_g_per_mm(own))
        free.append(len(own) - 1)
        squares.append(max(float(((y - y.mean()) ** 2).sum()) - free[-1] * u2, 0.0))
    prior, total = scatter.worth * scatter.sd**2, sum(free) + scatter.worth
    if not squares:
        return scatter.sd**2, total
    loud = int(np.argmax(np.array(squares) / np.array(free)))
    rest = (sum(squares) - squares[loud] + prior) / max(total - free[loud], 1.0)
    squares[loud] = min(squares[loud], USUAL_EXCESS * free[loud] * rest)
    return (prior + sum(squares)) / total, total


def _settings(readings: Sequence[Reading]) -> list[list[Reading]]:
    return [list(own) for _, own in groupby(sorted(readings, key=_setting), key=_setting)]


def _setting(reading: Reading) -> tuple[float, float]:
    return reading.temperature_c, reading.flow_mm3_s
