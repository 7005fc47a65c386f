"""Totals, layers and time line of a part of about a thousand moves.

Loops whose turns do not depend on each other are kept apart from the sums, for the compiler to do
several at a time.
"""

# numba types these functions from the arrays they are called with.

from __future__ import annotations

import numpy as np

from beadworth.core import part
from beadworth.motion import BEFORE, N_LAG, ROW, TOP, bits_of, float_of, run_length
from beadworth.replay import columns

# Rows behind those of the lag. What is asked for is in its row TOP.
LEVEL, PLACE, BOUND = (N_LAG + ROW * row for row in range(3))
N_SCRATCH = N_LAG + 3 * ROW
INFINITE = 0x7FF0000000000000  # the bits of inf


@part()
def mark(n, kind, length, time, laying):
    """Which moves lay something: drawing back, pushing forward again and wiping do not.

    Returns how many extrude apart from the print.
    """
    apart = 0
    for k in range(n):
        laying[k] = (kind[k] == columns.EXTRUDE) & (length[k] > 0.0) & (time[k] > 0.0)
        apart += 1 if kind[k] >= columns.PUSH else 0
    return apart


@part()
def add_apart(n, kind, line, filament, length, time, peak, section, totals):
    """Add up what is extruded apart from the print."""
    for k in range(n):
        if kind[k] >= columns.PUSH:
            if totals[columns.T_APART_MOVES] == 0.0:
                totals[columns.T_APART_LINE] = line[k]
            totals[columns.T_APART_MOVES] += 1.0
            totals[columns.T_APART_MM] += filament[k]
            totals[columns.T_APART_S] += time[k]
            path = length[k] if length[k] > 0.0 else filament[k]
            flow = section * filament[k] / path * peak[k]
            totals[columns.T_APART_MAX] = max(totals[columns.T_APART_MAX], flow)


@part()
def rates(n, filament, time, section, last, w):
    """Histogram place of the mean flow, and a bound of the flow; how many are over the level."""
    close = 0
    for k in range(n):
        mean = section * filament[k] / time[k]
        place = mean * (1.0 / columns.BIN_MM3_S)
        w[PLACE + k] = place if place < last else last
        bound, asked = w[BEFORE + k], w[TOP + k]
        bound = bound if bound > asked else asked
        bound = bound if bound > 0.0 else 0.0
        w[BOUND + k] = bound
        close += 1 if bound > w[LEVEL + k] else 0
    return close


@part(fastmath={"reassoc"})  # sums in any order, several at a time
def part_sums(n, laying, filament, time, section, w):
    """Time, time laying, volume, highest flow, least ratio of level to flow, least level.

    Numbers from 0 up order as their bits do, and the compiler knows how to find the largest of
    several whole numbers at a time.
    """
    total, extruding, length, most, ratio, level = 0.0, 0.0, 0.0, 0, INFINITE, INFINITE
    for k in range(n):
        lays, flow = laying[k], w[TOP + k]  # the flow is 0 where nothing is laid
        total += time[k]
        extruding += time[k] if lays else 0.0
        length += filament[k] if lays else 0.0
        bits = bits_of(flow)
        most = bits if bits > most else most
        bits = bits_of(w[LEVEL + k] / flow)
        ratio = bits if bits < ratio else ratio
        bits = bits_of(w[LEVEL + k]) if lays else INFINITE
        level = bits if bits < level else level
    return total, extruding, section * length, float_of(most), float_of(ratio), float_of(level)


@part(fastmath={"reassoc"})
def sum_of(values, start, stop):
    """Sum of some elements."""
    total = 0.0
    for k in range(start, stop):
        total += values[k]
    return total


@part(fastmath={"reassoc"})
def laid_by(filament, laying, n):
    """Filament laid by n moves."""
    total = 0.0
    for k in range(n):
        total += filament[k] if laying[k] else 0.0
    return total


