"""Flows of a temperature whose errors belong together: one covariance instead of a weight each."""

from __future__ import annotations

import math

import numpy as np

from beadworth.core import part


@part()
def lower_root(variance, shared, unshared, h, log_flow, within, begin, end, root):
    """Lower Cholesky factor of variance·shared + unshared·h·hᵀ·(1 − |Δ ln flow| ÷ within)₊.

    Of the flows from ``begin`` to ``end``, in the upper left of ``root``; returns ln of its
    determinant, or nan where there is none.
    """
    log_root = 0.0
    for i in range(end - begin):
        for j in range(i + 1):
            total = variance * shared[begin + i, j]
            apart = abs(log_flow[begin + i] - log_flow[begin + j])
            if apart < within:
                total += unshared * h[begin + i] * h[begin + j] * (1.0 - apart / within)
            for k in range(j):
                total -= root[i, k] * root[j, k]
            if i == j:
                if not total > 0.0:
                    return np.nan
                root[i, i] = math.sqrt(total)
                log_root += math.log(root[i, i])
            else:
                root[i, j] = total / root[j, j]
    return 2.0 * log_root


@part()
def whitened(root, values, begin, end, out):
    """``out`` = root⁻¹·values, for the flows from ``begin`` to ``end``."""
    for i in range(end - begin):
        total = values[begin + i]
        for k in range(i):
            total -= root[i, k] * out[begin + k]
        out[begin + i] = total / root[i, i]


@part()
def joint_misfit(variance, shared, unshared, z, h, log_flow, within, begin, end, root, work):
    """Twice what the log likelihood of one temperature lacks, its delivery integrated out.

    ``work`` (2, flows) and ``root`` (most flows, most flows) are written over.
    """
    log_det = lower_root(variance, shared, unshared, h, log_flow, within, begin, end, root)
    if not math.isfinite(log_det):
        return np.inf
    s0, s1, s2 = 0.0, 0.0, 0.0
    for i in range(end - begin):
        one, own = 1.0, z[begin + i]
        for k in range(i):
            one -= root[i, k] * work[0, begin + k]
            own -= root[i, k] * work[1, begin + k]
        one /= root[i, i]
        own /= root[i, i]
        work[0, begin + i], work[1, begin + i] = one, own
        s0 += one * one
        s1 += one * own
        s2 += own * own
    return s2 - s1 * s1 / s0 + log_det + math.log(s0)
