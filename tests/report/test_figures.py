"""Figures for video and posts: exact sizes, nothing clipped, type for a phone, contrast, files."""

from __future__ import annotations

import csv
import dataclasses
import io
import re
from importlib.resources import files
from xml.etree import ElementTree

import numpy as np
import pytest
import shared_fits
from chart_support import contrast
from loops import is_long, some
from PIL import Image, ImageFont

from beadworth.core import NotFoundError
from beadworth.report.charts.chart import Chart, render_svg, svg_of_json
from beadworth.report.render import figure_files
from beadworth.report.render.figure_files import (
    BUILD_UP_STEPS,
    build_up_svgs,
    column_title,
    data_csv,
    file_name,
    write_figures,
)
from beadworth.report.render.figures import (
    CAP_FRACTION,
    GROUNDS,
    MARGIN_FRACTION,
    SHAPES,
    canvas_svg,
    coloured,
    figure,
    pictures,
    png_of,
    slug,
)
from beadworth.report.theme import COLOURS, HEAT

SIZES = {(1920, 1080), (3840, 2160), (1080, 1920), (1080, 1080)}
HEAT_COLOURS = {COLOURS[mode][name] for mode in ("light", "dark") for name in HEAT}
PAPER = {"light": COLOURS["light"]["paper"], "dark": COLOURS["dark"]["paper"]}


@pytest.fixture(scope="module")
def report_data(report_data):
    """The trial with the speeds of one rig: those of the other are the same chart once more."""
    candidate = report_data.candidate
    return dataclasses.replace(
        report_data, speeds=tuple(one for one in report_data.speeds if one.rig == candidate)
    )


@pytest.fixture(scope="module")
def folder(report_data, tmp_path_factory):
    """The files of one chart; of all of them in the long tests."""
    home = tmp_path_factory.mktemp("figures")
    found = sorted(pictures(report_data), key=lambda picture: picture.name != "loss")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(figure_files, "png_of", drawn_once_as_large)
        write_figures(report_data, home, chosen=found[: some(1, long=len(found))])
    return home


def drawn_once_as_large(svg, shape, scale):
    """The largest size on a transparent ground alone; on every one in the long tests."""
    return (
        b""
        if scale > 1 and 'class="ground"' in svg and not is_long()
        else png_of(svg, shape, scale)
    )


@pytest.fixture(scope="module")
def canvases(report_data):
    """Every chart on every shape of canvas, drawn once: (name, shape, SVG)."""
    return [
        (picture.name, shape, canvas_svg(picture, shape))
        for picture in pictures(report_data)
        for shape in SHAPES
    ]


def test_every_chart_has_every_size_on_every_ground_with_words_and_data(
    canvases, report_data, tmp_path, monkeypatch
):
    monkeypatch.setattr(figure_files, "png_of", lambda *canvas: b"drawn in the tests below")
    told = []
    write_figures(report_data, tmp_path, tell=lambda done, total: told.append((done, total)))
    assert told[-1][0] == told[-1][1] == len(list(tmp_path.glob("*.png")))
    assert [done for done, _ in told] == sorted(done for done, _ in told)
    names = [picture.name for picture in pictures(report_data)]
    assert len(names) >= 9
    assert len(set(names)) == len(names)
    expected = {file_name(n, size, g) for n in names for size in SIZES for g in GROUNDS}
    expected |= {f"{n}.{ending}" for n in names for ending in ("md", "csv")}
    assert {file.name for file in tmp_path.iterdir()} == expected


def check_margins(picture, ground, what):
    """Nothing but the ground in the margins, and something inside."""
    coloured_pixels = np.asarray(picture.convert("RGBA"))
    pixels = coloured_pixels.view(np.uint32)[..., 0]
    margin = int(MARGIN_FRACTION * min(picture.size))
    inside = pixels[margin:-margin, margin:-margin]
    edges = (pixels[:margin], pixels[-margin:], pixels[:, :margin], pixels[:, -margin:])
    assert all((edge == pixels[0, 0]).all() for edge in edges), what
    corner = tuple(coloured_pixels[0, 0].tolist())
    if ground == "transparent":
        assert corner[3] == 0, what
    else:
        assert corner == (*(int(PAPER[ground][n : n + 2], 16) for n in (1, 3, 5)), 255), what
    assert (inside != pixels[0, 0]).mean() > 0.01, what


def test_sizes_are_exact_and_the_margins_are_bare(folder):
    files = [file for file in sorted(folder.glob("*.png")) if file.stat().st_size]
    seen = [re.fullmatch(r".*-(\d+x\d+)-(\w+)", file.stem).groups() for file in files]
    assert len({size for size, _ in seen}) == len(SIZES)
    assert {ground for _, ground in seen} == set(GROUNDS)
    for file in files:
        wide, high, ground = re.fullmatch(r".*-(\d+)x(\d+)-(\w+)", file.stem).groups()
        picture = Image.open(file)
        assert picture.size == (int(wide), int(high)), file.name
        check_margins(picture, ground, file.name)


