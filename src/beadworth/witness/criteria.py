"""What each grade means, in words and as drawn pictures of our own."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, Literal

from beadworth.witness.spec import Kind

Subject = Literal["wall", "overhang", "soft"]
SUBJECTS: Final[dict[Kind, Subject]] = {
    "melt or motion": "wall", "overhang": "overhang", "layer time": "soft", "grip": "wall",
}  # fmt: skip
CRITERIA: Final[dict[Subject, tuple[str, ...]]] = {
    "wall": (
        "Even. Layers lie alike; nothing to find with a lamp along the wall.",
        "Found with a lamp along the wall, not seen at arm's length.",
        "Seen at arm's length: uneven or matt layers. You would not show this side.",
        "Plain to anyone: ridges you feel with a nail, first thin layers.",
        "Failed: gaps, torn or missing layers.",
    ),
    "overhang": (
        "As the upright wall: strands lie close and straight.",
        "Strands a little loose, seen from below only.",
        "Edge wavy at arm's length, strands hang by up to half their width.",
        "Strands hang by their width or more, edge curls.",
        "Failed: loops hang free, layers do not hold.",
    ),
    "soft": (
        "Corners and edges crisp, as in the lowest band.",
        "Corners a little rounded, found when held beside the lowest band.",
        "Seen at arm's length: bulged sides or rounded corners.",
        "Corners curl or lean; the nozzle has dragged.",
        "Failed: the wall has melted together or fallen.",
    ),
}
"""Grades 0 to 4."""
GRADES = 5
OBJECTIONABLE = 2
"""Grade from which a wall would not be accepted: the threshold is where it begins."""
INK, PALE = "#1d2430", "#9aa5b1"
WIDE, TALL = 120.0, 72.0
_BEADS = 9


def reference_picture(subject: Subject, grade: int) -> tuple[str, str]:
    """A drawing of a grade, and the words that stand for it: an SVG of 120 by 72 units."""
    drawn = {"wall": _wall, "overhang": _overhang, "soft": _soft}[subject](grade)
    alt = f"Grade {grade}, {subject}: {CRITERIA[subject][grade]}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE:g} {TALL:g}" role="img">'
        f'<title>{alt}</title><rect width="{WIDE:g}" height="{TALL:g}" fill="#ffffff"/>'
        f"{''.join(drawn)}</svg>",
        alt,
    )


def _line(points: Sequence[tuple[float, float]], width: float, colour: str = INK) -> str:
    path = " ".join(f"{'M' if n == 0 else 'L'}{x:.1f} {y:.1f}" for n, (x, y) in enumerate(points))
    return (
        f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="{width:.1f}" '
        'stroke-linecap="round"/>'
    )


def _wall(grade: int) -> list[str]:
    """Beads seen from the side: uneven in height and thickness, at last with gaps."""
    parts = []
    for bead in range(_BEADS):
        y = 8 + bead * 7.0
        rough = (0.0, 0.35, 0.9, 1.5, 1.8)[grade] * (1 if bead % 2 else 0.5)
        points = [
            (x, y + rough * math.sin(x / (5.0 + bead % 3) + bead * 1.7))
            for x in (8 + 4 * n for n in range(27))
        ]
        thin = 5.2 - (0, 0.3, 0.8, 2.2, 2.8)[grade] * (1 if bead in (2, 5) else 0.2)
        gap = grade == 4 and bead in (2, 5, 6)
        if gap:
            cut = 7 + 3 * (bead % 3)
            parts += [_line(points[:cut], thin, PALE), _line(points[cut + 6 :], thin, PALE)]
        else:
            parts.append(_line(points, thin, PALE))
    return parts


def _overhang(grade: int) -> list[str]:
    """A leaning wall cut through: beads stepping out, hanging the more the worse."""
    parts = [_line([(20, 68), (20, 52)], 8.0, PALE)]
    for bead in range(7):
        x, y = 22 + bead * 12.0, 50 - bead * 6.5
        hang = (0.0, 0.8, 2.6, 6.0, 11.0)[grade] * bead / 6
        parts.append(
            f'<ellipse cx="{x:.1f}" cy="{y + hang:.1f}" rx="7.5" ry="{4.2 - 0.2 * grade:.1f}" '
            f'fill="{PALE}" stroke="{INK}" stroke-width="0.7"/>'
        )
        if grade >= 3 and bead >= 4:
            parts.append(_line([(x - 5, y + hang + 3), (x, y + hang + 3 + 3 * grade),
                                (x + 5, y + hang + 3)], 1.6, PALE))  # fmt: skip
    return parts


def _soft(grade: int) -> list[str]:
    """The outline of a short wall: bulged and slumped the more the worse."""
    bulge, slump = (0, 1.2, 4.0, 7.0, 12.0)[grade], (0, 1.0, 3.0, 7.0, 16.0)[grade]
    radius = (0.5, 2.0, 6.0, 10.0, 16.0)[grade]
    top = 10 + slump
    return [
        f'<path d="M30 66 C{30 - bulge} 50 {30 - bulge} 30 {30 + 0.2 * bulge:.1f} '
        f"{top + radius:.1f} Q30 {top:.1f} {30 + radius:.1f} {top:.1f} "
        f"L{90 - radius:.1f} {top + 0.4 * slump:.1f} Q90 {top + 0.4 * slump:.1f} 90 "
        f'{top + radius + 0.4 * slump:.1f} C{90 + bulge} 30 {90 + bulge} 50 90 66 Z" '
        f'fill="{PALE}" stroke="{INK}" stroke-width="1"/>'
    ]
