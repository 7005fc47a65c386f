"""The compiled planner against its plain twin, and both against a linear program."""

import math
from dataclasses import replace

import numpy as np
import pytest
from loops import each, some
from scipy.optimize import linprog

from beadworth.motion import plan


def assert_same(moves, limits, times, speeds, real):
    timing = plan(moves, limits)
    at_real = np.append(timing.entry_mm_s[real], timing.exit_mm_s[-1])
    np.testing.assert_allclose(at_real, speeds, rtol=1e-6, atol=1e-6)
    np.testing.assert_allclose(timing.time_s, times, rtol=1e-6, atol=1e-9)
    assert timing.time_s.sum() == pytest.approx(times.sum(), rel=1e-8)


@each(seed=range(some(100, long=2000)))
def test_planner_equals_plain_twin(plain, seed):
    rng = np.random.default_rng(seed)
    rows = int(rng.choice([1, 1, 3]))
    limits, moves = plain.limits(rng, rows), plain.moves(rng, int(rng.integers(1, 60)), rows)
    limits = replace(limits, min_cruise_share=(0.0, 0.0, 0.3, 0.8)[seed % 4])
    assert_same(moves, limits, *plain.plan(moves, limits))


@each(seed=range(some(100, long=2000)))
def test_finite_look_ahead_equals_a_controller_run_move_by_move(plain, seed):
    rng = np.random.default_rng(10_000 + seed)
    queue = int(rng.choice([2, 3, 5, 16]))
    limits, moves = plain.limits(rng, 2, queue), plain.moves(rng, int(rng.integers(1, 80)), 2)
    limits = replace(limits, min_cruise_share=(0.0, 0.5)[seed % 2])
    assert_same(moves, limits, *plain.plan(moves, limits))


def optimum(caps, d):
    """Largest sum of squared junction speeds under the same constraints, by HiGHS."""
    n = len(d)
    scale = max(*caps, 1e-9)
    step = np.zeros((n, n + 1))
    step[np.arange(n), np.arange(n)], step[np.arange(n), np.arange(1, n + 1)] = -1.0, 1.0
    a = np.vstack([step, -step])
    b = np.concatenate([d, d]) / scale
    bounds = [(0.0, min(c / scale, 1.0)) for c in caps]
    tight = {"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10}
    found = linprog(-np.ones(n + 1), A_ub=a, b_ub=b, bounds=bounds, method="highs", options=tight)
    assert found.status == 0, found.message
    return found.x * scale


@each(seed=range(some(120, long=2000)))
def test_times_equal_the_linear_programme(plain, seed):
    rng = np.random.default_rng(20_000 + seed)
    limits, moves = plain.limits(rng), plain.moves(rng, int(rng.integers(2, 25)))
    _, caps, d = plain.chain(moves, limits)
    if not d:
        return
    times, _, _ = plain.plan(moves, limits, optimum(caps, d))
    found = plan(moves, limits).time_s
    assert found.sum() == pytest.approx(times.sum(), rel=1e-6)
    np.testing.assert_allclose(found, times, rtol=1e-6, atol=1e-7)


def test_window_equals_a_linear_programme_per_move(plain):
    for seed in range(60):
        rng = np.random.default_rng(30_000 + seed)
        queue = int(rng.integers(2, 6))
        limits, moves = plain.limits(rng, 1, queue), plain.moves(rng, 12)
        _, caps, d = plain.chain(moves, limits)
        n = len(d)
        first = min(queue - 1, n)
        squares = [float(optimum([*caps[:first], caps[n] if queue > n + 1 else 0.0], d[:first])[0])]
        for i in range(n):
            end = min(i + queue, n)
            window = [squares[i], *caps[i + 1 : end], caps[n] if i + queue > n else 0.0]
            squares.append(float(optimum(window, d[i:end])[1]))
        times, _, _ = plain.plan(moves, limits, squares)
        assert plan(moves, limits).time_s.sum() == pytest.approx(times.sum(), rel=1e-6)
        assert math.isfinite(times.sum())
