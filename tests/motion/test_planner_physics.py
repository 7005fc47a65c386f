"""Single moves, corners and arcs against the textbook, a trajectory library and closed forms."""

import math
from dataclasses import replace

import numpy as np
import pytest
import ruckig
from hypothesis import given
from hypothesis import strategies as st
from motion_support import held_by, lost_time_s, phases_s
from straight_moves import from_points

from beadworth.gcode import Arcs
from beadworth.motion import Cause, Limits, MoveTable, plan
from beadworth.motion._kernel import ramps

# L. Biagiotti, C. Melchiorri, Trajectory Planning for Automatic Machines and Robots, Springer
# 2008, section 3.2 (trapezoid): distance, v0, v1, vmax, a → duration, to the last digit shown.
TRAPEZOIDS = {
    (30, 0, 0, 10, 10): (4.0, 0),
    (10, 0, 0, 100, 1000): (0.2, 0),
    (1, 0, 0, 100, 1000): (0.06324555, 31.6227766),
    (20, 10, 5, 100, 3000): (0.22854167, 0),
    (0.5, 10, 5, 100, 3000): (0.02135231, 39.52847075),
    (50, 0, 0, 200, 5000): (0.29, 0),
}


@pytest.mark.parametrize("case", TRAPEZOIDS)
def test_ramps_equal_the_textbook_trapezoid(case):
    distance, v0, v1, vmax, a = map(float, case)
    duration, shown_peak = TRAPEZOIDS[case]
    peak, time = ramps(v0, v1, vmax, 2 * a * distance, a, 0.0)
    assert time == pytest.approx(duration, rel=0, abs=5e-9)
    assert peak == pytest.approx(shown_peak or vmax, rel=0, abs=5e-8)


def test_half_of_a_short_move_is_cruised():
    """By hand: 10 mm at 1000 mm/s², half of it for two ramps of 2.5 mm, so √(2·1000·2.5) mm/s."""
    moves = from_points(np.array([[0.0, 0.0], [10.0, 0.0]]), 500.0)
    limits = Limits.of(print_acceleration_mm_s2=1000.0)
    timing = plan(moves, replace(limits, min_cruise_share=0.5))
    assert timing.peak_mm_s[0] == pytest.approx(70.7106781, abs=5e-8)
    assert timing.time_s[0] == pytest.approx(2 * 0.0707106781 + 5 / 70.7106781, abs=5e-10)
    assert plan(moves, limits).peak_mm_s[0] == pytest.approx(100.0)  # all of it ramps


@pytest.mark.parametrize("case", [case for case in TRAPEZOIDS if case[1] == case[2] == 0])
def test_a_move_from_rest_to_rest_is_the_trapezoid(case):
    distance, _, _, vmax, a = case
    timing = plan(from_points([(0, 0), (distance, 0)], vmax), Limits.of(print_acceleration_mm_s2=a))
    assert timing.time_s[0] == pytest.approx(TRAPEZOIDS[case][0], rel=0, abs=5e-9)


def library_time(distance, v0, v1, vmax, a, jerk):
    otg = ruckig.Ruckig(1)
    given_ = ruckig.InputParameter(1)
    given_.current_position, given_.target_position = [0.0], [distance]
    given_.current_velocity, given_.target_velocity = [v0], [v1]
    given_.max_velocity, given_.max_acceleration, given_.max_jerk = [vmax], [a], [jerk]
    found = ruckig.Trajectory(1)
    assert otg.calculate(given_, found) == ruckig.Result.Working
    return found.duration


speeds = st.floats(0.0, 100.0)


@given(st.floats(0.01, 100), speeds, speeds, st.floats(100, 500), st.floats(100, 20_000))
def test_ramps_equal_the_ruckig_library_without_jerk_limit(distance, v0, v1, vmax, a):
    if abs(v1 * v1 - v0 * v0) > 2 * a * distance * 0.999:
        return  # cannot be reached: the planner never asks for it
    _, time = ramps(v0, v1, vmax, 2 * a * distance, a, 0.0)
    assert time == pytest.approx(library_time(distance, v0, v1, vmax, a, math.inf), rel=1e-8)


