"""The planner's first pass: limits of every move and junction (docs/explanation/motion.md).

All limits come as reciprocals (s/mm, s²/mm), so that no limit is 0 and an axis that does not
move limits nothing. The loops over moves are written for the compiler to vectorise: without
branches, and with everything they pass on to each other in rows of one scratch array at
distances known when compiling, since it gives up on a loop over many arrays that might overlap.
"""

from __future__ import annotations

import math

import numpy as np

from beadworth.core import part
from beadworth.motion import columns
from beadworth.motion._kernel_rest import rest_caps, steps_alone
from beadworth.motion._kernel_rows import (
    ACC,
    CAP,
    CAUSE,
    HELD,
    INV_ACC,
    ONLY,
    PATH,
    REACH,
    ROW,
    TOP,
    UE,
    UX,
    UY,
    UZ,
)
from beadworth.motion.columns import PART

LONGEST_S = 1e15  # no move takes longer

SHARED = (UX, UY, UZ, UE, INV_ACC, TOP, HELD, ONLY)  # what a junction needs of its two moves


@part()
def worst_cosine(start, sweep):
    """Largest |cos| over the angles from start to start + sweep."""
    low, high = min(start, start + sweep), max(start, start + sweep)
    if math.floor(high / math.pi) > math.floor(low / math.pi) or low % math.pi == 0.0:
        return 1.0
    return max(abs(math.cos(low)), abs(math.cos(high)))


@part()
def arc_shape(u0, v0, length, rise, arc, shape):
    """Fill ``shape``: tangents at the ends, worst tangent per axis, r/cos²ψ. Equation (9)."""
    ru, rv = u0 - arc[0], v0 - arc[1]
    radius, sweep, plane = arc[2], arc[3], arc[4]
    u, v, w = 0, 1, 2
    if plane == 18.0:
        u, v, w = 2, 0, 1
    elif plane == 19.0:
        u, v, w = 1, 2, 0
    flat = min(1.0, radius * abs(sweep) / length)  # cos ψ: the part of the path in the plane
    climb = rise / length
    start = math.atan2(rv, ru) + math.copysign(0.5 * math.pi, sweep)
    shape[u], shape[v], shape[w] = flat * math.cos(start), flat * math.sin(start), climb
    end = start + sweep
    shape[3 + u], shape[3 + v], shape[3 + w] = flat * math.cos(end), flat * math.sin(end), climb
    along_u, along_v = worst_cosine(start, sweep), worst_cosine(start - 0.5 * math.pi, sweep)
    shape[6 + u], shape[6 + v], shape[6 + w] = flat * along_u, flat * along_v, abs(climb)
    shape[9 + u], shape[9 + v], shape[9 + w] = along_v, along_u, 0.0  # the normal is 90° off
    shape[12] = radius / (flat * flat)


@part()
def directions(n, x0, y0, z0, x1, y1, z1, filament, lengths, w):
    """Path, direction and filament per mm of n moves."""
    for k in range(n):
        path = lengths[k]
        w[PATH + 1 + k] = path if path != 0.0 else abs(filament[k])
    for k in range(n):
        over = 1.0 / w[PATH + 1 + k]
        w[UX + 1 + k] = (x1[k] - x0[k]) * over
        w[UY + 1 + k] = (y1[k] - y0[k]) * over
        w[UZ + 1 + k] = (z1[k] - z0[k]) * over
        w[UE + 1 + k] = filament[k] * over


@part()
def move_limits(n, feeds, lengths, inverse, w):
    """Top speed and acceleration of n moves. Equation (4)."""
    sx, sy, sz, se = (
        inverse[columns.SPEED_X], inverse[columns.SPEED_Y],
        inverse[columns.SPEED_Z], inverse[columns.SPEED_E],
    )  # fmt: skip
    ax, ay, az, ae = (
        inverse[columns.ACC_X],
        inverse[columns.ACC_Y],
        inverse[columns.ACC_Z],
        inverse[columns.ACC_E],
    )
    print_, travel = inverse[columns.PRINT_ACC], inverse[columns.TRAVEL_ACC]
    retract = inverse[columns.RETRACT_ACC]
    for k in range(1, n + 1):
        ux, uy, uz, ue = abs(w[UX + k]), abs(w[UY + k]), abs(w[UZ + k]), abs(w[UE + k])
        feed = feeds[k - 1]
        slow, other = ux * sx, uy * sy
        slow = slow if slow > other else other
        other = uz * sz
        slow = slow if slow > other else other
        slow_e = ue * se
        both = slow if slow > slow_e else slow_e
        speed = 1.0 / both
        held = speed < feed
        w[TOP + k] = speed if held else feed
        by = 1.0 if slow >= slow_e else 2.0  # AXIS_SPEED, EXTRUDER_SPEED
        w[HELD + k] = by if held else 0.0
        ia = travel if ue == 0.0 else print_
        only = lengths[k - 1] == 0.0
        w[ONLY + k] = 1.0 if only else 0.0
        ia = retract if only else ia
        other = ux * ax
        ia = ia if ia > other else other
        other = uy * ay
        ia = ia if ia > other else other
        other = uz * az
        ia = ia if ia > other else other
        other = ue * ae
        ia = ia if ia > other else other
        acc = 1.0 / ia
        w[INV_ACC + k], w[ACC + k], w[REACH + k] = ia, acc, 2.0 * acc * w[PATH + k]


