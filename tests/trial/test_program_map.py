"""The position map: every coupon readable, the front edge unmistakable, PNG at printed size."""

import struct
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from beadworth.rig import BuildVolume, HotEnd, Rig
from beadworth.trial.programs.layout import plate_layout
from beadworth.trial.programs.position_map import map_png, position_map
from beadworth.trial.programs.program import Place

SVG = "{http://www.w3.org/2000/svg}"


def drawn(bed=220.0, nozzle=0.4, filament=600.0, count=None):
    rig = Rig(
        name="rig <A> & co",
        build_volume=BuildVolume(x_mm=bed, y_mm=bed, z_mm=200),
        hot_end=HotEnd(nozzle_mm=nozzle),
    )
    grid = plate_layout(rig, filament_mm=filament, highest_flow_mm3_s=20)
    count = count or grid.cells
    table = [
        Place(
            place=i + 1,
            order=i + 31,
            coupon=f"B{i + 1:02d}",
            temperature_c=220.0,
            flow_mm3_s=12.5,
            filament_mm=filament,
            replicate=1,
            reference=i % 4 == 0,
            feed_mm_s=5.2,
            row=i // grid.columns + 1,
            column=i % grid.columns + 1,
            x_mm=0.0,
            y_mm=0.0,
            speed_mm_s=20.0,
            height_mm=10.0,
        )
        for i in range(count)
    ]
    return grid, position_map(
        grid, table, rig=rig.name, title="plate 1", material="PLA", digest="ab" * 32
    )


@pytest.mark.parametrize(
    ("bed", "nozzle", "filament"),
    [(120.0, 0.4, 200.0), (220.0, 0.4, 600.0), (350.0, 0.8, 300.0), (235.0, 0.4, 1500.0)],
)
def test_every_coupon_is_on_the_sheet_and_large_enough_to_read(bed, nozzle, filament):
    grid, made = drawn(bed, nozzle, filament)
    root = ET.fromstring(made.svg)
    wide, deep = (float(v) for v in root.attrib["viewBox"].split()[2:])
    assert deep <= 297, "an A4 sheet"
    words = {t.text: t for t in root.iter(f"{SVG}text")}
    for index in range(grid.cells):
        label = words[f"B{index + 1:02d}"]
        assert float(label.attrib["font-size"]) >= 4.0, "millimetres on paper"
        assert 0 < float(label.attrib["x"]) < wide
        assert 0 < float(label.attrib["y"]) < deep
    for text in words.values():
        assert float(text.attrib["font-size"]) >= 2.2


def test_rows_run_from_the_back_and_the_front_edge_is_at_the_bottom():
    grid, made = drawn()
    root = ET.fromstring(made.svg)
    y = {t.text: float(t.attrib["y"]) for t in root.iter(f"{SVG}text")}
    x = {t.text: float(t.attrib["x"]) for t in root.iter(f"{SVG}text")}
    front = next(v for k, v in y.items() if k.startswith("FRONT EDGE"))
    last = f"B{grid.cells:02d}"
    assert y["back of the bed"] < y["B01"] < y[last] < front
    assert x["B01"] < x["B02"]


def test_alt_text_lists_the_rows_and_names_are_escaped():
    grid, made = drawn(count=4)
    assert "From the back, left to right, row 1: B01" in made.alt
    assert "front edge at the bottom" in made.alt
    title = ET.fromstring(made.svg).find(f"{SVG}title")
    assert title.text == made.alt
    dashed = made.svg.count("stroke-dasharray")
    assert dashed == grid.cells - 4, "cells left empty are drawn as such"


def test_png_has_the_size_of_an_a4_sheet():
    _, made = drawn()
    png = map_png(made.svg, dots_per_inch=100)
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    wide, _ = struct.unpack(">II", png[16:24])
    assert wide == pytest.approx(210 / 25.4 * 100, abs=2)


def test_a_stray_control_character_in_a_name_does_not_end_the_program():
    """The renderer aborts the whole process on it, so it runs in one of its own."""
    code = (
        "import sys; sys.path.insert(0, sys.argv[1])\n"
        "from test_program_map import drawn, map_png, position_map\n"
        "grid, _ = drawn(count=1)\n"
        "made = position_map(grid, [], rig='a\\x07b\\ufffe', title='t', material='m', digest='0')\n"
        "sys.stdout.buffer.write(map_png(made.svg)[:4])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(Path(__file__).parent)], capture_output=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout == b"\x89PNG"