def test_ruckig_with_growing_jerk_comes_down_to_the_trapezoid():
    case = (20.0, 0.0, 0.0, 100.0, 1000.0)
    _, time = ramps(0.0, 0.0, 100.0, 2 * 1000.0 * 20, 1000.0, 0.0)
    excess = [library_time(*case, 10.0**power) - time for power in (5, 6, 7, 9)]
    # two ramps, each longer by half a/j on either side of its middle: a/j in all
    assert excess == pytest.approx([1e-2, 1e-3, 1e-4, 1e-6], rel=1e-3)


def corner(interior_deg, **limits):
    turn = math.pi - math.radians(interior_deg)
    points = [(0, 0), (100, 0), (100 + 100 * math.cos(turn), 100 * math.sin(turn))]
    return plan(from_points(points, 1000.0), Limits.of(**limits))


# Circle tangent to both lines at distance d from the corner: plain geometry, calculated apart.
CORNERS = {30: 4.17851, 60: 7.07107, 90: 10.98684, 120: 17.97791, 135: 24.63440, 150: 37.64820,
           170: 114.40962}  # fmt: skip


@pytest.mark.parametrize("degrees", CORNERS)
def test_corner_speed_by_deviation(degrees):
    timing = corner(degrees, print_acceleration_mm_s2=1000.0, corner_deviation_mm=0.05)
    assert timing.exit_mm_s[0] == pytest.approx(CORNERS[degrees], rel=0, abs=5e-6)
    assert timing.junction_by[1] == Cause.CORNER


def test_corner_speed_at_another_deviation_and_acceleration():
    timing = corner(90, print_acceleration_mm_s2=3000.0, corner_deviation_mm=0.02)
    assert timing.exit_mm_s[0] == pytest.approx(12.03548, rel=0, abs=5e-6)


def test_corner_speed_by_axis_step():
    # 90°: the x axis loses all its speed, the y axis gains as much
    timing = corner(90, print_acceleration_mm_s2=1e4, corner_step_x_mm_s=8, corner_step_y_mm_s=5)
    assert timing.exit_mm_s[0] == pytest.approx(5.0)
    timing = corner(90, print_acceleration_mm_s2=1e4, corner_step_x_mm_s=8, corner_step_y_mm_s=50)
    assert timing.exit_mm_s[0] == pytest.approx(8.0)
    # straight on: no step at all; a reversal stops and starts, a step each
    straight = corner(180, print_acceleration_mm_s2=1000.0, corner_step_x_mm_s=8)
    assert straight.exit_mm_s[0] == pytest.approx(math.sqrt(2 * 1000 * 100))
    back = corner(0, print_acceleration_mm_s2=1000.0, corner_step_x_mm_s=8)
    assert back.exit_mm_s[0] == pytest.approx(8.0)


def test_a_slow_axis_slows_the_corner_it_turns():
    # 90° in xy: the way round points along the diagonal, so y takes 1/√2 of it
    fast = corner(90, print_acceleration_mm_s2=1000.0, corner_deviation_mm=0.05)
    slow = corner(90, print_acceleration_mm_s2=1000.0, corner_deviation_mm=0.05,
                  acceleration_y_mm_s2=250.0)  # fmt: skip
    # the second move itself accelerates at 250: that is the lower of both
    assert slow.exit_mm_s[0] == pytest.approx(fast.exit_mm_s[0] / 2)


def test_extruder_step_holds_a_corner():
    moves = from_points([(0, 0), (50, 0), (100, 0)], 100.0, [0.0, 5.0])
    timing = plan(moves, Limits.of(print_acceleration_mm_s2=1000.0, corner_step_e_mm_s=2.0))
    assert timing.exit_mm_s[0] == pytest.approx(20.0)  # 0.1 mm of filament per mm
    assert timing.junction_by[1] == Cause.EXTRUDER_STEP


