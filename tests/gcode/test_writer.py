"""The writer: fixed decimals, exact sums, and nothing outside the rig."""

import math
import re
from itertools import pairwise

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from beadworth.core.errors import LimitError
from beadworth.gcode.limits import Limits
from beadworth.gcode.writer import WORDS, Writer
from beadworth.gcode.written import LINE_LENGTH, comment_lines
from beadworth.material import Material
from beadworth.rig import AxisLimits, BuildVolume, Extruder, HotEnd, Motion, Rig
from beadworth.text import ascii_line

MATERIAL = Material(name="m", density_g_cm3=1.24, min_temperature_c=190, max_temperature_c=240)


def limits(**more):
    rig = Rig(
        name="r",
        build_volume=BuildVolume(x_mm=200, y_mm=200, z_mm=100),
        hot_end=HotEnd(temperature_limit_c=260),
        motion=Motion(max_speed_mm_s=AxisLimits(x=100, y=100, z=10)),
        extruder=Extruder(max_feed_mm_s=20, max_acceleration_mm_s2=1000),
        **more,
    )
    return Limits.of(rig, MATERIAL)


def started():
    writer = Writer(limits())
    writer.home(5)
    return writer


def commands(text):
    return [line for line in text.splitlines() if line and not line.startswith(";")]


def test_a_small_program_reads_as_expected():
    writer = started()
    writer.nozzle(210, wait_s=90)
    writer.travel(10, 0, feed_mm_s=80)
    writer.lay(20, 0, 5, 0.5, feed_mm_s=40)
    writer.lay(30, 0, 5, 0.5, feed_mm_s=40)
    writer.retract(0.8, feed_mm_s=20)
    writer.retract(0.8, feed_mm_s=20)
    writer.recover(feed_mm_s=20)
    writer.dwell(1.5)
    writer.fan(0.5)
    writer.pause("snip")
    writer.motors_off()
    assert writer.text().splitlines() == [
        *("G21", "G90", "M83", "G28", "G0 Z5 F300", "M109 S210"),
        *("G0 X10 Y0 F4800", "G1 X20 E0.50000 F2400", "G1 X30 E0.50000"),
        *("G1 E-0.80000 F1200", "G1 E0.80000", "G4 P1500", "M106 S128"),
        *("; PAUSE: snip", "M0", "M84"),
    ]
    assert writer.filament_mm == pytest.approx(1.0)
    # lift 1 s, homing 30 s, heating 90 s, 10 mm at 80, 20 mm at 40, 1.6 mm at 20 mm/s, 1.5 s
    assert writer.seconds == pytest.approx(31 + 90 + 0.125 + 0.5 + 0.08 + 1.5)


def test_everything_outside_is_refused_at_once():
    writer = started()
    writer.nozzle(250)  # hot end takes 260, the material 240
    writer.travel(201, 5, 101, feed_mm_s=150)
    writer.extrude(100, feed_mm_s=25)
    writer.extrude(0.2, feed_mm_s=19)
    with pytest.raises(LimitError) as caught:
        writer.text()
    text = str(caught.value)
    for part in (
        "250 °C is above the limit of 240 °C",
        "x 201 mm",
        "z 101 mm",
        "the axis reaches 100 mm/s",
        "faster than the extruder turns (20 mm/s)",
        "too short to reach 19.0 mm/s",
    ):
        assert part in text


def test_no_move_before_homing_and_none_that_is_not_a_number():
    writer = Writer(limits())
    writer.travel(1, 1, 1, feed_mm_s=10)
    with pytest.raises(LimitError, match="before homing"):
        writer.text()
    writer = started()
    writer.lay(math.nan, 1, 1, 0.1, feed_mm_s=10)
    with pytest.raises(LimitError, match="not a number"):
        writer.text()


def test_only_the_worst_of_each_kind_is_kept():
    writer = started()
    for x in (210, 250, 220):
        writer.travel(x, 5, feed_mm_s=50)
    (worst,) = writer.problems
    assert "x 250 mm leaves the build volume (0 to 200 mm)" in worst.what


@given(st.lists(st.floats(1e-4, 3.0), min_size=1, max_size=300))
def test_rounding_of_e_never_adds_up(amounts):
    writer = started()
    for index, amount in enumerate(amounts):
        writer.lay(50 + index % 2 * 10, 5, 5, amount, feed_mm_s=5)
    written = [float(m) for m in re.findall(r"E(-?[\d.]+)", writer.text())]
    assert sum(written) == pytest.approx(sum(amounts), abs=6e-6)
    assert len(written) == len(amounts)


@given(
    st.floats(0, 200), st.floats(0, 200), st.floats(0, 100), st.floats(0.01, 10), st.floats(1, 9)
)
def test_numbers_are_plain_decimals_and_words_are_known(x, y, z, e, feed):
    writer = started()
    writer.travel(x, y, z, feed_mm_s=feed)
    writer.lay(100.0005, 100, 50, e, feed_mm_s=0.01)
    for line in commands(writer.text()):
        word, *rest = line.split(" ")
        assert word in WORDS
        assert all(re.fullmatch(r"[XYZEFSP]-?\d+(\.\d+)?", part) for part in rest), line
        assert "-0 " not in f"{line} "


