"""The compiled planner: limits, a pass back, a pass forth, times (docs/explanation/motion.md).

Speeds are kept squared: along a move of length s at acceleration a the square changes by at
most d = 2·a·s, so reaching back and forth is adding and taking the smaller.
"""

from __future__ import annotations

import math

import numpy as np

from beadworth.core import entry, kernel, part
from beadworth.motion import columns
from beadworth.motion._kernel_jerk import (
    look_back_smooth,
    look_back_smooth_window,
    look_forth_smooth,
    smooth_times,
)
from beadworth.motion._kernel_limits import copy_row, prepare
from beadworth.motion._kernel_rows import N_SCRATCH, PEAK, TIME
from beadworth.motion.columns import PART

BLOCK = 4096  # moves planned at once


@part()
def look_back(m, cap, reach, cause):
    """Lower each cap to what can still slow to the end's; return the last one at its own cap."""
    speed2, why, own = cap[m], columns.STOP, 0
    for j in range(m - 1, -1, -1):
        speed2 += reach[j]
        if speed2 < cap[j]:
            cap[j], cause[j] = speed2, why
        else:
            speed2, why = cap[j], cause[j]
            if own == 0:
                own = j
    return own


@part(_nrt=True)
def look_back_window(m, cap, reach, cause, ahead, before, ends):
    """As :func:`look_back`, each junction seeing ``ahead`` moves. Equations (12) to (14).

    ``before`` is the number of moves before this block. Groups of ``ahead`` moves are counted
    from the start of the print, so that chunks do not change a bit. Returns the last final
    junction.
    """
    # from the start of each group: what the group up to and with j lets through from a stop
    head, head_cause = np.empty(m), np.empty(m, np.uint8)
    low, total, why = np.inf, 0.0, np.uint8(columns.COMMANDED)
    for j in range(m):
        if (before + j) % ahead == 0:
            low, total = np.inf, 0.0
        if cap[j] + total < low:
            low, why = cap[j] + total, cause[j]
        total += reach[j]
        head[j], head_cause[j] = low, why
        if total < low:
            head[j], head_cause[j] = total, columns.WINDOW
    # from the end of each group backwards, joined with the head of the next group
    last = m - ahead  # the last junction that sees a full window
    low, total = np.inf, 0.0
    speed2, reason = cap[m], np.uint8(columns.STOP)
    for j in range(m - 1, -1, -1):
        if (before + j + 1) % ahead == 0:
            low, total = np.inf, 0.0
        low += reach[j]
        total += reach[j]
        if cap[j] <= low:
            low, why = cap[j], cause[j]
        if j > last:  # nearer the end: cut short by the print's end, or to be seen again
            if ends:
                speed2 += reach[j]
                if cap[j] <= speed2:
                    speed2, reason = cap[j], cause[j]
            cap[j], cause[j] = speed2, reason
            continue
        through, through_cause = 0.0, np.uint8(columns.WINDOW)
        if (before + j) % ahead != 0:
            through, through_cause = head[j + ahead - 1], head_cause[j + ahead - 1]
        cap[j], cause[j] = low, why
        if through + total < low:
            cap[j], cause[j] = through + total, through_cause
    return m if ends else max(last, 0)


@kernel()
def ramps(v0, v1, top, d, a, level):
    """Peak speed and time of a move whose ramps have d = 2·a·length to themselves.

    ``level`` is 2·a times the length that is left to the peak whatever the ramps need.
    Equations (1) to (3).
    """
    squares = v0 * v0 + v1 * v1
    more = squares + d - 2.0 * top * top
    level += more if more > 0.0 else 0.0
    peak = math.sqrt(0.5 * (squares + d))
    peak = peak if peak < top else top
    return peak, ((2.0 * peak - v0 - v1) * peak + 0.5 * level) / (a * peak)


@part()
def look_forth(m, final, ends, cap, reach, cause, causes):
    """Turn ``cap`` into squared speeds from junction to junction, as far as they are final.

    Junctions up to ``final`` are; after it those that acceleration alone sets, equation (15).
    Returns the count of final moves.
    """
    v2, why = cap[0], cause[0]
    for j in range(m):
        causes[j] = why
        v2 += reach[j]
        if not v2 < cap[j + 1]:
            if j >= final and not ends:
                return j
            v2, why = cap[j + 1], cause[j + 1]
        cap[j + 1] = v2
    causes[m] = why
    return m


@part()
def roots(n, squares, speed):
    """Speeds from their squares."""
    for k in range(n):
        speed[k] = math.sqrt(squares[k])


@part()
def part_times(n, speed, top, reach, acc, cruise, w):
    """Peaks and times of n moves into the scratch rows."""
    more = cruise / (1.0 - cruise)
    for k in range(n):
        w[PEAK + k], w[TIME + k] = ramps(
            speed[k], speed[k + 1], top[k], reach[k], acc[k], more * reach[k]
        )


@part()
def keep_cruise(n, cruise, reach):
    """Leave the ramps of each move what a least share of cruising leaves them."""
    for k in range(n):
        reach[k] *= 1.0 - cruise


@entry()
def look_over(filament, lengths, setting):
    """How many moves have neither length nor filament; the least and the greatest limits row."""
    count, low, high = 0, np.int32(2**31 - 1), np.int32(-(2**31))
    for k in range(lengths.size):
        count += 1 if (lengths[k] == 0.0) & (filament[k] == 0.0) else 0
        row = setting[k]
        low = row if row < low else low
        high = row if row > high else high
    return count, low, high