def test_extruder_limits_hold_speed_and_acceleration():
    moves = from_points([(0, 0), (100, 0)], 200.0, [10.0])
    limits = Limits.of(print_acceleration_mm_s2=5000.0, speed_e_mm_s=5, acceleration_e_mm_s2=100)
    timing = plan(moves, limits)
    assert timing.top_mm_s[0] == pytest.approx(50.0)
    assert timing.top_by[0] == Cause.EXTRUDER_SPEED
    assert timing.acceleration_mm_s2[0] == pytest.approx(1000.0)
    assert timing.time_s[0] == pytest.approx(100 / 50 + 50 / 1000)


def test_each_kind_of_move_has_its_acceleration():
    moves = from_points([(0, 0), (9, 0), (9, 0), (0, 0)], 10.0, [0.5, -0.8, 0.0])
    limits = Limits.of(print_acceleration_mm_s2=1, travel_acceleration_mm_s2=2,
                       retract_acceleration_mm_s2=3)  # fmt: skip
    assert plan(moves, limits).acceleration_mm_s2 == pytest.approx([1, 3, 2])


def test_filament_on_its_own_starts_and_ends_at_rest():
    moves = from_points([(0, 0), (9, 0), (9, 0), (18, 0)], 30.0, [0.0, -0.8, 0.0])
    timing = plan(moves, Limits.of(print_acceleration_mm_s2=1000.0))
    assert timing.junction_mm_s.tolist() == [0, 0, 0, 0]
    assert timing.time_s[1] == pytest.approx(2 * math.sqrt(0.8 / 1000))  # never at 30 mm/s


STEPS = {
    f"corner_step_{axis}_mm_s": step
    for axis, step in (("x", 8.0), ("y", 6.0), ("z", 0.4), ("e", 2.5))
}


def test_by_the_step_rule_alone_a_move_starts_and_ends_at_its_step():
    limits = Limits.of(print_acceleration_mm_s2=1000.0, **STEPS)
    timing = plan(from_points([(0, 0), (50, 0)], 100.0), limits)
    # the trapezoid from 8 to 100 and back to 8 mm/s: 2 · 92/1000 s, (50 − 9.936) mm at 100 mm/s
    assert timing.junction_mm_s.tolist() == [8.0, 8.0]
    assert timing.time_s[0] == pytest.approx(0.184 + 0.40064, rel=1e-12)
    # 3-4-5: the y axis gets 0.8 of the speed, and would allow 7.5; x 0.6, 13.3
    assert plan(from_points([(0, 0), (30, 40)], 100.0), limits).junction_mm_s[0] == 7.5
    # the drive turns 0.5 mm per mm: 5 mm/s
    fed = plan(from_points([(0, 0), (50, 0)], 100.0, 25.0), limits)
    assert fed.junction_mm_s == pytest.approx([5.0, 5.0])
    # never above what is commanded
    assert plan(from_points([(0, 0), (50, 0)], 3.0), limits).junction_mm_s.tolist() == [3.0, 3.0]
    # a stop on the way: the lower of both
    stopped = plan(from_points([(0, 0), (50, 0), (50, 50)], 100.0, stop_before=[1]), limits)
    assert stopped.junction_mm_s.tolist() == [8.0, 6.0, 6.0]
    assert stopped.junction_by[1] == Cause.STOP


@pytest.mark.parametrize("other", [{"corner_deviation_mm": 0.02}, {"corner_step_y_mm_s": np.inf}])
def test_by_another_rule_a_move_starts_from_rest(other):
    limits = Limits.of(print_acceleration_mm_s2=1000.0, **STEPS | other)
    timing = plan(from_points([(0, 0), (50, 0), (50, 0), (99, 0)], 100.0, [0, -1, 0]), limits)
    assert timing.junction_mm_s.tolist() == [0, 0, 0, 0]


