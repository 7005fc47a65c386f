"""Which coupons to add: one after another, then exchanged while that helps."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.reading.prospect import Prospect

Array = NDArray[np.float64]
Criterion = Literal["mean", "widest"]


def choose(worlds: list[Prospect], k: int, criterion: Criterion) -> list[tuple[int, int]]:
    """Greedy choice, then exchanges: (world, candidate) for each coupon."""
    picks: list[tuple[int, int]] = []
    for _ in range(k):
        picks.append(_best(worlds, picks, criterion)[1])
    for _ in range(3):
        changed = False
        for i in range(k):
            rest = picks[:i] + picks[i + 1 :]
            now = _value(worlds, updated(worlds, picks), criterion)
            value, pick = _best(worlds, rest, criterion)
            if value < now * (1 - 1e-6) and pick != picks[i]:
                picks = [*rest, pick]
                changed = True
        if not changed:
            break
    return sorted(picks)


def enough(worlds: list[Prospect], width_mm3_s: float, most: int, criterion: Criterion) -> int:
    """The fewest coupons, one after another, that should bring the criterion to a width."""
    ceilings = sum(w.targets for w in worlds)
    goal = width_mm3_s * (ceilings if criterion == "mean" else 1)
    picks: list[tuple[int, int]] = []
    while len(picks) < most:
        value, pick = _best(worlds, picks, criterion)
        picks.append(pick)
        if value <= goal:
            break
    return len(picks)


def updated(worlds: list[Prospect], picks: list[tuple[int, int]]) -> list[Array]:
    """Covariances once the picked coupons are in."""
    covariances = [w.covariance for w in worlds]
    for w, c in picks:
        covariance = covariances[w]
        j = worlds[w].targets + c
        column = covariance[:, j]
        covariances[w] = covariance - np.outer(column, column) / (column[j] + worlds[w].noise[c])
    return covariances


def _best(
    worlds: list[Prospect], picks: list[tuple[int, int]], criterion: Criterion
) -> tuple[float, tuple[int, int]]:
    """The one coupon more that lowers the criterion most."""
    covariances = updated(worlds, picks)
    variances = [np.diag(c)[: w.targets] for c, w in zip(covariances, worlds, strict=True)]
    best: tuple[float, tuple[int, int]] | None = None
    for i, (world, covariance) in enumerate(zip(worlds, covariances, strict=True)):
        n = world.targets
        spread = np.diag(covariance)[n:] + world.noise
        left = variances[i][:, None] - covariance[:n, n:] ** 2 / spread
        sds = np.sqrt(np.maximum(left, 0.0))
        other = np.concatenate(
            [np.sqrt(np.maximum(v, 0.0)) for j, v in enumerate(variances) if j != i]
            or [np.array([])]
        )
        if criterion == "mean":
            values = sds.sum(axis=0) + other.sum()
        else:
            values = np.maximum(sds.max(axis=0), other.max(initial=0.0))
            values = values + 1e-3 * (sds.sum(axis=0) + other.sum())  # ties: help the rest
        c = int(values.argmin())
        if best is None or values[c] < best[0]:
            best = (float(values[c]), (i, c))
    assert best is not None
    return best


def _value(worlds: list[Prospect], covariances: list[Array], criterion: Criterion) -> float:
    sds = np.concatenate(
        [
            np.sqrt(np.maximum(np.diag(c)[: w.targets], 0.0))
            for c, w in zip(covariances, worlds, strict=True)
        ]
    )
    return float(sds.sum() if criterion == "mean" else sds.max() + 1e-3 * sds.sum())
