"""Walls found in a print's program, against sums done by hand."""

import math

import numpy as np
import pytest
from cause_case import wall_case
from witness_rigs import MATERIAL
from witness_rigs import RIG as WITNESS_RIG

from beadworth.cause import mirrored, printed_sides, read_photo, rectify
from beadworth.core import InputError
from beadworth.rig import AxisLimits, Motion, Rig
from beadworth.witness import WitnessSpec, make_witness

RIG = Rig(
    name="r",
    motion=Motion(
        max_speed_mm_s=AxisLimits(x=200, y=200, z=10),
        max_acceleration_mm_s2=AxisLimits(x=1000, y=1000, z=100),
    ),
)
HEAD = "G21\nG90\nM83\nG28\n"
AREA = math.pi / 4 * 1.75**2


def loop(points, z, speed=50.0, per_mm=0.04, dwell_ms=100, retract=1.0):
    """One layer: there, a closed loop of straight sides from a standstill, filament drawn back."""
    lines = [f"G0 X{points[0][0]} Y{points[0][1]} Z{z:.3f} F6000", f"G4 P{dwell_ms}"]
    lines.append(f"G1 E{retract} F1800")
    for (ax, ay), (bx, by) in zip(points, points[1:] + points[:1], strict=True):
        for share in (0.5, 1.0):  # in two moves: one stretch all the same
            x, y = ax + share * (bx - ax), ay + share * (by - ay)
            e = per_mm * math.dist((ax, ay), (bx, by)) / 2
            lines.append(f"G1 X{x} Y{y} E{e:.6f} F{speed * 60:g}")
    return "\n".join([*lines, f"G1 E-{retract} F1800"]) + "\n"


def box(x=20.0, y=20.0, wide=60.0, deep=40.0):
    return [(x, y), (x + wide, y), (x + wide, y + deep), (x, y + deep)]


def layers(count, points=None, begin=0, **more):
    return "".join(
        loop(points or box(), 0.2 * (n + 1), **more) for n in range(begin, begin + count)
    )


def found(text):
    return {side.name: side for side in printed_sides((HEAD + text).encode(), RIG)}


def test_a_wall_is_what_its_program_says():
    sides = found(layers(20))
    assert list(sides) == [
        f"{looks}, layers 1 to 20, 50 mm/s" for looks in ("front", "back", "right", "left")
    ]
    front = sides["front, layers 1 to 20, 50 mm/s"]
    assert front.wall.length_mm == pytest.approx(60)
    assert front.wall.layer_mm == pytest.approx(0.2)
    assert front.wall.filament_per_mm == pytest.approx(0.04)
    assert front.wall.loop_filament_mm == pytest.approx(200 * 0.04)
    assert front.wall.direction_deg == pytest.approx(0)
    assert front.wall.acceleration_mm_s2 == pytest.approx(1000)
    assert front.wall.corner_mm_s == pytest.approx(0), "it begins after filament was moved alone"
    assert (front.start_mm, front.end_mm) == ((20, 20), (80, 20))
    assert front.left_to_right
    assert front.outward_deg == 270
    assert front.height_mm == pytest.approx(4)
    assert sides["right, layers 1 to 20, 50 mm/s"].wall.direction_deg == pytest.approx(90)
    # the layer: four sides at 50 mm/s with corners taken slower, 0.1 s of dwell, filament to and
    # fro, 0.2 mm up: more than the path over the speed and the dwell, less than with full stops
    least = 200 / 50 + 0.1 + 2 / 30
    assert least < front.wall.layer_s < least + 4 * 50 / 1000 + 0.2


def test_dwells_are_part_of_a_layers_time():
    short, long = (next(iter(found(layers(14, dwell_ms=ms)).values())).wall for ms in (0, 750))
    assert long.layer_s - short.layer_s == pytest.approx(0.75, abs=1e-6)
    assert long.loop_filament_mm == pytest.approx(short.loop_filament_mm)


def test_a_path_that_runs_clockwise_runs_from_right_to_left():
    sides = found(layers(14, box()[::-1]))
    assert [side.left_to_right for side in sides.values()] == [False] * 4
    assert {side.outward_deg for side in sides.values()} == {0, 90, 180, 270}


def test_twelve_layers_are_a_wall_and_eleven_are_not():
    assert len(found(layers(12))) == 4
    with pytest.raises(InputError) as refused:
        found(layers(11))
    assert str(refused.value) == (
        "print: no straight upright wall of 20 mm over 12 layers stands open to view in this "
        "print. Print a cause wall, or choose a print with long straight sides."
    )


def test_twenty_mm_are_a_wall_and_less_is_not():
    assert {s.wall.length_mm for s in found(layers(12, box(deep=20.0))).values()} == {20, 60}
    assert {s.wall.length_mm for s in found(layers(12, box(deep=19.9))).values()} == {60}