def test_the_margins_of_every_chart_are_bare_on_every_shape(canvases):
    names = list(dict.fromkeys(name for name, _, _ in canvases))
    for name, shape, canvas in canvases:
        ground = GROUNDS[names.index(name) % len(GROUNDS)]
        drawn = png_of(coloured(canvas, ground), shape, scale=some(1, long=2) / 2)
        check_margins(Image.open(io.BytesIO(drawn)), ground, (name, shape.name))


def test_the_smallest_type_can_be_read_on_a_phone(canvases):
    letters = files("beadworth.report").joinpath("fonts", "LiberationSans-Regular.ttf")
    font = ImageFont.truetype(str(letters), 1000)
    _, top, _, bottom = font.getbbox("H", anchor="ls")
    cap = (bottom - top) / 1000
    for name, shape, svg in canvases:
        scale = float(re.search(r"scale\(([\d.]+)\)", svg)[1])
        inner, _, words = svg.partition('<g class="words">')
        sizes = [scale * float(n) for n in re.findall(r'font-size="([\d.]+)px"', inner)]
        sizes += [float(n) for n in re.findall(r'font-size="([\d.]+)px"', words)]
        share = min(sizes) * cap / min(shape.wide, shape.high)
        assert share >= CAP_FRACTION, (name, shape.name, share)


def test_drawn_capitals_are_as_high_as_the_type_says(report_data):
    """The rule above is about pixels: hold one title's capital against what was drawn."""
    picture = dataclasses.replace(pictures(report_data)[0], foot="", simulated=False)
    only_h = dataclasses.replace(picture, chart=dataclasses.replace(picture.chart, title="H"))
    svg = canvas_svg(only_h, SHAPES[0])
    pixels = np.asarray(Image.open(io.BytesIO(png_of(svg, SHAPES[0]))).convert("L"))
    rows = np.flatnonzero((pixels[:100, :120] < 128).any(axis=1))
    assert rows.size == pytest.approx(19.0 * 2.25 * 0.688, abs=1.5)


@pytest.mark.parametrize("ground", GROUNDS)
def test_words_stand_out_from_their_ground(canvases, ground, report_data):
    paper = PAPER["dark" if ground == "dark" else "light"]
    on_cells = 0
    for name, _, canvas in canvases:
        drawn = ElementTree.fromstring(coloured(canvas, ground))
        cells = cells_under_text(drawn)
        on_cells += len(cells)
        for text in drawn.iter(f"{SVG}text"):
            under = cells.get(text, paper)
            assert contrast(text.get("fill"), under) >= 4.5, (name, text.text, under)
    # every speed of the table, on every shape of canvas
    assert on_cells == len(SHAPES) * len(report_data.speeds)


SVG = "{http://www.w3.org/2000/svg}"
CELL = re.compile(r"M([-\d.]+),([-\d.]+)h([\d.]+)v([\d.]+)h-[\d.]+Z")


def cells_under_text(drawn):
    """The colour of the heat cell a text stands on, for each text that does."""
    found = {}
    for panel in drawn.iter(f"{SVG}g"):
        marks = [g for g in panel.findall(f"{SVG}g") if "role-mark" in g.get("class", "")]
        cells = [
            (*map(float, CELL.fullmatch(path.get("d")).groups()), path.get("fill"))
            for group in marks if "mark-rect" in group.get("class")
            for path in group.findall(f"{SVG}path") if path.get("fill") in HEAT_COLOURS
        ]  # fmt: skip
        texts = [t for g in marks if "mark-text" in g.get("class") for t in g.findall(f"{SVG}text")]
        for text in texts if cells else ():
            x, y = map(float, re.findall(r"[-\d.]+", text.get("transform")))
            (found[text],) = {
                fill for left, top, w, h, fill in cells if 0 < x - left < w and 0 < y - top < h
            }
    return found


def test_simulated_stands_on_every_picture_and_on_no_other(canvases, report_data):
    assert all("SIMULATED" in svg for _, _, svg in canvases)
    real = dataclasses.replace(
        report_data,
        simulated=False,
        rigs=tuple(r.model_copy(update={"simulated": False}) for r in report_data.rigs),
        material=report_data.material.model_copy(update={"simulated": False}),
    )
    assert not any("SIMULATED" in canvas_svg(p, SHAPES[0]) for p in pictures(real))


