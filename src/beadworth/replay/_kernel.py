"""Compiled accounting: one pass over planned moves into totals, layers, a time line, stretches.

A part of about a thousand moves is taken through all steps while it lies in the nearest cache:
the pressure lag and the time lost (kernels of ``motion``), rates, and the sums. Loops whose
turns do not depend on each other are kept apart from the sums, for the compiler to vectorise.
"""

# mypy: disable-error-code="call-arg,var-annotated"
# numba types these functions from the arrays they are called with.

from __future__ import annotations

import numpy as np

from beadworth.compiled import kernel, part
from beadworth.motion._kernel import BLOCK, plan_block
from beadworth.motion._kernel_lag import (
    BEFORE,
    N_LAG,
    ROW,
    TOP,
    bits_of,
    float_of,
    flow_per_speed,
    follow,
    over_level,
    responses,
    waited,
)
from beadworth.motion._kernel_limits import N_SCRATCH as N_PLAN_SCRATCH
from beadworth.motion._kernel_limits import run_length
from beadworth.motion._kernel_lost import N_LOST, add_lost, split_times, take_lost
from beadworth.motion._layout import PART
from beadworth.replay import _layout as at

# Rows behind those of the lag. What is asked for is in its row TOP.
LEVEL, PLACE, BOUND = (N_LAG + ROW * row for row in range(3))
N_SCRATCH = N_LAG + 3 * ROW
INFINITE = 0x7FF0000000000000  # the bits of inf


@kernel()
def account(
    planned, path, setting, inverses, arc_move, arcs, stops, look_ahead, ends, start2, start_cause,
    before, timing, codes, kind, layer, line, condition, ceilings, temperatures, wait_at, wait_s,
    section, tau, totals, histogram, layers, series, state, stretch, lost, worst, counts,
):  # fmt: skip
    """Take moves into the account, planning them block by block where they are not yet.

    Parameters
    ----------
    planned : bool
        The moves are planned; ``timing`` and ``codes`` hold how.
    path … before
        As :func:`beadworth.motion._kernel.plan_moves` takes them. ``ends`` also lets the waits
        behind the last move count.
    timing, codes : tuples of float64 and uint8 arrays
        Junction speed, top, peak, acceleration, time; cause per junction and of the top speed.
    kind, layer, line, condition : arrays of one value per move
        ``condition`` is the row of ``ceilings`` (mm³/s, inf where none is known) and
        ``temperatures``.
    wait_at, wait_s : int64 and float64 arrays
        Moves before which the machine waits, sorted, and how long.
    section : float, mm²
    tau : float, s
        Time constant of the melt pressure.
    totals, histogram, layers, series, state, stretch, lost, worst, counts : arrays of ``_layout``
        Carried from call to call.

    Returns
    -------
    tuple
        As ``plan_moves``: final moves, squared speed after them, cause, -1 or a move at fault.
    """
    x0, y0, z0, x1, y1, z1, filament, feeds, lengths = path
    speed, top, peak, acc, time = timing
    causes, held = codes
    n_moves, n_waits, wait = feeds.size, wait_at.size, 0
    size = 0 if planned else max(BLOCK, 4 * look_ahead)
    cap, reach, cause = np.empty(size + 1), np.empty(size + 1), np.empty(size + 1, np.uint8)
    if not planned:
        speed, causes = np.empty(size + 1), np.empty(size + 1, np.uint8)
        top, peak, acc, time = np.empty(size), np.empty(size), np.empty(size), np.empty(size)
        held = np.empty(size, np.uint8)
    laying, w, u = np.empty(PART, np.bool_), np.empty(N_SCRATCH), np.zeros(N_LOST)
    v = np.zeros(N_PLAN_SCRATCH)
    lo, v2, why, q = np.int64(0), start2, start_cause, state[at.S_FLOW]
    while lo < n_moves:
        end = n_moves if planned else min(lo + size, n_moves)
        done = n_moves
        if not planned:
            done = plan_block(
                lo, x0, y0, z0, x1, y1, z1, filament, feeds, lengths, setting, inverses, arc_move,
                arcs, stops, look_ahead, ends, v2, why, before + lo, cap, reach, cause, speed,
                causes, top, peak, acc, time, held, v,
            )  # fmt: skip
            if done < 0:
                return lo, v2, why, -1 - done
            if done > 0 or end == n_moves:
                v2, why = cap[done], causes[done]
        a = lo
        while a < lo + done:  # a part without a wait in it
            while wait < n_waits and wait_at[wait] <= a:
                q = waited(q, wait_s[wait], tau)
                wait += 1
            n = min(PART, lo + done - a)
            if wait < n_waits:
                n = min(n, wait_at[wait] - a)
            b = a - lo
            q = take_part(
                n, kind[a:], layer[a:], line[a:], condition[a:], ceilings, temperatures,
                filament[a:], feeds[a:], lengths[a:], x1[a:], y1[a:], z1[a:], speed[b:], top[b:],
                peak[b:], acc[b:], time[b:], causes[b:], held[b:], section, tau, q,
                totals, histogram, layers, series, state, stretch, worst, counts, laying, w, u,
            )  # fmt: skip
            a += n
        m = end - lo
        lo += done
        if end == n_moves:
            break
        if 2 * done < m:  # stopping takes longer than half a block: larger blocks
            size *= 2
            cap, reach = np.empty(size + 1), np.empty(size + 1)
            cause, causes = np.empty(size + 1, np.uint8), np.empty(size + 1, np.uint8)
            speed, held = np.empty(size + 1), np.empty(size, np.uint8)
            top, peak, acc, time = np.empty(size), np.empty(size), np.empty(size), np.empty(size)
    if ends:
        while wait < n_waits:
            q = waited(q, wait_s[wait], tau)
            wait += 1
    state[at.S_FLOW] = q
    take_lost(u, lost)
    return lo, v2, why, -1


