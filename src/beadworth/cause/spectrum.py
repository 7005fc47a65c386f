"""The two-dimensional spectrum of a wall, each spot in units of the noise floor there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from beadworth.cause.evidence import SLOW_DEGREES, log_ratio
from beadworth.cause.floor import fit_log_floor, red_design
from beadworth.cause.wall import Matrix

HIGHEST_PER_MM = 2.2
"""Cycles/mm up to which a wall is read: a bead as wide as 0.4 mm hides what is shorter (common
practice, no source)."""
PAD_ALONG, PAD_UP = 4, 4
"""Spots for each independent one."""
SHARED = 1.3
"""Rows nearer to kz = 0 than this, in cycles over the height, hold what all layers share: the
profile says more of them, here they are empty."""
TREND = 2.5
"""Slow waves of fewer cycles over the height went with the trend: nothing is said of them."""
SLOW = 3.0
"""Columns with fewer cycles over the wall have a floor of their own each."""
FEW_LAYERS = 100
"""Of a wall with fewer such a floor is hardly more than a guess: it has one value a layer. Chosen
on simulated walls."""


@dataclass(frozen=True)
class Spectrum:
    """Power over floor at kx ≥ 0 (columns, cycles/mm) and kz in 0 … 1 (rows, cycles/layer)."""

    power: np.ndarray
    along_per_mm: np.ndarray
    up_per_layer: np.ndarray
    width_mm: float
    layers: int
    evidence: np.ndarray
    """Log evidence of a wave at each spot."""
    amplitude_per_root: np.ndarray
    """Amplitude of a wave of power S is this × √S, in the units of the matrix."""

    def rows(self, kz: np.ndarray) -> np.ndarray:
        """Nearest row of each kz (cycles/layer, whole cycles unseen)."""
        n = self.up_per_layer.size
        return np.asarray(np.rint(np.mod(kz, 1.0) * n).astype(int) % n)

    def columns(self, kx: np.ndarray) -> np.ndarray:
        """Nearest column of each kx (cycles/mm); one too many where it is out of reach."""
        nearest = np.rint(kx / self.along_per_mm[1]).astype(int)
        return np.asarray(np.minimum(nearest, self.along_per_mm.size))

    def log_evidence(self, kx: np.ndarray, kz: np.ndarray) -> np.ndarray:
        """Log evidence at spots; 0 beyond the shortest wave that a wall shows."""
        i = self.columns(kx)
        inside = i < self.along_per_mm.size
        return np.where(inside, self.evidence[self.rows(kz), np.where(inside, i, 0)], 0.0)


def spectrum(matrix: Matrix) -> Spectrum:
    """Spectrum of a wall over its floor.

    The floor is smooth in log kx and in cos(2π·kz), with a part of its own near kz = 0 (what all
    layers share). Columns of less than :data:`SLOW` cycles take a floor each: they hold what whole
    layers differ by.
    """
    from scipy.fft import fft, next_fast_len, rfft

    values = matrix.values - np.mean(matrix.values)
    nk, nj = values.shape
    nx, nz = next_fast_len(PAD_ALONG * nj, real=True), next_fast_len(PAD_UP * nk)
    top = int(HIGHEST_PER_MM * matrix.step_mm * nx) + 1
    kx = np.arange(top) / (nx * matrix.step_mm)
    kz = np.arange(nz) / nz
    slow = int(np.searchsorted(kx, SLOW / matrix.width_mm))
    line = np.polynomial.legendre.legvander(np.linspace(-1, 1, nj), 1)
    level_rows = values - values @ np.linalg.pinv(line).T @ line.T
    stand = np.polynomial.legendre.legvander(np.linspace(-1, 1, nk), 1)
    level_rows -= stand @ (np.linalg.pinv(stand) @ level_rows)  # else what is shared leaks
    whole, flat, up = np.hanning(nj + 2)[1:-1], _flat_top(nj), _flat_top(nk)
    along = rfft(level_rows * flat, nx, axis=1)[:, :top]
    along[:, :slow] = rfft(values * whole, nx, axis=1)[:, :slow]
    power = np.abs(fft(along * up[:, None], nz, axis=0)) ** 2
    floor = _floor(power, kx, kz, nk, matrix.width_mm)
    over = power / floor
    away = np.minimum(kz, 1 - kz)
    over[np.ix_(away < TREND / nk, np.arange(top) < slow)] = np.nan
    over[away < SHARED / nk] = np.nan
    if matrix.blind is not None:
        over[_spots(matrix.blind, kx, nz)] = np.nan
    # a wave of amplitude A gives |F|² = (A/2·Σwx·Σwz)²
    weight = np.where(np.arange(top) < slow, whole.sum(), flat.sum()) * up.sum()
    evidence = log_ratio(over)
    if nk < FEW_LAYERS:
        evidence[:, :slow] = log_ratio(over[:, :slow], SLOW_DEGREES)
    return Spectrum(over, kx, kz, matrix.width_mm, nk, evidence, np.sqrt(floor) * 2 / weight)


def _spots(blind: np.ndarray, kx: np.ndarray, rows: int) -> np.ndarray:
    """Where spots (cycles/mm, cycles/layer) and their neighbours lie in the spectrum."""
    from scipy.ndimage import maximum_filter

    flipped = np.where(blind[:, :1] < 0, -blind, blind)
    flipped = flipped[flipped[:, 0] < kx[-1]]
    marks = np.zeros((rows, kx.size), bool)
    marks[np.rint((flipped[:, 1] % 1.0) * rows).astype(int) % rows,
          np.rint(flipped[:, 0] / kx[1]).astype(int)] = True  # fmt: skip
    wide = np.concatenate([marks[-8:], marks, marks[:8]])
    return np.asarray(maximum_filter(wide, (11, 11), mode="constant")[8:-8])


def _flat_top(n: int) -> np.ndarray:
    """A window that is 1 but for cosine flanks over 30 % of its length."""
    from scipy.signal.windows import tukey

    return np.asarray(tukey(n + 2, 0.3)[1:-1])


def _floor(
    power: np.ndarray, kx: np.ndarray, kz: np.ndarray, layers: int, width_mm: float
) -> np.ndarray:
    from scipy.ndimage import median_filter

    slow = int(np.searchsorted(kx, SLOW / width_mm))
    away = np.minimum(kz, 1 - kz)
    apart = away > SHARED / layers
    rows = np.flatnonzero(apart)[::PAD_UP]
    columns = np.arange(slow, kx.size, PAD_ALONG)
    sample = power[np.ix_(rows, columns)]
    logs, ring = np.log(np.maximum(kx, kx[slow])), _ring(kz, layers)
    along = red_design(logs)
    pairs = [(i, j) for i in range(5) for j in range(5 if i == 0 else 3 if i < 3 else 2)]
    design = np.stack([(ring[rows, i][:, None] * along[columns, j]).ravel() for i, j in pairs], 1)
    fit = np.zeros((5, 5))
    fit[tuple(np.array(pairs).T)] = fit_log_floor(sample.ravel(), design)
    floor = np.exp(ring[:, :5] @ fit @ along.T)
    floor *= _local(power / floor, kx, kz, rows, columns, layers, width_mm)
    for i in range(slow):
        own = np.exp(ring @ fit_log_floor(power[rows, i], ring[rows]))
        middle = median_filter(np.log(power[:, i] / own + 1e-12), 21 * PAD_UP, mode="wrap")
        floor[:, i] = own * np.exp(middle) / np.log(2)
    return np.asarray(floor)


def _local(
    over: np.ndarray, kx: np.ndarray, kz: np.ndarray, rows: np.ndarray, columns: np.ndarray,
    layers: int, width_mm: float,
) -> np.ndarray:  # fmt: skip
    """What the smooth floor misses: medians of blocks, interpolated; a line does not move them."""
    from scipy.interpolate import RegularGridInterpolator

    up = max(6, layers // 14)
    edges = _edges(float(kx[columns[0]]), float(kx[-1]), 1 / width_mm)
    middle_z, middle_x = (np.arange(up) + 0.5) / up, np.sqrt(edges[1:] * edges[:-1])
    block_z = np.minimum((kz[rows] * up).astype(int), up - 1)
    block_x = np.clip(np.searchsorted(edges, kx[columns], side="right") - 1, 0, edges.size - 2)
    sample = over[np.ix_(rows, columns)]
    table = np.ones((up, middle_x.size))
    for i in range(up):
        for j in range(middle_x.size):
            block = sample[np.ix_(block_z == i, block_x == j)]
            if block.size >= 24:
                table[i, j] = np.median(block) / np.log(2)
    logs = np.log(np.vstack([table[-1], table, table[0]]))
    grid = np.concatenate([[middle_z[-1] - 1], middle_z, [middle_z[0] + 1]])
    look = RegularGridInterpolator((grid, np.log(middle_x)), logs)
    along = np.log(np.clip(kx, middle_x[0], middle_x[-1]))
    table_x = look(np.stack(np.meshgrid(grid, along, indexing="ij"), -1))
    below = np.clip(np.searchsorted(grid, kz, side="right") - 1, 0, grid.size - 2)
    g = ((kz - grid[below]) / (grid[below + 1] - grid[below]))[:, None]
    return np.asarray(np.exp(table_x[below] * (1 - g) + table_x[below + 1] * g))


def _edges(low: float, high: float, apart: float) -> np.ndarray:
    """Edges of blocks, a third of their place wide but holding three independent columns."""
    edges = [low]
    while edges[-1] < high:
        edges.append(max(1.4 * edges[-1], edges[-1] + 3.2 * apart))
    edges[-1] = max(high, edges[-1])
    return np.array(edges)


def _ring(kz: np.ndarray, layers: int) -> np.ndarray:
    """Smooth functions round the circle of kz, with a red part near 0."""
    c, s = np.cos(2 * np.pi * kz), np.sin(2 * np.pi * kz)
    red = np.log(np.minimum(kz, 1 - kz) + 1.0 / layers)
    return np.stack([np.ones_like(kz), c, c * c, s, s * c, red], -1)
