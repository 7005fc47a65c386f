"""The coil: volume is conserved, and what the axes may be asked is what the rig says of them."""

import pytest

from beadworth.rig import AxisLimits, HotEnd, Motion, Rig
from beadworth.trial.programs.coil import coil, path_acceleration_mm_s2, path_speed_mm_s


def test_coil_holds_the_volume_of_the_filament():
    # By hand: 600 mm of 1.75 mm filament is 1443.17 mm³; a 0.8 mm strand has 0.502655 mm²,
    # so 2871.1 mm of strand; on a 15 mm circle a turn is √(94.2478² + 0.8²) = 94.2512 mm.
    rig = Rig(name="bench rig", hot_end=HotEnd(nozzle_mm=0.4))
    one = coil(rig, filament_mm=600, radius_mm=15)
    assert one.strand_mm == pytest.approx(0.8)
    assert one.strand_section_mm2 == pytest.approx(0.502655, rel=1e-5)
    assert one.strand_length_mm == pytest.approx(2871.1, abs=0.05)
    assert one.turns == pytest.approx(2871.1 / 94.2512, rel=1e-4)
    assert one.speed_mm_s(20) == pytest.approx(39.789, abs=1e-3)


def test_the_slower_axis_bounds_the_circle_and_what_is_assumed_is_marked():
    said = Rig(
        name="r",
        motion=Motion(
            max_speed_mm_s=AxisLimits(x=200, y=150, z=8),
            max_acceleration_mm_s2=AxisLimits(x=3000, y=2000, z=100),
            print_acceleration_mm_s2=2500,
        ),
    )
    assert path_speed_mm_s(said) == (150, True)
    assert path_acceleration_mm_s2(said) == (2000, True)
    assert path_acceleration_mm_s2(Rig(name="r")) == (500.0, False)
    assert path_speed_mm_s(Rig(name="r"))[1] is False
