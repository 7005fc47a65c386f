"""Straight stretches of bead in a print, with the planned speed, clock and filament of each."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from beadworth.core import InputError, filament_section_mm2
from beadworth.gcode import read
from beadworth.motion import Limits
from beadworth.replay import columns
from beadworth.replay.ceilings import Ceilings
from beadworth.replay.timeline import Block, blocks
from beadworth.rig import Rig

Array = NDArray[np.float64]
STRAIGHT: Final = np.dtype(
    [(name, "<f8") for name in (
        "x0", "y0", "x1", "y1", "z", "length_mm", "filament_mm", "entry_mm_s", "exit_mm_s",
        "peak_mm_s", "acceleration_mm_s2", "start_s", "start_filament_mm",
    )] + [("layer", "<i4"), ("line", "<i8")]
)  # fmt: skip
"""Ends and height, mm; path and filament of it, mm; planned speeds and acceleration (of the
straight ramp that takes as long, where the jerk is limited); seconds and filament (net of what was
drawn back, mm) since the print began; layer from 0, line from 1."""
MOST: Final = 1_000_000
BENT: Final = 0.004
"""Sine of the angle between two moves from which a stretch ends."""
BOWED: Final = 1e-5
"""A path longer than its chord by this share stands a tenth of a millimetre off it at 50 mm."""
SAME_FEED: Final = 0.01
_FLOATS: Final = ("x0", "y0", "x", "y", "z0", "length_mm", "filament_mm", "feed_mm_s", "entry",
                  "exit", "peak", "acceleration", "clock", "fed")  # fmt: skip


def straights(
    source: Path | bytes,
    rig: Rig,
    least_mm: float,
    *,
    name: str | None = None,
    progress: Callable[[int], None] | None = None,
) -> NDArray[np.void]:
    """Every straight stretch of bead of a print, in its order.

    Moves that follow one another in one direction at one feed are one stretch.

    Parameters
    ----------
    source : Path or bytes
        The print.
    rig : Rig
    least_mm : float, > 0
        Shorter stretches are left out.
    name : str, optional
        For messages.
    progress : callable, optional
        Told how many bytes are read.

    Returns
    -------
    structured array of :data:`STRAIGHT`

    Raises
    ------
    InputError
        More than :data:`MOST` of them.
    """
    reader = read(source, rig=rig, name=name)
    section = filament_section_mm2(rig.filament_diameter_mm)
    found: list[NDArray[np.void]] = []
    total = 0
    for made in _runs(blocks(reader, Limits.from_rig(rig), Ceilings(None, section))):
        stretches = made[made["length_mm"] >= least_mm]
        total += len(stretches)
        if total > MOST:
            raise InputError(
                f"more than {MOST:,} straight stretches of {least_mm:g} mm or more.",
                name or "print", total, "Cut the print to the layers of the wall.",
            )  # fmt: skip
        found.append(stretches)
        if progress is not None:
            progress(reader.bytes_read)
    return np.concatenate(found) if found else np.empty(0, STRAIGHT)


def _runs(parts: Iterator[Block]) -> Iterator[NDArray[np.void]]:
    """Stretches block by block; the last of a block may go on in the next."""
    clock = fed = 0.0
    held: dict[str, NDArray[Any]] | None = None
    for block in parts:
        rows, clock, fed = _rows(block, clock, fed)
        if held is not None:
            rows = {key: np.concatenate([held[key], rows[key]]) for key in rows}
        starts = _starts(rows)
        if not starts.size:
            held = None
            continue
        last = int(starts[-1])
        held = {key: column[last:] for key, column in rows.items()}
        yield _made({key: column[:last] for key, column in rows.items()}, starts[:-1])
    if held is not None:
        yield _made(held, np.zeros(1, np.int64))


def _rows(block: Block, clock: float, fed: float) -> tuple[dict[str, NDArray[Any]], float, float]:
    """The straight beads of a block, and the clock and filament after it."""
    moves, timing = block.moves, block.timing
    spent = np.array(timing.time_s, np.float64)
    after = float(block.wait_s[block.wait_before >= len(moves)].sum())
    inside = (block.wait_before < len(moves)) & (block.wait_before >= 0)
    waits = np.zeros(len(moves))
    np.add.at(waits, block.wait_before[inside], block.wait_s[inside])
    begins = clock + np.cumsum(spent + waits) - spent
    fed_before = fed + np.cumsum(moves.filament_mm) - moves.filament_mm
    keep = (block.kind == columns.EXTRUDE) & (moves.length_mm > 0) & (moves.filament_mm > 0)
    keep[moves.arcs.move] = False
    at = np.flatnonzero(keep)
    values = (
        moves.x0, moves.y0, moves.x, moves.y, moves.z0, moves.length_mm, moves.filament_mm,
        moves.feed_mm_s, timing.junction_mm_s[:-1], timing.junction_mm_s[1:], timing.peak_mm_s,
        timing.straight_mm_s2()[0], begins, fed_before,
    )  # fmt: skip
    rows: dict[str, NDArray[Any]] = {
        key: np.array(value[at], np.float64) for key, value in zip(_FLOATS, values, strict=True)
    }
    rows |= {
        "layer": np.array(block.layer[at]),
        "line": np.array(block.line[at]),
        "move": at + timing.first,
    }
    clock += float(spent.sum() + waits.sum()) + after
    return rows, clock, fed + float(moves.filament_mm.sum())


def _starts(rows: dict[str, NDArray[Any]]) -> NDArray[np.int64]:
    """Where a stretch begins."""
    if not rows["move"].size:
        return np.empty(0, np.int64)
    dx, dy = rows["x"] - rows["x0"], rows["y"] - rows["y0"]
    way = np.maximum(np.hypot(dx, dy), 1e-12)
    ux, uy = dx / way, dy / way
    feed = rows["feed_mm_s"]
    goes_on = (
        (np.diff(rows["move"]) == 1)
        & (np.diff(rows["layer"]) == 0)
        & (np.abs(ux[1:] * uy[:-1] - uy[1:] * ux[:-1]) < BENT)
        & (ux[1:] * ux[:-1] + uy[1:] * uy[:-1] > 0)
        & (np.abs(np.diff(feed)) < SAME_FEED * feed[1:])
    )
    return np.flatnonzero(np.concatenate([[True], ~goes_on]))


def _made(rows: dict[str, NDArray[Any]], starts: NDArray[np.int64]) -> NDArray[np.void]:
    made = np.empty(starts.size, STRAIGHT)
    if not starts.size:
        return made
    ends = np.concatenate([starts[1:], [rows["move"].size]]) - 1
    x0: NDArray[np.float64] = rows["x0"][starts]
    y0: NDArray[np.float64] = rows["y0"][starts]
    x1: NDArray[np.float64] = rows["x"][ends]
    y1: NDArray[np.float64] = rows["y"][ends]
    made["x0"], made["y0"], made["x1"], made["y1"] = x0, y0, x1, y1
    made["z"], made["layer"] = rows["z0"][starts], rows["layer"][starts]
    made["line"] = rows["line"][starts]
    for name in ("length_mm", "filament_mm"):
        made[name] = np.add.reduceat(rows[name], starts)
    made["peak_mm_s"] = np.maximum.reduceat(rows["peak"], starts)
    made["entry_mm_s"], made["exit_mm_s"] = rows["entry"][starts], rows["exit"][ends]
    made["acceleration_mm_s2"] = rows["acceleration"][starts]
    made["start_s"], made["start_filament_mm"] = rows["clock"][starts], rows["fed"][starts]
    chord = np.hypot(x1 - x0, y1 - y0)
    straight: NDArray[np.void] = made[chord > (1 - BOWED) * made["length_mm"]]
    return straight
