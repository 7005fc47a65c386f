"""The map's colours: even steps of lightness, apart for colour-blind eyes and in grey."""

from __future__ import annotations

import math
import re
from itertools import pairwise

import numpy as np
import pytest

from beadworth.web.responses import STATIC

CSS = (STATIC / "prints.css").read_text()
LIGHT, DARK, PRINT = re.findall(r"--map-paper: (#\w{6});(.*?)\}", CSS, re.S)
MODES = {"light": LIGHT, "dark": DARK, "print": PRINT}

# Machado, Oliveira, Fernandes (2009), IEEE TVCG 15(6), table 1, severity 1.0; linear RGB
SEEN_AS = {
    "protanopia": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
                   [-0.003882, -0.048116, 1.051998]],
    "deuteranopia": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
                     [-0.011820, 0.042940, 0.968881]],
    "tritanopia": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602],
                   [0.004733, 0.691367, 0.303900]],
}  # fmt: skip


def linear(colour):
    values = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


def oklab(rgb):
    """Björn Ottosson, 'A perceptual color space for image processing' (2020)."""
    r, g, b = np.clip(rgb, 0, 1)
    lms = np.cbrt([
        0.4122214708 * r + 0.5363325363 * g + 0.0514459929 * b,
        0.2119034982 * r + 0.6806995451 * g + 0.1073969566 * b,
        0.0883024619 * r + 0.2817188376 * g + 0.6299787005 * b,
    ])  # fmt: skip
    return np.array([
        0.2104542553 * lms[0] + 0.7936177850 * lms[1] - 0.0040720468 * lms[2],
        1.9779984951 * lms[0] - 2.4285922050 * lms[1] + 0.4505937099 * lms[2],
        0.0259040371 * lms[0] + 0.7827717662 * lms[1] - 0.8086757660 * lms[2],
    ])  # fmt: skip


def steps(mode):
    paper, body = MODES[mode]
    return paper, re.findall(r"--map-\d: (#\w{6})", body)


@pytest.mark.parametrize("mode", MODES)
def test_lightness_goes_one_way_in_even_steps(mode):
    _, colours = steps(mode)
    assert len(colours) == 8
    light = [oklab(linear(c))[0] for c in colours]
    moves = np.diff(light)
    assert (moves < 0).all() or (moves > 0).all()
    under = np.abs(moves[:6])  # the last step, to what is far over, is meant to be larger
    assert under.max() / under.min() < 1.25
    assert abs(moves[6]) > under.max()


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("eyes", [*SEEN_AS, "grey"])
def test_neighbours_stay_apart_for_other_eyes(mode, eyes):
    _, colours = steps(mode)
    seen = []
    for colour in colours:
        rgb = linear(colour)
        if eyes == "grey":
            rgb = np.full(3, rgb @ [0.2126, 0.7152, 0.0722])
        else:
            rgb = np.array(SEEN_AS[eyes]) @ rgb
        seen.append(oklab(rgb))
    for one, next_one in pairwise(seen):
        assert math.dist(one, next_one) > 0.03


@pytest.mark.parametrize("mode", MODES)
def test_what_is_over_stands_off_its_paper(mode):
    paper, colours = steps(mode)
    for colour in colours[6:]:
        high, low = sorted(linear(c) @ [0.2126, 0.7152, 0.0722] for c in (colour, paper))[::-1]
        assert (high + 0.05) / (low + 0.05) > 4.5
