"""The compiled tally: one pass over moves into totals, layers, a time line, stretches.

A part of about a thousand moves is taken through all steps while it lies in the nearest cache:
the pressure lag and the time lost (kernels of ``motion``), rates, and the sums.
"""

# numba types these functions from the arrays they are called with.

from __future__ import annotations

import numpy as np

from beadworth.core import entry, part
from beadworth.motion import (
    BEFORE,
    BLOCK,
    N_LOST,
    PART,
    TOP,
    add_cruise,
    add_lost,
    flow_per_speed,
    follow,
    over_level,
    plan_block,
    responses,
    run_length,
    split_times,
    take_lost,
    waited,
)
from beadworth.motion import N_SCRATCH as N_PLAN_SCRATCH
from beadworth.replay import columns
from beadworth.replay._kernel_stretch import close_stretch, draw_down, note_over
from beadworth.replay._kernel_sums import (
    BOUND,
    LEVEL,
    N_SCRATCH,
    add_apart,
    add_up,
    laid_by,
    mark,
    rates,
    sum_of,
)


@entry()
def tally_moves(  # noqa: PLR0912, PLR0915 - one loop, whose arrays stay in the nearest cache
    planned, counted, path, setting, inverses, arc_move, arcs, stops, look_ahead, ends, start2,
    start_cause, before, cruise, over_jerk, timing, codes, kind, layer, line, condition, ceilings,
    temperatures, fans, per,
    wait_at, wait_s, clock_s, section, tau, totals, histogram, layers, series, state, stretch, lost,
    worst, counts,
):  # fmt: skip
    """Take moves into the tally, planning them block by block where they are not yet.

    Parameters
    ----------
    planned : bool
        The moves are planned; ``timing`` and ``codes`` hold how.
    counted : bool
        False adds up the time alone.
    path … over_jerk
        As :func:`beadworth.motion._kernel.plan_moves` takes them. ``ends`` also lets the waits
        behind the last move count.
    timing, codes : tuples of float64 and uint8 arrays
        Junction speed, top, peak, acceleration, time; cause per junction and of the top speed.
    kind, layer, line, condition : arrays of one value per move
        ``condition`` is the row of ``ceilings`` (mm³/s, inf where none is known),
        ``temperatures`` and ``fans`` (duty), and of ``per``, what is summed up by condition.
    wait_at, wait_s : int64 and float64 arrays
        Moves before which the machine waits, sorted, and how long.
    clock_s : float64 array
        Filled with the time of all moves before each wait that is met.
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
    lo, v2, why, q = np.int64(0), start2, start_cause, state[columns.S_FLOW]
    while lo < n_moves:
        end = n_moves if planned else min(lo + size, n_moves)
        done = n_moves
        if not planned:
            done = plan_block(
                lo, x0, y0, z0, x1, y1, z1, filament, feeds, lengths, setting, inverses, arc_move,
                arcs, stops, look_ahead, ends, v2, why, before + lo, cruise, over_jerk, cap,
                reach, cause, speed, causes, top, peak, acc, time, held, v,
            )  # fmt: skip
            if done < 0:
                return lo, v2, why, -1 - done
            if done > 0 or end == n_moves:
                v2, why = cap[done], causes[done]
        if not counted:
            totals[columns.T_TIME] += sum_of(time, np.int64(0), done)
        a = lo if counted else lo + done
        while a < lo + done:  # a part without a wait in it
            while wait < n_waits and wait_at[wait] <= a:
                q = waited(q, wait_s[wait], tau)
                state[columns.S_WAITED] += wait_s[wait]
                clock_s[wait] = totals[columns.T_TIME]
                wait += 1
            n = min(PART, lo + done - a)
            if wait < n_waits:
                n = min(n, wait_at[wait] - a)
            b = a - lo
            q = take_part(
                n, kind[a:], layer[a:], line[a:], condition[a:], ceilings, temperatures,
                fans, per, filament[a:], feeds[a:], lengths[a:], x1[a:], y1[a:], z1[a:], speed[b:],
                top[b:], peak[b:], acc[b:], time[b:], causes[b:], held[b:], section, tau, over_jerk,
                q, totals, histogram, layers, series, state, stretch, worst, counts, laying, w, u,
            )  # fmt: skip
            if cruise > 0.0:
                add_cruise(
                    n, filament[a:], lengths[a:], speed[b:], top[b:], peak[b:], acc[b:], over_jerk,
                    u,
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
            clock_s[wait] = totals[columns.T_TIME]
            wait += 1
    state[columns.S_FLOW] = q
    take_lost(u, lost)
    return lo, v2, why, -1


@part()
def take_part(
    n, kind, layer, line, condition, ceilings, temperatures, fans, per, filament, feeds, lengths,
    x, y, z, speed, top, peak, acc, time, causes, held, section, tau, over_jerk, q,
    totals, histogram, layers, series, state, stretch, worst, counts, laying, w, u,
):  # fmt: skip
    """Take n moves into the tally; returns the flow out of the nozzle after them."""
    if mark(n, kind, lengths, time, laying):
        add_apart(n, kind, line, filament, lengths, time, peak, section, totals)
    responses(n, laying, filament, lengths, speed, peak, acc, time, section, tau, over_jerk, w)
    q = follow(n, q, w)
    level = ceilings[condition[0]] * (1.0 + columns.SLACK)
    if run_length(condition[:n]) == n:  # one condition all along: no look-up for every move
        for k in range(n):
            w[LEVEL + k] = level
    else:
        for k in range(n):
            w[LEVEL + k] = ceilings[condition[k]] * (1.0 + columns.SLACK)
    now, laid, at_move = totals[columns.T_TIME], totals[columns.T_VOLUME], np.int64(0)
    if rates(n, filament, time, section, histogram.size - 1.0, w):
        for k in range(n):
            if not (w[BOUND + k] > w[LEVEL + k] and laying[k]):
                continue
            few = k - at_move
            now += sum_of(time, at_move, k)
            laid += section * laid_by(filament[at_move:], laying[at_move:], few)
            at_move = np.int64(k)
            flow, level = w[TOP + k], w[LEVEL + k]
            rate = flow_per_speed(True, filament[k], lengths[k], section)
            high, over = over_level(
                w[BEFORE + k], rate, speed[k], peak[k], speed[k + 1], acc[k], time[k], tau,
                over_jerk, level,
            )  # fmt: skip
            if flow > level:
                draw_down(now, laid, time[k], section * filament[k], ceilings[condition[k]], state)
            if flow > level or over > 0.0:
                layers[min(layer[k] + 1, layers.shape[0] - 1), columns.L_OVER] += over
                totals[columns.T_OVER] += over
                per[condition[k], columns.P_OVER] += over
                note_over(
                    k, now, time[k], section * filament[k], flow, flow > level,
                    ceilings[condition[k]], over, high, temperatures[condition[k]], layer, line,
                    lengths, x, y, z, tau, state, stretch, worst, counts,
                )  # fmt: skip
    split_times(n, filament, feeds, lengths, speed, top, peak, acc, over_jerk, u)
    add_lost(n, causes, held, u)
    add_up(
        n, laying, layer, condition, ceilings, fans, per, filament, time, z, section, totals,
        histogram, layers, series, state, w,
    )  # fmt: skip
    return q


@entry()
def end_stretch(tau, stretch, state, worst, counts):
    """Close a stretch that runs to the end of the print."""
    if state[columns.S_OPEN] > 0.0:
        close_stretch(tau, stretch, state, worst, counts)


@entry()
def slow_to(filament, length, peak, feed, ceiling, section, kind, wanted):
    """Feed each move needs to stay under its ceiling, in ``wanted``; the count that change.

    A move is left alone where the speed it reaches keeps it under already.
    """
    changed = 0
    for m in range(kind.size):
        wanted[m] = feed[m]
        if kind[m] == columns.EXTRUDE and length[m] > 0.0 and filament[m] > 0.0:
            top = ceiling[m] * length[m] / (section * filament[m])
            over = top * (1.0 + 2.0 * columns.SLACK)  # what rounding leaves is not slowed again
            if peak[m] > over and feed[m] > over:
                wanted[m] = top
                changed += 1
    return changed
