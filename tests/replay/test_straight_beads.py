"""Straight stretches, against sums done by hand; across the borders of blocks."""

import numpy as np
import pytest

from beadworth.core import InputError
from beadworth.replay import straights
from beadworth.rig import AxisLimits, Motion, Rig

RIG = Rig(
    name="r",
    motion=Motion(
        max_speed_mm_s=AxisLimits(x=200, y=200, z=10),
        max_acceleration_mm_s2=AxisLimits(x=1000, y=1000, z=100),
    ),
)
HEAD = "G21\nG90\nM83\nG28\nG0 X0 Y0 Z0.2 F6000\nG4 P500\n"


def test_a_line_from_rest_to_rest():
    """40 mm at 50 mm/s and 1000 mm/s²: 0.05 s up, 0.75 s even, 0.05 s down."""
    text = HEAD + "G1 X40 E2 F3000\nG1 E-1 F1800\nG1 E1\nG1 X0 E2 F3000\n"
    first, second = straights(text.encode(), RIG, 20)
    assert (first["x0"], first["x1"], first["length_mm"], first["filament_mm"]) == (0, 40, 40, 2)
    assert (first["entry_mm_s"], first["exit_mm_s"]) == (0, 0)
    assert (first["peak_mm_s"], first["acceleration_mm_s2"]) == (50, 1000)
    assert (first["line"], second["line"], first["z"]) == (7, 10, 0.2)
    assert (first["start_filament_mm"], second["start_filament_mm"]) == (0, 2)
    between = second["start_s"] - first["start_s"]
    drawn = straights((HEAD + "G1 X40 E2 F3000\nG1 X0 E2\n").encode(), RIG, 20)
    assert drawn["start_s"][1] - drawn["start_s"][0] == pytest.approx(40 / 50 + 50 / 1000)
    assert between > 40 / 50 + 50 / 1000 + 2 / 30
    assert first["start_s"] >= 0.5, "after the dwell"


def test_a_limited_jerk_gives_the_straight_ramp_that_takes_as_long():
    """50 mm/s at 1000 mm/s² and 20,000 mm/s³: 0.05 s for the acceleration to rise, 0.1 s in all."""
    motion = RIG.motion.model_copy(update={"max_jerk_mm_s3": 20_000.0})
    rig = RIG.model_copy(update={"motion": motion})
    (found,) = straights((HEAD + "G1 X40 E2 F3000\n").encode(), rig, 20)
    assert found["acceleration_mm_s2"] == pytest.approx(50 / 0.1)


def test_shorter_ones_and_arcs_are_left_out():
    text = HEAD + "G1 X40 E2 F3000\nG1 Y19.9 E1\nG3 X0 Y19.9 I-20 J0 E3\nG1 Y-0.1 E1\n"
    assert [row["length_mm"] for row in straights(text.encode(), RIG, 20)] == [40, 20]


def test_a_long_print_is_not_cut_where_blocks_end():
    """120,000 moves in sides of thirty: every side whole, filament and clock going on."""
    sides, pieces = 4000, 30
    lines, here = [], 0.0
    for side in range(sides):
        there = 60.0 if side % 2 == 0 else 0.0
        for piece in range(1, pieces + 1):
            lines.append(f"G1 X{here + (there - here) * piece / pieces:.3f} E0.08")
        here = there
    text = HEAD + "G1 F3000\n" + "\n".join(lines) + "\n"
    found = straights(text.encode(), RIG, 20)
    assert len(found) == sides
    assert np.allclose(found["length_mm"], 60)
    assert np.allclose(found["start_filament_mm"], 2.4 * np.arange(sides))
    assert np.allclose(np.diff(found["start_s"]), 60 / 50 + 50 / 1000, atol=1e-6)


def test_too_many_are_refused(monkeypatch):
    monkeypatch.setattr("beadworth.replay.straight_beads.MOST", 1)
    text = (HEAD + "G1 X40 E2 F3000\nG1 X0 E2\n").encode()
    with pytest.raises(InputError) as refused:
        straights(text, RIG, 20, name="p.gcode")
    assert str(refused.value) == (
        "p.gcode: more than 1 straight stretches of 20 mm or more. Cut the print to the layers of "
        "the wall."
    )
