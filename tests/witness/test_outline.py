"""Outlines: true arcs, folds, marks, facets, frames, by their sizes."""

import math
from xml.etree import ElementTree

import pytest
from witness_rigs import MATERIAL, RIG

from beadworth.core import bead_section_mm2
from beadworth.witness import (
    KINDS,
    WitnessSpec,
    describe_settings,
    make_witness,
    witness_picture,
)
from beadworth.witness.bead import width_of_mm
from beadworth.witness.codes import LETTERS, codes, shuffled
from beadworth.witness.criteria import CRITERIA, reference_picture
from beadworth.witness.outline import (
    MARK_DEPTH_MM,
    fold_leg_mm,
    folds,
    meander,
    notches,
    polygon,
    rounded,
)
from beadworth.witness.picture import BAND_WIDE_MM


def test_a_rounded_rectangle_is_as_long_as_its_sides_and_a_circle():
    outline = rounded(100, 60, 10)
    assert outline.length_mm() == pytest.approx(2 * (80 + 40) + 2 * math.pi * 10)
    assert outline.length_mm("corner") == pytest.approx(2 * math.pi * 10)
    assert outline.pieces[-1].to == outline.start
    assert outline.moved(5, 7).box_mm() == pytest.approx((-45, -23, 55, 37))


def test_folds_are_sharp_as_many_as_fit_and_in_the_middle():
    outline = rounded(140, 90, 10, back=folds(-60, 60, 45, (20, 12)))
    assert outline.length_mm("folded") == pytest.approx(12 * fold_leg_mm((20, 12)))
    assert fold_leg_mm((20, 12)) == pytest.approx(math.hypot(10, 12))
    assert min(p.to[1] for p in outline.pieces if p.side == "folded") == 33
    narrow = rounded(130, 90, 10, back=folds(-55, 55, 45, (20, 12)))
    xs = [p.to[0] for p in narrow.pieces if p.side == "folded"]
    assert (min(xs), max(xs)) == (-50, 40)
    assert narrow.length_mm("plain back") == pytest.approx(10)


@pytest.mark.parametrize(("code", "teeth"), [(0, 1), (0b1010, 3), (15, 5)])
def test_a_mark_stands_where_its_bits_say(code, teeth):
    outline = rounded(100, 80, 10, code=code)
    tips = [p.to for p in outline.pieces if p.to[0] == pytest.approx(50 + MARK_DEPTH_MM)]
    assert len(tips) == teeth
    assert tips[0][1] == pytest.approx(-14), "the tooth nearest the front always stands"
    assert [y for _, y in tips] == sorted(y for _, y in tips)


def test_a_meander_is_as_long_as_its_teeth_and_comes_back():
    outline = meander(3, 50, 10)
    assert outline.length_mm() == pytest.approx(3 * 60)
    assert outline.pieces[-1].to == outline.start
    assert not outline.pieces[-1].lays
    assert outline.length_mm("first") == pytest.approx(100)


def test_notches_are_bridged_by_their_own_span():
    deep, flat = (
        rounded(140, 60, 8, back=notches(-62, 62, 30, (10, 25), depth)) for depth in (12, 0)
    )
    assert deep.length_mm("notch") == pytest.approx(4 * 12 + 10 + 25)
    assert flat.length_mm("bridge 25 mm") == pytest.approx(25)


def test_the_frame_of_a_polygon_is_of_the_size_it_says():
    outline = polygon(8, 100, 80)
    tips = [p.to for p in outline.pieces if p.side == "tick"][0::2]
    assert len(tips) == 16
    for one, other in zip(tips[0::2], tips[1::2], strict=True):
        assert math.dist(one, other) == pytest.approx(80)
    x0, y0, x1, y1 = outline.box_mm()
    assert x1 - x0 == pytest.approx(y1 - y0)
    assert outline.pieces[-1].to == pytest.approx(outline.start)


def test_a_width_is_that_of_its_section():
    assert width_of_mm(bead_section_mm2(0.47, 0.2), 0.2) == pytest.approx(0.47)


def test_codes_are_drawn_from_the_seed_and_are_their_mark():
    assert codes(16, 3) == codes(16, 3) != codes(16, 4)
    assert all(LETTERS[mark] == letter for letter, mark in codes(16, 3))
    assert len({letter for letter, _ in codes(16, 3)}) == 16
    assert not set("IOSZB") & set(LETTERS), "letters that are taken for others"
    assert sorted(shuffled(range(9), 1, "x")) == list(range(9))


@pytest.mark.parametrize("subject", CRITERIA)
def test_each_grade_has_words_and_a_drawing_of_its_own(subject):
    drawn = [reference_picture(subject, grade) for grade in range(5)]
    assert len({svg for svg, _ in drawn}) == 5
    assert len(set(CRITERIA[subject])) == len(CRITERIA[subject]) == 5
    for grade, (svg, alt) in enumerate(drawn):
        ElementTree.fromstring(svg)
        assert alt == f"Grade {grade}, {subject}: {CRITERIA[subject][grade]}"


@pytest.mark.parametrize("kind", KINDS)
def test_a_map_names_bands_by_code_and_settings_once_they_may_be_known(kind):
    spec = WitnessSpec(kind=kind, temperature_c=215, ceiling_mm3_s=12)
    witness = make_witness(spec, RIG, MATERIAL)
    blind, alt = witness_picture(witness)
    opened, _ = witness_picture(witness, opened=True)
    ElementTree.fromstring(blind)
    assert len(opened) > len(blind)
    for band in witness.bands:
        assert f">{band.code}</text>" in blind
        assert f"{band.number} {band.code}" in alt
    for word in ("mm³/s", "mm/s", "passes ", "layer 1", "fan 0"):
        assert word not in blind
    for text in ElementTree.fromstring(opened).iter("{http://www.w3.org/2000/svg}text"):
        if text.text in {describe_settings(kind, band) for band in witness.bands}:
            # half an em a letter: a browser's sans-serif took 0.49 for these words
            end = float(text.get("x")) + 0.5 * float(text.get("font-size")) * len(text.text)
            assert end < 34.0 + BAND_WIDE_MM, f"{text.text} runs out of its band"
