"""How coupons of a rig scatter, below the knee and above it, as far as the others of a coupon tell.

Above the knee they may scatter more: a drive that slips does not slip by the same each time. So
scatter is a function of loss with unknowns, believed as far as replicates bear it out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.block import Scatter
from beadworth.trial import BY_ITSELF, GROWS, UNEVEN, Reading, delivered_g_per_mm

Array = NDArray[np.float64]

RANGE, STEPS = 2.8, 29
"""Scatter is looked for from e^−2.8 to e^2.8 times what was known before."""
TIMES, WITHIN = (1.5, 2.0, 3.0, 4.5), (0.02, 0.06)
"""Scatter may grow to so many times itself by so much of loss, in a straight line, and then no
more: any of them alike."""
KNEE = 0.01
"""Loss from which a setting may scatter by itself (:data:`~beadworth.trial.BY_ITSELF`)."""
ODD, ODD_SIZE = 0.005, 0.1
"""Chance that a setting holds an odd coupon, and how far off such a one is: its setting then says
little of the scatter."""


def setting(reading: Reading) -> tuple[float, float]:
    """Temperature and flow of a coupon."""
    return reading.temperature_c, reading.flow_mm3_s


def rounding_u(reading: Reading, step_g: float) -> float:
    """Standard uncertainty of the net mass from the display, relative.

    Half a step either way, rectangular (JCGM 100:2008, 4.3.7); twice where a tare was read too.
    """
    readings = 1 if reading.tare_g is None else 2
    return float(step_g * np.sqrt(readings / 12.0) / max(reading.net_g, 1e-9))


@dataclass(frozen=True)
class Beliefs:
    """Equally spaced values of what is unknown of the scatter, with their probabilities."""

    settings: Settings
    scatter: Array
    """(values,): below the knee."""
    growth: Array
    """(settings, shapes): times as much at each setting."""
    place: int
    """The setting of the coupon that is judged; −1 where it has no other."""
    weight: tuple[tuple[float, Array], ...]
    """Times as much at the setting of the coupon, and the weights (values, shapes) with that."""

    def tail(self, coupon: Reading, step_g: float, beside: Array, at: int) -> tuple[float, float]:
        """How far a coupon lies above the mean of others, and how seldom a good one lies so low.

        Parameters
        ----------
        coupon : Reading
        step_g : float
            Of the display.
        beside : array (settings,)
            How many coupons of each setting are averaged.
        at : int
            Setting whose scatter the coupon has.

        Returns
        -------
        excess : float
            ln of its mass over theirs.
        below : float
            Probability of less, of a good coupon whose expectation is theirs.
        """
        from scipy.special import ndtr

        share = beside / beside.sum()
        excess = float(np.log(delivered_g_per_mm([coupon])[0]) - share @ self.settings.mean)
        shown = rounding_u(coupon, step_g) ** 2
        below = total = 0.0
        for times, weight in self.weight:
            own = np.where(np.arange(len(share)) == self.place, times, 1.0)
            square = (self.growth * own[:, None]) ** 2
            # of a mean of k from a setting: share²/k of the variance of one
            part = np.divide(share**2, beside, out=np.zeros_like(share), where=beside > 0)
            relative = square[at] + part @ square
            variance = self.scatter[:, None] ** 2 * relative + shown + part @ self.settings.shown
            below += float((weight * ndtr(excess / np.sqrt(variance))).sum())
            total += float(weight.sum())
        return excess, below / total

    def sd(self, at: int) -> float:
        """Root of the mean variance of a coupon of a setting, the display left out."""
        square = self.scatter[:, None] ** 2 * self.growth[at] ** 2
        total = sum(float(weight.sum()) for _, weight in self.weight)
        mean = sum(
            float((weight * square).sum()) * (times**2 if at == self.place else 1.0)
            for times, weight in self.weight
        )
        return float(np.sqrt(mean / total))


@dataclass(frozen=True)
class Settings:
    """Coupons by temperature and flow."""

    at: Array
    """(settings, 2): temperature and flow, in order."""
    away2: Array
    """(settings, most of one): squares of ln(g/mm) less the mean of the setting, 0 for none."""
    count: NDArray[np.intp]
    mean: Array
    """Of ln(g/mm)."""
    shown: Array
    """Mean square of the display's part."""
    loss: Array
    """Of the middle coupons, no more at any flow than at a faster one, against the slowest."""

    def place(self, coupon: Reading) -> int:
        """Which setting a coupon belongs to; −1 for none."""
        (found,) = np.nonzero((self.at == setting(coupon)).all(axis=1))
        return int(found[0]) if found.size else -1


