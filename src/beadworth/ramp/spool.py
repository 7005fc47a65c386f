"""Up and down, cycle and cycle: one delivery for each bin, with the covariance of them all.

Every crossing of a bin gives ln(delivered) = what the bin delivers ± what the delay left over
(+ upwards, − downwards) + the filament's own wander at that place of the spool + what hangs.
How far the filament wanders and over what length is not known: both, and how right the trace's own
noise is, are integrated over a grid.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.ramp.delivery import CycleDelivery

Array = NDArray[np.float64]

WANDERS: Array = np.geomspace(0.0005, 0.04, 10)
"""Relative standard deviations of a filament's section along the spool that are tried."""
LENGTHS_MM: Array = np.array([150.0, 500.0, 1600.0, 5000.0])
"""Lengths over which it stays alike that are tried."""
SCALES: Array = np.array([0.65, 0.8, 1.0, 1.25, 1.6])
"""Factors on the noise of the trace that are tried."""
USUAL_WANDER, WANDER_WITHIN = 0.006, 0.9
"""Middle and standard deviation of ln(wander) beforehand (common practice, no source)."""
LEFT_OVER = 0.03
"""What a delay leaves of a bin's delivery, up against down: free within a few per cent."""
LEAST_WORTH, MOST_WORTH = 4.0, 60.0


@dataclass(frozen=True)
class Deliveries:
    """Delivery of every bin of every temperature."""

    temperature_c: Array
    bin: NDArray[np.int64]
    log_mg_per_mm3: Array
    covariance: Array
    """Of ``log_mg_per_mm3``, all temperatures together."""
    left_over: Array
    """Half of ln(up) − ln(down) for each bin: what is not the delay's."""
    u_left_over: Array
    wander: float
    """Relative standard deviation of the filament along the spool: mean over what is likely."""
    length_mm: float
    scale: float
    worth: float
    """Readings that the size of ``covariance`` is known from."""


def combine_cycles(cycles: Sequence[CycleDelivery], section_mm2: float) -> Deliveries:
    """One delivery for each bin of each temperature.

    Parameters
    ----------
    cycles : sequence of CycleDelivery
        With both legs each.
    section_mm2 : float
        Of the filament: turns volumes into places on the spool.
    """
    own, begin, end, z, design, odd, cells = _laid_out(cycles, section_mm2)
    shapes = [_alike(begin, end, length) for length in LENGTHS_MM]
    return _mixed(z, own, design, odd, shapes, cells)


def _laid_out(
    cycles: Sequence[CycleDelivery], section_mm2: float
) -> tuple[Array, Array, Array, Array, Array, Array, list[tuple[float, int]]]:
    """All crossings: covariance, begin and end on the spool (mm), ln(delivered), which bin each
    crosses (crossings, bins), the same with its sign (up or down), and the bins.
    """
    z = np.concatenate([np.log(np.maximum(c.mg_per_mm3, 1e-3)) for c in cycles])
    own = _own_covariance(cycles)
    begin = np.concatenate([c.begin_mm3 for c in cycles]) / section_mm2
    end = np.concatenate([c.end_mm3 for c in cycles]) / section_mm2
    sign = np.concatenate([np.where(c.up, 1.0, -1.0) for c in cycles])
    keys = [(c.temperature_c, int(b)) for c in cycles for b in c.bin]
    cells = list(dict.fromkeys(sorted(keys, key=lambda k: (_order(cycles, k[0]), k[1]))))
    place = {key: i for i, key in enumerate(cells)}
    at = np.array([place[key] for key in keys])
    design = np.zeros((z.size, len(cells)))
    design[np.arange(z.size), at] = 1.0
    return own, begin, end, z, design, design * sign[:, None], cells


def expected_covariance(
    cycles: Sequence[CycleDelivery], section_mm2: float, wander: float, length_mm: float
) -> Array:
    """Covariance that :func:`combine_cycles` would end with, where noise and filament are known."""
    own, begin, end, _, design, odd, _ = _laid_out(cycles, section_mm2)
    v = own + wander**2 * _alike(begin, end, length_mm) + LEFT_OVER**2 * odd @ odd.T
    found = np.linalg.inv(design.T @ np.linalg.solve(v, design))
    return np.asarray(found, dtype=np.float64)


