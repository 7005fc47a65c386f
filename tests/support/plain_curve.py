"""The loss curve in plain numpy: what the compiled kernels are held against."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from beadworth.capacity.model._kernel import (
    ALIKE,
    AT_ALIKE,
    AT_DRIFT,
    AT_SLOPE,
    AT_STEPS,
    AT_WIDTHS,
    FAR_SLOPE,
    FLATTEST,
    HIGHEST_LOG,
    MOST_DRIFT,
    SD_ALIKE,
    SD_SLOPE,
    SD_WIDTH,
    SLOPE,
    STEEPEST,
)
from beadworth.capacity.model.curve import MIDDLE, CurveModel

Array = NDArray[np.float64]


def plain_loss_exponent(model: CurveModel, row: Array, block: int, flow_mm3_s: Array) -> Array:
    """What the kernels compute, in plain numpy, for one row: −ln f at some flows of a block."""
    grid, prior, at = model.grid, model.prior, model.at
    step = row[at[AT_STEPS] : at[AT_ALIKE]]
    slope = np.empty(grid.shape[1])
    slope[MIDDLE] = np.clip(prior[SLOPE] + prior[SD_SLOPE] * row[at[AT_SLOPE]], -8, 5)
    drift = prior[MOST_DRIFT] * ndtr(row[at[AT_DRIFT]])
    for j in range(MIDDLE - 1, -1, -1):
        slope[j] = slope[j + 1] - drift * grid[1, j] + grid[2, j] * step[j]
    for j in range(MIDDLE, grid.shape[1] - 1):
        slope[j + 1] = (
            prior[FAR_SLOPE] + (slope[j] - prior[FAR_SLOPE]) * grid[3, j] + grid[4, j] * step[j]
        )
    e = grid[0] - np.clip(slope, FLATTEST, STEEPEST)
    rise = np.diff(e)
    rise = np.where(np.abs(rise) < 1e-6, 1e-6, rise)
    length = grid[1, :-1] * np.exp(e[:-1]) * np.expm1(rise) / rise
    u = np.concatenate([[0.0], np.cumsum(length)])
    u -= u[MIDDLE]
    x = (np.log(flow_mm3_s) - row[block]) * plain_widths(model, row)[block]
    j = np.clip(np.searchsorted(u, x, side="right") - 1, 0, len(u) - 2)
    k = rise[j] / grid[1, j]
    grown = np.maximum(k * (x - u[j]) * np.exp(-e[j]), -1 + 1e-12)
    return np.asarray(np.exp(np.minimum(grid[0, j] + np.log1p(grown) / k, HIGHEST_LOG)))


def plain_widths(model: CurveModel, row: Array) -> Array:
    """Widths of the blocks in plain numpy."""
    at, prior, n = model.at, model.prior, model.blocks
    alike = 1 - (prior[ALIKE] + prior[SD_ALIKE] * row[at[AT_ALIKE]])
    own = row[at[AT_WIDTHS] : at[AT_WIDTHS] + n]
    return np.asarray(np.exp(alike * (row[:n] - row[:n].mean()) + prior[SD_WIDTH] * own))