@part(_nrt=True)
def plan_block(
    lo, x0, y0, z0, x1, y1, z1, filament, feeds, lengths, setting, inverses, arc_move,
    arcs, stops, look_ahead, ends, start2, start_cause, before, cruise, over_jerk, cap,
    reach, cause, speed, causes, top, peak, acc, time_s, held, w,
):  # fmt: skip
    """Plan the moves from ``lo`` on, as many as ``cap`` has room for.

    The arrays from ``cap`` on begin with move ``lo``. Returns how many moves are final; 0 where
    the block is too short to stop in; -1 - k where the numbers of move k cannot be planned.
    """
    n = feeds.size
    hi = min(lo + cap.size - 1, n)
    m = hi - lo
    last = ends and hi == n
    bad = prepare(
        lo, hi, x0, y0, z0, x1, y1, z1, filament, feeds, lengths, setting, inverses,
        arc_move, arcs, stops, before == 0, last, start2, start_cause, top, acc, held, cap, reach,
        cause, w,
    )  # fmt: skip
    if bad >= 0:
        return -1 - bad
    if cruise > 0.0:
        keep_cruise(m, cruise, reach)
    if over_jerk is not None:
        return plan_smooth(
            m, look_ahead, hi == n, last, start2, cruise, over_jerk, cap, reach, cause, speed,
            causes, top, peak, acc, time_s,
        )  # fmt: skip
    if look_ahead:
        final = look_back_window(m, cap, reach, cause, look_ahead - 1, before, last)
    else:
        final = look_back(m, cap, reach, cause)
    if hi < n and cap[0] < start2:
        return 0
    done = look_forth(m, final, last, cap, reach, cause, causes)
    roots(done + 1, cap, speed)
    for j in range(0, done, PART):
        few = min(PART, done - j)
        part_times(few, speed[j:], top[j:], reach[j:], acc[j:], cruise, w)
        copy_row(few, w[PEAK:], peak[j:])
        copy_row(few, w[TIME:], time_s[j:])
    return done


@part(_nrt=True)
def plan_smooth(
    m, look_ahead, whole, ends, start2, cruise, over_jerk, cap, reach, cause, speed, causes, top,
    peak, acc, time_s,
):  # fmt: skip
    """The rest of :func:`plan_block` where the jerk is limited too."""
    if look_ahead:
        final = look_back_smooth_window(m, cap, reach, acc, over_jerk, cause, look_ahead - 1, ends)
    else:
        final = look_back_smooth(m, cap, reach, acc, over_jerk, cause)
    if not whole and cap[0] < start2:
        return 0
    done = look_forth_smooth(m, final, ends, cap, reach, acc, over_jerk, cause, causes)
    roots(done + 1, cap, speed)
    smooth_times(done, speed, top, reach, acc, cruise, over_jerk, peak, time_s)
    return done


@entry()
def plan_moves(
    path, setting, inverses, arc_move, arcs, stops, look_ahead, ends, start2, start_cause, before,
    cruise, over_jerk, speed, causes, top, peak, acc, time_s, held,
):  # fmt: skip
    """Plan moves block by block; see :func:`beadworth.motion.plan` for the meaning.

    Parameters
    ----------
    path : nine float64 arrays, one element per move: x0 y0 z0 x1 y1 z1 filament feeds lengths
        No move is empty of both path and filament.
    setting : int32 array
    inverses : float64 array, rows × N_LIMIT
        Reciprocals of the limits; 0 where there is none.
    arc_move, arcs : int64 array and float64 rows (centre u, v, radius, sweep, plane)
    stops : sorted int64 array
        Moves before which the machine stands still.
    look_ahead : int
        Moves in the controller's queue, 0 for no bound.
    ends : bool
        The print ends with the last move.
    start2, start_cause, before
        Squared speed before the first move, its cause, and how many moves came before.
    cruise : float
        Least share of a move's length that is run at one speed.
    over_jerk : float or None
        Reciprocal of the limit of jerk, s³/mm. Where there is none it must be None: what else
        there is to do is then not even compiled.
    speed, causes, top, peak, acc, time_s, held : arrays to fill
        ``speed`` and ``causes`` have one element more: the junctions.

    Returns
    -------
    tuple
        (final moves, squared speed after them, cause, -1 or the index of a move whose
        numbers cannot be planned).
    """
    x0, y0, z0, x1, y1, z1, filament, feeds, lengths = path
    n = feeds.size
    size = max(BLOCK, 4 * look_ahead)
    cap, reach, cause = np.empty(size + 1), np.empty(size + 1), np.empty(size + 1, np.uint8)
    w = np.zeros(N_SCRATCH)
    lo, v2, why = np.int64(0), start2, start_cause  # a bare 0 compiles prepare twice
    while lo < n:
        hi = min(lo + size, n)
        done = plan_block(
            lo, x0, y0, z0, x1, y1, z1, filament, feeds, lengths, setting, inverses, arc_move, arcs,
            stops, look_ahead, ends, v2, why, before + lo, cruise, over_jerk, cap, reach, cause,
            speed[lo:], causes[lo:], top[lo:], peak[lo:], acc[lo:], time_s[lo:], held[lo:], w,
        )  # fmt: skip
        if done < 0:
            return lo, v2, why, -1 - done
        if done > 0 or hi == n:
            v2, why = cap[done], causes[lo + done]
        m = hi - lo
        lo += done
        if hi == n:
            break
        if 2 * done < m:  # stopping takes longer than half a block: larger blocks
            size *= 2
            cap, reach = np.empty(size + 1), np.empty(size + 1)
            cause = np.empty(size + 1, np.uint8)
    speed[lo], causes[lo] = math.sqrt(v2), why
    return lo, v2, why, -1
