"""Stretches over the ceiling: opened, grown, closed, and the worst of them kept."""

# mypy: disable-error-code="no-untyped-def,no-untyped-call,call-arg,var-annotated"
# numba types these functions from the arrays they are called with.

from __future__ import annotations

import numpy as np

from beadworth.core import part
from beadworth.replay import columns


@part()
def note_over(
    m, start, duration, flow, is_over, ceiling, over, high, temperature, layer, line, length,
    x, y, z, tau, state, stretch, worst, counts,
):  # fmt: skip
    """Take a move over its ceiling, or with pressure left over it, into a stretch."""
    if is_over:
        if state[columns.S_OPEN] > 0.0 and start - stretch[columns.R_END] > columns.GAP_LAGS * tau:
            close_stretch(tau, stretch, state, worst, counts)
        if state[columns.S_OPEN] == 0.0:
            state[columns.S_OPEN] = 1.0
            for column in range(columns.N_STRETCH):  # slices would bring a second of compile
                stretch[column] = 0.0
            stretch[columns.R_LINE], stretch[columns.R_LAYER], stretch[columns.R_START] = (
                line[m],
                layer[m],
                start,
            )
            stretch[columns.R_X], stretch[columns.R_Y], stretch[columns.R_Z] = x[m], y[m], z[m]
        stretch[columns.R_LAST_LINE] = line[m]
        stretch[columns.R_END] = start + duration
        stretch[columns.R_ASKED] += duration
        stretch[columns.R_LENGTH] += length[m]
        stretch[columns.R_OVER] += over
        stretch[columns.R_LAGGED] = max(stretch[columns.R_LAGGED], high)
        ratio = flow / ceiling
        if ratio > stretch[columns.R_RATIO]:
            stretch[columns.R_RATIO], stretch[columns.R_FLOW] = ratio, flow
            stretch[columns.R_CEILING], stretch[columns.R_TEMPERATURE] = ceiling, temperature
    elif state[columns.S_OPEN] > 0.0 and start - stretch[columns.R_END] <= columns.GAP_LAGS * tau:
        stretch[columns.R_OVER] += over  # the pressure takes a moment to fall
        stretch[columns.R_LAGGED] = max(stretch[columns.R_LAGGED], high)


@part()
def close_stretch(tau, stretch, state, worst, counts):
    """Count a stretch, and keep it where it is among the worst: by time over, then by ratio.

    ``worst`` is a heap with the least bad of those kept first.
    """
    state[columns.S_OPEN] = 0.0
    counts[columns.N_SUSTAINED if stretch[columns.R_OVER] > tau else columns.N_BURSTS] += 1
    kept, k = counts[columns.N_WORST], np.int64(0)
    if kept < worst.shape[0]:  # let it rise from the end
        counts[columns.N_WORST] += 1
        k = kept
        while k > 0 and is_worse(worst, (k - 1) // 2, stretch):
            copy_row((k - 1) // 2, k, worst)
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
            copy_row(child, k, worst)
            k = child
    for column in range(columns.N_STRETCH):  # slices would bring a second of compile
        worst[k, column] = stretch[column]


@part()
def is_worse(kept, row, stretch):
    """Whether a stretch kept is worse than another; of two alike the later one is."""
    if kept[row, columns.R_OVER] != stretch[columns.R_OVER]:
        return kept[row, columns.R_OVER] > stretch[columns.R_OVER]
    if kept[row, columns.R_RATIO] != stretch[columns.R_RATIO]:
        return kept[row, columns.R_RATIO] > stretch[columns.R_RATIO]
    return kept[row, columns.R_LINE] > stretch[columns.R_LINE]


@part()
def copy_row(source, target, worst):
    """Copy one row of the heap over another."""
    for column in range(columns.N_STRETCH):
        worst[target, column] = worst[source, column]