@part()
def add_up(
    n, laying, layer, condition, ceilings, fans, per, filament, time, z, section, totals, histogram,
    layers, series, state, w,
):  # fmt: skip
    """Add n moves to the totals, the layers, the conditions and the time line."""
    start = totals[columns.T_TIME]
    total, extruding, volume, most, ratio, level = part_sums(n, laying, filament, time, section, w)
    totals[columns.T_TIME] = start + total
    totals[columns.T_EXTRUDING] += extruding
    totals[columns.T_VOLUME] += volume
    totals[columns.T_MAX] = max(totals[columns.T_MAX], most)
    for k in range(n):
        if laying[k]:
            histogram[np.int64(w[PLACE + k])] += time[k]
    last, a = layers.shape[0] - 1, np.int64(0)  # a bare 0 compiles what it is handed to twice
    while a < n:  # runs of one layer and one condition
        b = a + min(run_length(layer[a:n]), run_length(condition[a:n]))
        if b - a < n:
            total, extruding, volume, most, ratio, level = part_sums(
                b - a, laying[a:], filament[a:], time[a:], section, w[a:]
            )
        row = min(layer[a] + 1, last)
        layers[row, columns.L_TIME] += total
        layers[row, columns.L_FAN] += total * fans[condition[a]]
        if extruding > 0.0:
            now = condition[a]
            per[now, columns.P_EXTRUDING] += extruding
            per[now, columns.P_VOLUME] += volume
            per[now, columns.P_MAX] = max(per[now, columns.P_MAX], most)
            layers[row, columns.L_EXTRUDING] += extruding
            layers[row, columns.L_VOLUME] += volume
            layers[row, columns.L_MAX] = max(layers[row, columns.L_MAX], most)
            layers[row, columns.L_LEAST] = min(
                layers[row, columns.L_LEAST], ratio / (1.0 + columns.SLACK)
            )
            k = b - 1
            while not laying[k]:
                k -= 1
            layers[row, columns.L_Z] = z[k]
            if start + total < state[columns.S_BIN_END]:
                put_bin(
                    state[columns.S_BIN_END], most, level / (1.0 + columns.SLACK), series, state
                )
            else:
                draw_all(start, a, b, laying, time, condition, ceilings, series, state, w)
        start += total
        a = b


@part()
def draw_all(now, a, b, laying, time, condition, ceilings, series, state, w):
    """Put the flows of moves a to b on the time line, one by one where they pass into a new bin."""
    end, most, level = state[columns.S_BIN_END], 0.0, np.inf
    for k in range(a, b):
        start, flow = now, w[TOP + k]
        now += time[k]
        if not laying[k]:
            continue
        if now < end:
            most = max(most, flow)
            level = min(level, w[LEVEL + k])
            continue
        if most > 0.0:
            put_bin(end, most, level / (1.0 + columns.SLACK), series, state)
        draw(series, state, start, time[k], flow, ceilings[condition[k]])
        end, most, level = state[columns.S_BIN_END], 0.0, np.inf
    if most > 0.0:
        put_bin(end, most, level / (1.0 + columns.SLACK), series, state)


@part()
def put_bin(end, flow, ceiling, series, state):
    """Put a flow into the bin of the time line that ends there."""
    b = np.int64(np.rint(end / state[columns.S_WIDTH])) - 1
    series[columns.C_FLOW, b] = max(series[columns.C_FLOW, b], flow)
    series[columns.C_CEILING, b] = min(series[columns.C_CEILING, b], ceiling)


@part()
def draw(series, state, start, duration, flow, ceiling):
    """Put a move's flow on the time line, whose bins double in width whenever it is full."""
    bins = series.shape[1]
    while (start + duration) / state[columns.S_WIDTH] >= bins:
        for b in range(bins // 2):
            series[columns.C_FLOW, b] = max(
                series[columns.C_FLOW, 2 * b], series[columns.C_FLOW, 2 * b + 1]
            )
            series[columns.C_CEILING, b] = min(
                series[columns.C_CEILING, 2 * b], series[columns.C_CEILING, 2 * b + 1]
            )
        series[columns.C_FLOW, bins // 2 :] = 0.0
        series[columns.C_CEILING, bins // 2 :] = np.inf
        state[columns.S_WIDTH] *= 2.0
    first = int(start / state[columns.S_WIDTH])
    last = int((start + duration) / state[columns.S_WIDTH])
    for b in range(first, last + 1):
        series[columns.C_FLOW, b] = max(series[columns.C_FLOW, b], flow)
        series[columns.C_CEILING, b] = min(series[columns.C_CEILING, b], ceiling)
    state[columns.S_BIN_END] = (last + 1) * state[columns.S_WIDTH]