@part()
def take_part(
    n, kind, layer, line, condition, ceilings, temperatures, filament, feeds, lengths, x, y, z,
    speed, top, peak, acc, time, causes, held, section, tau, q,
    totals, histogram, layers, series, state, stretch, worst, counts, laying, w, u,
):  # fmt: skip
    """Take n moves into the account; returns the flow out of the nozzle after them."""
    mark(n, kind, lengths, time, laying)
    responses(n, laying, filament, lengths, speed, peak, acc, time, section, tau, w)
    q = follow(n, q, w)
    for k in range(n):
        w[LEVEL + k] = ceilings[condition[k]] * (1.0 + at.SLACK)
    now, at_move = totals[at.T_TIME], np.int64(0)
    if rates(n, filament, time, section, histogram.size - 1.0, w):
        for k in range(n):
            if not (w[BOUND + k] > w[LEVEL + k] and laying[k]):
                continue
            now, at_move = now + sum_of(time, at_move, k), np.int64(k)
            flow, level = w[TOP + k], w[LEVEL + k]
            rate = flow_per_speed(True, filament[k], lengths[k], section)
            high, over = over_level(
                w[BEFORE + k], rate, speed[k], peak[k], speed[k + 1], acc[k], time[k], tau, level
            )
            if flow > level or over > 0.0:
                layers[min(layer[k] + 1, layers.shape[0] - 1), at.L_OVER] += over
                totals[at.T_OVER] += over
                note_over(
                    k, now, time[k], flow, flow > level, ceilings[condition[k]], over, high,
                    temperatures[condition[k]], layer, line, lengths, x, y, z, tau, totals, state,
                    stretch, worst, counts,
                )  # fmt: skip
    split_times(n, filament, feeds, lengths, speed, top, peak, acc, u)
    add_lost(n, causes, held, u)
    add_up(
        n, laying, layer, condition, ceilings, filament, time, z, section, totals, histogram,
        layers, series, state, w,
    )  # fmt: skip
    return q


@part()
def mark(n, kind, length, time, laying):
    """Which moves lay something: drawing back, pushing forward again and wiping do not."""
    for k in range(n):
        laying[k] = (kind[k] == at.EXTRUDE) & (length[k] > 0.0) & (time[k] > 0.0)


@part()
def rates(n, filament, time, section, last, w):
    """Histogram place of the mean flow, and a bound of the flow; how many are over the level."""
    close = 0
    for k in range(n):
        mean = section * filament[k] / time[k]
        place = mean * (1.0 / at.BIN_MM3_S)
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


