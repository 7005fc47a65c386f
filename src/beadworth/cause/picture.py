"""Pictures of a wall: its matrix, and its spectrum with the place of each source drawn in."""

from __future__ import annotations

import base64
import io
import math
from collections.abc import Callable, Sequence
from html import escape
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from beadworth.cause.printed import PrintedSide
from beadworth.cause.spectrum import HIGHEST_PER_MM, SHARED
from beadworth.cause.trying import Reading
from beadworth.cause.wall import Matrix

Array = NDArray[np.float64]
MERGED: Final = 3
"""Columns of the matrix that are one of its picture."""
DEEPEST: Final = 3.0
"""Standard deviations of brightness from middle grey to black or white."""
FULL: Final = 2.5
"""Decades of power over the noise from white to black."""
LEAST: Final = 0.5
"""Decades that are still white: noise alone often reaches three times its mean."""
COLUMNS, HALF_ROWS = 240, 30
LEVEL_COLUMNS: Final = 8
"""At the left: level bands, whatever their width along the wall."""
WIDTH, HEIGHT, LEFT, TOP, BELOW, GAP = 640.0, 250.0, 58.0, 12.0, 44.0, 14.0
LEVEL_WIDTH: Final = 34.0
RADIUS: Final = 8.5
TICKS_MM: Final = (100, 50, 20, 10, 5, 2, 1, 0.5)


def matrix_png(matrix: Matrix, tall: int = 3) -> bytes:
    """Relative brightness of a wall as a grey picture, its highest layer on top.

    Parameters
    ----------
    matrix : Matrix
    tall : int
        Rows of pixels for each layer.
    """
    width = matrix.values.shape[1] // MERGED * MERGED
    values = matrix.values[::-1, :width].reshape(len(matrix.values), -1, MERGED).mean(axis=2)
    grey = 127.5 + 127.5 * values / (DEEPEST * max(float(values.std()), 1e-9))
    return _png(np.repeat(np.clip(grey, 0, 255).astype(np.uint8), tall, axis=0))


def _png(grey: NDArray[np.uint8]) -> bytes:
    from PIL import Image

    out = io.BytesIO()
    Image.fromarray(grey).save(out, "PNG", compress_level=3)
    return out.getvalue()


def data_address(png: bytes) -> str:
    """A PNG as an address that holds it."""
    return f"data:image/png;base64,{base64.b64encode(png).decode()}"


def spectrum_decades(reading: Reading) -> tuple[Array, Array, Array]:
    """Power over the noise by wavelength along the wall and shift from layer to layer.

    Returns
    -------
    array (rows, COLUMNS)
        Decades; rows from half a wave's shift a layer down to minus half.
    array (rows, 1)
        Decades of level bands: waves that are longer than the wall, by rows.
    array (2,)
        Cycles/mm at the left and right edge.
    """
    s = reading.spectrum
    low = 1.5 / s.width_mm
    edges = np.geomspace(low, HIGHEST_PER_MM, COLUMNS + 1)
    rows = 2 * HALF_ROWS + 1
    shift = ((s.up_per_layer + 0.5) % 1.0) - 0.5
    row_of = np.rint((0.5 - shift) * (rows - 1)).astype(int)
    power = np.nan_to_num(s.power)
    by_row = np.zeros((rows, power.shape[1]))
    np.maximum.at(by_row, row_of, power)
    by_row[0] = by_row[-1] = np.maximum(by_row[0], by_row[-1])
    out = np.stack([_peak(by_row, s.along_per_mm, a, b) for a, b in pairwise(edges)], axis=1)
    p = reading.profile
    steady = p.steady_power()[None, :]
    shared = np.array([float(_peak(steady, p.along_per_mm, a, b)[0]) for a, b in pairwise(edges)])
    near = max(0, math.ceil(SHARED / s.layers * (rows - 1)) - 1)
    out[HALF_ROWS - near : HALF_ROWS + near + 1] = shared
    level = by_row[:, s.along_per_mm < 0.6 / s.width_mm].max(axis=1, keepdims=True)
    return _decades(out), _decades(level), edges[[0, -1]]


def _peak(power: Array, k: Array, low: float, high: float) -> Array:
    """The strongest of the columns between two edges; the nearest where none lies there."""
    first, last = np.searchsorted(k, [low, high])
    if last <= first:
        first = min(int(np.argmin(np.abs(k - math.sqrt(low * high)))), k.size - 1)
        last = first + 1
    return np.asarray(power[:, first:last].max(axis=1))


def _decades(power: Array) -> Array:
    return np.asarray(np.log10(np.maximum(power, 1.0)))


