"""First-order lag of flow behind the commanded filament rate, exact over ramps.

τ·dq/dt + q = r(t) with r linear over a segment. With g(t) = 1 − exp(−t/τ) and k = dr/dt

    q(t) = q0 + (r0 − q0)·g(t) + k·τ·(t/τ − g(t)),     q'(t) = (r(t) − q(t))/τ,

so q is a line plus one exponential: either convex or concave, with at most one extremum,
which lies where q = r. Equations (16) to (18) of docs/explanation/motion.md.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from beadworth.core import entry, intrinsic, kernel, part
from beadworth.motion._kernel_jerk import ramp_time
from beadworth.motion.columns import PART

Floats = NDArray[np.float64]

ROW = PART + 37  # no multiple of a power of two, lest the rows share cache sets
KEPT, ADDED, TOP, BEFORE = (ROW * row for row in range(4))
N_LAG = 4 * ROW

LOG2_E = 1.0 / math.log(2.0)
ROUND = 1.5 * 2.0**52  # adding it rounds to a whole number
TAYLOR = tuple(math.log(2.0) ** k / math.factorial(k) for k in range(13))


@intrinsic
def bits_of(context: Any, value: Any) -> Any:
    """The 64 bits of a float64 as int64."""
    from llvmlite import ir
    from numba import types

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        return builder.bitcast(args[0], ir.IntType(64))

    return types.int64(types.float64), codegen


@intrinsic
def float_of(context: Any, bits: Any) -> Any:
    """The float64 whose 64 bits these are."""
    from llvmlite import ir
    from numba import types

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        return builder.bitcast(args[0], ir.DoubleType())

    return types.float64(types.int64), codegen


@part()
def lag_at(t: float, q0: float, r0: float, k: float, tau: float) -> float:
    """Flow after the time t."""
    x = t / tau
    g = -math.expm1(-x)
    return q0 + (r0 - q0) * g + k * tau * (x - g)


@part()
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


@kernel(cache=False, fastmath={"contract"})  # a·b + c in one step, where the machine can
def decay(x: Any) -> Any:
    """exp(−x) for x ≥ 0 to 2·10⁻¹⁶, as a polynomial the compiler can do several of at a time.

    2^t with t = −x/ln 2 is split into a whole power of two, put into the exponent bits, and
    2^r with |r| ≤ ½ by its Taylor series to r¹² (the next term is below 2·10⁻¹⁶).
    """
    t = max(-x * LOG2_E, -1022.0)
    rounded = t + ROUND  # the whole part of t stands in the last bits
    r = t - (rounded - ROUND)
    series = TAYLOR[12]
    for k in range(11, -1, -1):
        series = series * r + TAYLOR[k]
    return float_of(bits_of(series) + (bits_of(rounded) << 52))


@part(fastmath={"contract"})
def responses(
    n: int,
    laying: Any,
    filament: Floats,
    lengths: Floats,
    speed: Floats,
    peak: Floats,
    acc: Floats,
    time_s: Floats,
    section: float,
    tau: float,
    over_jerk: Any,
    w: Floats,
) -> None:
    """What n moves make of the flow before them: after = KEPT·before + ADDED. Equation (16).

    Over a piece with the rate from r0 to r1 and slope k, after = r1 − k·τ + (before − r0 + k·τ)·E
    with E = exp(−time/τ); three pieces one after the other are again of that form. An S-curve
    counts as the straight ramp of the same time, equation (20).
    """
    often = 1.0 / tau if tau > 0.0 else 1e300
    for k in range(n):
        fed, path = filament[k], lengths[k]
        path = path if path > 0.0 else abs(fed)
        rate = section * fed / (path if path > 0.0 else 1.0)
        rate = rate if laying[k] else 0.0
        a, v = acc[k], peak[k]
        inverse = 1.0 / a if a > 0.0 else 0.0
        up, down = (v - speed[k]) * inverse, (v - speed[k + 1]) * inverse
        level = time_s[k] - up - down
        level = level if level > 0.0 else 0.0
        climb, top = rate * a * tau, rate * v
        fall = climb
        if over_jerk is not None:
            up = ramp_time(v - speed[k], a, over_jerk)
            down = ramp_time(v - speed[k + 1], a, over_jerk)
            level = max(time_s[k] - up - down, 0.0)
            climb = rate * tau * (v - speed[k]) / up if up > 0.0 else 0.0
            fall = rate * tau * (v - speed[k + 1]) / down if down > 0.0 else 0.0
        e_up, e_level, e_down = decay(up * often), decay(level * often), decay(down * often)
        q = top - climb + (climb - rate * speed[k]) * e_up
        q = top + (q - top) * e_level
        w[ADDED + k] = rate * speed[k + 1] + fall + (q - top - fall) * e_down
        w[KEPT + k] = e_up * e_level * e_down
        w[TOP + k] = top


@part()
def follow(n: int, q: float, w: Floats) -> float:
    """Flow before each of n moves into the scratch row, from that before the first."""
    for k in range(n):
        w[BEFORE + k] = q
        q = w[KEPT + k] * q + w[ADDED + k]
    w[BEFORE + n] = q
    return q


@part()
def flow_per_speed(laying: bool, filament: float, length: float, section: float) -> float:
    """Flow asked for per speed along the path, mm³/mm."""
    path = length if length > 0.0 else abs(filament)
    return section * filament / path if laying and path > 0.0 else 0.0


@part()
def over_level(
    q: float, rate: float, v0: float, peak: float, v1: float, a: float, time: float, tau: float,
    over_jerk: Any, level: float,
) -> tuple[float, float]:  # fmt: skip
    """Highest flow in a move and the time it is above a level; ``rate`` is flow per speed."""
    if rate == 0.0 or a == 0.0:
        _, high, over = lag_segment(q, 0.0, 0.0, time, tau, level)
        return high, over
    up, down = (peak - v0) / a, (peak - v1) / a
    if over_jerk is not None:
        up, down = ramp_time(peak - v0, a, over_jerk), ramp_time(peak - v1, a, over_jerk)
    top = rate * peak
    q, high, over = lag_segment(q, rate * v0, top, up, tau, level)
    q, high2, over2 = lag_segment(q, top, top, max(time - up - down, 0.0), tau, level)
    q, high3, over3 = lag_segment(q, top, rate * v1, down, tau, level)
    return max(high, high2, high3), over + over2 + over3


@entry()
def lag_moves(
    laying: Any,
    filament: Floats,
    lengths: Floats,
    speed: Floats,
    peak: Floats,
    acc: Floats,
    time_s: Floats,
    section: float,
    tau: float,
    over_jerk: Any,
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
    w = np.empty(N_LAG)
    n_waits = wait_at.size
    wait, lo = 0, 0
    while lo < time_s.size:
        while wait < n_waits and wait_at[wait] <= lo:
            q = waited(q, wait_s[wait], tau)
            wait += 1
        hi = min(lo + PART, time_s.size)
        if wait < n_waits:
            hi = min(hi, wait_at[wait])
        n = hi - lo
        responses(
            n, laying[lo:], filament[lo:], lengths[lo:], speed[lo:], peak[lo:], acc[lo:],
            time_s[lo:], section, tau, over_jerk, w,
        )  # fmt: skip
        q = follow(n, q, w)
        for k in range(n):
            m = lo + k
            end[m] = w[BEFORE + k + 1]
            rate = flow_per_speed(laying[m], filament[m], lengths[m], section)
            high[m], over[m] = over_level(
                w[BEFORE + k], rate, speed[m], peak[m], speed[m + 1], acc[m], time_s[m], tau,
                over_jerk, levels[m] if laying[m] else np.inf,
            )  # fmt: skip
        lo = hi
    while wait < n_waits:
        q = waited(q, wait_s[wait], tau)
        wait += 1
    return q


@part()
def waited(q: float, seconds: float, tau: float) -> float:
    """Flow after a wait with nothing pushed."""
    return q * math.exp(-seconds / tau) if tau > 0.0 else 0.0
