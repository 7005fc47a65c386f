"""Plan view of a print: every laid bead as straight segments, with its flow and headroom.

:func:`segments` walks a print once and hands out records of ``SEGMENT``. :func:`sheets` says
which layers a reader leafs through, and :func:`segment_bytes` turns records into the bytes a
browser draws.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity import ceiling_at, loss_at
from beadworth.core import filament_section_mm2
from beadworth.gcode import read
from beadworth.motion import Limits, MoveTable
from beadworth.replay import columns
from beadworth.replay.ceilings import Ceilings
from beadworth.replay.pressure import flow_out
from beadworth.replay.result import Layer, Replay
from beadworth.replay.timeline import Block, blocks
from beadworth.rig import Rig

if TYPE_CHECKING:
    from beadworth.capacity import Fit


Array = NDArray[np.float64]
Records = NDArray[np.void]

SEGMENT: Final = np.dtype(
    [(name, "<f4") for name in ("x0", "y0", "x1", "y1", "flow", "out", "ceiling", "speed", "c")]
    + [("layer", "<i4"), ("line", "<i4")]
)
"""Ends in mm; flow asked for, flow out of the nozzle and ceiling in mm³/s; speed reached in
mm/s; commanded temperature in °C; layer (as the scanner numbers them, from 0) and line (from 1)
of the file. Little-endian."""
COLUMNS: Final = (
    "x0", "y0", "x1", "y1", "headroom", "flow", "out", "speed", "c",
    "loss", "loss_low", "loss_high", "line",
)  # fmt: skip
"""What :func:`segment_bytes` writes, one after the other: float32, and int32 for the line."""
SAGITTA_MM: Final = 0.02
"""How far a chord may stand off its arc."""
MOST_CHORDS: Final = 720
MOST_SHEETS: Final = 1500
LEAST_BAND_MM: Final = 0.2
LOSS_POINTS: Final = 256

Curve = tuple[Array, Array, Array, Array]
"""Flow, and at it the predicted loss with its interval."""


@dataclass(frozen=True)
class Sheet:
    """What is drawn at once: one layer, or a band of them where z rises all the time."""

    first_layer: int
    """From 1, as in :class:`~beadworth.replay.result.Layer`."""
    last_layer: int
    z_mm: float
    time_s: float
    max_mm3_s: float
    headroom: float | None
    over_s: float


def segments(
    source: Path | bytes,
    rig: Rig,
    fit: Fit | None = None,
    *,
    fit_rig: str | None = None,
    fit_material: str | None = None,
    name: str | None = None,
    progress: Callable[[int], None] | None = None,
) -> Iterator[Records]:
    """Every bead of a print in its order, arcs as chords; arguments as of ``replay``.

    Yields
    ------
    structured array of ``SEGMENT``
        Some thousand at a time; memory does not grow with the print.
    """
    limits = Limits.from_rig(rig)
    section = filament_section_mm2(rig.filament_diameter_mm)
    reader = read(source, rig=rig, name=name)
    before = 0.0
    ceilings = Ceilings(fit, section, fit_rig, fit_material)
    for block in blocks(reader, limits, ceilings):
        lagged = flow_out(block, section, rig.extruder.pressure_lag_s, before)
        before = lagged.after_mm3_s
        if progress is not None:
            progress(reader.bytes_read)
        made = _records(block, lagged.max_mm3_s, section)
        # under an upper bound: nobody knows by how much, or whether
        unsaid = np.isin(made["c"], ceilings.unknown_c) & (made["flow"] <= made["ceiling"])
        made["ceiling"][unsaid] = np.inf
        if made.size:
            yield made


def _records(block: Block, out: Array, section: float) -> Records:
    moves, timing = block.moves, block.timing
    laying = np.flatnonzero(
        (block.kind == columns.EXTRUDE)
        & (moves.length_mm > 0)
        & (moves.filament_mm > 0)
        & (timing.time_s > 0)
    )
    chords = np.ones(len(moves), np.int64)
    arcs = moves.arcs
    if len(arcs.move):
        chords[arcs.move] = _chords(arcs.radius_mm, arcs.sweep_rad)
    count = chords[laying]
    move = np.repeat(laying, count)
    made = np.empty(move.size, SEGMENT)
    if len(arcs.move):
        piece = np.arange(move.size) - np.repeat(np.cumsum(count) - count, count)
        made["x0"], made["y0"] = _points(moves, move, piece, chords)
        made["x1"], made["y1"] = _points(moves, move, piece + 1, chords)
    else:
        made["x0"], made["y0"] = moves.x0[move], moves.y0[move]
        made["x1"], made["y1"] = moves.x[move], moves.y[move]
    per_mm = section * moves.filament_mm[move] / moves.length_mm[move]
    made["flow"] = per_mm * timing.peak_mm_s[move]
    made["out"] = out[move]
    made["ceiling"] = block.ceiling_mm3_s[move]
    made["speed"] = timing.peak_mm_s[move]
    made["c"] = block.temperature_c[move]
    made["layer"] = block.layer[move]
    made["line"] = np.minimum(block.line[move], np.iinfo(np.int32).max)
    return made


def _chords(radius_mm: Array, sweep_rad: Array) -> NDArray[np.int64]:
    """Chords per arc, so that none stands off it by more than ``SAGITTA_MM``."""
    flat = np.clip(1.0 - SAGITTA_MM / np.maximum(radius_mm, SAGITTA_MM), 0.0, 1.0)
    step = np.maximum(2.0 * np.arccos(flat), 2.0 * np.pi / MOST_CHORDS)
    turned = np.minimum(np.abs(sweep_rad), 2.0 * np.pi)  # further turns lie on the first
    return np.maximum(1, np.ceil(turned / step)).astype(np.int64)


def _points(
    moves: MoveTable, move: NDArray[np.int64], piece: NDArray[np.int64], chords: NDArray[np.int64]
) -> tuple[Array, Array]:
    """Points ``piece ÷ chords`` along the moves; on the arc where a move is one."""
    arcs = moves.arcs
    share = piece / chords[move]
    x = moves.x0[move] + share * (moves.x[move] - moves.x0[move])
    y = moves.y0[move] + share * (moves.y[move] - moves.y0[move])
    number = np.full(len(moves), -1)
    number[arcs.move] = np.arange(len(arcs.move))
    inside = np.flatnonzero((number[move] >= 0) & (share > 0) & (share < 1))
    arc, own = number[move[inside]], move[inside]
    plane = arcs.plane[arc]
    # the plane's two axes: G17 x y, G18 z x, G19 y z
    u0 = np.choose(plane - 17, [moves.x0[own], moves.z0[own], moves.y0[own]])
    v0 = np.choose(plane - 17, [moves.y0[own], moves.x0[own], moves.z0[own]])
    sweep = np.clip(arcs.sweep_rad[arc], -2.0 * np.pi, 2.0 * np.pi)
    angle = np.arctan2(v0 - arcs.centre_v_mm[arc], u0 - arcs.centre_u_mm[arc])
    angle = angle + share[inside] * sweep
    u = arcs.centre_u_mm[arc] + arcs.radius_mm[arc] * np.cos(angle)
    v = arcs.centre_v_mm[arc] + arcs.radius_mm[arc] * np.sin(angle)
    x[inside] = np.where(plane == 17, u, np.where(plane == 18, v, x[inside]))
    y[inside] = np.where(plane == 17, v, np.where(plane == 18, y[inside], u))
    return x, y


def loss_curves(fit: Fit, rig: str | None, material: str | None, c: Sequence[float]) -> Any:
    """Predicted loss over flow at some temperatures, close enough to read a map from.

    Returns
    -------
    dict of temperature to (flow, loss, low, high)
        ``LOSS_POINTS`` points to three times the ceiling there.
    """
    found: dict[float, Curve] = {}
    for celsius in c:
        ceiling = ceiling_at(fit, rig, material, celsius)
        known = [v for v in (ceiling.flow_mm3_s, ceiling.high, ceiling.low) if v is not None]
        flow = np.linspace(0.0, 3.0 * max(known, default=30.0), LOSS_POINTS)
        loss, low, high = loss_at(fit, rig, material, celsius, flow)
        found[celsius] = (flow, loss, low, high)
    return found


def segment_bytes(records: Records, curves: Mapping[float, Curve] | None = None) -> bytes:
    """The columns ``COLUMNS`` of some segments, each whole, little-endian.

    Headroom is nan where no ceiling is known, loss where no curve is.
    """
    n = len(records)
    made = np.full((len(COLUMNS) - 1, n), np.nan, "<f4")
    for row, name in enumerate(COLUMNS[:-1]):
        if name in SEGMENT.fields:  # pyrefly: ignore[not-iterable]
            made[row] = records[name]
    ceiling, flow = records["ceiling"], records["flow"]
    known = np.isfinite(ceiling) & (flow > 0)
    made[COLUMNS.index("headroom"), known] = ceiling[known] / flow[known] - 1.0
    place = COLUMNS.index("loss")
    for celsius, (grid, *values) in sorted((curves or {}).items()):
        own = np.isclose(records["c"], celsius)
        out: NDArray[np.float64] = records["out"][own]
        for row, value in enumerate(values):
            made[place + row, own] = np.interp(out, grid, value)
    return made.tobytes() + records["line"].astype("<i4").tobytes()


def sheets(found: Replay) -> tuple[Sheet, ...]:
    """What a reader leafs through, from the bed up.

    The layers by height; bands of height where a print rises all the time, so that it has no
    layers, or has more of them than anyone would leaf through.
    """
    return tuple(_sheet(layers) for layers in _leaves(found))


def sheet_of_layer(found: Replay) -> NDArray[np.int32]:
    """Index of the sheet by ``layer`` of :data:`SEGMENT`; -1 where nothing is laid."""
    leaves = _leaves(found)
    last = max((layer.layer for layers in leaves for layer in layers), default=0)
    numbers = np.full(last + 1, -1, np.int32)  # the last one answers for -1, before all layers
    for number, layers in enumerate(leaves):
        numbers[[layer.layer - 1 for layer in layers]] = number
    return numbers


def _leaves(found: Replay) -> list[list[Layer]]:
    laid = sorted(found.layers, key=lambda layer: layer.z_mm)
    if not laid:
        return []
    if found.summary.layers is not None and len(laid) <= MOST_SHEETS:
        return [[layer] for layer in laid]
    low, high = laid[0].z_mm, laid[-1].z_mm
    band = max(LEAST_BAND_MM, (high - low) / (MOST_SHEETS / 5))
    parted: dict[int, list[Layer]] = {}
    for layer in laid:
        parted.setdefault(math.floor((layer.z_mm - low) / band + 1e-9), []).append(layer)
    return list(parted.values())


def _sheet(layers: Sequence[Layer]) -> Sheet:
    headrooms = [layer.headroom for layer in layers if layer.headroom is not None]
    return Sheet(
        first_layer=min(layer.layer for layer in layers),
        last_layer=max(layer.layer for layer in layers),
        z_mm=layers[0].z_mm,
        time_s=sum(layer.time_s for layer in layers),
        max_mm3_s=max(layer.max_mm3_s for layer in layers),
        headroom=min(headrooms, default=None),
        over_s=sum(layer.over_s for layer in layers),
    )
