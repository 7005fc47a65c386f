"""Limited jerk: S-curves against the textbook, a trajectory library, and a plain twin."""

import math
from dataclasses import replace

import numpy as np
import pytest
import ruckig
from hypothesis import assume, given
from hypothesis import strategies as st
from loops import each, some
from motion_support import cut, lost_time_s, phases_s
from scipy.integrate import solve_ivp
from scipy.optimize import brentq, minimize_scalar
from straight_moves import from_points

from beadworth.core.errors import LimitError
from beadworth.motion import Cause, Limits, flow_lag, plan
from beadworth.motion._kernel_jerk import smooth_ramps

# L. Biagiotti, C. Melchiorri, Trajectory Planning for Automatic Machines and Robots, Springer
# 2008, section 3.4 (double S): distance, v0, v1, vmax, amax, jmax → duration, peak. The first two
# are its examples 3.9 and 3.10, the peak as printed; the others by its method. Of examples 3.11
# and 3.12 the book's durations are not the shortest, those here are the trajectory library's.
DOUBLE_S = {
    (10, 1, 0, 5, 10, 30): (2.71, 5.0),
    (10, 1, 0, 10, 10, 30): (2.249380, 8.413567),
    (10, 7, 0, 10, 20, 30): (1.693642, None),
    (10, 7.5, 0, 10, 20, 30): (1.664330, None),
    (20, 0, 0, 100, 1000, 50000): (0.32, 100.0),
    (5, 0, 0, 100, 1000, 50000): (0.162829, 61.414284),
    (0.2, 0, 0, 100, 1000, 50000): (0.050397, 7.937005),
}


def single(distance, v0, v1, vmax, a, jerk):
    return smooth_ramps(v0, v1, vmax, distance, distance, a, 1.0 / jerk)


@pytest.mark.parametrize("case", DOUBLE_S)
def test_a_move_equals_the_textbook_double_s(case):
    duration, shown_peak = DOUBLE_S[case]
    peak, time = single(*map(float, case))
    assert time == pytest.approx(duration, rel=0, abs=5e-7)
    assert shown_peak is None or peak == pytest.approx(shown_peak, rel=0, abs=5e-7)


def s_curve(v0, v1, a, jerk):
    """Time and length of an S-curve, its phases one after the other."""
    rise = min(a / jerk, math.sqrt(abs(v1 - v0) / jerk))
    hold = abs(v1 - v0) / (jerk * rise) - rise if rise else 0.0
    v, acceleration, length, time = v0, 0.0, 0.0, 0.0
    sign = 1 if v1 > v0 else -1
    for j, t in ((sign * jerk, rise), (0.0, hold), (-sign * jerk, rise)):
        length += v * t + acceleration * t * t / 2 + j * t**3 / 6
        v += acceleration * t + j * t * t / 2
        acceleration += j * t
        time += t
    assert v == pytest.approx(v1, rel=1e-9, abs=1e-9)
    return time, length


def library_time(distance, v0, v1, vmax, a, jerk):
    given_ = ruckig.InputParameter(1)
    given_.current_position, given_.target_position = [0.0], [distance]
    given_.current_velocity, given_.target_velocity = [v0], [v1]
    given_.max_velocity, given_.max_acceleration, given_.max_jerk = [vmax], [a], [jerk]
    found = ruckig.Trajectory(1)
    try:
        worked = ruckig.Ruckig(1).calculate(given_, found) == ruckig.Result.Working
    except ruckig.RuckigError:  # it gives up on some, one in several thousand
        worked = False
    return found.duration if worked else None


shares = st.just(0.0) | st.floats(0.0, 1.0)


@given(
    st.floats(-3, 2), shares, shares, st.floats(0, 3), st.floats(2, 4.5), st.floats(3, 8)
)  # fmt: skip
def test_a_move_equals_the_ruckig_library(distance, v0, v1, vmax, a, jerk):
    distance, vmax, a, jerk = 10**distance, 10**vmax, 10**a, 10**jerk
    v0, v1 = v0 * vmax, v1 * vmax
    if s_curve(v0, v1, a, jerk)[1] > distance * 0.999:
        return  # cannot be reached: the planner never asks for it
    expected = library_time(distance, v0, v1, vmax, a, jerk)
    assume(expected is not None)
    peak, time = single(distance, v0, v1, vmax, a, jerk)
    assert time == pytest.approx(expected, rel=1e-9)
    assert max(v0, v1) <= peak <= vmax
    ramps = s_curve(v0, peak, a, jerk)[1] + s_curve(peak, v1, a, jerk)[1]
    assert ramps <= distance * (1 + 1e-9)


