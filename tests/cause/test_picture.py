"""Pictures of a wall: what is dark lies where the wave was put."""

import io
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image

from beadworth.cause import Matrix, WallSide, matrix_png, read_wall, spectrum_svg, walls_svg
from beadworth.cause.picture import HALF_ROWS, spectrum_decades
from beadworth.cause.printed import PrintedSide

WALL = WallSide(110, 0.3, 60, 3000, 10, 0.05, 25, 8)


def wave(kx, kz, size=0.03):
    """A wall with one wave and white noise."""
    rng = np.random.default_rng(5)
    x, k = 1 + 0.1 * (np.arange(1080) + 0.5), np.arange(60)[:, None]
    values = size * np.cos(2 * np.pi * (kx * x + kz * k)) + 0.01 * rng.standard_normal((60, 1080))
    return read_wall(Matrix(values - values.mean(), 0.1, 1.0), WALL)


def darkest(reading):
    """Cycles/mm and shift a layer of the darkest place."""
    decades, _, (low, high) = spectrum_decades(reading)
    row, column = np.unravel_index(int(np.argmax(decades)), decades.shape)
    kx = low * (high / low) ** ((column + 0.5) / decades.shape[1])
    return kx, 0.5 * (HALF_ROWS - row) / HALF_ROWS


@pytest.mark.parametrize(("kx", "kz"), [(0.5, 0.0), (0.1, 0.2), (0.3, 0.75), (1.5, 0.4)])
def test_the_darkest_place_is_that_of_the_wave(kx, kz):
    found_kx, found_kz = darkest(wave(kx, kz))
    assert found_kx == pytest.approx(kx, rel=0.03)
    assert (found_kz - kz + 0.5) % 1 - 0.5 == pytest.approx(0, abs=0.02)


def test_level_bands_are_dark_at_the_left():
    _, level, _ = spectrum_decades(wave(0.0, 0.3))
    row = int(np.argmax(level))
    assert min(abs(0.5 * (HALF_ROWS - row) / HALF_ROWS - kz) for kz in (0.3, -0.3)) < 0.02
    assert level.max() > 2
    assert spectrum_decades(wave(0.5, 0.0))[1].max() < 1.3


def test_a_spot_stands_on_the_darkest_place():
    reading = wave(0.1, 0.2)
    drawn = ElementTree.fromstring(spectrum_svg(
        reading, [("1", (0.1, 0.2)), ("2", (0.0, 0.3)), ("3", (9.0, 0.0))], 'a "b" & <c>'
    ))  # fmt: skip
    assert drawn.attrib["aria-label"] == 'a "b" & <c>'
    circles = [e for e in drawn.iter() if e.tag.endswith("circle")]
    assert len(circles) == 2, "beyond the shortest wave nothing is drawn"
    image = [e for e in drawn.iter() if e.tag.endswith("image")][1].attrib
    left, width = float(image["x"]), float(image["width"])
    top, height = float(image["y"]), float(image["height"])
    decades, _, _ = spectrum_decades(reading)
    row, column = np.unravel_index(int(np.argmax(decades)), decades.shape)
    at = circles[0].attrib
    assert float(at["cx"]) == pytest.approx(left + width * column / decades.shape[1], abs=3)
    assert float(at["cy"]) == pytest.approx(top + height * row / decades.shape[0], abs=4)
    assert float(circles[1].attrib["cx"]) < left


def test_the_matrix_has_its_highest_layer_on_top():
    values = np.zeros((20, 300))
    values[-1] = 1.0
    grey = np.asarray(Image.open(io.BytesIO(matrix_png(Matrix(values, 0.1, 0.0)))))
    assert grey.shape == (60, 100)
    assert grey[0].min() == 255
    assert 120 < grey[30].mean() < 130


def test_walls_over_one_another_are_one_line_with_both_numbers():
    sides = [
        PrintedSide("front", WALL, 1, 40, (0, 0), (110, 0), 270, True, 0),
        PrintedSide("right", WALL, 1, 40, (110, 0), (110, 40), 0, True, 0),
        PrintedSide("front", WALL, 41, 80, (0, 0), (110, 0), 270, True, 12),
    ]
    drawn = ElementTree.fromstring(walls_svg(sides, "plan"))
    lines = [e.attrib for e in drawn.iter() if e.tag.endswith("line")]
    texts = [e.text for e in drawn.iter() if e.tag.endswith("text")]
    assert len(lines) == 2
    assert texts == ["1, 3", "2", "front"]
    assert float(lines[0]["y1"]) > float(lines[1]["y2"]), "the front is at the bottom"
    both, _, front = (float(e.attrib["y"]) for e in drawn.iter() if e.tag.endswith("text"))
    assert both + 12 < front < float(drawn.attrib["viewBox"].split()[3]), "below the numbers, seen"
