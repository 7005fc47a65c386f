"""The palette: readable text, series that stay apart in grey and to colour-blind eyes."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from chart_support import contrast

from beadworth.report.theme import (
    COLOURS,
    DASHES,
    HEAT,
    SERIES,
    SHAPES,
    recolour_css,
    theme,
)

MODES = ("light", "dark", "print")

# Machado, Oliveira and Fernandes 2009, severity 1.0, on linear RGB (from memory, checked
# below: each row sums to 1, so that greys stay grey).
DEFICIENCY = {
    "protan": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deutan": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritan": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}


def linear(colour):
    c = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def oklab(rgb):
    """Oklab of linear sRGB (Ottosson 2020)."""
    to_lms = [
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]
    to_lab = [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
    return np.array(to_lab) @ np.cbrt(np.array(to_lms) @ np.clip(rgb, 0, 1))


def test_contrast_reproduces_the_published_extremes():
    # WCAG 2.2: black on white is 21:1; #767676 is the lightest grey that passes 4.5:1 on white
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") > 4.5 > contrast("#777777", "#ffffff")


@pytest.mark.parametrize("mode", MODES)
def test_text_is_readable_on_every_ground_it_stands_on(mode):
    c = COLOURS[mode]
    text = ("ink", "ink-soft", "accent", "caution", *SERIES)
    low = {
        f"{name} on {ground}": ratio
        for name in text
        for ground in ("paper", "sheet", "caution-paper")
        if (ratio := contrast(c[name], c[ground])) < 4.5
    }
    low |= {
        f"{cell} text": ratio
        for i, cell in enumerate(HEAT)
        if (ratio := contrast(c[cell], c["heat-ink-low" if i < 3 else "heat-ink-high"])) < 4.5
    }
    assert low == {}
    assert contrast(c["rule-strong"], c["paper"]) >= 3, "lines that carry meaning"


@pytest.mark.parametrize("sight", [None, *DEFICIENCY])
@pytest.mark.parametrize("mode", MODES)
def test_series_stay_apart_for_every_eye(mode, sight):
    matrix = np.eye(3) if sight is None else np.array(DEFICIENCY[sight])
    assert matrix.sum(axis=1) == pytest.approx(1.0, abs=1e-5)
    seen = [oklab(matrix @ linear(COLOURS[mode][name])) for name in SERIES]
    apart = {
        (SERIES[i], SERIES[j]): round(float(np.linalg.norm(seen[i] - seen[j])), 3)
        for i, j in itertools.combinations(range(len(SERIES)), 2)
    }
    # 0.02 is about a just noticeable difference in Oklab; the pair a trial compares gets six.
    assert min(apart.values()) > 0.04, apart
    assert apart["series-1", "series-2"] > 0.12


@pytest.mark.parametrize("mode", MODES)
def test_series_and_heat_stay_apart_in_grey(mode):
    grey = [oklab(linear(COLOURS[mode][name]))[0] for name in SERIES]
    assert abs(grey[0] - grey[1]) > 0.1
    heat = np.array([oklab(linear(COLOURS[mode][name]))[0] for name in HEAT])
    steps = np.diff(heat)
    assert (steps < -0.03).all() or (steps > 0.03).all(), heat
    # what lightness does not part, dash and shape do
    assert len(set(DASHES)) == len(set(SHAPES)) == len(SERIES)


def test_every_light_colour_is_mapped_to_one_token():
    values = list(COLOURS["light"].values())
    assert len(set(values)) == len(values), "two tokens of one colour cannot be told apart"
    assert recolour_css(".x").count("fill:var(") == len(values)
    assert set(COLOURS["dark"]) == set(COLOURS["light"]) == set(COLOURS["print"])


@pytest.mark.parametrize("mode", MODES)
def test_theme_draws_text_of_every_mark_in_a_tested_colour(mode):
    tested = {COLOURS[mode][n] for n in ("ink", "ink-soft", "heat-ink-low", "heat-ink-high")}

    def colours(node, key=""):
        if isinstance(node, dict):
            if "fontSize" in node:
                yield node.get("color", None)
            for name, value in node.items():
                yield from colours(value, name)
        if key in ("labelColor", "titleColor", "subtitleColor"):
            yield node

    found = {colour for colour in colours(theme(mode)) if colour}
    assert found <= tested