def test_a_build_up_starts_bare_gains_marks_and_ends_whole(report_data):
    for picture in pictures(report_data):
        canvas = canvas_svg(picture, SHAPES[0])
        frames = list(build_up_svgs(canvas))
        assert len(frames) == 1 + BUILD_UP_STEPS
        assert frames[-1] == canvas
        lengths = [len(frame) for frame in frames]
        assert lengths == sorted(lengths)
        assert len(set(lengths)) > min(4, BUILD_UP_STEPS // 4), picture.name
        for frame in frames:
            ElementTree.fromstring(frame)
        bare = frames[0]
        for group in re.findall(r'<g class="mark-\w+ role-mark[^>]*(?<!/)>(<\w+)', bare):
            assert group not in ("<path", "<text"), picture.name
        if "role-axis-label" in canvas:
            assert "role-axis-label" in bare


def test_build_up_files_are_numbered(report_data, tmp_path, monkeypatch):
    monkeypatch.setattr(figure_files, "png_of", lambda *canvas: repr(canvas).encode())
    write_figures(report_data, tmp_path, chosen=pictures(report_data)[1:2], build_up=True)
    made = sorted(file.name for file in (tmp_path / "comparison-build-up").iterdir())
    assert made == [f"comparison-{n:02d}.png" for n in range(1 + BUILD_UP_STEPS)]
    last = tmp_path / "comparison-build-up" / made[-1]
    assert last.read_bytes() == (tmp_path / "comparison-1920x1080-light.png").read_bytes()


def test_words_beside_a_picture(folder):
    said = (folder / "loss.md").read_text(encoding="utf-8")
    assert said.startswith("# At 220")
    assert "Alt text: Loss against commanded flow" in said
    assert "SIMULATED: invented" in said


def test_data_beside_a_picture_has_units_and_numbers(folder, report_data):
    rows = list(csv.DictReader((folder / "loss.csv").read_text(encoding="utf-8").splitlines()))
    assert {"rig", "temperature, °C", "flow, mm³/s", "loss, fraction"} <= set(rows[0])
    assert {"low, fraction", "high, fraction"} <= set(rows[0])
    head = data_csv(figure(report_data, "ceilings")).splitlines()[0]
    assert '"low, mm³/s","high, mm³/s"' in head
    flows = [float(row["flow, mm³/s"]) for row in rows if row["flow, mm³/s"]]
    assert len(flows) > 100
    assert max(flows) == 23.0


@pytest.mark.parametrize(
    ("key", "title"),
    [("flow_mm3_s", "flow, mm³/s"), ("speed_mm_s", "speed, mm/s"), ("width_mm", "width, mm"),
     ("temperature_c", "temperature, °C"), ("left_out", "left out"), ("mass_g", "mass, g")],
)  # fmt: skip
def test_column_titles_name_their_unit(key, title):
    assert column_title(key) == title


def test_a_table_starts_no_formula(report_data):
    spec = {"data": {"values": [{"rig": "=1+1", "flow_mm3_s": -1.5}]}}
    said = data_csv(dataclasses.replace(pictures(report_data)[0].chart, spec=lambda px: spec))
    assert "'=1+1,-1.5" in said


def test_the_same_dossier_draws_the_same_bytes(report_data):
    picture = pictures(report_data)[1]
    first = png_of(canvas_svg(picture, SHAPES[2]), SHAPES[2])
    svg_of_json.cache_clear()
    with shared_fits.effort("own"):
        assert png_of(canvas_svg(picture, SHAPES[2]), SHAPES[2]) == first


@pytest.mark.parametrize("word", ["../../etc", "a/b\\c", "<svg>&\"'", "%s#{}", "\x00\ud800", "ж"])
def test_hostile_names_make_safe_files_and_pictures(word, report_data):
    assert re.fullmatch(r"[a-z0-9-]+", slug(word))
    picture = pictures(report_data)[0]
    hostile = dataclasses.replace(
        picture,
        foot=word * 9,
        chart=dataclasses.replace(picture.chart, title=word * 30),
    )
    svg = canvas_svg(hostile, SHAPES[1])
    ElementTree.fromstring(svg)
    assert Image.open(io.BytesIO(png_of(svg, SHAPES[1]))).size == (1080, 1920)


@pytest.fixture
def drawn(monkeypatch):
    """The names of the charts drawn, a name for each time."""
    names = []
    draw = Chart.draw

    def counted(self, *width):
        names.append(self.name)
        return draw(self, *width)

    monkeypatch.setattr(Chart, "draw", counted)
    return names


def test_a_list_of_figures_draws_none_of_them(drawn, report_data):
    listed = [(one.name, one.chart.title, one.chart.caption) for one in pictures(report_data)]
    assert len(listed) >= 9
    assert all(all(words) for words in listed)
    assert drawn == []


@pytest.mark.parametrize("name", ["loss", "ceilings", "drift"])
def test_one_picture_draws_one_chart(name, drawn, report_data):
    assert render_svg(figure(report_data, name)).startswith("<svg")
    assert drawn == [name]


def test_a_canvas_draws_its_own_chart_alone(drawn, report_data):
    picture = next(one for one in pictures(report_data) if one.name == "drift")
    canvas_svg(picture, SHAPES[0])
    # once more for each try at a narrower plot
    assert set(drawn) == {"drift"}
    assert len(drawn) <= 2


def test_a_figure_is_found_before_the_sections_behind_it_are_gathered(report_data):
    asked = []

    class Watched(dict):
        def get(self, key, default=None):
            asked.append(key)
            return default

    data = dataclasses.replace(report_data, section_data=Watched())
    assert figure(data, "ceilings").name == "ceilings"
    assert asked == []
    with pytest.raises(NotFoundError, match="no figure 'nothing'"):
        figure(data, "nothing")
    assert "wear" in asked
