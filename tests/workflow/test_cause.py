"""Walls of a print, photos of them, the ranked list, stored: what page and command both ask."""

import io
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from cause_case import PHOTO_PX, wall_case
from PIL import Image, ImageOps
from shaken import shaken, table

from beadworth.cause import CannotTell, Question
from beadworth.core import ConflictError, InputError, NotFoundError, ReadingsError
from beadworth.store import open_bench, photo
from beadworth.workflow import (
    cause_readings,
    describe_bounds,
    journal_of_cause,
    one_cause,
    pick_wall,
    place_corners,
    print_walls,
    printed_source,
    rank_causes,
    read_vibration,
    store_cause,
    take_photo,
    unseen_lines,
    uses_of_rig,
    void_cause,
)
from beadworth.workflow.cause import longest_unseen_mm, read_wall_photo, witness_fields
from beadworth.workflow.cause_stored import gather_causes


@pytest.fixture(scope="module")
def case():
    return wall_case()


@pytest.fixture(scope="module")
def walls(case):
    return [
        place_corners(take_photo(data, "wall.jpg"), side, case.places(i).split())
        for i, (side, (data, _)) in enumerate(zip(case.sides, case.photos, strict=True))
    ]


@pytest.fixture(scope="module")
def answer(case, walls):
    return rank_causes(case.rig, walls)


def test_the_cause_that_was_drawn_comes_first(case, walls, answer):
    first = answer.causes[0]
    assert first.name == "belt tooth, x"
    assert answer.verdict.startswith("Most likely: belt tooth, x (")
    assert first.period.low <= 2.0 <= first.period.high
    assert sum(c.probability for c in answer.causes) == pytest.approx(1)
    for wall, (kx, kz) in zip(walls, first.spots, strict=True):
        assert (kx, kz) == (pytest.approx(0.5, rel=0.01), 0)
        assert abs(wall.found.length_mm - 110) < 0.5
        assert wall.notes == ()
    assert rank_causes(case.rig, walls[:1]).causes[0].name == "belt tooth, x"


def test_what_cannot_be_told_is_told_once_for_each_reason(answer):
    assert unseen_lines(answer) == [
        "belt tooth, y; idler turn, y; pulley turn, y; guide wheel turn, y: stands still along "
        "this wall; photograph one across it."
    ]


def test_a_path_from_right_to_left_is_read_from_its_other_end(case, walls):
    data, corners = case.photos[0]
    out = io.BytesIO()
    ImageOps.mirror(Image.open(io.BytesIO(data))).save(out, "PNG")
    there = (np.array([PHOTO_PX[0], 0]) - corners * [1, -1])[[1, 0, 3, 2]] / np.array(PHOTO_PX)
    side = replace(case.sides[0], left_to_right=False)
    turned = read_wall_photo(take_photo(out.getvalue(), "w.png"), side, there.tolist())
    a, b = turned.reading.profile.mean, walls[0].reading.profile.mean
    n = min(a.size, b.size)
    assert np.corrcoef(a[:n], b[:n])[0, 1] > 0.98
    plain = read_wall_photo(take_photo(out.getvalue(), "w.png"), case.sides[0], there.tolist())
    assert abs(np.corrcoef(plain.reading.profile.mean[:n], b[:n])[0, 1]) < 0.9


def test_answers_move_the_ranking(case, walls, answer):
    before = {c.name: c.probability for c in answer.causes}
    no = rank_causes(case.rig, walls, {"same place": False, "lean": True, "belt": False})
    after = {c.name: c.probability for c in no.causes}
    odds = [p["belt tooth, x"] / p["none of these"] for p in (before, after)]
    assert odds[1] == pytest.approx(odds[0] * 0.2**3), "three answers of nine in ten, against even"
    assert {q.key for q in no.questions} >= {"same place", "lean"}, "what was answered stays"
    with pytest.raises(InputError) as refused:
        rank_causes(case.rig, walls, {"colour": True})
    assert str(refused.value) == (
        "answers: colour: no such question. Those there are: same place, lean, fade, level, dust, "
        "half speed, shift, two flows, belt, half acceleration, heater."
    )