def test_speed_gained_from_any_lower_speed_by_hand():
    """From 2 to 6 mm/s at 400 mm/s³: 2·√(4/400) s at 4 mm/s on average, 0.8 mm.

    From 0 it would be 6.35 mm/s, but from nothing up to 2 mm/s none reaches less than from 2.
    """
    moves = from_points([(0, 0), (0.8, 0), (100, 0)], 1000.0)
    limits = replace(Limits.of(print_acceleration_mm_s2=1e4), max_jerk_mm_s3=400.0)
    timing = plan(moves, limits)
    assert timing.exit_mm_s[0] == pytest.approx(6.0, rel=1e-12)
    assert timing.jerk_mm_s3 == 400.0
    # and back: the same path run the other way
    back = plan(from_points([(100, 0), (0.8, 0), (0, 0)], 1000.0), limits)
    assert back.exit_mm_s[0] == pytest.approx(6.0, rel=1e-12)
    assert back.time_s.sum() == pytest.approx(timing.time_s.sum(), rel=1e-12)


def reached(v, length, a, jerk):
    """Highest speed that every speed from v up to it can reach: by search, no formula."""

    def most_length(end):
        """Longest way from a speed between v and the end to the end."""
        found = minimize_scalar(
            lambda start: -s_curve(start, end, a, jerk)[1], bounds=(v, end), method="bounded",
            options={"xatol": 1e-9 * end},
        )  # fmt: skip
        return max(-found.fun, s_curve(v, end, a, jerk)[1])

    high = math.sqrt(v * v + 2 * a * length) + 1e-12
    if most_length(high) <= length:
        return high
    return brentq(lambda end: most_length(end) - length, v + 1e-15, high, xtol=1e-13, rtol=1e-13)


def twin(chain, jerk, cruise, queue=None):
    """Junction speeds: lowered until no junction is faster than its neighbours let it be."""
    real, squares, _ = chain
    caps = [math.sqrt(square) for square in squares]
    rooms = [move.length * (1 - cruise) for _, move in real]

    def lowered(speed, start):
        changed = True
        while changed:
            changed = False
            for k, (_, move) in enumerate(real[start : start + len(speed) - 1]):
                for one, other in ((k, k + 1), (k + 1, k)):
                    if speed[other] <= speed[one]:
                        continue
                    most = reached(speed[one], rooms[start + k], move.a, jerk)
                    if most < speed[other] * (1 - 1e-10):
                        speed[other], changed = most, True
        return speed

    if queue is None:
        return lowered(caps.copy(), 0)
    n, speeds = len(real), []
    for i in range(-1, n):  # fix the end of each move when it starts
        start, end = max(i, 0), min(i + queue, n)
        window = caps[start : end + 1]
        window[-1] = caps[n] if i + queue > n else 0.0
        if i >= 0:
            window[0] = speeds[-1]
        speeds.append(lowered(window, start)[1 if i >= 0 else 0])
    return speeds


def move_time(v0, v1, top, a, length, room, jerk):
    """Peak by search, then phase by phase."""

    def ramps(peak):
        return s_curve(v0, peak, a, jerk)[1] + s_curve(peak, v1, a, jerk)[1]

    peak, low = top, max(v0, v1)
    if ramps(top) > room:
        peak = (
            low if ramps(low) >= room else brentq(lambda p: ramps(p) - room, low, top, xtol=1e-14)
        )
    level = max(length - ramps(peak), 0.0)
    return s_curve(v0, peak, a, jerk)[0] + s_curve(peak, v1, a, jerk)[0] + level / peak


def of_seed(plain, seed, most=25, queue=None):
    rng = np.random.default_rng(seed)
    limits, moves = plain.limits(rng, 2, queue), plain.moves(rng, int(rng.integers(2, most)), 2)
    jerk = float(10 ** rng.uniform(3.5, 6.5))
    cruise = (0.0, 0.0, 0.4)[seed % 3]
    return rng, moves, replace(limits, max_jerk_mm_s3=jerk, min_cruise_share=cruise)


@each(seed=range(some(12, long=400)))
def test_a_path_equals_its_plain_twin(plain, seed):
    queue = None if seed % 3 else 4
    _, moves, limits = of_seed(plain, 500 + seed, 14 if queue is None else 9, queue)
    jerk, cruise = limits.max_jerk_mm_s3, limits.min_cruise_share
    chain = plain.chain(moves, limits)
    if not chain[0]:
        return
    speeds = twin(chain, jerk, cruise, queue)
    timing = plan(moves, limits)
    real = [k for k, _ in chain[0]]
    at_real = np.append(timing.entry_mm_s[real], timing.exit_mm_s[-1])
    np.testing.assert_allclose(at_real, speeds, rtol=1e-6, atol=1e-6)
    times = [
        move_time(v0, v1, m.top, m.a, m.length, m.length * (1 - cruise), jerk)
        for (_, m), v0, v1 in zip(chain[0], speeds[:-1], speeds[1:], strict=True)
    ]
    np.testing.assert_allclose(timing.time_s[real], times, rtol=1e-5, atol=1e-7)