@part()
def jump(before, after):
    """Step of an axis per speed; one that turns back comes to rest and starts, and each counts."""
    gap, most, other = abs(after - before), abs(before), abs(after)
    most = most if most > other else other
    return most if before * after < 0.0 else gap


@part()
def corners(n, inverse, w):
    """Largest squared speed at the junctions before n moves, and what sets it.

    The directions are those of elements 0 to n, all straight. Equations (5) to (8). Between the
    path and filament on its own the machine stands still, unless it goes by the step rule alone.
    """
    tx, ty, tz, te = (
        inverse[columns.STEP_X], inverse[columns.STEP_Y],
        inverse[columns.STEP_Z], inverse[columns.STEP_E],
    )  # fmt: skip
    ax, ay, az = inverse[columns.ACC_X], inverse[columns.ACC_Y], inverse[columns.ACC_Z]
    deviation = inverse[columns.DEVIATION]
    still = not steps_alone(inverse)
    for k in range(1, n + 1):
        gx, gy, gz = (
            abs(w[UX + k] - w[UX + k - 1]),
            abs(w[UY + k] - w[UY + k - 1]),
            abs(w[UZ + k] - w[UZ + k - 1]),
        )
        hx, hy, hz = w[UX + k] + w[UX + k - 1], w[UY + k] + w[UY + k - 1], w[UZ + k] + w[UZ + k - 1]
        cap, other = w[TOP + k], w[TOP + k - 1]
        cause, other_cause = w[HELD + k], w[HELD + k - 1]
        cause = other_cause if other < cap else cause
        cap = other if other < cap else cap
        cap *= cap
        step, other = jump(w[UX + k - 1], w[UX + k]) * tx, jump(w[UY + k - 1], w[UY + k]) * ty
        step = step if step > other else other
        other = jump(w[UZ + k - 1], w[UZ + k]) * tz
        step = step if step > other else other
        other = 1.0 / (step * step)
        cause = 4.0 if other < cap else cause  # CORNER
        cap = other if other < cap else cap
        q = gx * gx + gy * gy + gz * gz
        half = 0.5 * math.sqrt(hx * hx + hy * hy + hz * hz)
        axes, other = gx * ax, gy * ay
        axes = axes if axes > other else other
        other = gz * az
        axes = axes if axes > other else other
        ia, other = w[INV_ACC + k], w[INV_ACC + k - 1]
        ia = ia if ia > other else other
        slow, other = q * ia, math.sqrt(q) * axes
        slow = slow if slow > other else other
        other = 4.0 * half * (1.0 + half) / (deviation * slow)  # no rule: x/0 or 0/0, not < cap
        cause = 4.0 if other < cap else cause
        cap = other if other < cap else cap
        step = jump(w[UE + k - 1], w[UE + k]) * te
        other = 1.0 / (step * step)
        cause = 5.0 if other < cap else cause  # EXTRUDER_STEP
        cap = other if other < cap else cap
        stop = w[ONLY + k] != w[ONLY + k - 1]
        w[CAP + k] = 0.0 if stop & still else cap
        w[CAUSE + k] = 6.0 if stop else cause  # STOP


@part()
def arc_limits(j, k, x0, y0, z0, x1, y1, z1, filament, feeds, lengths, inverse, arc, w, shape):
    """Limits of move j, an arc, in element k; its tangents at the ends into ``shape``."""
    u0, v0, climb = x0[j], y0[j], z1[j] - z0[j]
    if arc[4] == 18.0:
        u0, v0, climb = z0[j], x0[j], y1[j] - y0[j]
    elif arc[4] == 19.0:
        u0, v0, climb = y0[j], z0[j], x1[j] - x0[j]
    arc_shape(u0, v0, lengths[j], climb, arc, shape)
    w[UX + k], w[UY + k], w[UZ + k] = shape[6], shape[7], shape[8]
    move_limits(np.int64(1), feeds[j:], lengths[j:], inverse, w[k - 1 :])
    inward = max(
        inverse[columns.TRAVEL_ACC if filament[j] == 0.0 else columns.PRINT_ACC],
        shape[9] * inverse[columns.ACC_X],
        shape[10] * inverse[columns.ACC_Y],
        shape[11] * inverse[columns.ACC_Z],
    )
    if w[TOP + k] * w[TOP + k] * inward > shape[12]:
        w[TOP + k], w[HELD + k] = math.sqrt(shape[12] / inward), columns.ARC
    w[UX + k], w[UY + k], w[UZ + k] = shape[0], shape[1], shape[2]


