"""Errors of readings that belong together: what a flow ramp weighed live hands on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.block import Block, Scatter
from beadworth.core import FitError, Problem
from beadworth.trial import JointErrors, Reading

Array = NDArray[np.float64]


def joint_covariance(
    readings: Sequence[Reading], joint: Sequence[JointErrors]
) -> tuple[Array, float, float] | None:
    """Covariance of the readings that belong together, their usual variance, what it is worth.

    Readings are matched by coupon. None where none of them belongs to any of ``joint``.

    Raises
    ------
    FitError
        A covariance whose size is not that of its coupons, or that cannot be one.
    """
    place = {r.coupon: i for i, r in enumerate(readings) if r.coupon}
    out = np.zeros((len(readings), len(readings)))
    worth = []
    for errors in joint:
        matrix = _checked(errors)
        pairs = [(k, place[c]) for k, c in enumerate(errors.coupons) if c in place]
        if pairs:
            inside, at = (list(p) for p in zip(*pairs, strict=True))
            out[np.ix_(at, at)] = matrix[np.ix_(inside, inside)]
            worth.append(errors.worth)
    if not worth:
        return None
    variance = np.diag(out)
    return out, float(variance[variance > 0].mean()), float(min(worth))


def _checked(errors: JointErrors) -> Array:
    matrix = np.asarray(errors.covariance, dtype=np.float64)
    n = len(errors.coupons)
    good = matrix.shape == (n, n) and bool(np.isfinite(matrix).all())
    if good and np.allclose(matrix, matrix.T, rtol=1e-6, atol=1e-12):
        matrix = 0.5 * (matrix + matrix.T)
        if float(np.linalg.eigvalsh(matrix).min()) > 0 and errors.worth > 0:
            return matrix
    raise FitError(
        Problem(
            f"the covariance of {n} coupons must be a symmetric positive table of {n} × {n}, worth "
            "more than nothing.",
            where="errors that belong together",
            remedy="Give it as the analysis of the trace wrote it.",
        )
    )


def scaled(
    covariance: Array, usual: float, worth: float, scatter: Scatter, coupons: bool
) -> tuple[Array, Scatter]:
    """The covariance over the variance of a coupon, and the scatter it is then scaled by.

    Where all readings belong together, that scatter is their own; else it is that of the coupons
    beside them.
    """
    own = scatter if coupons else Scatter(float(np.sqrt(usual)), worth)
    return covariance / own.sd**2, own


def joint_block(
    temperature_c: float,
    flow: Array,
    log_delivered: Array,
    weight: Array,
    shared: Array,
    alike: float,
) -> Block:
    """A block whose flows have one covariance.

    Parameters
    ----------
    temperature_c : float
    flow, log_delivered, weight : array (readings,)
        Of the readings used.
    shared : array (readings, readings)
        Covariances over the variance of a coupon; rows of coupons by themselves are 0.
    alike : float
        What coupons of one flow share of their variance.
    """
    flows, cell = np.unique(flow, return_inverse=True)
    single = np.diag(shared) == 0
    v = shared + np.diag(np.where(single, 1.0 / weight, 0.0))
    same = single[:, None] & single[None, :] & (cell[:, None] == cell[None, :])
    v = v + alike * same
    portion = 1.0 / np.diag(v)
    average = np.zeros((flows.size, flow.size))
    average[cell, np.arange(flow.size)] = portion
    average /= average.sum(axis=1, keepdims=True)
    mean = average @ log_delivered
    between = average @ v @ average.T
    w = np.where(single, weight, 0.0)
    own = np.bincount(cell, w * log_delivered) / np.maximum(np.bincount(cell, w), 1e-300)
    within = float(w @ np.where(single, log_delivered - own[cell], 0.0) ** 2)
    replicates = int(single.sum()) - int((np.bincount(cell, single) > 0).sum())
    return Block(
        temperature_c, flows, mean, 1.0 / np.diag(between), within, flows.size + replicates, between
    )
