"""What a file extrudes besides the print: priming before its first layer, purging after its last.

Nothing in a file says what is priming, so its own evidence decides. Of the runs of beads at the
start, one line or a narrow pair of them is priming where it is a good deal thicker than the beads
of the layer that follows, or lies well away from them; so is what is laid far above that layer,
and filament that is pushed without a path and puts nothing back. The same holds after the last
bead. The thresholds are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from beadworth.gcode import Chunk
from beadworth.replay import columns

Floats = NDArray[np.float64]

MOST_RUNS: Final = 6
"""Runs of beads at either end that may be priming."""
MOST_BEADS: Final = 8
"""Beads in such a run; also the least that must remain as the print."""
SHARE: Final = 0.2
"""Of the path of the layer that follows: a longer run is part of the print."""
THICKER: Final = 1.3
"""Section of priming, against the usual bead of the layer that follows."""
AWAY_MM: Final = 10.0
"""Distance from all other beads that sets a line apart."""
NARROW_MM: Final = 2.0
"""Width of lines laid there and back."""
ABOVE: Final = 1.5
"""Height of what is extruded before the print comes down to its first layer, against that."""
PUSH_MM: Final = 0.5
"""Filament pushed beyond what was drawn back: less is a difference of two retractions."""
HEAD_BEADS: Final = 200
"""Beads looked at before the start is judged."""


def set_apart(chunks: Iterable[Chunk]) -> Iterator[Chunk]:
    """The same chunks, the kind of what is not the print changed to ``columns.APART``.

    One chunk is held back, since only the end of a file says what its last beads are; the first
    ones until there is something to judge them by.
    """
    held: list[Chunk] = []
    beads, judged = 0, False
    for chunk in chunks:
        held.append(chunk)
        if not judged:
            beads += int(np.count_nonzero(chunk.kind == columns.EXTRUDE))
            if beads < HEAD_BEADS:
                continue
            _judge(held)
            judged = True
        while len(held) > 1:
            yield held.pop(0)
    if not judged:
        _judge(held)
    if held:
        _judge(held[-1:], backwards=True)
    yield from held


class _Moves:
    """Moves of some chunks end to end, or from the last to the first."""

    def __init__(self, chunks: list[Chunk], backwards: bool) -> None:
        def joined(name: str) -> NDArray[Any]:
            column = np.concatenate([getattr(chunk, name) for chunk in chunks])
            return column[::-1] if backwards else column

        self.kind, self.e, self.length, self.z = map(joined, ("kind", "e_mm", "length_mm", "z"))
        self.x = np.stack([joined("x0"), joined("x")])
        self.y = np.stack([joined("y0"), joined("y")])
        self.bead = np.flatnonzero(self.kind == columns.EXTRUDE)

    def runs(self) -> list[NDArray[np.intp]]:
        """The first runs of beads that follow each other, and one of all that is left."""
        breaks = np.flatnonzero(np.diff(self.bead) > 1)[:MOST_RUNS] + 1
        return np.split(self.bead, breaks)

    def box(self, own: NDArray[np.intp]) -> Floats:
        """Least and greatest x, then y."""
        x, y = self.x[:, own], self.y[:, own]
        return np.array([[x.min(), x.max()], [y.min(), y.max()]])

    def section(self, own: NDArray[np.intp]) -> float:
        """Filament per path, of the bead in the middle by length."""
        per_mm = self.e[own] / self.length[own]
        order = np.argsort(per_mm)
        path = np.cumsum(self.length[own][order])
        return float(per_mm[order][np.searchsorted(path, 0.5 * path[-1])])


def _judge(chunks: list[Chunk], backwards: bool = False) -> None:
    """Change the kinds at the start of some chunks, or at the end of them."""
    if not chunks:
        return
    moves = _Moves(chunks, backwards)
    runs, apart = moves.runs(), np.empty(0, np.intp)
    for count in range(len(runs) - 1, 0, -1):
        rest = np.concatenate(runs[count:])
        if len(rest) >= MOST_BEADS and all(
            _is_priming(moves, run, rest, backwards) for run in runs[:count]
        ):
            apart = np.concatenate(runs[:count])
            break
    first = moves.bead[len(apart)] if len(apart) < len(moves.bead) else len(moves.kind)
    marked = np.concatenate([apart, _pushes(moves, int(first), backwards)])
    if backwards:
        marked = len(moves.kind) - 1 - marked
    start = 0
    for chunk in chunks:
        own = marked[(marked >= start) & (marked < start + len(chunk))] - start
        chunk.kind[own.astype(np.intp)] = columns.APART
        start += len(chunk)


def _is_priming(
    moves: _Moves, run: NDArray[np.intp], rest: NDArray[np.intp], backwards: bool
) -> bool:
    """Whether a run of beads is none of the print that the rest is."""
    if len(run) > MOST_BEADS:
        return False
    z = moves.z[rest[0]]
    layer = rest[moves.z[rest] == z]
    if len(layer) < MOST_BEADS:
        layer = rest
    if moves.length[run].sum() > SHARE * moves.length[rest].sum():
        return False
    if not backwards and moves.z[run].min() > ABOVE * z > 0.0:
        return True
    box, other = moves.box(run), moves.box(rest)
    sides = box[:, 1] - box[:, 0]
    straight = np.hypot(*sides) >= 0.99 * moves.length[run].sum()
    if not (straight or sides.min() <= NARROW_MM):
        return False
    gap = max((box[:, 0] - other[:, 1]).max(), (other[:, 0] - box[:, 1]).max())
    thick = moves.e[run].sum() / moves.length[run].sum() >= THICKER * moves.section(layer)
    if backwards:  # the last lines of a top layer are thick now and then, but lie in it
        return bool(gap >= AWAY_MM and (thick or moves.z[run].max() > moves.z[rest].max()))
    return bool(thick or gap >= AWAY_MM)


def _pushes(moves: _Moves, end: int, backwards: bool) -> NDArray[np.intp]:
    """Moves before ``end`` that push filament without a path, beyond what was drawn back."""
    kind, e = moves.kind[:end], moves.e[:end]
    some = np.flatnonzero(e != 0.0)
    drawn, found = 0.0, []
    for k in (some[::-1] if backwards else some).tolist():
        if kind[k] == columns.PRIME and e[k] - drawn > PUSH_MM:
            found.append(k)
        if kind[k] != columns.EXTRUDE:
            drawn = max(0.0, drawn - e[k])
    return np.array(found, np.intp)