@part(_nrt=True)
def prepare(  # noqa: PLR0912, PLR0915 - the order of the steps is easier to follow in one place
    lo, hi, x0, y0, z0, x1, y1, z1, filament, feeds, lengths, setting, inverses,
    arc_move, arcs, stops, starts, ends, start2, start_cause, top, acc, held, cap, reach, cause, w,
):  # fmt: skip
    """Fill top speed and acceleration per move, cap and cause per junction, d per move.

    These arrays begin with move ``lo``. The print ``starts`` with the first move, and ``ends`` with
    the last. Returns -1, or the index of a move whose numbers cannot be planned.
    """
    n_arc = arc_move.size
    # arcs of a part, that of the part before included: shapes and elements
    room = PART + 1 if n_arc else 1
    shapes, slots = np.empty((room, 13)), np.empty(room, np.int64)
    pair = np.empty(CAUSE + ROW)
    n_slots = 0
    next_arc, next_stop = count_below(arc_move, lo), count_below(stops, lo)
    for a in range(lo, hi, PART):
        n = min(PART, hi - a)
        directions(n, x0[a:], y0[a:], z0[a:], x1[a:], y1[a:], z1[a:], filament[a:], lengths[a:], w)
        k = a
        while k < a + n:  # runs of one setting
            end = k + run_length(setting[k : a + n])
            move_limits(end - k, feeds[k:end], lengths[k:end], inverses[setting[k]], w[k - a :])
            k = end
        while next_arc < n_arc and arc_move[next_arc] < a + n:
            j = arc_move[next_arc]
            slots[n_slots] = j - a + 1
            arc_limits(
                j, j - a + 1, x0, y0, z0, x1, y1, z1, filament, feeds, lengths,
                inverses[setting[j]], arcs[next_arc], w, shapes[n_slots],
            )  # fmt: skip
            n_slots += 1
            next_arc += 1
        k = a
        while k < a + n:
            end = k + run_length(setting[k : a + n])
            corners(end - k, inverses[setting[k]], w[k - a :])
            k = end
        for i in range(n_slots):  # an arc leaves in another direction than it starts
            k = slots[i]
            if k < n:
                for row in SHARED:
                    pair[row], pair[row + 1] = w[row + k], w[row + k + 1]
                pair[UX], pair[UY], pair[UZ] = shapes[i, 3], shapes[i, 4], shapes[i, 5]
                corners(np.int64(1), inverses[setting[a + k]], pair)
                w[CAP + k + 1], w[CAUSE + k + 1] = pair[CAP + 1], pair[CAUSE + 1]
        next_stop = rest_caps(
            a, n, starts and a == lo, ends and a + n == hi, a > lo, next_stop, stops, setting,
            inverses, slots, shapes, n_slots, w, pair,
        )  # fmt: skip
        if starts and a == lo:
            start2 = w[CAP + 1]
        if count_wrong(n, w):
            for k in range(1, n + 1):
                speed = w[TOP + k]
                if not (speed > 0.0 and w[REACH + k] > 0.0 and w[PATH + k] < LONGEST_S * speed):
                    return a + k - 1
        copy_row(n, w[TOP + 1 :], top[a - lo :])
        copy_row(n, w[ACC + 1 :], acc[a - lo :])
        copy_codes(n, w[HELD + 1 :], held[a - lo :])
        copy_row(n, w[CAP + 1 :], cap[a - lo :])
        copy_row(n, w[REACH + 1 :], reach[a - lo :])
        copy_codes(n, w[CAUSE + 1 :], cause[a - lo :])
        last_is_arc = n_slots > 0 and slots[n_slots - 1] == n
        if last_is_arc:
            slots[0] = 0
            for column in range(shapes.shape[1]):  # a slice would bring a second of compile
                shapes[0, column] = shapes[n_slots - 1, column]
        n_slots = 1 if last_is_arc else 0
        for row in SHARED:
            w[row] = w[row + n]
    cap[hi - lo], cause[hi - lo] = w[CAP + n + 1] if ends else 0.0, columns.STOP
    cap[0], cause[0] = start2, start_cause
    return -1


@part()
def count_below(ordered, value):
    """How many elements of an ascending array are below a value; numpy's takes 1 s to compile."""
    low, high = np.int64(0), np.int64(ordered.size)
    while low < high:
        middle = (low + high) // 2
        if ordered[middle] < value:
            low = middle + 1
        else:
            high = middle
    return low


@part()
def count_wrong(n, w):
    """How many of the part's moves cannot be planned."""
    wrong = 0
    for k in range(1, n + 1):
        speed = w[TOP + k]
        good = (speed > 0.0) & (w[REACH + k] > 0.0) & (w[PATH + k] < LONGEST_S * speed)
        wrong += 0 if good else 1
    return wrong


@part()
def copy_row(n, w, target):
    """Copy a scratch row to an array."""
    for k in range(n):
        target[k] = w[k]


@part()
def copy_codes(n, w, target):
    """Copy a scratch row of small whole numbers to an array of bytes."""
    for k in range(n):
        target[k] = np.int32(w[k])


@part()
def run_length(setting):
    """How many elements from the first on are the same."""
    row, changed = setting[0], 0
    for k in range(setting.size):
        changed += setting[k] != row
    if not changed:
        return setting.size
    k = 0
    while setting[k] == row:
        k += 1
    return k