def test_by_the_step_rule_the_drive_takes_over_from_the_path_at_its_step():
    limits = Limits.of(print_acceleration_mm_s2=1000.0, **STEPS)
    timing = plan(from_points([(0, 0), (50, 0), (50, 0), (99, 0)], 100.0, [0, -3, 0]), limits)
    assert timing.junction_mm_s.tolist() == [8.0, 2.5, 2.5, 8.0]
    assert timing.junction_by.tolist() == [Cause.STOP] * 4
    # 3 mm from 2.5 to a peak of √(6.25 + 3000) and back to 2.5 mm/s
    assert timing.time_s[1] == pytest.approx(2 * (math.sqrt(3006.25) - 2.5) / 1000)


def test_an_arc_ends_in_the_direction_it_leaves_in():
    limits = Limits.of(print_acceleration_mm_s2=1000.0, **STEPS)
    timing = plan(arc(20.0, math.pi / 2), limits)  # leaves along y, arrives along −x
    assert timing.junction_mm_s == pytest.approx([6.0, 8.0])


def arc(radius, sweep, feed=1e6, rise=0.0, plane=17, start=0.0):
    u, v, w = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}[plane]
    ends = np.zeros((2, 3))
    for end, angle in enumerate((start, start + sweep)):
        ends[end, u], ends[end, v] = radius * math.cos(angle), radius * math.sin(angle)
    ends[1, w] = rise
    shapes = Arcs(np.array([0]), *(np.array([x]) for x in (0.0, 0.0, radius, sweep)),
                  np.array([plane], np.int32))  # fmt: skip
    length = math.hypot(radius * sweep, rise)
    columns = [np.array([x]) for x in (*ends[0], *ends[1], 0.0, feed, length)]
    return MoveTable(*columns, np.zeros(1, np.int32), shapes)


@pytest.mark.parametrize("plane", [17, 18, 19])
@pytest.mark.parametrize("turns", [1.0, -1.0, 3.0])
def test_a_circle_is_held_by_its_centripetal_acceleration(plane, turns):
    radius, a = 5.0, 1000.0
    timing = plan(arc(radius, turns * math.tau, plane=plane), Limits.of(print_acceleration_mm_s2=a))
    v = math.sqrt(a * radius)
    assert timing.top_mm_s[0] == pytest.approx(v)
    assert timing.top_by[0] == Cause.ARC
    # from rest to rest: length/v, and v/a for the two ramps
    assert timing.time_s[0] == pytest.approx(abs(turns) * math.tau * radius / v + v / a)


def test_a_helix_turns_slower_than_it_travels():
    # curvature of a helix of radius r and pitch angle ψ: cos²ψ/r
    radius, rise, sweep = 5.0, 20.0, math.tau
    cosine = radius * sweep / math.hypot(radius * sweep, rise)
    timing = plan(arc(radius, sweep, rise=rise), Limits.of(print_acceleration_mm_s2=1000.0))
    assert timing.top_mm_s[0] == pytest.approx(math.sqrt(1000 * radius / cosine**2))


def test_axis_limits_along_an_arc_hold_in_its_worst_direction():
    limits = Limits.of(print_acceleration_mm_s2=1e5, speed_x_mm_s=10.0, speed_y_mm_s=1000.0)
    # from angle 0 the tangent is +y; after 30° its x part is sin 30°
    timing = plan(arc(50.0, math.pi / 6), limits)
    assert timing.top_mm_s[0] == pytest.approx(20.0)
    assert timing.top_by[0] == Cause.AXIS_SPEED
    # 30° either side of the top of the circle: straight along x in the middle
    assert plan(arc(50.0, math.pi / 3, start=math.pi / 3), limits).top_mm_s[0] == pytest.approx(10)
    # around the start, the centre lies along x: a slow x axis cannot pull inwards
    slow_x = Limits.of(print_acceleration_mm_s2=1e5, acceleration_x_mm_s2=100.0)
    timing = plan(arc(50.0, 0.2, start=-0.1), slow_x)
    assert timing.top_mm_s[0] == pytest.approx(math.sqrt(100.0 * 50.0))


