"""A design becomes G-code: start, skirt, layers, end; and which line lays what."""

from __future__ import annotations

import math
from dataclasses import dataclass

from beadworth.core import ROOM_C
from beadworth.gcode import SAFE_Z_SPEED_MM_S, Writer
from beadworth.trial import (
    BED_RISE_C_S,
    NOZZLE_RISE_C_S,
    PAUSE_S,
    SOAK_S,
    Pace,
    bed_temperature_c,
    purge_mm,
    write_end,
)
from beadworth.witness.bead import Machine
from beadworth.witness.design import FOOT, Design, Layer
from beadworth.witness.outline import Outline, Piece, piece_length_mm
from beadworth.witness.reach import Tag

SKIRT_SPEED_MM_S = 25.0
EDGE_MM = 5.0
LIFT_MM = 3.0
"""Over what is laid, while travelling from one object to the next."""


@dataclass(frozen=True)
class Written:
    """The moves of a program."""

    body: str
    tags: dict[int, Tag]
    """What the lines of the body lay, by their number in it, from 1."""
    minutes: float
    filament_mm: float
    highest_c: float


def write(design: Design, machine: Machine) -> Written:
    """Write a design.

    Raises
    ------
    LimitError
        A move outside the rig, all of them at once.
    """
    writer, pace = Writer(machine.limits), Pace(machine.rig)
    tags: dict[int, Tag] = {}
    _start(writer, machine, pace)
    fan, now = 0.0, -1
    top = 0.0
    level: dict[int, float] = {}
    for number, layer in enumerate(design.layers):
        z = level.get(layer.object, 0.0) + design.layer_mm
        level[layer.object] = z
        place = design.places_mm[layer.object]
        if layer.object != now:
            if design.pause and now >= 0:
                _pause(writer, machine, pace, top + LIFT_MM)
                top = 0.0
            now = layer.object
            begin = _placed(layer.outline, place).start
            _skirt(writer, machine, design, place, pace, safe_mm=max(top, z) + LIFT_MM)
            _enter(writer, begin, z, pace)
        elif design.climb == "stop":
            writer.travel(z=z, feed_mm_s=min(pace.lift_mm_s, SAFE_Z_SPEED_MM_S))
        if layer.fan != fan:
            fan = layer.fan
            writer.fan(fan)
        if number == 0 or design.layers[number - 1].band != layer.band:
            writer.comment("foot" if layer.band == FOOT else f"band {layer.band} begins")
        _lay(writer, machine, design, layer, number, z, pace, tags)
        top = max(top, z)
    write_end(writer, machine.rig, pace, top + LIFT_MM, park=True)
    return Written(writer.text(), tags, writer.seconds / 60, writer.filament_mm, writer.highest_c)


def _placed(outline: Outline, place: tuple[float, float]) -> Outline:
    return outline.moved(*place)


def _start(writer: Writer, machine: Machine, pace: Pace) -> None:
    """Heat, home, soak: as coupons are begun."""
    spec, bed = machine.spec, bed_temperature_c(machine.material)
    writer.comment("start")
    writer.fan(0)
    if bed > 0:
        writer.bed(bed, wait_s=max(0.0, bed - ROOM_C) / BED_RISE_C_S)
    writer.home(5.0)
    writer.nozzle(
        spec.temperature_c, wait_s=max(0.0, spec.temperature_c - ROOM_C) / NOZZLE_RISE_C_S
    )
    writer.retract(pace.retract_mm, feed_mm_s=pace.retract_mm_s)
    writer.dwell(SOAK_S)


def _pause(writer: Writer, machine: Machine, pace: Pace, safe_mm: float) -> None:
    """Out of the way, for a person to clear the bed."""
    writer.retract(pace.retract_mm, feed_mm_s=pace.retract_mm_s)
    writer.travel(z=safe_mm, feed_mm_s=pace.lift_mm_s)
    y = machine.limits.volume_mm[1]
    writer.travel(EDGE_MM, y - EDGE_MM, feed_mm_s=pace.travel_mm_s)
    writer.pause(
        "take the wall off the bed, with its skirt, and bag it with its code. Bed and nozzle are "
        "hot: use tweezers and a scraper. Resume for the next."
    )
    writer.seconds += PAUSE_S