def test_a_test_fills_in_the_form_of_its_witness_print(walls, answer):
    def fields(key, making, **more):
        asked = Question(key, "?", 0.5, 20, making)
        return witness_fields(asked, "Wader", walls, replace(answer, **more))

    assert fields("half speed", "cause wall") == {
        "kind": "cause wall", "rig": "Wader", "speeds_mm_s": "42 83",
    }  # fmt: skip
    assert fields("two flows", "weighed pair") == {"kind": "weighed pair", "rig": "Wader"}
    unseen = (CannotTell("a", "short", 105.0), CannotTell("b", "still", None))
    assert fields("longer wall", "cause wall", unseen=unseen)["longest_mm"] == "42"
    further = (*unseen, CannotTell("c", "short", 105.5))
    assert fields("longer wall", "cause wall", unseen=further)["longest_mm"] == "43"
    assert longest_unseen_mm(replace(answer, unseen=unseen[1:])) is None
    assert fields("belt", "") == {}


def test_corners_that_are_none_are_refused(case, walls):
    photo_ = walls[0].photo
    cases = {
        "96,12 a,b 4": [
            "corners: 'a,b' is no place in a photo. Write column,row in pixels, as 96,1141.",
            "corners: '4' is no place in a photo. Write column,row in pixels, as 96,1141.",
        ],
        "1,2 3,4": [
            "corners: 2 corners were given. Give four: bottom left, bottom right, top right, top "
            "left."
        ],
        "10,470 2390,470 2390,481 10,10": [
            "corners: these are not four places inside the photo. Give bottom left, bottom right, "
            "top right, top left, each with its column and row."
        ],
        "10,10 2390,10 2390,470 10,470": [
            "corners: these four corners do not go round a wall. Give bottom left, bottom right, "
            "top right, top left as they lie in the photo."
        ],
    }
    for text, said in cases.items():
        with pytest.raises(InputError) as refused:
            place_corners(photo_, case.sides[0], text.split())
        assert [str(problem) for problem in refused.value.problems] == said, text


def test_a_wall_of_another_length_is_noticed(case, walls):
    def noted(length_mm):
        wall = replace(case.sides[0].wall, length_mm=length_mm)
        side = replace(case.sides[0], wall=wall)
        return read_wall_photo(walls[0].photo, side, walls[0].corners).notes

    assert noted(106.0) == ()
    (note,) = noted(103.5)
    assert note == (
        "By its layer lines the wall between your corners is 110 mm long, by its program 104 mm. "
        "Drag the corners to where the straight stretch begins and ends, or choose the wall that "
        "this is."
    )


def test_a_reading_is_stored_with_its_photos_stripped(case, walls, answer, tmp_path):
    data = case.photos[0][0]
    tagged = Image.open(io.BytesIO(data))
    exif = tagged.getexif()
    exif[0x013B] = "somebody"
    out = io.BytesIO()
    tagged.save(out, "JPEG", quality=95, exif=exif)
    taken = take_photo(out.getvalue(), "private-name.jpg")
    wall = read_wall_photo(taken, case.sides[0], walls[0].corners)
    with open_bench(tmp_path / "bench.sqlite") as bench:
        with pytest.raises(NotFoundError):
            store_cause(bench, case.rig.name, "box.gcode", [wall], answer)
        bench.save_rig(case.rig)
        stored = store_cause(bench, case.rig.name, "box.gcode", [wall], answer, {"dust": False})
        shown = photo(bench, stored.record.walls[0].photo_sha256)
        small = Image.open(io.BytesIO(shown.data))
        assert max(small.size) == 1600
        assert not small.getexif()
        assert b"somebody" not in shown.data
        assert "private-name" not in str(stored.record)
        assert one_cause(bench, stored.id).record == stored.record
        assert stored.record.causes[0].name == "belt tooth, x"
        assert stored.record.walls[0].length_mm == pytest.approx(110)
        assert stored.record.answers == {"dust": False}
        page = journal_of_cause(bench, stored)
        assert page.record.title == "What the wall showed: belt tooth, x"
        assert page.record.simulated
        assert page.record.photos[0].sha256 == shown.sha256
        assert not page.record.shown
        assert "a reading of a wall" in uses_of_rig(bench, case.rig.name)
        asked = SimpleNamespace(notes=bench.notes, rig_names=[case.rig.name])
        (published,) = gather_causes(asked)
        assert (published.number, published.rig) == (stored.id, case.rig.name)
        assert published.rows[0].cause == "belt tooth, x"
        assert void_cause(bench, stored.id, "wrong wall").state == "voided"
        assert gather_causes(asked) is None
        assert [one.state for one in cause_readings(bench, case.rig.name)] == ["voided"]
        with pytest.raises(ConflictError) as refused:
            journal_of_cause(bench, one_cause(bench, stored.id))
        assert str(refused.value) == (
            f"reading: reading {stored.id} does not count (wrong wall). Read the photo again first."
        )
        with pytest.raises(NotFoundError) as missing:
            one_cause(bench, 999)
        said = "reading: there is no reading of a wall 999 on the bench. Those there are: "
        assert str(missing.value) == f"{said}{stored.id}."
        for none in ("abc", "witness 3", "witness ²", "witness " + "9" * 5000):
            with pytest.raises(NotFoundError):
                printed_source(bench, None, none)


