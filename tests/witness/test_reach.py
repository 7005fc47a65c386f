"""What a band reaches, against sums done by hand."""

import numpy as np
import pytest

from beadworth.rig import AxisLimits, Motion, Rig
from beadworth.witness.design import Layer
from beadworth.witness.outline import Outline
from beadworth.witness.reach import Tag, at_speed_mm, planned, reaches

RIG = Rig(
    name="r",
    motion=Motion(
        max_speed_mm_s=AxisLimits(x=200, y=200, z=10),
        max_acceleration_mm_s2=AxisLimits(x=1000, y=1000, z=100),
    ),
)
HEAD = "G21\nG90\nM83\nG28\nG0 X0 Y0 Z0.2 F6000\nG4 P10\n"
"""Six lines; the machine stands still after them."""


def test_a_line_from_rest_to_rest_runs_its_speed_between_the_ramps():
    """50 mm/s at 1000 mm/s²: 97 % of it is reached after 1.176 mm, at both ends."""
    moves = planned(HEAD + "G1 X40 E1 F3000\n", RIG)
    fast = at_speed_mm(moves, np.full(len(moves.line), 0.97 * 50))
    assert fast[-1] == pytest.approx(40 - 2 * (0.97 * 50) ** 2 / 2000, abs=1e-6)
    assert at_speed_mm(moves, np.full(len(moves.line), 51.0))[-1] == 0


def test_under_a_limit_of_jerk_the_ramps_take_more_of_a_line():
    """The straight ramp of 0.05 + 1000/20,000 s over 2.5 mm, so 500 mm/s²."""
    smooth = RIG.motion.model_copy(update={"max_jerk_mm_s3": 2e4})
    moves = planned(HEAD + "G1 X40 E1 F3000\n", RIG.model_copy(update={"motion": smooth}))
    fast = at_speed_mm(moves, np.full(len(moves.line), 0.97 * 50))
    assert fast[-1] == pytest.approx(40 - 2 * (0.97 * 50) ** 2 / 1000, abs=1e-6)


def test_a_short_line_never_reaches_it():
    moves = planned(HEAD + "G1 X1 E0.1 F3000\n", RIG)
    assert moves.peak_mm_s[-1] == pytest.approx((1000 * 1) ** 0.5)
    assert at_speed_mm(moves, np.full(len(moves.line), 0.97 * 50))[-1] == 0


def layers(count):
    return [Layer(Outline((0.0, 0.0), ()), 1, 0.5, 50.0, 1.0, graded=n > 0) for n in range(count)]


def test_flow_is_what_ran_over_the_last_two_melt_zones():
    """Three straight layers at one feed: filament over time, stops included."""
    body = "".join(f"G1 X{40 * ((n + 1) % 2)} E2 F3000\n" for n in range(3))
    tags = {n: Tag(n - 7, "front") for n in (7, 8, 9)}
    (found,) = reaches(HEAD + body, RIG, layers(3), tags, 1.0)
    time = 40 / 50 + 50 / 1000
    assert found.layer_time_s == pytest.approx(time, rel=1e-6)
    assert found.passes == pytest.approx(1)
    assert found.sides["front"].share == pytest.approx(1 - 2 * 1.176125 / 40, rel=1e-3)
    whole = 2 * np.pi / 4 * 1.75**2
    assert found.laid_mm3 == pytest.approx(2 * whole)
    assert found.flow_mm3_s == pytest.approx(whole / time, rel=1e-6)


def test_retractions_make_filament_pass_more_often():
    body = "G1 X10 E1 F3000\nG1 E-0.5 F1800\nG1 E0.5\nG1 X0 E1 F3000\n"
    tags = {7: Tag(0, "left"), 10: Tag(1, "left")}
    both = [Layer(Outline((0.0, 0.0), ()), 1, 0.5, 50.0, 1.0, graded=True) for _ in range(2)]
    (found,) = reaches(HEAD + body, RIG, both, tags, 1.0)
    assert found.passes == pytest.approx((2 + 1) / 2)
