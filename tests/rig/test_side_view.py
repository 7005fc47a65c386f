"""The side view: well-formed, to scale, said in words, in the house's colours."""

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from beadworth.core.records import from_toml
from beadworth.report.theme import COLOURS
from beadworth.rig import BuildVolume, HotEnd, Rig, Room, Toolhead
from beadworth.rig.drawing import HEIGHT, WIDTH, side_view

STILT = from_toml(
    Rig,
    (Path(__file__).resolve().parents[2] / "docs/examples/rig-stilt-stock.toml").read_text(),
    "stilt",
)
SVG = "{http://www.w3.org/2000/svg}"


def texts(svg):
    return [node.text for node in ET.fromstring(svg).iter(f"{SVG}text")]


def test_it_says_what_it_shows():
    root = ET.fromstring(side_view(STILT))
    assert root.get("role") == "img"
    assert "46 mm below the mounting reference" in root.get("aria-label")
    assert root.find(f"{SVG}desc").text == root.get("aria-label")


def test_colours_are_those_a_page_can_map():
    used = set(re.findall(r"#[0-9a-f]{6}", side_view(STILT)))
    assert used <= set(COLOURS["light"].values())


def test_lengths_are_to_scale():
    """The bar of 2 mm and the melt zone's measure share one scale."""
    svg = side_view(STILT)
    bars = re.findall(r"M([\d.]+),[\d.]+ v8 M[\d.]+,[\d.]+ H([\d.]+)", svg)
    scale = (float(bars[1][1]) - float(bars[1][0])) / 2.0
    measures = re.findall(r"h10 M[\d.]+,([\d.]+) V([\d.]+)", svg)
    zone = float(measures[2][1]) - float(measures[2][0])
    assert zone / scale == pytest.approx(12.5, abs=0.02)
    stack = (float(bars[0][1]) - float(bars[0][0])) / 10.0
    tip = float(measures[0][1]) - float(measures[0][0])
    assert tip / stack == pytest.approx(46.0, abs=0.1)


def test_the_unknown_is_dashed_and_named():
    bare = side_view(Rig(name="Bare"))
    assert "stroke-dasharray" in bare
    words = " ".join(texts(bare))
    assert "bore not recorded" in words
    assert "what the toolhead fills to each side" in words
    assert "nozzle tip below the mounting reference, nozzle behind" in words
    assert "_mm" not in words
    assert "not recorded" not in " ".join(texts(side_view(STILT)))


sizes = st.none() | st.floats(0.5, 400)


@given(
    st.builds(
        Rig,
        name=st.text(min_size=1, max_size=80).filter(str.isprintable),
        hot_end=st.builds(
            HotEnd, melt_zone_mm=sizes, heat_break_mm=sizes, land_mm=sizes,
            nozzle_mm=st.floats(0.1, 1.5), bore_mm=st.none() | st.floats(1.6, 6),
        ),
        toolhead=st.builds(
            Toolhead, nozzle_z_mm=sizes, nozzle_y_mm=st.none() | st.floats(-200, 200),
            height_mm=st.floats(0.5, 100),
            envelope=st.none() | st.builds(Room, front_mm=sizes, back_mm=sizes, above_mm=sizes),
        ),
        room=st.none() | st.builds(Room, front_mm=sizes, back_mm=sizes, above_mm=sizes),
        build_volume=st.just(BuildVolume(x_mm=200.0, y_mm=200.0, z_mm=200.0)),
    )
)  # fmt: skip
def test_any_rig_is_drawn_inside_the_picture(rig):
    root = ET.fromstring(side_view(rig))
    sheet, *drawn = root.iter(f"{SVG}rect")
    assert float(sheet.get("height")) == float(root.get("viewBox").split()[3])
    for node in drawn:
        x, y = float(node.get("x", 0)), float(node.get("y", 0))
        w, h = float(node.get("width")), float(node.get("height"))
        assert w >= 0
        assert h >= 0
        assert -60 <= x <= x + w <= WIDTH + 60
        assert -60 <= y <= y + h <= HEIGHT


def test_a_long_note_makes_the_picture_higher_and_covers_nothing():
    root = ET.fromstring(side_view(Rig(name="Bare")))
    lines = [float(node.get("y")) for node in root.iter(f"{SVG}text") if node.get("font-size")]
    drawn = [float(node.get("y")) for node in root.iter(f"{SVG}text") if not node.get("font-size")]
    assert len(lines) > 1
    assert min(lines) - 13 > max(drawn)
    height = float(root.get("viewBox").split()[3])
    assert max(lines) < height
    assert height > HEIGHT