@each(seed=range(some(60, long=2000)))
def test_what_holds_of_every_path(plain, seed):
    rng, moves, limits = of_seed(plain, seed, 60, None if seed % 2 else 5)
    jerk = limits.max_jerk_mm_s3
    timing, free = plan(moves, limits), plan(moves, replace(limits, max_jerk_mm_s3=None))
    # never faster than without the limit, move by move and junction by junction
    assert (timing.time_s >= free.time_s * (1 - 1e-9) - 1e-12).all()
    assert (timing.junction_mm_s <= free.junction_mm_s * (1 + 1e-9)).all()
    # a higher limit is nowhere slower, and a very high one is none
    more = plan(moves, replace(limits, max_jerk_mm_s3=jerk * float(rng.uniform(1, 20))))
    assert (more.junction_mm_s >= timing.junction_mm_s * (1 - 1e-9)).all()
    assert more.time_s.sum() <= timing.time_s.sum() * (1 + 1e-9)
    none = plan(moves, replace(limits, max_jerk_mm_s3=1e16))
    np.testing.assert_allclose(none.time_s, free.time_s, rtol=1e-5, atol=1e-7)
    # no junction above its cap, no ramp longer than the move
    real, caps, _ = plain.chain(moves, limits)
    numbers = [k for k, _ in real]
    at_real = np.append(timing.entry_mm_s[numbers], timing.exit_mm_s[-1:])
    assert (at_real <= np.sqrt(caps) * (1 + 1e-6) + 1e-6).all()
    for k, move in real:
        v0, v1, peak = timing.entry_mm_s[k], timing.exit_mm_s[k], timing.peak_mm_s[k]
        ramps = s_curve(v0, peak, move.a, jerk)[1] + s_curve(peak, v1, move.a, jerk)[1]
        room = move.length * (1 - limits.min_cruise_share)
        assert ramps <= room * (1 + 1e-6) + 1e-9
        assert max(v0, v1) <= peak <= move.top * (1 + 1e-12)
    # what it is lost to adds up, and so do the phases
    np.testing.assert_allclose(sum(phases_s(timing)), timing.time_s, rtol=1e-9, atol=1e-12)
    lost = lost_time_s(moves, timing, cruises=limits.min_cruise_share > 0)
    assert sum(lost.values()) == pytest.approx(timing.time_s.sum(), rel=1e-8)
    assert min(lost.values()) >= -1e-9


def test_a_large_file_in_chunks_changes_no_bit(plain):
    small = plain.moves(np.random.default_rng(1), 1500, 2)
    moves = small.followed_by(*[small] * 7)
    for queue in (None, 16):
        limits = plain.limits(np.random.default_rng(2), 2, queue)
        limits = replace(limits, max_jerk_mm_s3=2e4)
        whole = plan(moves, limits)
        for edges in ([100, 130], [6_000, 9_500]):
            for name, values in cut(moves, limits, edges).items():
                np.testing.assert_array_equal(values, getattr(whole, name), err_msg=name)


@each(seed=range(some(30, long=3000)))
def test_chunks_change_no_bit(plain, seed):
    rng, moves, limits = of_seed(plain, 900 + seed, 120, None if seed % 2 else 4)
    edges = np.sort(rng.integers(0, len(moves) + 1, rng.integers(1, 8)))
    whole = plan(moves, limits)
    for name, values in cut(moves, limits, edges).items():
        np.testing.assert_array_equal(values, getattr(whole, name), err_msg=name)


@pytest.mark.parametrize("step", [20.0, 90.0, 400.0])
def test_an_s_curve_stays_within_an_eighth_of_its_straight_ramp(step):
    """Speed over time, sampled, at 3000 mm/s² and 100,000 mm/s³: the limit is reached at 90."""
    a, jerk = 3000.0, 1e5
    time, length = s_curve(10.0, 10.0 + step, a, jerk)
    rise = min(a / jerk, time / 2)
    t = np.linspace(0, time, 200_001)
    acceleration = np.clip(jerk * np.minimum(t, time - t), 0, jerk * rise)
    speed = 10.0 + np.concatenate(
        [[0], np.cumsum((acceleration[1:] + acceleration[:-1]) / 2 * np.diff(t))]
    )
    straight = 10.0 + step * t / time
    away = np.abs(speed - straight).max()
    assert away <= 0.125 * step * (1 + 1e-6)
    # the way so far: the straight ramp is ahead by a 24th of the ramp's time at its step, at most
    ahead = np.concatenate([[0], np.cumsum((straight - speed)[1:] * np.diff(t))])
    assert abs(ahead[-1]) < 1e-6
    assert ahead.max() <= step * time / 24 * (1 + 1e-3)
    if step > 90:
        assert away < 0.1 * step
    else:
        assert away == pytest.approx(0.125 * step, rel=1e-6)
        assert ahead.max() > 0.03 * step * time
    assert length == pytest.approx((10.0 + step / 2) * time)


