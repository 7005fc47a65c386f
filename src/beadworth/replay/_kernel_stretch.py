"""Stretches over the ceiling: opened, grown, closed, and the worst of them kept."""

# mypy: disable-error-code="no-untyped-def,no-untyped-call,call-arg,var-annotated"
# numba types these functions from the arrays they are called with.

from __future__ import annotations

import numpy as np

from beadworth.core import part
from beadworth.replay import _columns as at


@part()
def note_over(
    m, start, duration, flow, is_over, ceiling, over, high, temperature, layer, line, length,
    x, y, z, tau, state, stretch, worst, counts,
):  # fmt: skip
    """Take a move over its ceiling, or with pressure left over it, into a stretch."""
    if is_over:
        if state[at.S_OPEN] > 0.0 and start - stretch[at.R_END] > at.GAP_LAGS * tau:
            close_stretch(tau, stretch, state, worst, counts)
        if state[at.S_OPEN] == 0.0:
            state[at.S_OPEN] = 1.0
            for column in range(at.N_STRETCH):  # slices would bring a second of compile
                stretch[column] = 0.0
            stretch[at.R_LINE], stretch[at.R_LAYER], stretch[at.R_START] = line[m], layer[m], start
            stretch[at.R_X], stretch[at.R_Y], stretch[at.R_Z] = x[m], y[m], z[m]
        stretch[at.R_LAST_LINE] = line[m]
        stretch[at.R_END] = start + duration
        stretch[at.R_ASKED] += duration
        stretch[at.R_LENGTH] += length[m]
        stretch[at.R_OVER] += over
        stretch[at.R_LAGGED] = max(stretch[at.R_LAGGED], high)
        ratio = flow / ceiling
        if ratio > stretch[at.R_RATIO]:
            stretch[at.R_RATIO], stretch[at.R_FLOW] = ratio, flow
            stretch[at.R_CEILING], stretch[at.R_TEMPERATURE] = ceiling, temperature
    elif state[at.S_OPEN] > 0.0 and start - stretch[at.R_END] <= at.GAP_LAGS * tau:
        stretch[at.R_OVER] += over  # the pressure takes a moment to fall
        stretch[at.R_LAGGED] = max(stretch[at.R_LAGGED], high)


@part()
def close_stretch(tau, stretch, state, worst, counts):
    """Count a stretch, and keep it where it is among the worst: by time over, then by ratio.

    ``worst`` is a heap with the least bad of those kept first.
    """
    state[at.S_OPEN] = 0.0
    counts[at.N_SUSTAINED if stretch[at.R_OVER] > tau else at.N_BURSTS] += 1
    kept, k = counts[at.N_KEPT], np.int64(0)
    if kept < worst.shape[0]:  # let it rise from the end
        counts[at.N_KEPT] += 1
        k = kept
        while k > 0 and is_worse(worst, (k - 1) // 2, stretch):
            copy_kept((k - 1) // 2, k, worst)
            k = (k - 1) // 2
    elif is_worse(worst, k, stretch):
        return
    else:  # let it sink from the front
        while 2 * k + 1 < kept:
            child = 2 * k + 1
            if child + 1 < kept and not is_worse(worst, child + 1, worst[child]):
                child += 1
            if is_worse(worst, child, stretch):
                break
            copy_kept(child, k, worst)
            k = child
    for column in range(at.N_STRETCH):  # slices would bring a second of compile
        worst[k, column] = stretch[column]


@part()
def is_worse(kept, row, stretch):
    """Whether a stretch kept is worse than another; of two alike the later one is."""
    if kept[row, at.R_OVER] != stretch[at.R_OVER]:
        return kept[row, at.R_OVER] > stretch[at.R_OVER]
    if kept[row, at.R_RATIO] != stretch[at.R_RATIO]:
        return kept[row, at.R_RATIO] > stretch[at.R_RATIO]
    return kept[row, at.R_LINE] > stretch[at.R_LINE]


@part()
def copy_kept(source, target, worst):
    """Copy one row of the heap over another."""
    for column in range(at.N_STRETCH):
        worst[target, column] = worst[source, column]
