"""Which reading of E and arcs is taken, by the file's own evidence unless the rig speaks."""

import pytest
from replay_support import RIG, SECTION_MM2

from beadworth.gcode import summary
from beadworth.replay import replay

BEADS = [f"G1 X{20 + k} Y20 E{0.04 * k:.3f} F2400" for k in range(1, 1001)]
ABSOLUTE = ["G21", "G90", "M82", "M104 S220", "G1 X20 Y20 Z0.2 F6000", "G92 E0", *BEADS]
ENDING = ["G91", "G1 X5 Z1 E-4.5 F1800", "G1 Z1 E4.5", "G90"]


def on(rig_motion=None, **extruder):
    motion = RIG.motion.model_copy(update=rig_motion or {})
    return RIG.model_copy(
        update={"motion": motion, "extruder": RIG.extruder.model_copy(update=extruder)}
    )


def told(lines, rig=RIG):
    return replay("\n".join(lines).encode(), rig)


def test_a_file_that_goes_relative_with_g91_is_read_so_on_its_own_evidence():
    found = told([*ABSOLUTE, *ENDING])
    assert found.summary.filament_net_mm == pytest.approx(40.0)
    taken, other = found.summary.readings
    assert (taken.reading, taken.taken, other.reading, other.taken) == (
        "g90-sets-e", True, "g90-leaves-e", False,
    )  # fmt: skip
    assert taken.why.startswith("otherwise one E word would draw back or push more than 20 mm")
    assert "40.000 mm of filament net; the other reading 4.500 mm" in taken.what
    assert found.read_as.motion.e_follows_g90 is True
    assert found.rig == "R"


def test_the_rig_goes_above_the_evidence():
    for says, net in ((False, 4.5), (True, 40.0)):
        found = told([*ABSOLUTE, *ENDING], on({"e_follows_g90": says}))
        assert found.summary.filament_net_mm == pytest.approx(net)
        assert not any(reading.taken for reading in found.summary.readings)


@pytest.mark.parametrize(("pull", "other"), [(20.0, False), (20.1, True)])
def test_twenty_millimetres_at_once_are_the_sign(pull, other):
    lines = [*ABSOLUTE[:6], f"G1 E{pull - 1} F300", "G91", "G1 Z1 E-1 F300"]
    found = told(lines)
    assert any(reading.taken for reading in found.summary.readings) == other


def test_evidence_on_both_sides_decides_nothing():
    """First one E word odd as we read it, then one odd in the other reading."""
    both = [*ABSOLUTE, "G91", "G1 Z1 E-1 F1800", "G90", "G92 E0", "G91", "G1 E30", "G1 E31", "G90"]
    found = told(both)
    assert min(found.summary.signs) > 0
    assert not any(reading.taken for reading in found.summary.readings)


def test_a_file_in_relative_e_whose_g90_would_end_it_needs_no_rereading():
    lines = [*ABSOLUTE[:2], "M83", "G90", *("G1 X2 E0.1 F600", "G1 X4 E0.1", "G1 X6 E0.1")]
    found = told(lines)
    assert found.summary.signs[0] == 0
    assert found.summary.filament_net_mm == pytest.approx(0.3)
    assert told(lines, on({"e_follows_g90": True})).summary.signs[0] == 2


ARCS = ["G21", "G90", "M83", "G1 X50 Y50 Z0.2 F6000"]
PLACES = ["G2 X60 Y60 I60 J50 E0.5 F1200", "G2 X68 Y56 I60 J50 E0.5", "G2 X60 Y40 I60 J50 E0.5"]


def test_arcs_that_all_close_with_absolute_centres_are_read_so():
    found = told([*ARCS, *PLACES])
    assert (found.summary.arcs, found.summary.bad_arcs) == (3, 0)
    (taken,) = (reading for reading in found.summary.readings if reading.taken)
    assert taken.reading == "arc-centres-absolute"
    assert "otherwise 3 arcs would not close" in taken.why
    stubborn = told([*ARCS, *PLACES], on({"absolute_arc_centres": False}))
    assert stubborn.summary.bad_arcs == 3
    mixed = told([*ARCS, *PLACES, "G1 X50 Y50", "G2 X60 Y60 I10 J0 E0.5"])
    assert (mixed.summary.bad_arcs, mixed.read_as.motion.absolute_arc_centres) == (3, None)
    spoken = told(["G91.1", *ARCS, *PLACES])
    assert spoken.summary.bad_arcs == 3


def box(e_per_mm, layers=4):
    lines = ["G21", "G90", "M83", "M104 S220"]
    for k in range(layers):
        lines.append(f"G1 X20 Y20 Z{0.2 + 0.2 * k:.1f} F6000")
        lines += [f"G1 X{x} Y{y} E{40 * e_per_mm:.5f} F2400"
                  for x, y in ((60, 20), (60, 60), (20, 60), (20, 20))]  # fmt: skip
    return lines


@pytest.mark.parametrize(
    ("width", "offered"),
    [
        (0.45, None), (1.19, None), (0.165, None),
        (0.45 * SECTION_MM2, None), (1.21, "e-is-a-volume"), (0.155, "filament-2.85"),
        (9.0, "beads-implausible"),
    ],
)  # fmt: skip
def test_beads_of_an_implausible_width_offer_the_reading_that_mends_them(width, offered):
    found = told(box(width * 0.2 / SECTION_MM2))
    names = [reading.reading for reading in found.summary.readings]
    assert names == ([offered] if offered else [])


def test_volumetric_e_is_honoured_from_file_and_rig():
    mm3 = box(0.09)
    for lines, rig in (
        (["M200 D1.75", *mm3], RIG), (["M200 S1", *mm3], RIG), (mm3, on(volumetric_e=True)),
    ):  # fmt: skip
        found = told(lines, rig)
        assert found.summary.filament_net_mm == pytest.approx(640 * 0.09 / SECTION_MM2)
        assert found.flow.max_mm3_s == pytest.approx(0.09 * 40, rel=1e-3)
    assert told(["M200 D1.75", "M200 D0", *mm3]).summary.filament_net_mm == pytest.approx(57.6)
    assert summary(b"M200 D0.09\n").problem_counts == {"setting": 1}
    assert summary(b"M200 D20\nM200 D0.1\n").problem_counts == {}


def test_firmware_retraction_is_a_line_of_its_own():
    found = told([*ABSOLUTE, "G10", "G11", "G10"])
    assert found.summary.filament_net_mm == pytest.approx(40.0)
    assert found.summary.firmware_retractions == 3
    assert found.summary.firmware_retract_mm == pytest.approx(1.6)
    (note,) = (note for note in found.notes if note.startswith("G10 and G11"))
    assert note == (
        "G10 and G11, 3 times: 0.8 mm each (the rig's length, assumed), not in the totals of "
        "filament"
    )
    stated = told([*ABSOLUTE, "G10"], on(retract_mm=2.0))
    assert "2 mm each (the rig's length), not" in " ".join(stated.notes)
