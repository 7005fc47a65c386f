"""Planning where the jerk is limited too: S-curves in place of straight ramps.

The acceleration is 0 at every junction. ``over_jerk`` is the reciprocal of the limit, s³/mm, and
``shift`` = a²/(2·jerk) half the step of speed from which on the acceleration reaches its limit a.
Equations (19) to (23) of docs/explanation/motion.md.
"""

from __future__ import annotations

import math

import numpy as np

from beadworth.core import kernel, part
from beadworth.motion import columns

SURE = 1.0 + 1e-9  # by how much a speed must pass a cap for no rounding to be able to undo it
MOST_STEPS = 60


@kernel()
def ramp_time(step: float, a: float, over_jerk: float) -> float:
    """Time of an S-curve from one speed to another, whose difference is ``step``. Equation (19)."""
    if step <= 0.0:
        return 0.0
    rise = a * over_jerk  # time in which the acceleration reaches its limit
    return step / a + rise if step >= a * rise else 2.0 * math.sqrt(step * over_jerk)


@part()
def reach_over(speed2, most2, d, a, over_jerk):
    """Square of the speed that can be reached from one, over d ÷ 2a. Equations (21) and (22).

    From no higher speed less can be reached, so that it never falls when the speed rises. It is inf
    where it passes the square ``most2`` beyond doubt.
    """
    v, most = math.sqrt(speed2), SURE * math.sqrt(most2)
    if most <= v:
        return np.inf
    length, shift = 0.5 * d / a, 0.5 * a * a * over_jerk
    v = max(v, min((length * length / (32.0 * over_jerk)) ** (1.0 / 3.0), shift))
    if (v + most) * ramp_time(most - v, a, over_jerk) <= 2.0 * length:
        return np.inf
    if d >= 8.0 * shift * (v + shift):
        high = math.sqrt((v - shift) * (v - shift) + d) - shift
    else:  # y² = high − v: the one root of y³ + 2·v·y = length·√jerk
        root = math.sqrt(2.0 / 3.0 * v)
        y = 0.75 * length / (v * root * math.sqrt(over_jerk))
        y = 2.0 * root * math.sinh(math.asinh(y) / 3.0)
        high = v + y * y
    return high * high


@part()
def peak_below(low, high, top, room, a, over_jerk):
    """Peak whose two S-curves, from and to two speeds, together take ``room``. Equation (23).

    Newton's iteration in y, where peak = high + y²: the length is convex in y, so that it comes
    down to the root from any y above it.
    """
    full = a * a * over_jerk
    scaled = room / math.sqrt(over_jerk)
    straight = math.sqrt(0.5 * (low * low + high * high) + a * room)
    most = min(max(min(top, straight) - high, 0.0), (0.5 * scaled) ** (2.0 / 3.0))
    y = min(math.sqrt(most), scaled / (3.0 * high + low) if high > 0.0 else np.inf)
    for _ in range(MOST_STEPS):
        if not y > 0.0:
            return high
        step, other = y * y, y * y + (high - low)
        peak = high + step
        time, other_time = ramp_time(step, a, over_jerk), ramp_time(other, a, over_jerk)
        slope = 1.0 / a if step >= full else math.sqrt(over_jerk / step)
        other_slope = 1.0 / a if other >= full else math.sqrt(over_jerk / other)
        miss = 0.5 * ((high + peak) * time + (low + peak) * other_time) - room
        grows = time + other_time + (high + peak) * slope + (low + peak) * other_slope
        new = y - miss / (y * grows)
        if not new < y * (1.0 - 1e-15):
            break
        y = new
    return high + y * y


@kernel()
def smooth_ramps(v0, v1, top, room, length, a, over_jerk):
    """Peak speed and time of a move of which its ramps may take ``room``. Equation (23)."""
    shift = 0.5 * a * a * over_jerk
    peak = top
    up, down = ramp_time(top - v0, a, over_jerk), ramp_time(top - v1, a, over_jerk)
    if (v0 + top) * up + (v1 + top) * down > 2.0 * room:
        low, high = min(v0, v1), max(v0, v1)
        peak = math.sqrt(0.5 * ((v0 - shift) ** 2 + (v1 - shift) ** 2) + a * room) - shift
        if not peak - high >= 2.0 * shift:
            peak = peak_below(low, high, top, room, a, over_jerk)
        up, down = ramp_time(peak - v0, a, over_jerk), ramp_time(peak - v1, a, over_jerk)
    level = length - 0.5 * ((v0 + peak) * up + (v1 + peak) * down)
    return peak, up + down + max(level, 0.0) / peak


@part()
def smooth_times(n, speed, top, reach, acc, cruise, over_jerk, peak, time_s):
    """Peaks and times of n moves."""
    for k in range(n):
        room = 0.5 * reach[k] / acc[k]
        peak[k], time_s[k] = smooth_ramps(
            speed[k], speed[k + 1], top[k], room, room / (1.0 - cruise), acc[k], over_jerk
        )


@part()
def look_back_smooth(m, cap, reach, acc, over_jerk, cause):
    """Lower each cap to what can still slow to the end's; return the last one at its own cap."""
    speed2, why, own = cap[m], columns.STOP, 0
    for j in range(m - 1, -1, -1):
        speed2 = reach_over(speed2, cap[j], reach[j], acc[j], over_jerk)
        if speed2 < cap[j]:
            cap[j], cause[j] = speed2, why
        else:
            if own == 0 and speed2 >= cap[j] * SURE:
                own = j
            speed2, why = cap[j], cause[j]
    return own


@part(_nrt=True)
def look_back_smooth_window(m, cap, reach, acc, over_jerk, cause, ahead, ends):
    """As :func:`look_back_smooth`, each junction seeing ``ahead`` moves.

    The way back from rest is walked move by move up to a junction that is at its own cap: from
    there on it is what it is without a bound, also for the windows that end later.
    Returns the last final junction.
    """
    own, own_cause = cap[:m].copy(), cause[:m].copy()
    look_back_smooth(m, cap, reach, acc, over_jerk, cause)
    last = m - ahead  # the last junction that sees a full window
    if not ends:
        for j in range(max(last + 1, 0), m):
            cap[j], cause[j] = cap[m], columns.STOP
    j = 0
    while j <= last:
        speed2, why, met = 0.0, np.uint8(columns.WINDOW), -1
        for k in range(j + ahead - 1, j - 1, -1):
            speed2 = reach_over(speed2, own[k], reach[k], acc[k], over_jerk)
            if speed2 >= own[k]:
                if speed2 >= own[k] * SURE:
                    met = k
                    break
                speed2, why = own[k], own_cause[k]
        if met < 0:
            cap[j], cause[j] = speed2, why
            met = j
        j = met + 1
    return m if ends else max(last, 0)


@part()
def look_forth_smooth(m, final, ends, cap, reach, acc, over_jerk, cause, causes):
    """Turn ``cap`` into squared speeds from junction to junction, as far as they are final.

    Returns the count of final moves; see :func:`beadworth.motion._kernel.look_forth`.
    """
    v2, why = cap[0], cause[0]
    for j in range(m):
        causes[j] = why
        v2 = reach_over(v2, cap[j + 1], reach[j], acc[j], over_jerk)
        if not v2 * SURE < cap[j + 1] and j >= final and not ends:
            return j
        if not v2 < cap[j + 1]:
            v2, why = cap[j + 1], cause[j + 1]
        cap[j + 1] = v2
    causes[m] = why
    return m