@part()
def add_up(
    n, laying, layer, condition, ceilings, filament, time, z, section, totals, histogram, layers,
    series, state, w,
):  # fmt: skip
    """Add n moves to the totals, the layers and the time line."""
    start = totals[at.T_TIME]
    total, extruding, volume, most, ratio, level = part_sums(n, laying, filament, time, section, w)
    totals[at.T_TIME] = start + total
    totals[at.T_EXTRUDING] += extruding
    totals[at.T_VOLUME] += volume
    totals[at.T_MAX] = max(totals[at.T_MAX], most)
    for k in range(n):
        if laying[k]:
            histogram[np.int64(w[PLACE + k])] += time[k]
    last, a = layers.shape[0] - 1, np.int64(0)  # a bare 0 compiles what it is handed to twice
    while a < n:  # runs of one layer
        b = a + run_length(layer[a:n])
        if b - a < n:
            total, extruding, volume, most, ratio, level = part_sums(
                b - a, laying[a:], filament[a:], time[a:], section, w[a:]
            )
        row = min(layer[a] + 1, last)
        layers[row, at.L_TIME] += total
        if extruding > 0.0:
            layers[row, at.L_EXTRUDING] += extruding
            layers[row, at.L_VOLUME] += volume
            layers[row, at.L_MAX] = max(layers[row, at.L_MAX], most)
            layers[row, at.L_LEAST] = min(layers[row, at.L_LEAST], ratio / (1.0 + at.SLACK))
            k = b - 1
            while not laying[k]:
                k -= 1
            layers[row, at.L_Z] = z[k]
            if start + total < state[at.S_BIN_END]:
                put_bin(state[at.S_BIN_END], most, level / (1.0 + at.SLACK), series, state)
            else:
                draw_all(start, a, b, laying, time, condition, ceilings, series, state, w)
        start += total
        a = b


@part()
def draw_all(now, a, b, laying, time, condition, ceilings, series, state, w):
    """Put the flows of moves a to b on the time line, one by one where they pass into a new bin."""
    end, most, level = state[at.S_BIN_END], 0.0, np.inf
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
            put_bin(end, most, level / (1.0 + at.SLACK), series, state)
        draw(series, state, start, time[k], flow, ceilings[condition[k]])
        end, most, level = state[at.S_BIN_END], 0.0, np.inf
    if most > 0.0:
        put_bin(end, most, level / (1.0 + at.SLACK), series, state)


@part()
def put_bin(end, flow, ceiling, series, state):
    """Put a flow into the bin of the time line that ends there."""
    b = np.int64(np.rint(end / state[at.S_WIDTH])) - 1
    series[at.C_FLOW, b] = max(series[at.C_FLOW, b], flow)
    series[at.C_CEILING, b] = min(series[at.C_CEILING, b], ceiling)


@part()
def draw(series, state, start, duration, flow, ceiling):
    """Put a move's flow on the time line, whose bins double in width whenever it is full."""
    bins = series.shape[1]
    while (start + duration) / state[at.S_WIDTH] >= bins:
        for b in range(bins // 2):
            series[at.C_FLOW, b] = max(series[at.C_FLOW, 2 * b], series[at.C_FLOW, 2 * b + 1])
            series[at.C_CEILING, b] = min(
                series[at.C_CEILING, 2 * b], series[at.C_CEILING, 2 * b + 1]
            )
        series[at.C_FLOW, bins // 2 :] = 0.0
        series[at.C_CEILING, bins // 2 :] = np.inf
        state[at.S_WIDTH] *= 2.0
    first = int(start / state[at.S_WIDTH])
    last = int((start + duration) / state[at.S_WIDTH])
    for b in range(first, last + 1):
        series[at.C_FLOW, b] = max(series[at.C_FLOW, b], flow)
        series[at.C_CEILING, b] = min(series[at.C_CEILING, b], ceiling)
    state[at.S_BIN_END] = (last + 1) * state[at.S_WIDTH]


@part()
def note_over(
    m, start, duration, flow, is_over, ceiling, over, high, temperature, layer, line, length,
    x, y, z, tau, totals, state, stretch, worst, counts,
):  # fmt: skip
    """Take a move over its ceiling, or with pressure left over it, into a stretch."""
    if is_over:
        totals[at.T_ASKED_OVER] += duration
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


@kernel()
def end_stretch(tau, stretch, state, worst, counts):
    """Close a stretch that runs to the end of the print."""
    if state[at.S_OPEN] > 0.0:
        close_stretch(tau, stretch, state, worst, counts)


@kernel()
def slow_to(filament, length, peak, feed, ceiling, section, kind, wanted):
    """Feed each move needs to stay under its ceiling, in ``wanted``; the count that change.

    A move is left alone where the speed it reaches keeps it under already.
    """
    changed = 0
    for m in range(kind.size):
        wanted[m] = feed[m]
        if kind[m] == at.EXTRUDE and length[m] > 0.0 and filament[m] > 0.0:
            top = ceiling[m] * length[m] / (section * filament[m])
            if peak[m] > top and top < feed[m]:
                wanted[m] = top
                changed += 1
    return changed
