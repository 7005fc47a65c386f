"""What must hold for every path: order, symmetry, merging, cutting into chunks, refusals."""

from dataclasses import replace

import numpy as np
import pytest
from loops import each, some
from motion_support import cut, held_by, lost_time_s, phases_s
from straight_moves import from_points

from beadworth.core.errors import InputError
from beadworth.gcode import Arcs
from beadworth.motion import Cause, Limits, MoveTable, Planner, plan


@each(seed=range(some(60, long=3000)))
def test_chunks_change_no_bit(plain, seed):
    rng = np.random.default_rng(seed)
    queue = None if seed % 2 else int(rng.choice([2, 4, 16]))
    limits, moves = plain.limits(rng, 3, queue), plain.moves(rng, int(rng.integers(1, 150)), 3)
    edges = np.sort(rng.integers(0, len(moves) + 1, rng.integers(1, 8)))
    joined, whole = cut(moves, limits, edges, own_rows=seed % 3 == 0), plan(moves, limits)
    for name, values in joined.items():
        np.testing.assert_array_equal(values, getattr(whole, name), err_msg=name)


@pytest.mark.parametrize("queue", [None, 16, 3000])
def test_large_chunks_change_no_bit(plain, queue):
    # more moves than the kernel's block and the bridge between chunks
    rng = np.random.default_rng(1)
    small = plain.moves(rng, 2000, 2)
    moves = small.followed_by(*[small] * 24)
    limits = plain.limits(np.random.default_rng(2), 2, queue)
    whole = plan(moves, limits)
    for edges in ([100, 130], [20_000, 36_500], [1, 25_000]):
        for name, values in cut(moves, limits, edges).items():
            np.testing.assert_array_equal(values, getattr(whole, name), err_msg=name)


def test_stopping_longer_than_a_block_is_planned_right():
    # 30,000 moves of 0.01 mm and one long ramp: nothing is final before the end
    points = np.column_stack([np.arange(30_001) * 0.01, np.zeros(30_001)])
    moves = from_points(points, 1e6)
    limits = Limits.of(print_acceleration_mm_s2=1000.0)
    timing = plan(moves, limits)
    assert timing.time_s.sum() == pytest.approx(2 * np.sqrt(300 / 1000), rel=1e-9)
    for name, values in cut(moves, limits, [10_000, 20_000]).items():
        np.testing.assert_array_equal(values, getattr(timing, name), err_msg=name)


@each(seed=range(some(60, long=2000)))
def test_lower_limits_are_never_faster(plain, seed):
    rng = np.random.default_rng(seed)
    queue = None if seed % 2 else 4
    limits, moves = plain.limits(rng, 2, queue), plain.moves(rng, 40, 2)
    time = plan(moves, limits).time_s.sum()
    for column in range(limits.table.shape[1]):
        table = limits.table.copy()
        table[:, column] = np.where(np.isinf(table[:, column]), 50.0, table[:, column] * 0.7)
        assert plan(moves, replace(limits, table=table)).time_s.sum() >= time * (1 - 1e-9)
    slower = replace(moves, feed_mm_s=moves.feed_mm_s * rng.uniform(0.3, 1.0, len(moves)))
    assert plan(slower, limits).time_s.sum() >= time * (1 - 1e-9)
    if queue:
        shorter = replace(limits, look_ahead_moves=queue - 1)
        assert plan(moves, shorter).time_s.sum() >= time * (1 - 1e-9)
        unlimited = replace(limits, look_ahead_moves=None)
        assert plan(moves, unlimited).time_s.sum() <= time * (1 + 1e-9)


