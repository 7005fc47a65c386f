"""A witness program replayed: what each band reaches, read from its own text."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from beadworth.core import filament_section_mm2
from beadworth.gcode import read
from beadworth.motion import Limits, MoveTable, Planner, Timing
from beadworth.rig import Rig
from beadworth.witness.design import BandReach, Layer, SideReach

Array = NDArray[np.float64]
AT_SPEED = 0.97
"""Share of a speed from which it counts as reached."""


@dataclass(frozen=True)
class Tag:
    """What a line of a program belongs to."""

    layer: int
    side: str


@dataclass(frozen=True)
class Planned:
    """Every move of a program in order, as a controller with the rig's limits runs it."""

    line: NDArray[np.int64]
    e_mm: Array
    length_mm: Array
    entry_mm_s: Array
    exit_mm_s: Array
    peak_mm_s: Array
    up_mm_s2: Array
    down_mm_s2: Array
    time_s: Array


def planned(text: str, rig: Rig) -> Planned:
    """Read and plan a program.

    Raises
    ------
    GcodeError
        A line that cannot be read as it stands: the program was not written right.
    """
    limits, planner = Limits.from_rig(rig), Planner()
    found: list[tuple[Array, ...]] = []

    def take(moves: MoveTable, timing: Timing) -> None:
        found.append((
            moves.context["line"], moves.filament_mm, moves.length_mm, timing.entry_mm_s,
            timing.exit_mm_s, timing.peak_mm_s, *timing.straight_mm_s2(), timing.time_s,
        ))  # fmt: skip

    for chunk in read(text.encode(), rig=rig, stop_on_problem=True, name="witness program"):
        moves = replace(MoveTable.from_chunk(chunk), context={"line": chunk.line})
        for part, timing in planner.add(moves, limits.in_chunk(chunk)):
            take(part, timing)
    for part, timing in planner.finish():
        take(part, timing)
    return Planned(*(np.concatenate(column) for column in zip(*found, strict=True)))


def at_speed_mm(moves: Planned, speed_mm_s: Array) -> Array:
    """Length of each move run at a speed or faster, mm.

    Speed rises and falls at a constant acceleration, so below the speed lie
    (v² − entry²) ÷ 2a at its start and (v² − exit²) ÷ 2a at its end, where it is slower there.
    An S-curve is faster than the straight ramp of its time near the top, so that it is at the
    speed for a little longer.
    """
    wanted = speed_mm_s**2
    up, down = (np.maximum(a, 1e-9) for a in (moves.up_mm_s2, moves.down_mm_s2))
    slow = np.maximum(wanted - moves.entry_mm_s**2, 0) / (2 * up)
    slow += np.maximum(wanted - moves.exit_mm_s**2, 0) / (2 * down)
    fast = moves.peak_mm_s >= speed_mm_s
    return np.where(fast, np.maximum(moves.length_mm - slow, 0.0), 0.0)


def reaches(
    text: str, rig: Rig, layers: Sequence[Layer], tags: Mapping[int, Tag], melt_zone_mm3: float
) -> list[BandReach]:
    """What each band reaches over its graded layers, in the order of their numbers.

    Parameters
    ----------
    text : str
        The whole program.
    tags : mapping of line number (from 1) to Tag
        Lines that lay a part of a layer.
    melt_zone_mm3 : float
        Flow is averaged over the last two of these.
    """
    moves = planned(text, rig)
    section = filament_section_mm2(rig.filament_diameter_mm)
    layer = np.array([tags[n].layer if n in tags else -1 for n in moves.line.tolist()])
    sides = np.array([tags[n].side if n in tags else "" for n in moves.line.tolist()])
    speeds = np.array([one.speed_mm_s for one in layers])
    wanted = np.where(layer >= 0, speeds[layer], np.inf) * AT_SPEED
    fast = at_speed_mm(moves, wanted)
    clock = np.cumsum(moves.time_s)
    volume = np.cumsum(np.maximum(moves.e_mm, 0.0)) * section
    flows = _layer_flows(layer, clock, volume, 2 * melt_zone_mm3)
    begins = {n: int(np.argmax(layer == n)) for n in np.unique(layer[layer >= 0]).tolist()}
    found = []
    for band in sorted({one.band for one in layers if one.band > 0}):
        own = [n for n, one in enumerate(layers) if one.band == band and one.graded]
        here = np.isin(layer, own)
        found.append(_band(band, own, here, moves, sides, fast, flows, begins, section))
    return found


def _layer_flows(layer: NDArray[np.int64], clock: Array, volume: Array, back: float) -> Array:
    """At the end of each layer: the flow averaged over the last ``back`` mm³."""
    last = np.full(int(layer.max()) + 1, -1)
    at = np.flatnonzero(layer >= 0)
    last[layer[at]] = at
    then = np.interp(volume[last] - back, volume, clock)
    return np.where(last >= 0, back / np.maximum(clock[last] - then, 1e-9), np.nan)


def _band(
    number: int,
    own: Sequence[int],
    here: NDArray[np.bool_],
    moves: Planned,
    sides: NDArray[np.str_],
    fast: Array,
    flows: Array,
    begins: Mapping[int, int],
    section: float,
) -> BandReach:
    reach, lays = {}, here & (moves.e_mm > 0) & (moves.length_mm > 0)
    for side in sorted(set(sides[lays].tolist())):
        on = lays & (sides == side)
        length = float(moves.length_mm[on].sum())
        reach[side] = SideReach(
            float(fast[on].sum()) / length if length else 0.0, float(moves.peak_mm_s[on].max())
        )
    first = begins[own[0]]
    last = int(np.flatnonzero(here)[-1])
    whole = slice(first, last + 1)
    laid = float(moves.e_mm[lays].sum())
    length = float(moves.length_mm[lays].sum())
    return BandReach(
        number,
        reach,
        float(flows[list(own)].mean()),
        float(flows[list(own)].min()),
        float(flows[list(own)].max()),
        float(moves.time_s[whole].sum()) / len(own),
        float(np.abs(moves.e_mm[whole]).sum()) / laid,
        laid * section,
        float(fast[lays].sum()) / length,
    )
