"""The cells and their grid: on the bed, and nothing finished is in the way."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from beadworth.core.errors import LimitError
from beadworth.rig import AxisLimits, BuildVolume, HotEnd, Motion, Rig, Toolhead
from beadworth.trial.programs import layout
from beadworth.trial.programs.coil import ASSUMED_ACCELERATION_MM_S2


def rig(x=220.0, y=220.0, z=240.0, nozzle=0.4, **more):
    return Rig(
        name="bench rig",
        build_volume=BuildVolume(x_mm=x, y_mm=y, z_mm=z),
        hot_end=HotEnd(nozzle_mm=nozzle),
        **more,
    )


rigs = st.builds(
    lambda x, y, z, nozzle, radius, height: rig(
        x, y, z, nozzle, toolhead=Toolhead(radius_mm=radius, height_mm=height)
    ),
    st.floats(120, 500),
    st.floats(120, 500),
    st.floats(100, 400),
    st.sampled_from([0.25, 0.4, 0.6, 0.8, 1.0]),
    st.floats(20, 80),
    st.floats(3, 60),
)


@given(rigs, st.floats(100, 3000), st.floats(2, 60))
@settings(deadline=None, max_examples=150)
def test_every_cell_lies_on_the_bed_and_clears_finished_ones(one_rig, filament, flow):
    try:
        grid = layout.plate_layout(one_rig, filament_mm=filament, highest_flow_mm3_s=flow)
    except LimitError:
        return
    volume, head, coil = one_rig.build_volume, one_rig.toolhead, grid.coil
    assert coil.stand_off_mm >= 2 * coil.strand_mm
    assert coil.speed_mm_s(flow) ** 2 / coil.radius_mm <= ASSUMED_ACCELERATION_MM_S2 + 1e-9
    assert coil.height_mm + layout.LIFT_MM <= volume.z_mm
    if coil.height_mm >= head.height_mm:
        assert grid.clearance_mm >= head.radius_mm
        assert grid.columns == 1, "a beam across x must not meet a tall neighbour"
    finished = []
    for cell in grid:
        front = cell.strip_back_mm - (grid.strip_lines - 1) * grid.strip_pitch_mm
        boxes = [
            (
                cell.x_mm - coil.outside_mm,
                cell.x_mm + coil.outside_mm,
                cell.y_mm - coil.outside_mm,
                cell.y_mm + coil.outside_mm,
            ),
            (cell.strip_left_mm, cell.strip_right_mm, front, cell.strip_back_mm),
            (cell.x_mm, cell.x_mm, cell.wait_y_mm, cell.wait_y_mm),
        ]
        assert boxes[1][3] < boxes[0][2], "the strip lies in front of its coil"
        assert cell.wait_y_mm < front, "and the waiting place in front of the strip"
        if len(finished) + grid.columns < grid.cells:
            behind = cell.y_mm - grid.pitch_y_mm + coil.outside_mm
            assert cell.wait_y_mm - behind >= 3, "an oozed blob stays clear of the next row"
        for left, right, near, far in boxes:
            assert left >= 0
            assert right <= volume.x_mm
            assert near >= 0
            assert far <= volume.y_mm
            for x, y in finished:
                dx = max(left - x, x - right, 0.0)
                dy = max(near - y, y - far, 0.0)
                assert math.hypot(dx, dy) - coil.outside_mm >= grid.clearance_mm - 1e-6
        if finished:
            assert cell.y_mm <= finished[-1][1] + 1e-9, "back to front"
        finished.append((cell.x_mm, cell.y_mm))
    assert len(finished) == grid.cells


def test_a_large_toolhead_costs_cells_only_where_coupons_are_tall():
    wide = Toolhead(radius_mm=70, height_mm=30)
    low = Toolhead(radius_mm=70, height_mm=6)
    short = layout.cells_per_plate(rig(toolhead=wide), filament_mm=600, highest_flow_mm3_s=20)
    tall = layout.cells_per_plate(rig(toolhead=low), filament_mm=600, highest_flow_mm3_s=20)
    assert short > tall
    assert layout.cells_per_plate(rig(), filament_mm=600, highest_flow_mm3_s=20) >= 6


def test_unknown_build_volume_names_the_fields():
    with pytest.raises(LimitError, match=r"build_volume\.x_mm"):
        layout.cells_per_plate(Rig(name="r"), filament_mm=600, highest_flow_mm3_s=20)


def test_too_fast_and_too_small_are_said_together():
    slow = rig(60, 60, motion=Motion(max_speed_mm_s=AxisLimits(x=30, y=30, z=5)))
    with pytest.raises(LimitError) as caught:
        layout.plate_layout(slow, filament_mm=3000, highest_flow_mm3_s=40)
    text = str(caught.value)
    assert "80 mm/s" in text
    assert "fits no cell" in text
    assert len(caught.value.problems) == 2
