"""A print through reader and planner, part by part, each move with its context."""

from __future__ import annotations

import queue
import threading
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from beadworth.gcode import Chunk, Reader
from beadworth.gcode import columns as gcode_columns
from beadworth.motion import Limits, MoveTable, Planner, Timing
from beadworth.replay.apart import set_apart
from beadworth.replay.ceilings import Ceilings
from beadworth.replay.features import Features
from beadworth.replay.first_use import prepare
from beadworth.replay.waits import Waits

Array = NDArray[np.float64]
T = TypeVar("T")


@dataclass(frozen=True)
class Block:
    """Consecutive moves with their timing and what else is known of them."""

    moves: MoveTable
    """With their context; see :func:`moves_of`."""
    timing: Timing
    wait_before: NDArray[np.int64]
    """Moves of this block before which the machine waits, and how long."""
    wait_s: Array
    conditions: tuple[Array, Array]
    """Temperatures of the print so far, and the ceiling at each."""

    @property
    def line(self) -> NDArray[np.int64]:
        """Line of every move, from 1."""
        return self.moves.context["line"]

    @property
    def layer(self) -> NDArray[np.int32]:
        """Layer of every move, as the scanner numbers them."""
        return self.moves.context["layer"]

    @property
    def kind(self) -> NDArray[np.int32]:
        """Kind of every move, as the scanner names them."""
        return self.moves.context["kind"]

    @property
    def temperature_c(self) -> Array:
        """Commanded, for every move."""
        return np.take(self.conditions[0], self.moves.context["condition"])

    @property
    def ceiling_mm3_s(self) -> Array:
        """Flow not to be passed, for every move; inf where none is known."""
        return np.take(self.conditions[1], self.moves.context["condition"])


def moves_of(
    reader: Reader,
    limits: Limits,
    ceilings: Ceilings,
    waits: Waits,
    *,
    cap: bool = False,
    scale: float = 1.0,
    features: Features | None = None,
) -> Iterator[tuple[MoveTable, Limits, Chunk]]:
    """Read a print chunk by chunk: its moves, the limits in force, and what they were read from.

    The context of the moves is ``line``, ``layer`` and ``kind`` as the scanner gives them (priming
    is of the kind ``columns.APART``), and
    ``condition``, the row of ``ceilings.table()``.

    Parameters
    ----------
    waits : Waits
        Takes the waits, and the maker's marks of the time left.
    cap : bool
        Lower every extruding move's feed to its ceiling before planning.
    scale : float
        Factor on the feeds of extruding moves, before the cap.
    features : Features, optional
        Conditions are then kept apart by feature too.
    """
    prepare(jerk=limits.max_jerk_mm_s3 is not None)
    before = 0
    for chunk, table in _ahead(_tables(reader)):
        feature = None if features is None else features.of_chunk(chunk)
        condition = ceilings.of_chunk(chunk, feature)
        context: dict[str, NDArray[Any]] = {
            "line": chunk.line, "layer": chunk.layer, "kind": chunk.kind, "condition": condition,
        }  # fmt: skip
        moves = table.with_context(context)
        if cap or scale != 1.0:
            ceiling = ceilings.table()[1][condition]
            moves = _capped(moves, chunk, ceiling, ceilings.section_mm2, scale, cap)
        waits.note(chunk, before)
        before += len(chunk)
        yield moves, limits.in_chunk(chunk), chunk


def blocks(reader: Reader, limits: Limits, ceilings: Ceilings) -> Iterator[Block]:
    """Read, plan, and hand out the moves in order."""
    planner, waits = Planner(), Waits()

    def block(moves: MoveTable, timing: Timing, *, ends: bool = False) -> Block:
        end = timing.first + len(timing)
        mine = Waits(pending=[wait for wait in waits.pending if wait[0] < end or ends])
        waits.drop_before(end)
        return Block(moves, timing, *mine.since(timing.first), ceilings.table())

    for moves, rows, _ in moves_of(reader, limits, ceilings, waits):
        for made in planner.add(moves, rows):
            yield block(*made)
    for made in planner.finish():
        yield block(*made, ends=True)


def _tables(reader: Reader) -> Iterator[tuple[Chunk, MoveTable]]:
    """Chunks and their moves, with what is to be known of them before they are planned."""
    for chunk in set_apart(reader):
        moves = MoveTable.from_chunk(chunk)
        moves.look_over()
        yield chunk, moves


def _ahead(items: Iterable[T]) -> Iterator[T]:
    """Items made by a thread of their own, one ahead: the scanner lets go of the interpreter."""
    waiting: queue.Queue[T | BaseException | None] = queue.Queue(maxsize=1)
    stopped = threading.Event()

    def put(item: T | BaseException | None) -> bool:
        while not stopped.is_set():
            try:
                waiting.put(item, timeout=0.1)
            except queue.Full:
                continue
            return True
        return False

    def work() -> None:
        try:
            for item in items:
                if not put(item):
                    return
            put(None)
        except BaseException as error:  # handed to the caller, whatever it is
            put(error)

    thread = threading.Thread(target=work, name="gcode-reader", daemon=True)
    thread.start()
    try:
        while (item := waiting.get()) is not None:
            if isinstance(item, BaseException):
                raise item
            yield item
    finally:
        stopped.set()
        thread.join()


def _capped(
    moves: MoveTable, chunk: Chunk, ceiling: Array, section: float, scale: float, cap: bool
) -> MoveTable:
    """Moves whose extruding feeds are scaled, then kept under the ceiling."""
    laying = (chunk.kind == gcode_columns.EXTRUDE) & (moves.length_mm > 0) & (moves.filament_mm > 0)
    feed = np.where(laying, moves.feed_mm_s * scale, moves.feed_mm_s)
    if cap:
        with np.errstate(divide="ignore", invalid="ignore"):
            top = ceiling * moves.length_mm / (section * moves.filament_mm)
        feed = np.where(laying & (top < feed), top, feed)
    return replace(moves, feed_mm_s=feed)