@each(seed=range(some(60, long=2000)))
def test_a_path_run_backwards_takes_as_long(plain, seed):
    rng = np.random.default_rng(seed)
    limits, moves = plain.limits(rng, 1), plain.moves(rng, 50, 1)
    n, arcs = len(moves), moves.arcs
    back = MoveTable(
        *(getattr(moves, name)[::-1] for name in ("x", "y", "z", "x0", "y0", "z0")),
        -moves.filament_mm[::-1], moves.feed_mm_s[::-1], moves.length_mm[::-1], moves.setting,
        Arcs(
            n - 1 - arcs.move[::-1], arcs.centre_u_mm[::-1], arcs.centre_v_mm[::-1],
            arcs.radius_mm[::-1], -arcs.sweep_rad[::-1], arcs.plane[::-1],
        ),
        n - moves.stop_before[::-1],
    )  # fmt: skip
    forth = plan(moves, limits)
    np.testing.assert_allclose(plan(back, limits).time_s[::-1], forth.time_s, rtol=1e-6, atol=1e-9)


@each(seed=range(some(60, long=1000)))
def test_splitting_a_line_changes_nothing(plain, seed):
    rng = np.random.default_rng(seed)
    limits, moves = plain.limits(rng, 1), plain.moves(rng, 30, 1, odd=False)
    starts = np.column_stack([moves.x0, moves.y0, moves.z0])
    ends = np.column_stack([moves.x, moves.y, moves.z])
    middle = starts + rng.uniform(0.1, 0.9, (30, 1)) * (ends - starts)
    points = np.vstack([np.stack([starts, middle], 1).reshape(-1, 3), ends[-1:]])
    share = np.linalg.norm(middle - starts, axis=1) / moves.length_mm
    filament = np.stack([moves.filament_mm * share, moves.filament_mm * (1 - share)], 1).ravel()
    split = from_points(points, np.repeat(moves.feed_mm_s, 2), filament)
    one, two = plan(moves, limits), plan(split, limits)
    np.testing.assert_allclose(two.time_s.reshape(-1, 2).sum(1), one.time_s, rtol=1e-6, atol=1e-9)


def test_moves_without_length_take_no_time_and_change_nothing(plain):
    rng = np.random.default_rng(5)
    limits, moves = plain.limits(rng, 1), plain.moves(rng, 200, 1)
    real = (moves.length_mm > 0) | (moves.filament_mm != 0)
    assert 0 < real.sum() < 200
    timing = plan(moves, limits)
    assert (timing.time_s[~real] == 0).all()
    assert (timing.time_s[real] > 0).all()
    assert (timing.peak_mm_s[~real] == timing.entry_mm_s[~real]).all()
    np.testing.assert_array_equal(timing.entry_mm_s[~real], timing.exit_mm_s[~real])


@each(seed=range(some(60, long=1000)))
def test_phases_and_losses_add_up_and_speeds_keep_the_limits(plain, seed):
    rng = np.random.default_rng(seed)
    limits, moves = plain.limits(rng, 2, None if seed % 2 else 8), plain.moves(rng, 80, 2)
    timing = plan(moves, limits)
    np.testing.assert_allclose(sum(phases_s(timing)), timing.time_s, rtol=1e-9, atol=1e-12)
    lost = lost_time_s(moves, timing)
    assert sum(lost.values()) == pytest.approx(timing.time_s.sum(), rel=1e-9)
    assert min(lost.values()) >= -1e-12
    goes = timing.time_s > 0
    assert (timing.peak_mm_s <= timing.top_mm_s)[goes].all()
    assert (timing.top_mm_s <= moves.feed_mm_s).all()
    assert (timing.junction_mm_s >= 0).all()
    at_rest = timing.junction_mm_s[[0, *moves.stop_before, -1]]
    steps = limits.table[:, 11:15]  # the filament's too: a move may be of filament alone
    if np.isinf(steps).all() or np.isfinite(limits.table[:, 15]).all():
        assert (at_rest == 0).all()
    else:  # by the step rule a move starts and ends at its step, on no axis more
        assert (at_rest <= np.sqrt(3) * steps[np.isfinite(steps)].max()).all()
    reach = np.where(moves.length_mm > 0, moves.length_mm, abs(moves.filament_mm))
    gained = abs(timing.exit_mm_s**2 - timing.entry_mm_s**2)
    assert (gained <= 2 * timing.acceleration_mm_s2 * reach * (1 + 1e-9) + 1e-9).all()
    assert (held_by(timing)[timing.peak_mm_s < timing.top_mm_s] == Cause.ACCELERATION).all()


