"""A wave and its second harmonic fitted together: a part that is out of round makes both.

Judged one by one, each would count the other as noise, and where a wall holds few cycles neither is
square to the other. Fitted together, the second harmonic is what it takes from the data beside its
fundamental. It belongs to it only where it is the smaller: else it is a wave of its own.
"""

from __future__ import annotations

import numpy as np

from beadworth.cause.evidence import log_ratio
from beadworth.cause.profile import NEAR, Profile

SECOND = 0.4
"""Share of sources whose wave has a second harmonic; assumed."""
MOST_SECOND = 0.5
"""Its amplitude by that of its fundamental, at most; as slopes twice that. Assumed."""
LEFT = 1.8
"""Share of a wave's amplitude that a fit leaves, by cycles over the wall by which its length is off
(π ÷ √3: of a sine, small errors)."""
_LOST = 0.02
"""Of a direction of which the trend has eaten all but this share nothing is told."""


def with_second(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """Log evidence of a wave that may have a second harmonic, from that of each."""
    return np.asarray(first + np.logaddexp(np.log(1 - SECOND), np.log(SECOND) + second))


def steady_evidence(profile: Profile, beside: np.ndarray | None = None) -> np.ndarray:
    """Log evidence of steady waves at ``along_per_mm``, each with its second harmonic or without.

    Parameters
    ----------
    profile : Profile
    beside : array, optional
        Orthonormal whitened columns that are taken out before.
    """
    power = profile.steady_power(beside)
    n = profile.degrees(power)
    lobes, away = profile.side_lobes(power)
    alone = log_ratio(power / (1 + lobes), n)
    j = np.arange(power.size)
    j = j[2 * j + profile.twice < power.size]
    k2 = 2 * j + profile.twice
    joint, smaller = _joint(profile, j, k2, beside)
    # side lobes of the strongest wave are taken for neither; where one of the two is that wave,
    # only what a fit of a wrong length leaves of it has any
    left = np.minimum(1.0, (LEFT * np.minimum(away[j], away[k2])) ** 2)
    lower, higher = 1 + lobes[j] * left, 1 + lobes[k2] * left
    second_first = away[k2] <= NEAR
    first = np.where(second_first, joint - power[k2], power[j]) / lower
    second = np.where(second_first, power[k2], joint - power[j]) / higher
    logs = log_ratio(first, n[j]) + log_ratio(second, n[k2])
    out = alone + np.log(1 - SECOND)
    out[j] = np.logaddexp(out[j], np.where(smaller, np.log(SECOND) + logs, -np.inf))
    return np.asarray(out)


def _joint(
    profile: Profile, j: np.ndarray, k2: np.ndarray, beside: np.ndarray | None
) -> tuple[np.ndarray, np.ndarray]:
    """Power of wave and second harmonic together, and whether the second is the smaller."""
    basis = profile.steady
    columns = [basis.cos[:, j], basis.sin[:, j], basis.cos[:, k2], basis.sin[:, k2]]
    data = profile.data
    if beside is not None:
        data = data - beside @ (beside.T @ data)
        columns = [c - beside @ (beside.T @ c) for c in columns]
    gram = np.empty((j.size, 4, 4))
    for a in range(4):
        for b in range(a, 4):
            gram[:, a, b] = gram[:, b, a] = np.einsum("ij,ij->j", columns[a], columns[b])
    moments = np.stack([data @ c for c in columns], 1)
    sizes, axes = np.linalg.eigh(gram)
    along = np.einsum("pab,pa->pb", axes, moments)
    seen = sizes > _LOST * sizes[:, -1:]
    weights = np.where(seen, along / np.where(seen, sizes, 1.0), 0.0)
    fit = np.einsum("pab,pb->pa", axes, weights)
    power = np.maximum(np.sum(along * weights, 1) / 2, profile.steady_power(beside)[j])
    slopes = np.hypot(fit[:, 2], fit[:, 3]) / np.maximum(np.hypot(fit[:, 0], fit[:, 1]), 1e-12)
    return power, slopes <= 2 * MOST_SECOND
