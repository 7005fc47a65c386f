"""The path of one layer: straight lines and true arcs, each belonging to a side.

Lengths in mm, seen from above; x to the right, y to the back, the middle of the object at (0, 0).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

FOLD_SIZES_MM = ((20.0, 12.0), (28.0, 18.0), (36.0, 26.0), (44.0, 34.0))
"""Pitch and depth of the folds, the smallest first."""
MARK_PITCH_MM, MARK_WIDTH_MM, MARK_DEPTH_MM = 7.0, 3.0, 1.2
MARK_SITES = 5
"""Sites of a mark on the right side, from the front: one that always stands, four for its code."""
Point = tuple[float, float]


@dataclass(frozen=True)
class Piece:
    """A straight line or an arc, from where the one before it ends."""

    to: Point
    side: str
    centre: Point | None = None
    """Of an arc, which runs anticlockwise unless ``clockwise``."""
    clockwise: bool = False
    lays: bool = True
    """False for a travel."""
    bare: bool = False
    """Whether nothing lies under it: a bridge."""


@dataclass(frozen=True)
class Outline:
    """One layer from its start."""

    start: Point
    pieces: tuple[Piece, ...]

    def lengths_mm(self) -> list[float]:
        """Length of every piece."""
        found, here = [], self.start
        for piece in self.pieces:
            found.append(piece_length_mm(here, piece))
            here = piece.to
        return found

    def length_mm(self, side: str | None = None) -> float:
        """Laid length, of one side or in all."""
        return sum(
            length
            for length, piece in zip(self.lengths_mm(), self.pieces, strict=True)
            if piece.lays and side in (None, piece.side)
        )

    def box_mm(self) -> tuple[float, float, float, float]:
        """Least and greatest x and y of all ends; arcs are corners and stay inside them."""
        points = [self.start, *(piece.to for piece in self.pieces)]
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        return min(xs), min(ys), max(xs), max(ys)

    def moved(self, x_mm: float, y_mm: float) -> Outline:
        """The same somewhere else."""

        def there(point: Point) -> Point:
            return point[0] + x_mm, point[1] + y_mm

        return Outline(
            there(self.start),
            tuple(
                replace(p, to=there(p.to), centre=there(p.centre) if p.centre else None)
                for p in self.pieces
            ),
        )


def piece_length_mm(start: Point, piece: Piece) -> float:
    """Length of a piece that begins at ``start``."""
    if piece.centre is None:
        return math.dist(start, piece.to)
    cx, cy = piece.centre
    first = math.atan2(start[1] - cy, start[0] - cx)
    last = math.atan2(piece.to[1] - cy, piece.to[0] - cx)
    sense = -1.0 if piece.clockwise else 1.0
    sweep = (sense * (last - first)) % (2 * math.pi)
    return math.dist(start, piece.centre) * sweep


def rounded(
    width_mm: float,
    depth_mm: float,
    radius_mm: float,
    *,
    front: Sequence[tuple[Point, str]] = (),
    back: Sequence[tuple[Point, str]] = (),
    code: int | None = None,
) -> Outline:
    """A rectangle with rounded corners, anticlockwise from the back end of its left side.

    Parameters
    ----------
    width_mm, depth_mm : float
        Outside sizes.
    radius_mm : float
        Of the corners, which are true arcs; at most half of either size.
    front, back : sequence of (point, side)
        Points on the way along front (left to right) and back (right to left), and the side
        the line to each belongs to; left out: one straight line.
    code : int, 0 to 15, optional
        Mark to stand out on the right side.
    """
    x, y, r = width_mm / 2, depth_mm / 2, radius_mm
    pieces = [
        Piece((-x, -y + r), "left"),
        Piece((-x + r, -y), "corner", (-x + r, -y + r)),
        *(Piece(point, side) for point, side in front),
        Piece((x - r, -y), front[-1][1] if front else "front"),
        Piece((x, -y + r), "corner", (x - r, -y + r)),
        *(Piece(p, "right") for p in _mark(x, -y + r, y - r, code)),
        Piece((x, y - r), "right"),
        Piece((x - r, y), "corner", (x - r, y - r)),
        *(Piece(point, side) for point, side in back),
        Piece((-x + r, y), back[-1][1] if back else "back"),
        Piece((-x, y - r), "corner", (-x + r, y - r)),
    ]
    return Outline((-x, y - r), tuple(pieces))


def _mark(x: float, low: float, high: float, code: int | None) -> list[Point]:
    """Corners of the teeth of a mark, middle of the side; nothing where it has no code."""
    if code is None:
        return []
    first = (low + high) / 2 - (MARK_SITES - 1) / 2 * MARK_PITCH_MM
    points: list[Point] = []
    for site in range(MARK_SITES):
        if site == 0 or code >> (site - 1) & 1:
            y, half = first + site * MARK_PITCH_MM, MARK_WIDTH_MM / 2
            points += [(x, y - half), (x + MARK_DEPTH_MM, y), (x, y + half)]
    return points


def folds(
    left_mm: float, right_mm: float, y_mm: float, size_mm: tuple[float, float]
) -> list[tuple[Point, str]]:
    """Sharp folds inwards along a back from right to left, as many as fit, in its middle."""
    pitch, depth = size_mm
    count = int((right_mm - left_mm) // pitch)
    begin = (left_mm + right_mm) / 2 + count * pitch / 2
    points: list[tuple[Point, str]] = [((begin, y_mm), "plain back")]
    for fold in range(count):
        at = begin - fold * pitch
        points += [((at - pitch / 2, y_mm - depth), "folded"), ((at - pitch, y_mm), "folded")]
    return [*points, ((left_mm, y_mm), "plain back")]


def fold_leg_mm(size_mm: tuple[float, float]) -> float:
    """Length of one side of a fold."""
    return math.hypot(size_mm[0] / 2, size_mm[1])


def facets(
    left_mm: float, right_mm: float, y_mm: float, offsets_mm: Sequence[float]
) -> list[tuple[Point, str]]:
    """A front of facets side by side, each set forward by its own offset, from left to right."""
    wide = (right_mm - left_mm) / len(offsets_mm)
    points: list[tuple[Point, str]] = []
    for number, offset in enumerate(offsets_mm, start=1):
        begin = left_mm + (number - 1) * wide
        points += [
            ((begin + 0.15 * wide, y_mm - offset), "between"),
            ((begin + 0.85 * wide, y_mm - offset), f"facet {number}"),
        ]
    return [*points, ((right_mm, y_mm), "between")]


def notches(
    left_mm: float, right_mm: float, y_mm: float, spans_mm: Sequence[float], depth_mm: float
) -> list[tuple[Point, str]]:
    """A back with square notches of several widths inwards, from right to left.

    At ``depth_mm`` 0 it is the straight line that bridges their mouths.
    """
    room = right_mm - left_mm - sum(spans_mm)
    post = room / (len(spans_mm) + 1)
    points: list[tuple[Point, str]] = []
    at = right_mm
    for span in spans_mm:
        at -= post
        points.append(((at, y_mm), "post"))
        name = f"bridge {span:g} mm"
        if depth_mm:
            points += [((at, y_mm - depth_mm), "notch"), ((at - span, y_mm - depth_mm), "notch")]
            points.append(((at - span, y_mm), "notch"))
        else:
            points.append(((at - span, y_mm), name))
        at -= span
    return [*points, ((left_mm, y_mm), "post")]


def meander(teeth: int, tooth_mm: float, pitch_mm: float) -> Outline:
    """A wall to and fro from the left, and the travel back to its start."""
    pieces: list[Piece] = []
    for tooth in range(teeth):
        x = tooth * pitch_mm
        up = tooth % 2 == 0
        side = "first" if tooth < 2 else "rest"
        pieces.append(Piece((x, tooth_mm if up else 0.0), side))
        pieces.append(Piece((x + pitch_mm, tooth_mm if up else 0.0), "turn"))
    pieces.append(Piece((0.0, 0.0), "travel", lays=False))
    return Outline((0.0, 0.0), tuple(pieces))


def polygon(sides: int, side_mm: float, frame_mm: float) -> Outline:
    """A regular polygon, its first side along x at the front, with two ticks of the frame a side.

    ``frame_mm`` is the distance of the two ticks, small folds outwards of which the tips stand
    exactly that far apart, in the middle of the side.
    """
    turn = 2 * math.pi / sides
    reach = side_mm / 2 / math.tan(turn / 2)
    pieces: list[Piece] = []
    start = (0.0, 0.0)
    for number in range(sides):
        angle = number * turn
        along = (math.cos(angle), math.sin(angle))
        out = (along[1], -along[0])
        middle = (reach * out[0], reach * out[1])

        def at(s: float, o: float, m: Point = middle, a: Point = along, n: Point = out) -> Point:
            return m[0] + s * a[0] + o * n[0], m[1] + s * a[1] + o * n[1]

        if number == 0:
            start = at(-side_mm / 2, 0.0)
        name = f"side {number * 360 / sides:g}°"
        half = 0.75
        for tick in (-frame_mm / 2, frame_mm / 2):
            pieces += [
                Piece(at(tick - half, 0.0), name if tick > 0 else "end"),
                Piece(at(tick, 0.6), "tick"),
                Piece(at(tick + half, 0.0), "tick"),
            ]
        pieces.append(Piece(at(side_mm / 2, 0.0), "end"))
    return Outline(start, tuple(pieces))