def _order(cycles: Sequence[CycleDelivery], temperature: float) -> int:
    return [c.temperature_c for c in cycles].index(temperature)


def _own_covariance(cycles: Sequence[CycleDelivery]) -> Array:
    size = sum(c.bin.size for c in cycles)
    out, k = np.zeros((size, size)), 0
    for c in cycles:
        n, level = c.bin.size, np.maximum(c.mg_per_mm3, 1e-3)
        out[k : k + n, k : k + n] = c.covariance / np.outer(level, level)
        k += n
    return out


def _alike(begin: Array, end: Array, length: float) -> Array:
    """Correlation of an Ornstein–Uhlenbeck process averaged over stretches that do not overlap.

    Two stretches a and b long whose middles lie D apart: exp(−D/λ)·s(a)·s(b) with
    s(a) = sinh(a/2λ)/(a/2λ); a stretch with itself: (2λ/a)·(1 − (λ/a)·(1 − exp(−a/λ))).
    """
    a = (end - begin) / length
    middle = (end + begin) / (2 * length)
    s = np.sinh(a / 2) / (a / 2)
    out = np.exp(-np.abs(middle[:, None] - middle[None, :])) * np.outer(s, s)
    np.fill_diagonal(out, 2 / a * (1 - (1 - np.exp(-a)) / a))
    return np.asarray(out)


def _mixed(
    z: Array,
    own: Array,
    design: Array,
    odd: Array,
    shapes: list[Array],
    cells: list[tuple[float, int]],
) -> Deliveries:
    from scipy.linalg import cho_factor, cho_solve

    left = LEFT_OVER**2 * odd @ odd.T
    logs, means, covariances, points, spares = [], [], [], [], []
    for scale in SCALES:
        for shape, length in zip(shapes, LENGTHS_MM, strict=True):
            for wander in WANDERS:
                v = scale**2 * own + wander**2 * shape + left
                factor = cho_factor(v, lower=True, check_finite=False)
                solved = cho_solve(factor, np.column_stack([design, z]), check_finite=False)
                inner = design.T @ solved
                c = np.linalg.inv(inner[:, :-1])
                mean = c @ inner[:, -1]
                off = z - design @ mean
                weighted = solved[:, -1] - solved[:, :-1] @ mean
                log = -float(np.log(np.diag(factor[0])).sum())
                log += 0.5 * float(np.linalg.slogdet(c)[1]) - 0.5 * float(off @ weighted)
                log -= 0.5 * (math.log(wander / USUAL_WANDER) / WANDER_WITHIN) ** 2
                log -= 0.5 * (math.log(scale) / 0.3) ** 2
                logs.append(log)
                means.append(mean)
                covariances.append(np.asarray(c, dtype=np.float64))
                points.append((wander, length, scale))
                spares.append(LEFT_OVER**2 * odd.T @ weighted)
    weight = np.exp(np.array(logs) - max(logs))
    weight /= weight.sum()
    mean = np.einsum("g,gi->i", weight, np.array(means))
    apart = np.array(means) - mean
    covariance = np.einsum("g,gij->ij", weight, np.array(covariances))
    covariance += np.einsum("g,gi,gj->ij", weight, apart, apart)
    size = 0.5 * np.array([math.log(_size(c)) for c in covariances])
    spread = float(weight @ (size - weight @ size) ** 2)
    middle = np.exp(weight @ np.log(np.array(points)))
    crossings = np.maximum(design.sum(axis=0), 1.0)
    return Deliveries(
        np.array([t for t, _ in cells]),
        np.array([b for _, b in cells]),
        mean,
        covariance,
        np.einsum("g,gi->i", weight, np.array(spares)),
        np.sqrt(np.diag(design.T @ own @ design)) / crossings,
        float(middle[0]),
        float(middle[1]),
        float(middle[2]),
        float(np.clip(0.5 / max(spread, 1e-9), LEAST_WORTH, MOST_WORTH)),
    )


def _size(covariance: Array) -> float:
    """Mean variance of what differs among bins: a level common to all is no loss."""
    n = len(covariance)
    return float((np.trace(covariance) - covariance.sum() / n) / (n - 1))