def _skirt(
    writer: Writer,
    machine: Machine,
    design: Design,
    place: tuple[float, float],
    pace: Pace,
    safe_mm: float,
) -> None:
    """Rounds about an object on the bed, enough to fill the nozzle with fresh melt."""
    outline, h = _placed(design.skirt, place), design.layer_mm
    e_per_mm = machine.e_per_mm(1.2 * machine.nozzle_mm, h)
    around = outline.length_mm()
    rounds = max(1, -int(-purge_mm(machine.rig) // (e_per_mm * around)))
    writer.comment("skirt")
    writer.retract(pace.retract_mm, feed_mm_s=pace.retract_mm_s)
    writer.travel(z=safe_mm, feed_mm_s=pace.lift_mm_s)
    writer.travel(*outline.start, feed_mm_s=pace.travel_mm_s)
    writer.travel(z=h, feed_mm_s=pace.lift_mm_s)
    writer.recover(feed_mm_s=pace.retract_mm_s)
    speed = min(SKIRT_SPEED_MM_S, machine.speed_mm_s)
    for _ in range(min(rounds, 6)):
        here = outline.start
        for piece in outline.pieces:
            _piece(writer, machine, here, piece, h, e_per_mm, speed)
            here = piece.to
    writer.retract(pace.retract_mm, feed_mm_s=pace.retract_mm_s)


def _enter(writer: Writer, at: tuple[float, float], z: float, pace: Pace) -> None:
    """From the skirt to where an object begins."""
    writer.travel(z=z + LIFT_MM, feed_mm_s=pace.lift_mm_s)
    writer.travel(*at, feed_mm_s=pace.travel_mm_s)
    writer.travel(z=z, feed_mm_s=pace.lift_mm_s)
    writer.recover(feed_mm_s=pace.retract_mm_s)


def _lay(
    writer: Writer,
    machine: Machine,
    design: Design,
    layer: Layer,
    number: int,
    z: float,
    pace: Pace,
    tags: dict[int, Tag],
) -> None:
    outline = _placed(layer.outline, design.places_mm[layer.object])
    e_per_mm = machine.e_per_mm(layer.width_mm, design.layer_mm)
    here = outline.start
    for index, piece in enumerate(outline.pieces):
        before = writer.lines
        if not piece.lays:
            writer.retract(pace.retract_mm, feed_mm_s=pace.retract_mm_s)
            writer.travel(z=z + design.layer_mm, feed_mm_s=pace.lift_mm_s)
            writer.travel(*piece.to, feed_mm_s=pace.travel_mm_s)
            writer.recover(feed_mm_s=pace.retract_mm_s)
        elif index == 0 and layer.cycles:
            _cycles(writer, here, piece, z, e_per_mm, layer, pace)
        else:
            _piece(writer, machine, here, piece, z, e_per_mm, layer.speed_mm_s)
        tags.update((line, Tag(number, piece.side)) for line in range(before + 1, writer.lines + 1))
        here = piece.to


def _piece(
    writer: Writer,
    machine: Machine,
    here: tuple[float, float],
    piece: Piece,
    z: float,
    e_per_mm: float,
    speed_mm_s: float,
) -> None:
    length = piece_length_mm(here, piece)
    if length < 1e-6:
        return
    if piece.centre is None:
        writer.lay(*piece.to, z, e_per_mm * length, feed_mm_s=speed_mm_s)
        return
    writer.lay_arc(
        piece.to,
        piece.centre,
        e_per_mm * length,
        clockwise=piece.clockwise,
        feed_mm_s=speed_mm_s,
        absolute_centre=bool(machine.rig.motion.absolute_arc_centres),
    )


def _cycles(
    writer: Writer,
    here: tuple[float, float],
    piece: Piece,
    z: float,
    e_per_mm: float,
    layer: Layer,
    pace: Pace,
) -> None:
    """A straight side with retractions spread along it."""
    begin, parts = here, layer.cycles
    low = writer.position[2] if writer.position else z
    for part in range(1, parts + 1):
        share = part / (parts + 1)
        at = (
            begin[0] + share * (piece.to[0] - begin[0]),
            begin[1] + share * (piece.to[1] - begin[1]),
        )
        e_mm = e_per_mm * math.dist(here, at)
        writer.lay(*at, low + share * (z - low), e_mm, feed_mm_s=layer.speed_mm_s)
        writer.retract(pace.retract_mm, feed_mm_s=pace.retract_mm_s)
        writer.recover(feed_mm_s=pace.retract_mm_s)
        here = at
    writer.lay(*piece.to, z, e_per_mm * piece_length_mm(here, piece), feed_mm_s=layer.speed_mm_s)
