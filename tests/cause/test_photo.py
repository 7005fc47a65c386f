"""Photos: bounds with a message, whatever is sent; and the map from pixels to the wall."""

import io
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from beadworth.cause import read_photo, rectify
from beadworth.cause.photo import LIMIT_BYTES, LIMIT_PIXELS
from beadworth.cause.rectifying import through
from beadworth.core import InputError

SIZE = (700, 460)
LENGTH_MM, LAYER_MM, LAYERS = 24.0, 0.3, 48


def picture(size=SIZE, mode="L", **save):
    out = io.BytesIO()
    grey = np.random.default_rng(1).integers(60, 200, size[::-1], dtype=np.uint8)
    Image.fromarray(grey).convert(mode).save(out, **save)
    return out.getvalue()


def lined_wall(tilt_deg, focal=0.95, shift=0.0):
    """A wall of bright and dark layers, tilted about its upright axis, and its four corners."""
    a = math.radians(tilt_deg)
    turn = np.array([[math.cos(a), 0, math.sin(a)], [0, 1, 0], [-math.sin(a), 0, math.cos(a)]])
    w, h = SIZE
    place = turn @ np.array([[1, 0, -LENGTH_MM / 2], [0, -1, LAYERS * LAYER_MM / 2], [0, 0, 0]])
    place[2, 2] += focal * LENGTH_MM / 0.9
    forward = np.array([[focal * w, 0, w / 2], [0, focal * w, h / 2], [0, 0, 1]]) @ place
    v, u = np.mgrid[0:h, 0:w] + 0.5
    wall = through(np.linalg.inv(forward), np.column_stack([u.ravel(), v.ravel()]))
    x, z = wall.T
    inside = (x > 0) & (x < LENGTH_MM) & (z > 0) & (z < LAYERS * LAYER_MM)
    light = 0.35 + 0.15 * np.cos(2 * np.pi * (z / LAYER_MM + shift))
    light *= 1 + 0.05 * np.cos(2 * np.pi * x / 3.0)
    grey = 255 * np.where(inside, light, 0.1) ** (1 / 2.2)
    out = io.BytesIO()
    Image.fromarray(np.uint8(grey.reshape(h, w))).save(out, "PNG")
    corners = np.array([[0, 0], [LENGTH_MM, 0], [LENGTH_MM, LAYERS * LAYER_MM],
                        [0, LAYERS * LAYER_MM]])  # fmt: skip
    return out.getvalue(), through(forward, corners)


def test_lengths_and_layers_of_a_tilted_wall_come_out():
    for tilt in (-5.0, 0.0, 5.0):
        data, corners = lined_wall(tilt)
        off = np.array([[2.0, -1.5], [-2.0, 1.0], [1.0, 2.0], [-1.5, -2.0]])
        found = rectify(read_photo(data, "wall.png"), corners + off, LENGTH_MM * 1.1, LAYER_MM)
        assert found.length_mm == pytest.approx(LENGTH_MM, rel=0.008), tilt
        assert found.height_layers == pytest.approx(LAYERS, abs=0.8), tilt
        profile = found.matrix.values.mean(0)
        x = found.matrix.positions_mm
        wave = np.exp(-2j * np.pi * x / 3.0)
        amplitude = 2 * abs(np.mean((profile - profile.mean()) * wave))
        assert amplitude == pytest.approx(0.05, rel=0.15), tilt  # what was painted on
        assert found.matrix.values.std(axis=0).mean() < 0.012, tilt  # layers themselves are gone


def test_corners_that_go_round_no_wall_are_refused():
    data, corners = lined_wall(0.0)
    photo = read_photo(data, "wall.png")
    for wrong in (corners[::-1], corners[[0, 2, 1, 3]], corners[[0, 0, 0, 0]]):
        with pytest.raises(InputError, match="these four corners do not go round a wall"):
            rectify(photo, wrong, LENGTH_MM, LAYER_MM)


def test_too_few_pixels_a_layer_are_refused():
    data, corners = lined_wall(0.0)
    with pytest.raises(InputError, match=r"2\.6 pixels a layer are too few; 3 are the least, 6"):
        rectify(read_photo(data, "wall.png"), corners, LENGTH_MM, 0.1)


def test_a_wall_without_lines_is_refused():
    _, corners = lined_wall(0.0)
    flat = io.BytesIO()
    Image.new("L", SIZE, 128).save(flat, "PNG")
    with pytest.raises(InputError, match="no layer lines can be seen"):
        rectify(read_photo(flat.getvalue(), "flat.png"), corners, LENGTH_MM, LAYER_MM)


def test_bounds_of_a_file():
    with pytest.raises(InputError, match="this file is empty"):
        read_photo(b"", "a.jpg")
    with pytest.raises(InputError, match=r"25\.0 MB is more than the 25 MB taken of a photo"):
        read_photo(b"x" * (LIMIT_BYTES + 1), "a.jpg")
    with pytest.raises(InputError, match="not a JPEG, PNG or WebP picture"):
        read_photo(b"x" * LIMIT_BYTES, "a.jpg")
    with pytest.raises(InputError, match="not a JPEG, PNG or WebP picture"):
        read_photo(picture(format="GIF"), "a.gif")
    whole = picture(format="JPEG")
    with pytest.raises(InputError, match="cut short or damaged"):
        read_photo(whole[: len(whole) // 2], "a.jpg")


def claims(width, height):
    """A PNG of a few bytes that says it is so large."""
    data = bytearray(picture((8, 8), format="PNG"))
    data[16:24] = width.to_bytes(4, "big") + height.to_bytes(4, "big")
    import zlib

    data[29:33] = zlib.crc32(data[12:29]).to_bytes(4, "big")
    return bytes(data)


def test_more_pixels_than_are_decoded_are_refused_before_decoding():
    with pytest.raises(InputError, match="claims more than the 60 million pixels decoded"):
        read_photo(claims(LIMIT_PIXELS // 1000 + 1, 1000), "a.png")
    with pytest.raises(InputError, match="claims more than the 60 million pixels decoded"):
        read_photo(claims(60_000, 60_000), "a.png")
    with pytest.raises(InputError, match="cut short or damaged"):
        read_photo(claims(LIMIT_PIXELS // 1000, 1000), "a.png")


def test_a_wide_photo_is_decoded_at_a_half():
    data = picture((1200, 800), format="JPEG")
    assert read_photo(data, "a.jpg").grey.shape == (800, 1200)
    half = read_photo(data, "a.jpg", widest_px=600)
    assert (half.grey.shape, half.reduced) == ((400, 600), 2)
    assert read_photo(data, "a.jpg", widest_px=601).reduced == 1


@settings(max_examples=40)
@given(st.data())
def test_damaged_photos_are_read_or_refused(data):
    whole = bytearray(picture((40, 30), format=data.draw(st.sampled_from(["JPEG", "PNG", "WEBP"]))))
    for _ in range(data.draw(st.integers(1, 6))):
        whole[data.draw(st.integers(0, len(whole) - 1))] = data.draw(st.integers(0, 255))
    try:
        assert read_photo(bytes(whole), "a").grey.ndim == 2
    except InputError as refused:
        remedy = refused.problems[0].remedy
        assert remedy
