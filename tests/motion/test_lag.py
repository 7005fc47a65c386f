"""The first-order lag: against textbook responses, a plain twin, and a numerical integration."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from loops import each
from motion_support import phases_s
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from straight_moves import from_points

from beadworth.core.errors import InputError
from beadworth.motion import Limits, flow_lag, plan
from beadworth.motion._kernel_lag import lag_segment

flows = st.floats(-20.0, 40.0)


def test_step_response_reaches_63_percent_after_one_time_constant():
    # K. Ogata, Modern Control Engineering, first-order systems: 1 − 1/e, 0.982 after four
    assert lag_segment(0.0, 1.0, 1.0, 0.05, 0.05, 9.0)[0] == pytest.approx(1 - math.exp(-1))
    assert lag_segment(0.0, 1.0, 1.0, 0.2, 0.05, 9.0)[0] == pytest.approx(0.9817, abs=5e-5)


def test_ramp_response_trails_by_the_time_constant():
    # steady error of a first-order system behind a ramp of slope k: k·τ
    end, _, _ = lag_segment(0.0, 0.0, 30.0, 3.0, 0.05, 99.0)
    assert end == pytest.approx(30.0 - 10.0 * 0.05)


def test_time_above_a_level_on_a_decay():
    # from 10 towards 2: above 4 until τ·ln(8/2)
    _, top, over = lag_segment(10.0, 2.0, 2.0, 1.0, 0.1, 4.0)
    assert top == 10.0
    assert over == pytest.approx(0.1 * math.log(4.0), rel=1e-12)


def test_without_lag_the_flow_is_the_rate():
    assert lag_segment(3.0, 0.0, 10.0, 2.0, 0.0, 7.5) == pytest.approx((10.0, 10.0, 0.5))
    assert lag_segment(3.0, 8.0, 8.0, 2.0, 0.0, 7.5) == pytest.approx((8.0, 8.0, 2.0))


def twin(q0, r0, r1, time, tau, level):
    """The textbook solution: particular ramp plus a decaying exponential, roots by bracketing."""
    k = (r1 - r0) / time
    start = q0 - r0 + k * tau

    def q(t):
        return r0 + k * (t - tau) + start * math.exp(-t / tau)

    points = [0.0, time]
    if k != 0 and start / (k * tau) > 0:
        turn = tau * math.log(start / (k * tau))
        if 0 < turn < time:
            points.insert(1, turn)
    over = 0.0
    for a, b in pairwise(points):
        qa, qb = q(a) - level, q(b) - level
        if qa > 0 and qb > 0:
            over += b - a
        elif qa * qb < 0:
            root = brentq(lambda t: q(t) - level, a, b, xtol=1e-15, rtol=1e-14)
            over += root - a if qa > 0 else b - root
    return q(time), max(map(q, points)), over


@given(flows, flows, flows, st.floats(1e-3, 2.0), st.floats(1e-2, 0.5), flows)
def test_segment_equals_its_plain_twin(q0, r0, r1, time, tau, level):
    end, top, over = lag_segment(q0, r0, r1, time, tau, level)
    expected = twin(q0, r0, r1, time, tau, level)
    assert (end, top) == pytest.approx(expected[:2], rel=1e-9, abs=1e-9)
    if abs(expected[1] - level) > 1e-6 and min(abs(q0 - level), abs(end - level)) > 1e-6:
        assert over == pytest.approx(expected[2], rel=1e-6, abs=1e-7)


@given(flows, flows, flows, st.floats(1e-3, 2.0), st.floats(1e-3, 0.5), st.floats(0.01, 0.99))
def test_a_segment_cut_in_two_is_the_same_segment(q0, r0, r1, time, tau, share):
    whole = lag_segment(q0, r0, r1, time, tau, 8.0)
    middle = r0 + share * (r1 - r0)
    one = lag_segment(q0, r0, middle, share * time, tau, 8.0)
    two = lag_segment(one[0], middle, r1, (1 - share) * time, tau, 8.0)
    assert two[0] == pytest.approx(whole[0], rel=1e-9, abs=1e-9)
    assert max(one[1], two[1]) == pytest.approx(whole[1], rel=1e-9, abs=1e-9)
    if abs(whole[1] - 8.0) > 1e-6:
        assert one[2] + two[2] == pytest.approx(whole[2], rel=1e-5, abs=1e-6)


def rate_over_time(moves, timing, section):
    """Commanded flow over time, straight from the speeds: knots and rates."""
    starts = np.concatenate([[0.0], np.cumsum(timing.time_s)])
    knots, rates = [0.0], [0.0]
    for k in np.flatnonzero(timing.time_s):
        per_mm = section * moves.filament_mm[k] / (moves.length_mm[k] or abs(moves.filament_mm[k]))
        up, level, down = (phase[k] for phase in phases_s(timing))
        corners = {
            1e-12: timing.entry_mm_s[k], up: timing.peak_mm_s[k],
            up + level: timing.peak_mm_s[k], up + level + down: timing.exit_mm_s[k],
        }  # fmt: skip
        for after, speed in corners.items():
            knots.append(max(starts[k] + after, knots[-1] + 1e-13))
            rates.append(per_mm * speed)
    return knots, rates


def test_moves_equal_a_numerical_integration(plain):
    rng = np.random.default_rng(3)
    limits, moves = plain.limits(rng), plain.moves(rng, 40)
    timing, section, tau = plan(moves, limits), 2.405, 0.08
    found = flow_lag(moves, timing, section_mm2=section, lag_s=tau, threshold_mm3_s=3.0)
    knots, rates = rate_over_time(moves, timing, section)
    total = timing.time_s.sum()
    dense = np.linspace(0, total, 200_001)
    step = float(np.median(timing.time_s[timing.time_s > 0]) / 20)
    solved = solve_ivp(
        lambda t, q: (np.interp(t, knots, rates) - q) / tau, (0, total), [0.0], t_eval=dense,
        rtol=1e-9, atol=1e-9, max_step=step,
    ).y[0]  # fmt: skip
    assert found.max_mm3_s.max() == pytest.approx(solved.max(), abs=2e-3)
    assert found.over_s.sum() == pytest.approx((solved > 3.0).mean() * total, abs=2e-3 * total)
    ends = np.cumsum(timing.time_s)
    np.testing.assert_allclose(found.end_mm3_s, np.interp(ends, dense, solved), atol=2e-3)
    assert found.over_s.sum() > 0.05 * total  # the check above is about something


@each(seed=range(20))
def test_parts_join_and_bounds_hold(plain, seed):
    rng = np.random.default_rng(seed)
    limits, moves = plain.limits(rng), plain.moves(rng, 60)
    timing, kind = plan(moves, limits), {"section_mm2": 2.405, "lag_s": 0.05}
    whole = flow_lag(moves, timing, threshold_mm3_s=5.0, **kind)
    assert (whole.over_s >= 0).all()
    assert (whole.over_s <= timing.time_s * (1 + 1e-12)).all()
    path = np.where(moves.length_mm > 0, moves.length_mm, abs(moves.filament_mm))
    path = np.where(path > 0, path, 1.0)
    asked = 2.405 * np.maximum(moves.filament_mm, 0) / path * timing.peak_mm_s
    assert whole.max_mm3_s.max() <= asked.max() * (1 + 1e-12)
    one = flow_lag(moves.part(0, 25), timing.part(0, 25), threshold_mm3_s=5.0, **kind)
    kind["start_mm3_s"] = one.after_mm3_s
    two = flow_lag(moves.part(25, 60), timing.part(25, 60), threshold_mm3_s=5.0, **kind)
    np.testing.assert_array_equal(np.append(one.end_mm3_s, two.end_mm3_s), whole.end_mm3_s)
    np.testing.assert_array_equal(np.append(one.over_s, two.over_s), whole.over_s)


def test_a_wait_lets_the_flow_decay():
    moves = from_points([(0, 0), (50, 0), (100, 0)], 50.0, 2.0, stop_before=[1])
    timing = plan(moves, Limits.of(print_acceleration_mm_s2=1e6))
    kind = {"section_mm2": 2.405, "lag_s": 0.05}
    straight = flow_lag(moves, timing, **kind)
    waited = flow_lag(moves, timing, wait_before=[1], wait_s=[0.05], **kind)
    at_wait = straight.end_mm3_s[0]
    assert at_wait == pytest.approx(2.405 * 2, rel=1e-2)
    moving = -math.expm1(-timing.time_s[1] / 0.05)
    gap = straight.end_mm3_s[1] - waited.end_mm3_s[1]
    assert gap == pytest.approx((at_wait - at_wait / math.e) * (1 - moving), rel=1e-6)
    after = flow_lag(moves, timing, wait_before=[2], wait_s=[0.05], **kind)
    assert after.after_mm3_s == pytest.approx(straight.after_mm3_s / math.e)


def test_a_threshold_per_move():
    moves = from_points([(0, 0), (50, 0), (100, 0)], 50.0, 2.0)
    timing = plan(moves, Limits.of(print_acceleration_mm_s2=1e6))
    found = flow_lag(moves, timing, section_mm2=2.405, lag_s=0.0, threshold_mm3_s=[9.0, 1.0])
    assert found.over_s[0] == 0.0
    assert found.over_s[1] == pytest.approx(1.0, rel=1e-3)


def test_values_out_of_range_are_named_together():
    moves = from_points([(0, 0), (50, 0)], 50.0)
    timing = plan(moves, Limits.of(print_acceleration_mm_s2=1e3))
    with pytest.raises(InputError) as caught:
        flow_lag(moves, timing, section_mm2=0.0, lag_s=-1.0, wait_before=[1], wait_s=[])
    assert len(caught.value.problems) == 3


def test_decay_is_the_exponential():
    from beadworth.motion._kernel_lag import decay

    x = np.concatenate([np.geomspace(1e-18, 40.0, 20_001), [0.0]])
    found = np.array([decay(float(value)) for value in x])
    np.testing.assert_allclose(found, np.exp(-x), rtol=0, atol=2.3e-16)
    assert decay(0.0) == 1.0
    for far in (700.0, 1e300, math.inf):
        assert 0.0 < decay(far) < 1e-300


def by_segments(moves, timing, laying, section, tau, level):
    """Every move as its three pieces one after the other: flow before and after, top, time over."""
    q, rows = 0.0, []
    for k in range(len(timing)):
        path = moves.length_mm[k] or abs(moves.filament_mm[k]) or 1.0
        rate = section * moves.filament_mm[k] / path if laying[k] else 0.0
        speeds = (timing.entry_mm_s[k], timing.peak_mm_s[k], timing.exit_mm_s[k])
        enter, top, leave = (rate * speed for speed in speeds)
        before, tops, over = q, [], 0.0
        pieces = [(enter, top), (top, top), (top, leave)]
        for (first, last), phase in zip(pieces, phases_s(timing), strict=True):
            q, high, above = lag_segment(q, first, last, float(phase[k]), tau, level)
            tops.append(high)
            over += above
        rows.append((before, q, max(tops), over if laying[k] else 0.0, top))
    return np.array(rows).T


@pytest.mark.parametrize("tau", [0.0, 0.003, 0.05, 2.0])
@each(seed=range(4))
def test_moves_equal_their_pieces_one_after_the_other(plain, seed, tau):
    rng = np.random.default_rng(40_000 + seed)
    limits, moves = plain.limits(rng), plain.moves(rng, 1500)  # more than one pass of the kernel
    timing, laying = plan(moves, limits), rng.random(1500) < 0.8
    level = 4.0
    before, after, top, over, asked = by_segments(moves, timing, laying, 2.405, tau, level)
    found = flow_lag(
        moves, timing, section_mm2=2.405, lag_s=tau, laying=laying, threshold_mm3_s=level
    )
    scale = max(abs(top).max(), 1.0)
    np.testing.assert_allclose(found.end_mm3_s, after, rtol=1e-10, atol=1e-10 * scale)
    if tau > 0.0:  # without a lag the twin counts the flow before a move as its first moment
        np.testing.assert_allclose(found.max_mm3_s, top, rtol=1e-9, atol=1e-9 * scale)
        assert (np.maximum(before, np.maximum(asked, 0.0)) >= top - 1e-9 * scale).all()
    np.testing.assert_allclose(found.over_s, over, rtol=1e-6, atol=1e-6)
    assert over.sum() > 0.0
