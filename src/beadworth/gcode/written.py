"""How a program writes its numbers, comments and arcs."""

from __future__ import annotations

import math
import textwrap

import numpy as np
from numpy.typing import NDArray

from beadworth.text import ascii_line

Array = NDArray[np.float64]
LINE_LENGTH = 96


def comment_lines(text: str = "", *, indent: str = "") -> list[str]:
    """A comment as lines of at most 96 ASCII characters; later lines start with ``indent``."""
    clean = ascii_line(text)
    lead = clean[: len(clean) - len(clean.lstrip(" "))]
    wrapped = textwrap.wrap(clean, LINE_LENGTH - 2, subsequent_indent=lead + indent)
    return [f"; {line}".rstrip() for line in wrapped or [""]]


def fixed(value: float, decimals: int) -> str:
    """Fixed decimals, trailing zeros dropped, never an exponent or a minus zero."""
    text = f"{value:.{decimals}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def fixed_many(values: Array) -> list[str]:
    """:func:`fixed` of many at three decimals."""
    texts = (("%.3f " * len(values)) % tuple(values.tolist())).split()
    return ["0" if t == "-0.000" else t.rstrip("0").rstrip(".") for t in texts]


def arc_points(
    start: tuple[float, float, float],
    end: tuple[float, float, float],
    centre: tuple[float, float],
    clockwise: bool,
) -> tuple[Array, float]:
    """Places of an arc that hold its bounding box, and its length in mm.

    The box of an arc is that of its ends and of the points of its circle, due right, back, left
    and front of the centre, that it passes.
    """
    cx, cy = centre
    radius = math.hypot(start[0] - cx, start[1] - cy)
    first = math.atan2(start[1] - cy, start[0] - cx)
    last = math.atan2(end[1] - cy, end[0] - cx)
    sense = -1.0 if clockwise else 1.0
    sweep = (sense * (last - first)) % (2 * math.pi) or 2 * math.pi
    passed = [
        (cx + radius * math.cos(angle), cy + radius * math.sin(angle), end[2])
        for angle in (0.0, math.pi / 2, math.pi, 1.5 * math.pi)
        if (sense * (angle - first)) % (2 * math.pi) <= sweep
    ]
    return np.array([start, end, *passed]), radius * sweep