def test_a_wall_is_picked_by_its_number(case):
    sides = print_walls(case.program.encode(), case.rig, "box.gcode")
    assert pick_wall(sides, 1) == case.sides[0]
    assert pick_wall(sides, 3) == case.sides[1]
    for number in (0, 9):
        with pytest.raises(NotFoundError, match=f"there is no wall {number} in this print"):
            pick_wall(sides, number)


def test_no_wall_and_five_are_refused(case, walls):
    for many in (0, 5):
        with pytest.raises(InputError, match=f"{many} walls were given"):
            rank_causes(case.rig, walls[:1] * many)


def test_bounds_are_written_with_three_figures():
    from beadworth.cause import Interval

    assert describe_bounds(Interval(40.04, 39.61, 40.47), "mm") == "40.0 (39.6 to 40.5) mm"
    assert describe_bounds(Interval(0.0612, 0.05, 0.07)) == "0.0612 (0.0500 to 0.0700)"
    assert describe_bounds(Interval(412.3, 400, 430), "µm") == "412 (400 to 430) µm"
    assert describe_bounds(None, "mm") == ""


def record(seconds=12.0):
    t, values = shaken(62.0, 0.05, 3, seconds=seconds)
    return table(t, x_m_s2=values)


def test_a_record_gives_its_mode_what_it_leaves_and_what_filters_would():
    found = read_vibration(record(), "shaken.csv", [4000, 1000], 80.0)
    (axis,) = found.axes
    mode = axis.modes[0]
    assert mode.hertz.low < mode.hertz.value < mode.hertz.high
    assert mode.hertz.value == pytest.approx(62, rel=0.01)
    assert mode.damping.value == pytest.approx(0.05, rel=0.2)
    assert [r.acceleration_mm_s2 for r in mode.ripples] == [1000, 4000]
    worst = 2 * 1000 / (2 * np.pi * mode.hertz.value) ** 2 / np.sqrt(1 - mode.damping.value**2)
    assert mode.ripples[0].worst_um == pytest.approx(1e3 * worst)
    assert mode.ripples[0].of_step_um <= mode.ripples[0].worst_um
    left = {one.filter: one.left for one in mode.filters}
    assert set(left) == {"none", "two-impulse", "three-impulse", "extra-insensitive"}
    assert set(left["none"]) == {1.0}
    assert left["two-impulse"][3] == pytest.approx(0, abs=1e-9), "the right frequency"
    assert left["three-impulse"][2] < left["two-impulse"][2], "five per cent off"
    assert found.seconds == pytest.approx(12)


def test_a_record_that_is_none_is_refused():
    with pytest.raises(ReadingsError):
        read_vibration(b"a,b\n1,2\n", "x.csv")
    with pytest.raises(InputError) as refused:
        read_vibration(record(1.0), "x.csv", [1000, 0], -1)
    assert [str(p) for p in refused.value.problems] == [
        "acceleration: 0 is not above 0. Give what the printer is set to.",
        "change of speed: -1 is not above 0. Give what the printer is set to.",
    ]