@given(st.text(max_size=300))
def test_comments_are_short_ascii_lines_whatever_is_put_in(text):
    for line in comment_lines(text, indent="  "):
        assert line.startswith(";")
        assert line.isascii()
        assert line.isprintable()
        assert len(line) <= LINE_LENGTH
        assert "*" not in line


def test_units_stay_readable_in_ascii():
    assert ascii_line("210 °C, 12 mm³/s, ±0.02") == "210 C, 12 mm3/s, +/-0.02"


def test_unknown_limits_name_the_fields_to_fill():
    with pytest.raises(LimitError) as caught:
        Limits.of(Rig(name="r"), MATERIAL)
    assert "build_volume.x_mm" in str(caught.value)
    assert "hot_end.temperature_limit_c" in str(caught.value)


def test_after_homing_every_axis_is_written_even_to_zero():
    writer = started()
    writer.travel(0, 0, feed_mm_s=50)
    assert "G0 X0 Y0 F3000" in writer.text()


@given(
    st.lists(
        st.tuples(*(st.floats(low, high) for low, high in ((-9, 220), (0, 200), (0, 110)))),
        min_size=2,
        max_size=12,
    ),
    st.floats(1, 40),
    st.floats(0.5, 30),
    st.booleans(),
)
@example([(0.0, 0.0, 0.0), (0.0, 0.0, 0.0455)], 1.0, 1.0, False)  # a half of the last decimal
def test_a_path_is_what_its_pieces_laid_one_by_one_are(points, e_mm, e_mm_s, homed):
    if math.dist(points[0], points[1]) < 0.01:
        return
    places = [tuple(round(v, 3) for v in p) for p in points]
    lengths = [math.dist(a, b) for a, b in pairwise(places)]
    written = []
    for whole in (True, False):
        writer = started()
        if not homed:
            writer.position = places[0]
            writer._unsure = set()
        else:
            writer.travel(*places[0], feed_mm_s=5)
        if whole:
            writer.lay_path(points, e_mm, e_mm_s=e_mm_s)
        else:
            total = math.fsum(lengths)
            for place, length in zip(places[1:], lengths, strict=True):
                writer.lay(*place, e_mm * length / total, feed_mm_s=total * e_mm_s / e_mm)
        kinds = {kind: by for kind, (by, _) in writer._check._problems.items()}
        written.append((writer._lines, writer.seconds, writer.filament_mm, kinds))
    (lines, *rest), (one_by_one, *others) = written
    assert [line.split(" E")[0] for line in lines] == [line.split(" E")[0] for line in one_by_one]
    assert rest == [pytest.approx(other, rel=1e-9) for other in others]
    fed = [sum(float(w) for w in re.findall(r"E(\S+)", "\n".join(x))) for x in (lines, one_by_one)]
    assert fed[0] == pytest.approx(fed[1], abs=1.1e-5)


def arc(writer, to, centre, **more):
    writer.lay_arc(to, centre, 1.0, **{"clockwise": False, "feed_mm_s": 20} | more)


def test_an_arc_is_written_with_its_centre_from_its_start():
    writer = started()
    writer.travel(100, 50, feed_mm_s=80)
    arc(writer, (110, 60), (100, 60))
    arc(writer, (100, 50), (100, 60), clockwise=True)
    arc(writer, (110, 60), (100, 60), absolute_centre=True)
    assert writer.text().splitlines()[-3:] == [
        "G3 X110 Y60 I0 J10 E1.00000 F1200", "G2 X100 Y50 I-10 J0 E1.00000",
        "G3 X110 Y60 I100 J60 E1.00000",
    ]  # fmt: skip
    assert writer.position == (110, 60, 5)
    assert writer.filament_mm == pytest.approx(3)


def test_an_arc_is_held_against_the_bed_where_it_bulges():
    writer = started()
    writer.travel(190, 50, feed_mm_s=80)
    arc(writer, (190, 90), (190, 70))  # from 190 by way of 210
    with pytest.raises(LimitError, match="a move to x 210 mm leaves the build volume"):
        writer.text()
    inside = started()
    inside.travel(190, 50, feed_mm_s=80)
    arc(inside, (190, 90), (190, 70), clockwise=True)  # by way of 170
    assert "G2" in inside.text()


def test_an_arc_is_held_against_the_axes_and_needs_a_place_to_start():
    fast = started()
    fast.travel(100, 50, feed_mm_s=80)
    arc(fast, (110, 60), (100, 60), feed_mm_s=101)
    with pytest.raises(LimitError):
        fast.text()
    nowhere = Writer(limits())
    arc(nowhere, (110, 60), (100, 60))
    with pytest.raises(LimitError, match="an arc is asked before a straight move"):
        nowhere.text()