def spectrum_svg(
    reading: Reading, spots: Sequence[tuple[str, tuple[float, float]]], alt: str
) -> str:
    """The spectrum of a wall as a drawing, with the spots of sources.

    Parameters
    ----------
    reading : Reading
    spots : sequence of (label, (cycles/mm, cycles/layer))
        A label is a letter or two; spots beyond the picture are left out.
    alt : str
        What it shows, in words.
    """
    decades, level, (low, high) = spectrum_decades(reading)
    left = LEFT + LEVEL_WIDTH + GAP
    width = WIDTH - left - 8

    def across(k: float) -> float:
        return left + width * math.log(k / low) / math.log(high / low)

    def down(kz: float) -> float:
        return TOP + HEIGHT * (0.5 - (((kz + 0.5) % 1.0) - 0.5))

    parts = [
        f'<svg class="wall-spectrum" viewBox="0 0 {WIDTH:g} {TOP + HEIGHT + BELOW:g}" role="img" '
        f'aria-label="{escape(alt)}">',
        _image(level, LEFT, LEVEL_WIDTH), _image(decades, left, width),
        *_axes(across, down, low, high),
    ]  # fmt: skip
    for label, (kx, kz) in spots:
        if kx < low:
            x = LEFT + LEVEL_WIDTH / 2 if kx < 0.6 / reading.spectrum.width_mm else left
        elif kx > high:
            continue
        else:
            x = across(kx)
        parts.append(_spot(label, x, down(kz)))
    return "".join([*parts, "</svg>"])


def _image(decades: Array, x: float, width: float) -> str:
    grey = 255 - 255 * np.clip((decades - LEAST) / (FULL - LEAST), 0, 1)
    address = data_address(_png(grey.astype(np.uint8)))
    return (
        f'<image href="{address}" x="{x:g}" y="{TOP:g}" width="{width:g}" height="{HEIGHT:g}" '
        'preserveAspectRatio="none"/>'
        f'<rect class="frame" x="{x:g}" y="{TOP:g}" width="{width:g}" height="{HEIGHT:g}"/>'
    )


def _axes(
    across: Callable[[float], float], down: Callable[[float], float], low: float, high: float
) -> list[str]:
    base = TOP + HEIGHT
    out = [
        f'<text class="tick" x="{across(1 / mm):.1f}" y="{base + 16:g}" text-anchor="middle">'
        f"{mm:g}</text>"
        for mm in TICKS_MM if low <= 1 / mm <= high
    ]  # fmt: skip
    out += [
        f'<text class="tick" x="{LEFT - 6:g}" y="{down(kz) + 4:.1f}" text-anchor="end">{words}'
        "</text>"
        for kz, words in ((0.4999, "½"), (0.25, "¼"), (0.0, "0"), (-0.25, "−¼"))
    ]
    out += [
        f'<text class="tick" x="{LEFT + LEVEL_WIDTH / 2:g}" y="{base + 16:g}" text-anchor="middle">'
        "level</text>",
        f'<text class="axis" x="{(across(low) + across(high)) / 2:.1f}" y="{base + 36:g}" '
        'text-anchor="middle">repeats along the wall every … mm</text>',
        f'<text class="axis" transform="translate(14 {TOP + HEIGHT / 2:g}) rotate(-90)" '
        'text-anchor="middle">shift a layer, in repeats</text>',
    ]
    return out


def _spot(label: str, x: float, y: float) -> str:
    return (
        f'<circle class="spot" cx="{x:.1f}" cy="{y:.1f}" r="{RADIUS:g}"/>'
        f'<text class="spot-label" x="{x:.1f}" y="{y + 4:.1f}" text-anchor="middle">{label}</text>'
    )


PLAN, RIM, BENEATH = 260.0, 34.0, 12.0


def walls_svg(sides: Sequence[PrintedSide], alt: str) -> str:
    """The walls of a print from above, numbered from 1 outside each; the front at the bottom.

    Walls that lie over one another are one line with all of their numbers.
    """
    ends = np.array([[*side.start_mm, *side.end_mm] for side in sides])
    low, high = ends.reshape(-1, 2).min(0), ends.reshape(-1, 2).max(0)
    scale = (PLAN - 2 * RIM) / max(float((high - low).max()), 1e-6)
    tall = 2 * RIM + scale * float(high[1] - low[1])

    def at(point: tuple[float, float]) -> tuple[float, float]:
        x, y = (scale * (v - (a + b) / 2) for v, a, b in zip(point, low, high, strict=True))
        return PLAN / 2 + x, tall / 2 - y

    numbers: dict[tuple[int, ...], list[int]] = {}
    for number, row in enumerate(ends, start=1):
        numbers.setdefault(tuple(np.rint(row).astype(int).tolist()), []).append(number)
    parts = [
        f'<svg class="wall-plan" viewBox="0 0 {PLAN:g} {tall + BENEATH:.0f}" role="img" '
        f'aria-label="{escape(alt)}">'
    ]
    for own in numbers.values():
        side = sides[own[0] - 1]
        (x0, y0), (x1, y1) = at(side.start_mm), at(side.end_mm)
        turn = math.radians(side.outward_deg)
        x, y = (x0 + x1) / 2 + 18 * math.cos(turn), (y0 + y1) / 2 - 18 * math.sin(turn)
        words = ", ".join(map(str, own))
        parts += [
            f'<line class="wall" x1="{x0:.1f}" y1="{y0:.1f}" x2="{x1:.1f}" y2="{y1:.1f}"/>',
            f'<text class="tick" x="{x:.1f}" y="{y + 4:.1f}" text-anchor="middle">{words}</text>',
        ]
    front = (
        f'<text class="axis" x="{PLAN / 2:g}" y="{tall + BENEATH - 4:.1f}" text-anchor="middle">'
        "front</text>"
    )
    return "".join([*parts, front, "</svg>"])
