"""Stretches over the ceiling: opened, grown, closed, and the worst of them kept."""

# numba types these functions from the arrays they are called with.

from __future__ import annotations

import numpy as np

from beadworth.core import part
from beadworth.replay import columns


@part()
def draw_down(start, laid, duration, volume, ceiling, state):
    """One tank: molten stock below full, drawn by what is asked beyond the ceiling, refilled by
    what is asked below it; a move over the ceiling after all moves under it since the last one.
    """
    clock = start + state[columns.S_WAITED]
    drawn = state[columns.S_DRAWN]
    if drawn > 0.0:  # no move in between was over, so the stock only rose
        between = laid - state[columns.S_LAID] - ceiling * (clock - state[columns.S_CLOCK])
        drawn = max(0.0, drawn + min(between, 0.0))
    state[columns.S_DRAWN] = max(0.0, drawn + volume - ceiling * duration)
    state[columns.S_CLOCK], state[columns.S_LAID] = clock + duration, laid + volume


@part()
def note_over(
    m, start, duration, volume, flow, is_over, ceiling, over, high, temperature, layer, line,
    length, x, y, z, tau, state, stretch, worst, counts,
):  # fmt: skip
    """Take a move over its ceiling, or with pressure left over it, into a stretch."""
    clock = start + state[columns.S_WAITED]  # waits end a stretch as travel does
    if is_over:
        if state[columns.S_OPEN] > 0.0 and clock - stretch[columns.R_END] > columns.GAP_LAGS * tau:
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
        stretch[columns.R_END] = clock + duration
        stretch[columns.R_ASKED] += duration
        stretch[columns.R_BEYOND] += max(0.0, volume - ceiling * duration)
        stretch[columns.R_DRAWN] = max(stretch[columns.R_DRAWN], state[columns.S_DRAWN])
        stretch[columns.R_LENGTH] += length[m]
        stretch[columns.R_OVER] += over
        stretch[columns.R_LAGGED] = max(stretch[columns.R_LAGGED], high)
        share = flow / ceiling
        if share > stretch[columns.R_RATIO]:
            stretch[columns.R_RATIO], stretch[columns.R_FLOW] = share, flow
            stretch[columns.R_CEILING], stretch[columns.R_TEMPERATURE] = ceiling, temperature
    elif state[columns.S_OPEN] > 0.0 and clock - stretch[columns.R_END] <= columns.GAP_LAGS * tau:
        stretch[columns.R_OVER] += over  # the pressure takes a moment to fall
        stretch[columns.R_LAGGED] = max(stretch[columns.R_LAGGED], high)


@part()
def close_stretch(tau, stretch, state, worst, counts):
    """Count a stretch, and keep it where it is among the worst: by volume, time over, ratio.

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
    if kept[row, columns.R_BEYOND] != stretch[columns.R_BEYOND]:
        return kept[row, columns.R_BEYOND] > stretch[columns.R_BEYOND]
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
