"""Moves that start from rest, or end at it: at the permitted step where that is the rule."""

from __future__ import annotations

import numpy as np

from beadworth.core import part
from beadworth.motion import columns
from beadworth.motion._kernel_rows import CAP, CAUSE, TOP, UE, UX, UY, UZ


@part()
def steps_alone(inverse):
    """Whether corners go by the step rule and no other: a move then starts at its step."""
    return (
        inverse[columns.STEP_X] > 0.0
        and inverse[columns.STEP_Y] > 0.0
        and inverse[columns.DEVIATION] == 0.0
    )


@part()
def from_rest(k, inverse, w):
    """Squared speed at which the move of element k may start from rest, or end. Equation (8)."""
    if not steps_alone(inverse):
        return 0.0
    step = max(
        abs(w[UX + k]) * inverse[columns.STEP_X],
        abs(w[UY + k]) * inverse[columns.STEP_Y],
        abs(w[UZ + k]) * inverse[columns.STEP_Z],
        abs(w[UE + k]) * inverse[columns.STEP_E],
    )
    top = w[TOP + k]
    return min(1.0 / (step * step), top * top)


@part()
def turn_to_end(k, slots, shapes, n_slots, w, pair):
    """The move of element k as element 1 of ``pair``, in the direction it leaves in."""
    for row in (UX, UY, UZ, UE, TOP):
        pair[row + 1] = w[row + k]
    for i in range(n_slots):
        if slots[i] == k:
            pair[UX + 1], pair[UY + 1], pair[UZ + 1] = shapes[i, 3], shapes[i, 4], shapes[i, 5]


@part()
def rest_caps(
    a, n, first, last, inside, next_stop, stops, setting, inverses, slots, shapes, n_slots, w, pair
):  # fmt: skip
    """Caps where the machine stands still, of the n moves from ``a`` on; the next stop's number.

    That is before the ``first`` move of a print, at its stops, and behind the ``last`` move, in
    element n + 1. One loop, so that little is compiled.
    """
    while True:
        leaves, enters = True, True
        if first:
            k, first, leaves = np.int64(1), False, False
        elif next_stop < stops.size and stops[next_stop] < a + n:
            k = stops[next_stop] - a + 1
            leaves = k > 1 or inside
            next_stop += 1
        elif last:
            k, last, enters = np.int64(n + 1), False, False
        else:
            return next_stop
        rest2 = np.inf
        if enters:
            rest2 = from_rest(k, inverses[setting[a + k - 1]], w)
        if leaves:
            turn_to_end(k - 1, slots, shapes, n_slots, w, pair)
            rest2 = min(rest2, from_rest(np.int64(1), inverses[setting[a + k - 2]], pair))
        w[CAP + k], w[CAUSE + k] = rest2, columns.STOP
