"""What the time of moves is lost to, added up part by part (docs/explanation/motion.md)."""

from __future__ import annotations

from beadworth.core import part
from beadworth.motion import columns
from beadworth.motion._kernel_jerk import ramp_time
from beadworth.motion.columns import PART

ROW = PART + 37  # no multiple of a power of two, lest the rows share cache sets
IDEAL, LIMIT, ENTRY, LEAVE, SUMS = (ROW * row for row in range(5))
BANKS = 4  # sums kept apart, so that one addition need not wait for the one before
BANK = 16
N_LOST = SUMS + BANKS * BANK


@part()
def split_times(n, filament, feeds, lengths, speed, top, peak, acc, over_jerk, w):
    """Time of n moves at the commanded speed, and what limit, entry and exit ramp add to it."""
    for k in range(n):
        path = lengths[k]
        path = path if path > 0.0 else abs(filament[k])
        moves = path > 0.0
        most, most_inverse = peak[k], 1.0 / top[k]
        ideal = path / feeds[k] if moves else 0.0
        over = 0.5 / acc[k] * most_inverse if moves else 0.0
        w[IDEAL + k] = ideal
        w[LIMIT + k] = path * most_inverse - ideal if moves else 0.0
        twice = 2.0 * top[k] - most
        if over_jerk is None:
            w[ENTRY + k] = (most - speed[k]) * (twice - speed[k]) * over
            w[LEAVE + k] = (most - speed[k + 1]) * (twice - speed[k + 1]) * over
        else:
            half = 0.5 * most_inverse if moves else 0.0
            up = ramp_time(most - speed[k], acc[k], over_jerk)
            down = ramp_time(most - speed[k + 1], acc[k], over_jerk)
            w[ENTRY + k] = (twice - speed[k]) * up * half
            w[LEAVE + k] = (twice - speed[k + 1]) * down * half


@part()
def add_lost(n, causes, held, w):
    """Add the rows of :func:`split_times` to the sums by cause."""
    ideal, leave = 0.0, 0.0
    for k in range(n):
        ideal += w[IDEAL + k]
        if held[k] != columns.COMMANDED:
            w[SUMS + held[k]] += w[LIMIT + k]
        w[SUMS + (k & (BANKS - 1)) * BANK + causes[k]] += leave + w[ENTRY + k]
        leave = w[LEAVE + k]
    w[SUMS + causes[n]] += leave
    w[SUMS + columns.N_CAUSE] += ideal


@part()
def add_cruise(n, filament, lengths, speed, top, peak, acc, over_jerk, w):
    """Add what is lost at peaks below the top speed, where a share of each move is cruised."""
    lost = 0.0
    for k in range(n):
        path = lengths[k] if lengths[k] > 0.0 else abs(filament[k])
        most, over = peak[k], 0.5 / acc[k] if acc[k] > 0.0 else 0.0
        if 0.0 < most < top[k]:
            level = path - (2.0 * most * most - speed[k] ** 2 - speed[k + 1] ** 2) * over
            if over_jerk is not None:
                v0, v1 = speed[k], speed[k + 1]
                up = ramp_time(most - v0, acc[k], over_jerk)
                down = ramp_time(most - v1, acc[k], over_jerk)
                level = path - 0.5 * ((most + v0) * up + (most + v1) * down)
            lost += max(level, 0.0) * (1.0 / most - 1.0 / top[k])
    w[SUMS + columns.ACCELERATION] += lost


@part()
def take_lost(w, out):
    """Put the sums into out[cause], seconds; out[COMMANDED] is the ideal time."""
    for cause in range(columns.N_CAUSE):
        lost = 0.0
        for bank in range(BANKS):
            lost += w[SUMS + bank * BANK + cause]
        # a ramp at a junction nothing holds lies between two commanded speeds
        out[columns.ACCELERATION if cause == columns.COMMANDED else cause] += lost
    out[columns.COMMANDED] += w[SUMS + columns.N_CAUSE]
