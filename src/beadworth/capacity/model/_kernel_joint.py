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
def joint_misfits(
    variance, shared, unshared, z, h, log_flow, within, begin, end, roots, work, out
):  # fmt: skip
    """Twice what the log likelihood of one temperature lacks, its delivery integrated out.

    One for each of the three squares in ``unshared``, into ``out`` (3); inf where there is none.
    The same sums as in :func:`lower_root` and :func:`whitened`, the three side by side: each sum
    waits for its last term, and meanwhile the others go on. ``roots`` (most flows, most flows, 3)
    and ``work`` (6, flows) are written over.
    """
    count = end - begin
    alike, lost, log_q, seen = shared[begin:end], h[begin:end], log_flow[begin:end], z[begin:end]
    u0, u1, u2 = unshared[0], unshared[1], unshared[2]
    log0, log1, log2 = 0.0, 0.0, 0.0
    for i in range(count):
        row = roots[i]
        for j in range(i + 1):
            above = roots[j]
            c0 = variance * alike[i, j]
            c1, c2 = c0, c0
            apart = abs(log_q[i] - log_q[j])
            if apart < within:
                near = 1.0 - apart / within
                c0 += u0 * lost[i] * lost[j] * near
                c1 += u1 * lost[i] * lost[j] * near
                c2 += u2 * lost[i] * lost[j] * near
            for k in range(j):
                c0 -= row[k, 0] * above[k, 0]
                c1 -= row[k, 1] * above[k, 1]
                c2 -= row[k, 2] * above[k, 2]
            if i == j:
                row[i, 0], row[i, 1], row[i, 2] = _side(c0), _side(c1), _side(c2)
            else:
                row[j, 0] = c0 / above[j, 0]
                row[j, 1] = c1 / above[j, 1]
                row[j, 2] = c2 / above[j, 2]
        log0 += math.log(row[i, 0])
        log1 += math.log(row[i, 1])
        log2 += math.log(row[i, 2])
        one0, one1, one2 = 1.0, 1.0, 1.0
        own0, own1, own2 = seen[i], seen[i], seen[i]
        for k in range(i):
            one0 -= row[k, 0] * work[0, k]
            one1 -= row[k, 1] * work[1, k]
            one2 -= row[k, 2] * work[2, k]
            own0 -= row[k, 0] * work[3, k]
            own1 -= row[k, 1] * work[4, k]
            own2 -= row[k, 2] * work[5, k]
        work[0, i], work[3, i] = one0 / row[i, 0], own0 / row[i, 0]
        work[1, i], work[4, i] = one1 / row[i, 1], own1 / row[i, 1]
        work[2, i], work[5, i] = one2 / row[i, 2], own2 / row[i, 2]
    out[0] = _misfit(work[0], work[3], count, 2.0 * log0)
    out[1] = _misfit(work[1], work[4], count, 2.0 * log1)
    out[2] = _misfit(work[2], work[5], count, 2.0 * log2)


@part()
def _side(square):
    """Root of what is left on the diagonal, nan where nothing is."""
    return math.sqrt(square) if square > 0.0 else np.nan


@part()
def _misfit(one, own, count, log_det):
    s0, s1, s2 = 0.0, 0.0, 0.0
    for i in range(count):
        s0 += one[i] * one[i]
        s1 += one[i] * own[i]
        s2 += own[i] * own[i]
    lacks = s2 - s1 * s1 / s0 + log_det + math.log(s0)
    return lacks if math.isfinite(lacks) else np.inf
