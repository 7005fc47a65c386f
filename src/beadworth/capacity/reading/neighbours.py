"""One coupon against those of its own temperature and flow: no curve enters.

Coupons of one setting differ by their scatter and by the steps of the balance alone, however
sharp the knee they stand in. The scatter is that of all replicates of the rig and material on the
same side of the knee, pooled with what was known before any was weighed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.block import Scatter
from beadworth.core import display_step
from beadworth.trial import Reading, delivered_g_per_mm

Array = NDArray[np.float64]

ODD_LEVEL = 0.01
"""Chance that the loudest of good settings is cut down as one that may hold an odd coupon."""
LOUDER_LEVEL, QUIETER_LEVEL = 0.1, 0.005
"""Chances at which a side of the knee that scatters like the other is judged without it, as louder
and as quieter: a louder one must not be missed, a quieter one only loses power."""
COARSER = 2.0
"""Settings whose display counts for more than this many times the finest tell no scatter."""
KNEE = 0.01
"""Loss of the middle coupon from which a setting stands above the knee."""


@dataclass(frozen=True)
class Apart:
    """How far a coupon lies from others."""

    excess: float
    """Relative mass above their mean."""
    others: int
    p: float
    """Probability that a good coupon lies as far off."""
    who: tuple[str, ...]
    """Those others, where they have names."""


def setting(reading: Reading) -> tuple[float, float]:
    """Temperature and flow of a coupon."""
    return reading.temperature_c, reading.flow_mm3_s


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
    The difference to the mean of k others, over √(1 + 1/k)·√(s² + u²), is held against Student's t
    (two-sided). s² is that of :func:`scatter_beside`; u is the display's. For k = 1 this is
    √2·√(s² + u²).
    """
    from scipy.special import stdtr

    others = [r for r in known if r is not coupon]
    here = [r for r in others if setting(r) == setting(coupon)]
    if not here:
        return None
    y = np.log(delivered_g_per_mm([*here, coupon]))
    excess = float(y[-1] - y[:-1].mean())
    sd, dof = scatter_beside(others, coupon, here, scatter)
    away = abs(excess) / (np.sqrt(1 + 1 / len(here)) * sd)
    return Apart(
        float(np.expm1(excess)),
        len(here),
        2.0 * float(stdtr(dof, -away)),
        tuple(r.coupon for r in here if r.coupon),
    )


def scatter_beside(
    others: Sequence[Reading], coupon: Reading, beside: Sequence[Reading], scatter: Scatter
) -> tuple[float, float]:
    """Relative standard deviation of a coupon, its display's part in it, and degrees of freedom.

    Precision may go with the level (ISO 5725-2:2019, 7.5, from memory), and coupons above the knee
    often scatter more than those below. Squares of both sides of it are pooled with what was known
    before, unless an F test (:data:`LOUDER_LEVEL`, :data:`QUIETER_LEVEL`) tells the side of the
    coupon from the other: then the other is left out, and beside a louder side's own squares what
    was known before, too.

    Parameters
    ----------
    others : sequence of Reading
        All but the coupon.
    coupon : Reading
    beside : sequence of Reading
        Those it is held against.
    scatter : Scatter
    """
    from scipy.special import fdtrc

    step = display_step([r.mass_g for r in (*others, coupon)])
    settings = settings_of(others, step)
    lossy = settings.lossy
    side = bool(lossy[settings.place(coupon)]) if settings.place(coupon) >= 0 else False
    own, other = (settings.squares(lossy == at) for at in (side, not side))
    prior, before = scatter.worth * scatter.sd**2, scatter.worth
    if own[1] and other[1]:
        f = (own[0] / own[1] + 1e-12) / (other[0] / other[1] + 1e-12)
        larger = float(fdtrc(own[1], other[1], f))
        if larger < LOUDER_LEVEL:
            other, prior, before = (0.0, 0), 0.0, 0.0
        elif 1 - larger < QUIETER_LEVEL:
            other = (0.0, 0)
    dof = before + own[1] + other[1]
    shown = float(np.mean([rounding_u(r, step) ** 2 for r in (*beside, coupon)]))
    return float(np.sqrt((prior + own[0] + other[0]) / dof + shown)), float(dof)


@dataclass(frozen=True)
class Settings:
    """Coupons by temperature and flow."""

    at: Array
    """(settings, 2): temperature and flow."""
    count: NDArray[np.intp]
    square: Array
    """Sum of squares within each, of ln(g/mm), less what the display makes of it."""
    shown: Array
    """Mean square of the display's part."""
    middle: Array
    """Median ln(g/mm)."""

    def place(self, coupon: Reading) -> int:
        """Which setting a coupon belongs to; −1 for none."""
        (found,) = np.nonzero((self.at == setting(coupon)).all(axis=1))
        return int(found[0]) if found.size else -1

    @property
    def lossy(self) -> NDArray[np.bool_]:
        """Above the knee: the middle coupon lost more than :data:`KNEE`.

        Against the best setting of its temperature, by the coupons alone.
        """
        _, where = np.unique(self.at[:, 0], return_inverse=True)
        best = np.full(int(where.max(initial=-1)) + 1, -np.inf)
        np.maximum.at(best, where, self.middle)
        return np.asarray(self.middle < best[where] + np.log1p(-KNEE))

    def squares(self, of: NDArray[np.bool_]) -> tuple[float, int]:
        """Sum of squares of some settings, and how many are free.

        The loudest setting's are cut down to what an F test would seldom see beside the rest, since
        an odd coupon may stand in it.
        """
        from scipy.special import fdtri

        of = of & (self.count > 1)
        if not of.any():
            return 0.0, 0
        # where coupons are so light that the display hides what they scatter, nothing is learnt
        of = of & (self.shown <= COARSER**2 * self.shown[of].min())
        square, free = self.square[of].copy(), self.count[of] - 1
        if len(square) > 1:
            loud = int(np.argmax(square / free))
            spare = int(free.sum() - free[loud])
            rest = float(square.sum() - square[loud]) / spare
            usual = float(fdtri(free[loud], spare, 1.0 - ODD_LEVEL / len(square)))
            square[loud] = min(square[loud], usual * free[loud] * rest)
        return float(square.sum()), int(free.sum())


def settings_of(readings: Sequence[Reading], step_g: float) -> Settings:
    """Sort coupons by their temperature and flow."""
    keys = np.array([setting(r) for r in readings], dtype=np.float64).reshape(-1, 2)
    at, where = np.unique(keys, axis=0, return_inverse=True)
    where = where.reshape(-1)
    y = np.log(delivered_g_per_mm(readings)) if len(readings) else np.zeros(0)
    u2 = np.array([rounding_u(r, step_g) ** 2 for r in readings])
    count = np.bincount(where, minlength=len(at))
    mean, shown = (np.bincount(where, v, len(at)) / np.maximum(count, 1) for v in (y, u2))
    square = np.bincount(where, (y - mean[where]) ** 2, len(at)) - (count - 1) * shown
    ordered = y[np.lexsort((y, where))]
    first = np.cumsum(count) - count
    middle = 0.5 * (ordered[first + (count - 1) // 2] + ordered[first + count // 2])
    return Settings(at, count, np.maximum(square, 0.0), shown, middle)
