"""First-order lag of flow behind the commanded filament rate, exact over ramps.

τ·dq/dt + q = r(t) with r linear over a segment. With g(t) = 1 − exp(−t/τ) and k = dr/dt

    q(t) = q0 + (r0 − q0)·g(t) + k·τ·(t/τ − g(t)),     q'(t) = (r(t) − q(t))/τ,

so q is a line plus one exponential: either convex or concave, with at most one extremum,
which lies where q = r. Equations (16) to (18) of docs/explanation/motion.md.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from beadworth.compiled import kernel

Floats = NDArray[np.float64]


@kernel(cache=False)
def lag_at(t: float, q0: float, r0: float, k: float, tau: float) -> float:
    """Flow after the time t."""
    x = t / tau
    g = -math.expm1(-x)
    return q0 + (r0 - q0) * g + k * tau * (x - g)


@kernel(cache=False)
def crossing(
    low: float, high: float, level: float, q0: float, r0: float, k: float, tau: float
) -> float:
    """Time in [low, high] at which the flow, monotone there, passes the level."""
    first, last = lag_at(low, q0, r0, k, tau) - level, lag_at(high, q0, r0, k, tau) - level
    rising = last > 0.0
    t = low + (high - low) * first / (first - last)
    for _ in range(80):
        q = lag_at(t, q0, r0, k, tau)
        if (q > level) == rising:
            high = t
        else:
            low = t
        slope = (r0 + k * t - q) / tau
        new = t - (q - level) / slope if slope != 0.0 else low
        if abs(new - t) <= 1e-14 * high:
            return t
        t = new if low < new < high else 0.5 * (low + high)
    return t


@kernel()
def lag_segment(  # noqa: PLR0911 - one return per case
    q0: float, r0: float, r1: float, time: float, tau: float, level: float
) -> tuple[float, float, float]:
    """Flow at the end, its maximum, and the time it is above a level.

    Parameters
    ----------
    q0 : float
        Flow at the start.
    r0, r1 : float
        Commanded rate at the start and the end, linear in between.
    time, tau : float
        Length of the segment and time constant, s; tau may be 0.
    level : float
    """
    if time <= 0.0:
        return q0, q0, 0.0
    k = (r1 - r0) / time
    if tau <= 0.0:
        top = max(r0, r1)
        low = min(r0, r1)
        if low >= level:
            return r1, top, time if top > level else 0.0
        return r1, top, time * (top - level) / (top - low) if top > level else 0.0
    if q0 == r0 and r0 == r1:
        return q0, q0, time if q0 > level else 0.0
    q1 = lag_at(time, q0, r0, k, tau)
    top, low, turn = max(q0, q1), min(q0, q1), time
    if (r0 - q0) * (r1 - q1) < 0.0:  # q' changes sign: an extremum, where q = r
        turn = tau * math.log1p((q0 - r0) / (k * tau))
        turn = min(max(turn, 0.0), time)
        q = r0 + k * turn
        top, low = max(top, q), min(low, q)
    if top <= level:
        return q1, top, 0.0
    if low >= level:
        return q1, top, time
    over, at, was = 0.0, 0.0, q0
    for piece in range(2):
        end, q = (turn, r0 + k * turn) if piece == 0 and turn < time else (time, q1)
        if was > level and q > level:
            over += end - at
        elif was > level:
            over += crossing(at, end, level, q0, r0, k, tau) - at
        elif q > level:
            over += end - crossing(at, end, level, q0, r0, k, tau)
        at, was = end, q
        if end >= time:
            break
    return q1, top, over


@kernel()
def lag_moves(
    filament: Floats,
    lengths: Floats,
    speed: Floats,
    peak: Floats,
    acc: Floats,
    time_s: Floats,
    section: float,
    tau: float,
    start: float,
    levels: Floats,
    wait_at: NDArray[np.int64],
    wait_s: Floats,
    high: Floats,
    end: Floats,
    over: Floats,
) -> float:
    """Fill the highest flow, the flow at the end and the time above its level of each move."""
    q = start
    wait = 0
    for k in range(time_s.size):
        while wait < wait_at.size and wait_at[wait] <= k:
            q = q * math.exp(-wait_s[wait] / tau) if tau > 0.0 else 0.0
            wait += 1
        level = levels[k]
        e = filament[k]
        if e == 0.0 or acc[k] == 0.0:
            q, high[k], over[k] = lag_segment(q, 0.0, 0.0, time_s[k], tau, level)
        else:
            ratio = section * e / (lengths[k] if lengths[k] > 0.0 else abs(e))
            r0, rp, r1 = ratio * speed[k], ratio * peak[k], ratio * speed[k + 1]
            up, down = (peak[k] - speed[k]) / acc[k], (peak[k] - speed[k + 1]) / acc[k]
            q, top, above = lag_segment(q, r0, rp, up, tau, level)
            q, top2, above2 = lag_segment(q, rp, rp, max(time_s[k] - up - down, 0.0), tau, level)
            q, top3, above3 = lag_segment(q, rp, r1, down, tau, level)
            high[k], over[k] = max(top, top2, top3), above + above2 + above3
        end[k] = q
    while wait < wait_at.size:
        q = q * math.exp(-wait_s[wait] / tau) if tau > 0.0 else 0.0
        wait += 1
    return q