def settings_of(readings: Sequence[Reading], step_g: float) -> Settings:
    """Sort coupons by their temperature and flow; one at least."""
    keys = np.array([setting(r) for r in readings], dtype=np.float64)
    at, where = np.unique(keys, axis=0, return_inverse=True)
    where = where.reshape(-1)
    y = np.log(delivered_g_per_mm(readings))
    u2 = np.array([rounding_u(r, step_g) ** 2 for r in readings])
    count = np.bincount(where, minlength=len(at))
    mean, shown = (np.bincount(where, v, len(at)) / count for v in (y, u2))
    ordered = y[np.lexsort((y, where))]
    first = np.cumsum(count) - count
    middle = 0.5 * (ordered[first + (count - 1) // 2] + ordered[first + count // 2])
    loss = np.zeros(len(at))
    for celsius in np.unique(at[:, 0]):
        here = at[:, 0] == celsius
        falls = falling(middle[here], count[here].astype(np.float64))
        loss[here] = -np.expm1(falls - falls[0])
    away2 = np.zeros((len(at), int(count.max())))
    order = np.argsort(where, kind="stable")
    away2[where[order], np.arange(len(y)) - first[where[order]]] = (y - mean[where])[order] ** 2
    return Settings(at, away2, count, mean, shown, loss)


def falling(values: Array, weight: Array) -> Array:
    """The sequence nearest to some values that never rises (weighted least squares).

    By the min-max formula of isotonic regression (R. E. Barlow, D. J. Bartholomew, J. M. Bremner
    and H. D. Brunk, Statistical Inference under Order Restrictions, 1972, 1.4, from memory).
    """
    sums, weights = (np.concatenate([[0.0], np.cumsum(v)]) for v in (weight * values, weight))
    begin, end = np.arange(len(values))[:, None], np.arange(len(values))[None, :]
    after = end >= begin
    inside = np.where(after, weights[1:][None, :] - weights[:-1][:, None], 1.0)
    mean = np.where(after, (sums[1:][None, :] - sums[:-1][:, None]) / inside, -np.inf)
    most = np.maximum.accumulate(mean[:, ::-1], axis=1)[:, ::-1]
    return np.asarray(np.where(after, most, np.inf).min(axis=0))


def beliefs_of(
    others: Sequence[Reading], coupon: Reading, step_g: float, scatter: Scatter
) -> Beliefs:
    """What the others of a coupon tell of scatter.

    Parameters
    ----------
    others : sequence of Reading, one at least
        Of the rig and material, the coupon left out: it says nothing of what it is held to.
    coupon : Reading
    step_g : float
        Of the display.
    scatter : Scatter
        What was known before, as a scaled inverse χ² of ``worth`` degrees of freedom.

    Notes
    -----
    Each setting of n coupons multiplies in the density of its n − 1 differences, normal with
    variance (scatter·growth)² and the display's. With chance :data:`ODD` one of them is odd (any of
    the n alike), its distance normal with :data:`ODD_SIZE`. The setting of the coupon itself may
    scatter :data:`UNEVEN` times as much where it has lost something. Precision may go with the
    level: ISO 5725-2:2019, 7.5 (from memory).
    """
    settings = settings_of(others, step_g)
    place = settings.place(coupon)
    sd = scatter.sd * np.exp(np.linspace(-RANGE, RANGE, STEPS))
    shapes = [(1.0, 1.0), *((times, within) for times in TIMES for within in WITHIN)]
    times, within = np.array(shapes).T
    growth = 1.0 + (times - 1.0) * np.minimum(settings.loss[:, None] / within, 1.0)
    chance = np.full(len(shapes), GROWS / (len(shapes) - 1))
    chance[0] = 1.0 - GROWS
    known = scatter.worth * (-np.log(sd) - 0.5 * (scatter.sd / sd) ** 2)
    several = settings.count > 1
    other = np.flatnonzero(several & (np.arange(len(several)) != place))
    spread = sd[None, :, None] * growth[:, None, :]
    log_weight = known[:, None] + np.log(chance) + _density(settings, other, spread[other])
    may_differ = place >= 0 and settings.loss[place] > KNEE
    own = np.flatnonzero(several & (np.arange(len(several)) == place))
    times_itself = ((1.0, 1.0 - BY_ITSELF), (UNEVEN, BY_ITSELF)) if may_differ else ((1.0, 1.0),)
    layers = []
    for much, share in times_itself:
        said = _density(settings, own, much * spread[own], odd=not may_differ)
        layers.append((much, log_weight + said + np.log(share)))
    top = max(float(layer.max()) for _, layer in layers)
    return Beliefs(
        settings, sd, growth, place, tuple((much, np.exp(layer - top)) for much, layer in layers)
    )


def _density(
    settings: Settings, of: NDArray[np.intp], sd: Array, *, odd: bool = True
) -> Array | float:
    """Logarithm of the density of some settings' differences, for scatters (settings, …)."""
    if not of.size:
        return 0.0
    n = settings.count[of][:, None, None]
    variance = sd**2 + settings.shown[of][:, None, None]
    away = settings.away2[of]
    density = -0.5 * ((n - 1) * np.log(variance) + away.sum(axis=1)[:, None, None] / variance)
    if odd:
        # one more variance t² along the difference of one coupon to the others (Sherman, Morrison)
        of_one, t2 = (n - 1) / n, ODD_SIZE**2
        gain = 0.5 * t2 / (variance * (variance + t2 * of_one))
        grown = gain[:, None] * away[:, :, None, None]
        grown[np.arange(away.shape[1]) >= settings.count[of][:, None]] = -np.inf
        most = grown.max(axis=1)
        log_mean = most + np.log(np.exp(grown - most[:, None]).sum(axis=1) / n)
        ratio = log_mean - 0.5 * np.log1p(t2 * of_one / variance)
        density += np.logaddexp(np.log1p(-ODD), np.log(ODD) + ratio)
    return np.asarray(density.sum(axis=0))