def test_lines_that_touch_an_arc_pass_into_it_without_a_corner():
    radius, v = 10.0, math.sqrt(1000 * 10.0)
    shapes = Arcs(np.array([1]), *(np.array([x]) for x in (0.0, radius, radius, math.pi)),
                  np.array([17], np.int32))  # fmt: skip
    zero = np.zeros(3)
    moves = MoveTable(
        np.array([-50.0, 0, 0]), np.array([0, 0, 2 * radius]), zero, np.array([0, 0, -50.0]),
        np.array([0, 2 * radius, 2 * radius]), zero, zero, np.full(3, 500.0),
        np.array([50, math.pi * radius, 50]), np.zeros(3, np.int32), shapes,
    )  # fmt: skip
    limits = Limits.of(print_acceleration_mm_s2=1000.0, corner_deviation_mm=0.01)
    timing = plan(moves, limits)
    assert timing.junction_mm_s == pytest.approx([0, v, v, 0])
    assert timing.junction_by.tolist() == [Cause.STOP, Cause.ARC, Cause.ARC, Cause.STOP]


def test_stops_and_changes_of_limits_on_the_way():
    points = [(0, 0), (100, 0), (200, 0), (300, 0)]
    moves = from_points(points, 100.0, setting=[0, 0, 1], stop_before=[1])
    one = Limits.of(print_acceleration_mm_s2=1000.0)
    limits = one.with_changes(np.vstack([np.full(16, np.nan), np.full(16, np.nan)]))
    limits.table[1, :3] = 500.0
    timing = plan(moves, limits)
    assert timing.junction_mm_s.tolist() == [0, 0, 100, 0]
    assert timing.acceleration_mm_s2.tolist() == [1000, 1000, 500]
    up, level, down = phases_s(timing)
    assert up == pytest.approx([0.1, 0.1, 0.0])
    assert down == pytest.approx([0.1, 0.0, 0.2])
    assert up + level + down == pytest.approx(timing.time_s)


def test_lost_time_names_what_holds_the_print_back():
    moves = from_points([(0, 0), (100, 0), (100, 100)], [100.0, 50.0])
    limits = Limits.of(print_acceleration_mm_s2=1000.0, speed_x_mm_s=80.0, corner_deviation_mm=0.02)
    timing = plan(moves, limits)
    lost = lost_time_s(moves, timing)
    corner_speed = timing.exit_mm_s[0]
    # a ramp between v and the top speed w loses (w − v)²/(2·a·w)
    assert lost[Cause.COMMANDED] == pytest.approx(1.0 + 2.0)
    assert lost[Cause.AXIS_SPEED] == pytest.approx(100 / 80 - 100 / 100)
    assert lost[Cause.STOP] == pytest.approx(80 / 2000 + 50 / 2000)
    assert lost[Cause.CORNER] == pytest.approx(
        (80 - corner_speed) ** 2 / 2000 / 80 + (50 - corner_speed) ** 2 / 2000 / 50
    )
    assert sum(lost.values()) == pytest.approx(timing.time_s.sum(), rel=1e-12)


def test_a_ramp_over_several_moves_belongs_to_the_stop_it_comes_from():
    moves = from_points([(x, 0) for x in range(6)], 1000.0)
    timing = plan(moves, Limits.of(print_acceleration_mm_s2=1000.0))
    assert timing.junction_by.tolist() == [Cause.STOP] * 6
    assert (held_by(timing) == Cause.ACCELERATION).all()


def test_a_short_window_makes_a_controller_slow():
    # twenty moves of 1 mm, queue of 5: each must be able to stop within the 4 after it
    moves = from_points([(x, 0) for x in range(21)], 500.0)
    limits = Limits.of(look_ahead_moves=5, print_acceleration_mm_s2=1000.0)
    timing = plan(moves, limits)
    assert timing.junction_mm_s.max() == pytest.approx(math.sqrt(2 * 1000 * 4))
    assert timing.junction_by[10] == Cause.WINDOW
