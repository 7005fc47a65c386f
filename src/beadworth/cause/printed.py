"""From a print's program to the walls that a photo can show: where each lies, when, how much.

A wall is one straight stretch of bead that comes again at the same place in layer after layer, at
one speed and one width, and that nothing else of its layer stands in front of.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from beadworth.cause.wall import WallSide
from beadworth.core import InputError
from beadworth.replay import straights
from beadworth.rig import Rig
from beadworth.text import percent

LEAST_MM: Final = 20.0
"""Shorter walls hold too few repeats of anything."""
FEWEST_LAYERS: Final = 12
SAME_MM: Final = 0.1
"""Ends of a wall that lie nearer from layer to layer are at the same place."""
SAME: Final = 0.03
"""Speeds, beads and layer heights of one wall differ by less, as a share."""
VARIES: Final = 0.01
"""Share by which layer times may scatter before what goes with the clock is smeared; assumed."""
_LOOKS: Final = np.array([0.1, 0.3, 0.5, 0.7, 0.9])
_NAMES: Final = (
    "right", "back right", "back", "back left", "left", "front left", "front", "front right",
)  # fmt: skip


@dataclass(frozen=True)
class PrintedSide:
    """A wall of a print, over the layers in which it is printed alike."""

    name: str
    """Which way it looks, which layers, and how fast: ``front, layers 4 to 44, 50 mm/s``."""
    wall: WallSide
    first_layer: int
    """From 1."""
    last_layer: int
    start_mm: tuple[float, float]
    """Where the path begins, on the bed."""
    end_mm: tuple[float, float]
    outward_deg: float
    """Where one stands to look at it; 0 along x, 90 along y."""
    left_to_right: bool
    """Whether the path runs so for one who looks at it; else the photo is read mirrored."""
    bottom_mm: float
    """Height at which its lowest layer begins."""
    notes: tuple[str, ...] = ()

    @property
    def layers(self) -> int:
        """How many layers it has."""
        return self.last_layer - self.first_layer + 1

    @property
    def height_mm(self) -> float:
        """How tall it is."""
        return self.layers * self.wall.layer_mm


def printed_sides(
    source: Path | bytes,
    rig: Rig,
    *,
    name: str | None = None,
    progress: Callable[[int], None] | None = None,
) -> list[PrintedSide]:
    """The walls of a print that a photo can show, the longest first.

    Parameters
    ----------
    source : Path or bytes
        The print.
    rig : Rig
        Its limits say when the head is where.
    name, progress
        As of :func:`beadworth.replay.straights`.

    Raises
    ------
    InputError
        No straight wall of :data:`LEAST_MM` over :data:`FEWEST_LAYERS` layers.
    """
    found = straights(source, rig, LEAST_MM, name=name, progress=progress)
    sides = [side for rows in _places(found) for side in _sides(rows, found)]
    if not sides:
        raise InputError(
            f"no straight upright wall of {LEAST_MM:g} mm over {FEWEST_LAYERS} layers stands open "
            "to view in this print.", name or "print", None,
            "Print a cause wall, or choose a print with long straight sides.",
        )  # fmt: skip
    return _numbered(sorted(sides, key=_order))


def _order(side: PrintedSide) -> tuple[float, int, float]:
    """The longest first, from the bed up, round the print from the front."""
    return -round(side.wall.length_mm), side.first_layer, round(side.outward_deg - 270) % 360


def _places(found: NDArray[np.void]) -> Iterator[NDArray[np.void]]:
    """Stretches by where they lie: those of enough layers, a wall run to and fro left out."""
    ends = np.stack([found[c] for c in ("x0", "y0", "x1", "y1")], 1)
    from scipy.spatial import cKDTree

    cells, place, counts = np.unique(
        np.rint(ends / SAME_MM), axis=0, return_inverse=True, return_counts=True
    )
    place = place.ravel()
    often = np.flatnonzero(counts >= FEWEST_LAYERS // 2)
    if not often.size:
        return
    tree = cKDTree(cells[often])
    joined = np.arange(often.size)  # a coordinate that rounds either way is one place
    for i, j in tree.query_pairs(1.5, p=np.inf):
        joined[joined == joined[max(i, j)]] = joined[min(i, j)]
    back = tree.query_ball_point(cells[often][:, [2, 3, 0, 1]], 1.5, p=np.inf)
    to_and_fro = {int(joined[i]) for i, there in enumerate(back) if there}
    of_row = np.full(len(cells), -1)
    of_row[often] = joined
    of_row = of_row[place]
    order = np.argsort(of_row, kind="stable")
    edges = np.flatnonzero(np.diff(of_row[order])) + 1
    for rows in np.split(order, edges):
        own = int(of_row[rows[0]])
        if own >= 0 and rows.size >= FEWEST_LAYERS and own not in to_and_fro:
            yield found[rows]


def _sides(rows: NDArray[np.void], every: NDArray[np.void]) -> Iterator[PrintedSide]:
    """One place parted into walls printed alike."""
    z = _column(rows, "z")
    order = np.argsort(z, kind="stable")
    _, once = np.unique(np.round(z[order], 3), return_index=True)
    rows = rows[order[once]]
    if len(rows) < FEWEST_LAYERS:
        return
    steps = np.diff(_column(rows, "z"))
    step = float(np.median(steps))
    per_mm = _column(rows, "filament_mm") / _column(rows, "length_mm")
    apart = ~(
        (np.abs(steps / step - 1) < SAME)
        & (np.abs(np.diff(np.log(per_mm))) < SAME)
        & (np.abs(np.diff(np.log(_column(rows, "peak_mm_s")))) < SAME)
    )
    edges = [0, *(np.flatnonzero(apart) + 1).tolist(), len(rows)]
    for low, high in pairwise(edges):
        if high - low >= FEWEST_LAYERS:
            side = _side(rows[low:high], step, every)
            if side is not None:
                yield side


def _side(rows: NDArray[np.void], step: float, every: NDArray[np.void]) -> PrintedSide | None:
    first = rows[len(rows) // 2]
    begin, end = (float(first["x0"]), float(first["y0"])), (float(first["x1"]), float(first["y1"]))
    outward = _outward(first, every, step)
    if outward is None:
        return None
    clock, fed = np.diff(_column(rows, "start_s")), np.diff(_column(rows, "start_filament_mm"))
    layer_s, loop_mm = float(np.median(clock)), float(np.median(fed))
    peak = float(np.median(_column(rows, "peak_mm_s")))
    length, filament = _column(rows, "length_mm"), _column(rows, "filament_mm")
    wall = WallSide(
        length_mm=float(np.median(length)),
        layer_mm=round(step, 4),
        speed_mm_s=peak,
        acceleration_mm_s2=float(np.median(_column(rows, "acceleration_mm_s2"))),
        corner_mm_s=min(float(np.median(_column(rows, "entry_mm_s"))), peak),
        filament_per_mm=float(np.median(filament / length)),
        loop_filament_mm=loop_mm,
        layer_s=layer_s,
        direction_deg=math.degrees(math.atan2(end[1] - begin[1], end[0] - begin[0])),
    )
    right = (-outward[1], outward[0])
    along = (end[0] - begin[0]) * right[0] + (end[1] - begin[1]) * right[1]
    angle = math.degrees(math.atan2(outward[1], outward[0])) % 360
    low, high = int(rows["layer"][0]) + 1, int(rows["layer"][-1]) + 1
    if high - low + 1 != len(rows):  # a print that rises all the time has no layers of the file
        low, high = 1, len(rows)
    looks = _NAMES[round(angle / 45) % 8]
    return PrintedSide(
        f"{looks}, layers {low} to {high}, {peak:.0f} mm/s", wall, low, high, begin, end, angle,
        along > 0, float(rows["z"][0]) - step, tuple(_notes(clock, fed)),
    )  # fmt: skip


def _notes(clock: NDArray[np.float64], fed: NDArray[np.float64]) -> Iterator[str]:
    """What makes a wall harder to read: layers that take other times, or other filament."""
    for values, of, what in ((clock, "layer time", "goes with the clock"),
                             (fed, "filament of a layer", "goes with filament")):  # fmt: skip
        scatter = float(np.std(values) / max(abs(np.median(values)), 1e-9))
        if scatter > VARIES:
            yield (f"The {of} varies by {percent(scatter, 0)} from layer to layer: what {what} is "
                   "smeared.")  # fmt: skip


def _outward(first: Any, every: NDArray[np.void], step: float) -> tuple[float, float] | None:
    """Unit vector to where nothing of the layer stands in front; None where it is hidden.

    Only straight stretches count as standing in front. A wall open to both sides looks away from
    the middle of them.
    """
    near = every[np.abs(every["z"] - first["z"]) < 0.6 * step]
    near = near[near["line"] != first["line"]]
    begin = np.array([first["x0"], first["y0"]])
    along = np.array([first["x1"], first["y1"]]) - begin
    length = float(np.hypot(*along))
    normal = np.array([along[1], -along[0]]) / length
    points = begin + _LOOKS[:, None] * along
    clear = [
        sign for sign in (1.0, -1.0)
        if sum(not _crossed(p, sign * normal, near) for p in points) >= len(points) - 1
    ]  # fmt: skip
    if not clear:
        return None
    if len(clear) > 1:
        box = [(near[a].min() + near[a].max()) / 2 if len(near) else 0.0 for a in ("x0", "y0")]
        away = points[2] - np.array(box)
        clear = [1.0 if float(normal @ away) >= 0 else -1.0]
    return float(clear[0] * normal[0]), float(clear[0] * normal[1])


def _crossed(point: NDArray[np.float64], way: NDArray[np.float64], near: NDArray[np.void]) -> bool:
    """Whether a ray from a point meets a stretch more than a hair away."""
    x0, y0 = _column(near, "x0"), _column(near, "y0")
    ax, ay = x0 - point[0], y0 - point[1]
    bx, by = _column(near, "x1") - x0, _column(near, "y1") - y0
    cross = way[0] * by - way[1] * bx
    with np.errstate(divide="ignore", invalid="ignore"):
        along = (ax * by - ay * bx) / cross
        share = (ax * way[1] - ay * way[0]) / cross
    return bool(np.any((along > 0.05) & (share >= 0) & (share <= 1)))


def _column(rows: NDArray[np.void], name: str) -> NDArray[np.float64]:
    """Numbers of some stretches, of a type the checker knows and need not guess from any two."""
    numbers: NDArray[np.float64] = rows[name]
    return numbers


def _numbered(sides: Sequence[PrintedSide]) -> list[PrintedSide]:
    """Sides of one name told apart by where they begin."""
    names = [side.name for side in sides]
    return [
        side if names.count(side.name) == 1
        else replace(side, name=f"{side.name}, from {side.start_mm[0]:.0f}, {side.start_mm[1]:.0f}")
        for side in sides
    ]  # fmt: skip