def test_another_speed_or_bead_begins_another_wall():
    names = list(found(layers(14) + layers(15, begin=14, speed=80.0)))
    assert names[0] == "front, layers 1 to 14, 50 mm/s"
    assert names[2] == "front, layers 15 to 29, 80 mm/s"
    assert len(found(layers(14) + layers(15, begin=14, per_mm=0.0408))) == 4
    assert len(found(layers(14) + layers(15, begin=14, per_mm=0.0416))) == 8


def test_what_stands_behind_another_wall_is_left_out():
    """Three walls inside one another: the middle one is hidden, the inner one looks inwards."""
    inside = [box(20.5, 20.5, 59, 39), box(21.0, 21.0, 58, 38)]
    text = "".join(
        loop(points, 0.2 * (n + 1)) for n in range(14) for points in (*inside, box())
    )  # fmt: skip
    assert {side.wall.length_mm for side in found(text).values()} == {40, 60}


def test_a_wall_laid_to_and_fro_is_left_out():
    text = "".join(loop(box()[:: 1 if n % 2 else -1], 0.2 * (n + 1)) for n in range(30))
    with pytest.raises(InputError, match="no straight upright wall"):
        found(text)


def test_layers_that_take_other_times_are_told():
    """Dwells of 0 to 0.4 s scatter by 0.14 s; a layer takes 4.4 s or a little more."""
    text = "".join(layers(1, begin=n, dwell_ms=100 * (n % 5)) for n in range(20))
    side = next(iter(found(text).values()))
    assert side.notes == (
        "The layer time varies by 3 % from layer to layer: what goes with the clock is smeared.",
    )
    assert next(iter(found(layers(20)).values())).notes == ()


def test_a_bow_is_no_wall_and_a_chord_is():
    """Moves of 2 mm round an arc of 1 m: less than a tenth of a degree apart."""
    at = np.linspace(0, 0.06, 31)
    bow = [(20 + 1000 * math.sin(a), 20 + 1000 * (1 - math.cos(a))) for a in at.tolist()]
    (chord,) = found(layers(14, bow)).values()
    assert chord.wall.length_mm == pytest.approx(math.dist(bow[0], bow[-1]), abs=1e-3)
    assert chord.start_mm == pytest.approx(bow[-1], abs=1e-6)


def test_the_cause_wall_shows_its_eight_sides_at_both_speeds():
    spec = WitnessSpec(kind="cause wall", temperature_c=215, speeds_mm_s=(40, 70))
    witness = make_witness(spec, WITNESS_RIG, MATERIAL)
    sides = printed_sides(witness.text.encode(), WITNESS_RIG)
    assert len(sides) == 16
    assert sorted(round(s.outward_deg) for s in sides) == sorted(2 * list(range(0, 360, 45)))
    frame = witness.bands[0].settings["frame_mm"]
    for side in sides:
        band = witness.bands[0 if side.wall.speed_mm_s < 50 else 1]
        assert side.wall.speed_mm_s == pytest.approx(band.settings["speed_mm_s"])
        assert side.wall.length_mm == pytest.approx(frame - 1.5, abs=0.01), "between its ticks"
        assert side.wall.layer_s == pytest.approx(band.settings["layer_time_s"], rel=0.01)
        assert side.wall.filament_per_mm * AREA == pytest.approx(
            band.settings["flow_mm3_s"] / band.settings["speed_mm_s"], rel=0.2
        )
        assert side.layers >= 56
        assert side.left_to_right
    assert len({side.name for side in sides}) == 16


def test_a_mirrored_photo_reads_the_wall_from_its_other_end(case_photo):
    data, corners, length_mm = case_photo
    photo = read_photo(data, "wall")
    plain = rectify(photo, corners, length_mm, 0.3)
    turned, there = mirrored(photo, corners)
    other = rectify(turned, there, length_mm, 0.3)
    assert other.length_mm == pytest.approx(plain.length_mm, rel=1e-4)
    smooth = np.ones(9) / 9  # columns begin elsewhere: finer grain than half a mm differs
    a, b = (
        np.apply_along_axis(np.convolve, 1, m, smooth, "valid")
        for m in (plain.matrix.values[:, 10:-10], other.matrix.values[:, ::-1])
    )
    a, b = a - a.mean(1, keepdims=True), b - b.mean(1, keepdims=True)
    width = a.shape[1] - 20
    shifts = [
        float(
            np.corrcoef(a[:, 10 : 10 + width].ravel(), b[:, 10 + s : 10 + s + width].ravel())[0, 1]
        )
        for s in range(-10, 31)
    ]
    assert max(shifts) > 0.95
    assert np.sort(shifts)[-12] < 0.75, "at one place only, a tooth further at most"


@pytest.fixture(scope="module")
def case_photo():
    return (*wall_case().photos[0], 110.0)