def test_flow_lags_behind_the_straight_ramps(plain):
    """Against a numerical integration of the same rates, and of the S-curves themselves."""
    moves = from_points([(0, 0), (9, 0), (9, 6), (30, 6)], [80.0, 120.0, 60.0], [0.3, 0.2, 0.7])
    limits = replace(
        Limits.of(print_acceleration_mm_s2=2000.0, corner_deviation_mm=0.05), max_jerk_mm_s3=6e4
    )
    timing, section, tau = plan(moves, limits), 2.405, 0.06
    found = flow_lag(moves, timing, section_mm2=section, lag_s=tau, threshold_mm3_s=4.0)
    starts = np.concatenate([[0.0], np.cumsum(timing.time_s)])
    per_mm = section * moves.filament_mm / moves.length_mm
    phases = list(zip(*phases_s(timing), strict=True))

    def rate(t, smooth):
        k = min(int(np.searchsorted(starts, t, "right")) - 1, 2)
        (up, level, down), t = phases[k], t - starts[k]
        peak = timing.peak_mm_s[k]
        if up <= t <= up + level:
            return per_mm[k] * peak
        end, time, at = (
            (timing.entry_mm_s[k], up, t) if t < up
            else (timing.exit_mm_s[k], down, max(starts[k + 1] - starts[k] - t, 0.0))
        )  # fmt: skip
        if not smooth:
            return per_mm[k] * (end + (peak - end) * at / time)
        rise = min(2000.0 / 6e4, time / 2)
        a = 6e4 * rise
        part = min(at, time - at)
        gained = 6e4 * part**2 / 2 if part < rise else a * rise / 2 + a * (part - rise)
        return per_mm[k] * (end + gained if at <= time / 2 else peak - gained)

    def integrated(smooth):
        return solve_ivp(
            lambda t, q: (rate(t, smooth) - q) / tau, (0, starts[-1]), [0.0],
            t_eval=np.linspace(0, starts[-1], 20_001), rtol=1e-8, atol=1e-9, max_step=1e-3,
        ).y[0]  # fmt: skip

    straight, smooth = integrated(False), integrated(True)
    assert found.max_mm3_s.max() == pytest.approx(straight.max(), abs=1e-3)
    assert found.after_mm3_s == pytest.approx(straight[-1], abs=1e-3)
    assert found.over_s.sum() == pytest.approx((straight > 4.0).mean() * starts[-1], abs=1e-3)
    assert found.over_s.sum() > 0.1
    most_step = (per_mm * np.maximum(timing.peak_mm_s - timing.entry_mm_s,
                                     timing.peak_mm_s - timing.exit_mm_s)).max()  # fmt: skip
    away = np.abs(smooth - straight).max()
    assert 1e-3 * most_step < away < most_step / 8
    assert found.max_mm3_s.max() == pytest.approx(smooth.max(), abs=most_step / 8)


def test_a_corner_books_its_longer_ramps():
    """What a lower limit of jerk adds, it adds to the place each ramp belongs to."""
    moves = from_points([(0, 0), (50, 0), (50, 50)], 100.0)
    limits = Limits.of(print_acceleration_mm_s2=2000.0, corner_deviation_mm=0.02)
    lost = [
        lost_time_s(moves, plan(moves, replace(limits, max_jerk_mm_s3=jerk)))
        for jerk in (None, 1e5)
    ]
    assert lost[1][Cause.CORNER] > 1.2 * lost[0][Cause.CORNER] > 0
    assert lost[1][Cause.STOP] > 1.2 * lost[0][Cause.STOP] > 0
    assert lost[1][Cause.ACCELERATION] == lost[0][Cause.ACCELERATION] == 0.0


@pytest.mark.parametrize("bad", [0.0, -1.0, math.inf, math.nan])
def test_a_limit_of_jerk_is_above_zero(bad):
    with pytest.raises(LimitError, match=r"a limit of jerk must be above 0 and finite\."):
        replace(Limits.of(print_acceleration_mm_s2=1e3), max_jerk_mm_s3=bad)