@each(seed=range(some(60, long=2000)))
def test_a_stop_is_never_faster_than_the_corner_it_replaces(plain, seed):
    rng = np.random.default_rng(seed)
    limits, moves = plain.limits(rng), plain.moves(rng, 40, odd=False)
    stopped = replace(moves, stop_before=np.arange(0, 40, 3))
    time = plan(replace(moves, stop_before=np.empty(0, np.int64)), limits).time_s.sum()
    assert plan(stopped, limits).time_s.sum() >= time * (1 - 1e-9)


def test_nothing_to_plan():
    limits = Limits.of(print_acceleration_mm_s2=1000.0)
    empty = from_points(np.zeros((1, 3)), 10.0)
    assert len(plan(empty, limits)) == 0
    planner = Planner()
    assert list(planner.add(empty, limits)) == []
    assert list(planner.finish()) == []


@pytest.mark.parametrize("bad", [0.0, -5.0, float("nan")])
def test_a_feed_that_cannot_be_planned_names_its_move(bad):
    feeds = np.full(10_000, 50.0)
    feeds[7000] = bad
    points = np.column_stack([np.arange(10_001.0), np.zeros(10_001)])
    with pytest.raises(InputError, match=r"move 7001: a move cannot be planned with feed"):
        plan(from_points(points, feeds), Limits.of(print_acceleration_mm_s2=1e3))


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), 1e308])
def test_a_place_that_cannot_be_planned_names_its_move(bad):
    with pytest.raises(InputError, match="every number finite"), np.errstate(all="ignore"):
        plan(
            from_points([(0, 0), (bad, 0), (1, 1)], 10.0),
            Limits.of(print_acceleration_mm_s2=1e3, speed_x_mm_s=100),
        )


def test_columns_and_rows_must_fit():
    moves = from_points([(0, 0), (1, 0)], 10.0, setting=1)
    with pytest.raises(InputError, match="limits row 1, there are 1"):
        plan(moves, Limits.of(print_acceleration_mm_s2=1e3))
    with pytest.raises(InputError, match="differ in length"):
        replace(moves, feed_mm_s=np.ones(2))


@each(seed=range(some(60, long=2000)))
def test_a_least_share_of_every_move_is_run_at_one_speed(plain, seed):
    rng = np.random.default_rng(seed)
    limits = plain.limits(rng, 2, None if seed % 2 else 4)
    moves, share = plain.moves(rng, 40, 2), float(rng.uniform(0.05, 0.95))
    kept = replace(limits, min_cruise_share=share)
    timing = plan(moves, kept)
    path = np.where(moves.length_mm > 0, moves.length_mm, np.abs(moves.filament_mm))
    _, level_s, _ = phases_s(timing)
    assert (level_s * timing.peak_mm_s >= share * path * (1 - 1e-9)).all()
    change = np.abs(timing.exit_mm_s**2 - timing.entry_mm_s**2)
    room = 2 * timing.acceleration_mm_s2 * (1 - share) * path
    assert (change <= room * (1 + 1e-9) + 1e-9).all()
    assert (timing.peak_mm_s <= timing.top_mm_s * (1 + 1e-12))[path > 0].all()
    free = plan(moves, limits)
    assert timing.time_s.sum() >= free.time_s.sum() * (1 - 1e-9)
    lost = lost_time_s(moves, timing, cruises=True)
    assert sum(lost.values()) == pytest.approx(timing.time_s.sum(), rel=1e-9)
    little = plan(moves, replace(limits, min_cruise_share=1e-12))
    np.testing.assert_allclose(little.time_s, free.time_s, rtol=1e-6, atol=1e-9)
    edges = np.sort(rng.integers(0, len(moves) + 1, 4))
    for name, values in cut(moves, kept, edges).items():
        np.testing.assert_array_equal(values, getattr(timing, name), err_msg=name)
