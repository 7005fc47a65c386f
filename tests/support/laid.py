"""A plain reading of what a program lays."""

from __future__ import annotations

import math
import re


def laid(text: str, absolute: bool) -> list[tuple[float, float, float, float, float]]:
    """Every laid stretch read by hand: x, y, z at its end, length, E. Relative E, mm."""
    here, found = [0.0, 0.0, 0.0], []
    for line in text.splitlines():
        word = line.split(" ")[0]
        if word not in ("G0", "G1", "G2", "G3"):
            continue
        given = {m[0]: float(m[1:]) for m in re.findall(r"[XYZEIJF]-?[\d.]+", line)}
        to = [given.get(n, old) for n, old in zip("XYZ", here, strict=True)]
        length = math.dist(here, to)
        if word in ("G2", "G3"):
            cx, cy = (given[n] + (0 if absolute else o) for n, o in zip("IJ", here, strict=False))
            r = math.dist(here[:2], (cx, cy))
            assert math.dist(to[:2], (cx, cy)) == 0 or abs(math.dist(to[:2], (cx, cy)) - r) < 0.01
            sense = -1 if word == "G2" else 1
            turn = sense * (
                math.atan2(to[1] - cy, to[0] - cx) - math.atan2(here[1] - cy, here[0] - cx)
            )
            length = r * (turn % (2 * math.pi))
        if given.get("E", 0) > 0 and length > 0:
            found.append((*to, length, given["E"]))
        here = to
    return found
